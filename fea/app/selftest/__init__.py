"""Self-test of an installation: its parts at work, and its accuracy against published values."""

from platestack.fea.app.selftest.accuracy import compared
from platestack.fea.app.selftest.parts import tried
from platestack.fea.app.trials import PublishedComparison, Trial
