"""Design check of one-off hydraulic presses built from stacks of thick plates and tie rods.

In a checkout this folder joins `fea/` and `geometry/` under one name; in a wheel they lie in it.
"""

from importlib.metadata import version

__version__ = version("platestack")
