"""Sizes of paper and scales: ISO 5457 with its margins, or letter and tabloid. In mm."""

from __future__ import annotations

from dataclasses import dataclass

from platestack.geometry.units import INCH, shown_in

SCALES = tuple(1 / n for n in (1, 2, 5, 10, 20, 50, 100, 200))
"""Drawn over real size, ISO 5455, none enlarged; drawings in inches take the same ones."""
BETWEEN = tuple(sorted((*SCALES, *(1 / n for n in (15, 25, 40, 75, 150))), reverse=True))
"""The same with some between, for what is only looked at."""
FILING, EDGE = 20.0, 10.0
"""Margins: on the left, for filing, and elsewhere (ISO 5457, not verified against the standard)."""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper."""

    name: str
    width: float
    height: float

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """Left, lower, right and upper line of its frame."""
        return FILING, EDGE, self.width - EDGE, self.height - EDGE


PAPERS = {
    "small": Paper("A4", 210.0, 297.0), "large": Paper("A3", 420.0, 297.0),
    "US small": Paper("letter", 8500 * INCH, 11000 * INCH),
    "US large": Paper("tabloid", 17000 * INCH, 11000 * INCH),
}  # fmt: skip
"""Small and large ones, metric and US."""


def paper(size: str) -> Paper:
    """Paper of a size, small or large, as is usual where units are those shown now."""
    return PAPERS[f"US {size}" if shown_in("m").name == "in" else size]


def scale_words(scale: float) -> str:
    """Write a scale: ``"1:5"``."""
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:.0f}"
