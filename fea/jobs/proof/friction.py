"""What readings say of the friction between plates, by the loop that loading and release make.

Friction holds the plates back on the way up and keeps them bent on the way back. So a reading is
a · free + b · (expected − free) + c, where `free` is what the same stack shows without friction:
a is its compliance, b / a the friction over the assumed one, c the dial's zero. Errors of force,
modulus and thickness go into a and leave the quotient alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from platestack.fea.jobs.proof.measured import Series
from platestack.geometry.parts import Press

MODEL = 0.05
"""Doubt about the computed loop itself, relative (common practice, no source)."""
REPEATABILITY = 1e-6
"""Standard deviation of a dial read twice alike (m): a third of 3 µm, DIN 878 (not verified)."""
REVERSAL = 3e-6 / math.sqrt(3)
"""Standard deviation of what a dial shows less or more on the way back (m): 3 µm at most, DIN 878
(not verified against the standard), taken as equally likely up to there."""


@dataclass(frozen=True)
class Hold:
    """Friction found over friction assumed in one stack, with its standard uncertainty."""

    part: str
    factor: float
    uncertainty: float

    @property
    def deviates(self) -> bool:
        """Whether it leaves one by more than the model's doubt and twice its uncertainty."""
        return abs(self.factor - 1) > MODEL + 2 * self.uncertainty


def found(series: Sequence[Series], press: Press) -> Iterator[Hold]:
    """Friction of each clamped stack whose dials were read up and back."""
    for stack in (s for s in press.stacks if s.interface == "clamped"):
        dials = [s for s in series if s.reading.part == stack.name and s.reading.kind == "dial"]
        each = [one for s in dials if (one := _of_dial(s, press.capacity_pressure)) is not None]
        if each:
            factor, uncertainty = np.array(each).T
            weight = uncertainty**-2
            mean = float(weight @ factor / weight.sum())
            yield Hold(stack.name, mean, float(weight.sum() ** -0.5))


def _of_dial(series: Series, full: float) -> tuple[float, float] | None:
    """Factor and standard uncertainty by least squares; None where the points do not tell.

    `full` is the pressure (Pa) at capacity.
    """
    shares, reading = series.pressure / full, series.reading
    free = reading.expected(shares, free=True)
    terms = np.column_stack([free, reading.expected(shares) - free, np.ones_like(free)])
    if (
        len(terms) < 4
        or not reading.path
        or np.linalg.matrix_rank(terms / np.abs(terms).max(axis=0)) < 3
    ):
        return None
    (a, b, _), *_ = np.linalg.lstsq(terms, series.value, rcond=None)
    rest = series.value - terms @ np.linalg.lstsq(terms, series.value, rcond=None)[0]
    scatter = max(float(rest @ rest) / (len(terms) - 3), REPEATABILITY**2)
    spread = scatter * np.linalg.inv(terms.T @ terms)[:2, :2]
    slope = np.array([-b / a**2, 1 / a])
    loop, top = terms[:, 1], int(shares.argmax()) + 1
    width = float(loop[top:].mean() - loop[:top].mean()) if top < len(loop) else 0.0
    if width <= 0:
        return None
    return b / a, math.hypot(float(np.sqrt(slope @ spread @ slope)), REVERSAL / width)


def words(holds: Sequence[Hold], press: Press) -> list[str]:
    """What deviates, and the likely reasons."""
    said = []
    for hold in (h for h in holds if h.deviates):
        stack = press.bed if hold.part == "bed" else press.crosshead
        amount = f"{hold.factor:.2f} ± {2 * hold.uncertainty:.2f} of what was assumed ({stack.friction:g})"  # noqa: E501
        if hold.factor < 1:
            said.append(
                f"Looser stack: friction between the plates of the {hold.part} acts as {amount}, "
                "by the loop of loading and release. Likely: less preload, oil or scale "
                "between the plates, surfaces smoother than assumed."
            )
        else:
            said.append(
                f"Stiffer: friction between the plates of the {hold.part} acts as {amount}, by the "
                "loop of loading and release. Likely: more preload, or plates that bind on a rod."
            )
    return said
