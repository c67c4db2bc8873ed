"""The worst of parts that may be alike: the first of them, whatever rounding makes of the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

Part = TypeVar("Part")

SAME = 1e-6
"""Figures that differ by less than this part of the largest are the same: the balance of forces
is held to it."""


def most(parts: Iterable[Part], figure: Callable[[Part], float]) -> Part:
    """The first part with the largest figure; raises ValueError without parts."""
    found = [(figure(part), part) for part in parts]
    largest = max(value for value, _ in found)
    least = largest - SAME * max(abs(value) for value, _ in found)
    return next(part for value, part in found if value >= least)
