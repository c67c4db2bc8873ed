"""Checks: demand against a named limit, each with its formula and source.

A module here holds one kind of check: functions that take a `Solution` and return records, listed
in `KINDS`. What they compute with stands in `fea.hand`.
"""

from platestack.fea.checks.kinds import FACTS, KINDS, all_checks, all_facts
from platestack.fea.hand.record import Check, Fact
