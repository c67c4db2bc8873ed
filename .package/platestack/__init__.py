"""Design check of one-off hydraulic presses built from stacks of thick plates and tie rods.

In a checkout this folder joins `fea/` and `geometry/` under one name; in a wheel they lie in it.
"""

from typing import Any


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version("platestack")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
