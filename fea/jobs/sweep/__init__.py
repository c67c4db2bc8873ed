"""Thousands of options of one press, on the cores of this machine or on a cluster.

Every finished option is a row in a database, kept under a key of all that it depends on. What was
computed once is not computed again: an interrupted sweep goes on where it stopped, a larger one
takes over the rows of a smaller one.
"""

from platestack.fea.jobs.sweep.study import Sweep, Tell, export, sweep
