"""Sizes of elements as coarse as a press allows."""

from __future__ import annotations

from platestack.geometry.mesh import Sizes
from platestack.geometry.parts import Press


def coarse_sizes(press: Press) -> Sizes:
    """Few elements, still an arc of 36° at most at each rim."""
    xs = [rod.at[0] for rod in press.rods]
    return Sizes((max(xs) - min(xs)) / 6, round_divisions=10, ring_divisions=1, patch_divisions=5)
