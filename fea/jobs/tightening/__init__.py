"""How to tighten the rods: what one does to the others, rounds, and a schedule of few passes."""

from __future__ import annotations

from platestack.fea.jobs.tightening.embedment import settling
from platestack.fea.jobs.tightening.passes import (
    Bench,
    NutStep,
    TighteningPass,
    Unreachable,
    equal_rounds,
    schedule,
    star_order,
)
