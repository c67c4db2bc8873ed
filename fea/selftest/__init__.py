"""Self-test of an installation: its parts at work, and its accuracy against published values."""

from fea.selftest.accuracy import compared
from fea.selftest.parts import tried
from fea.selftest.records import Comparison, Trial

__all__ = ["Comparison", "Trial", "compared", "tried"]
