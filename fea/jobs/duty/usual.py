"""What is sold and what counts as round where a duty is written: in metres or in inches."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from platestack.geometry import tables, units
from platestack.geometry.schema import Cutting
from platestack.geometry.units import INCH, LBF, SystemName

PSI = LBF / INCH**2


@dataclass(frozen=True)
class Usual:
    """Habits of a market (SI); prices are invented, so that shares show: the case says so."""

    plate_grade: str
    rod_grade: str
    thickest: float
    """Plate that can be had and cut; a torch's usual reach (common practice, no source)."""
    face: float
    """Machined off a face of a plate (m): what is bought in stock thickness ends thinner."""
    lengths: tuple[float, float, float]
    """Steps of lengths (m): small sizes, sizes of parts, sizes of the press."""
    pressure: float
    """Step of pressures (Pa)."""
    preload: tuple[float, float]
    """Step of preloads (N) below and above ten of the larger."""
    prices: dict[str, Any]


_METRIC = Usual(
    "S355J2", "42CrMo4+QT", 0.15, Cutting().face_allowance, (1e-3, 5e-3, 1e-2), 1e5, (1e3, 1e4),
    {
        "currency": "EUR", "plate": "1.40 per kg", "cutting": "15 per m", "pierce": 2.0,
        "machining": "400 per m2", "rod": "4 per kg", "sleeve": "6 per kg", "nut": "60 per piece",
        "washer": "20 per piece", "cylinder": "8 per kg", "pump": "2500 per piece",
    },
)  # fmt: skip
_US = Usual(
    "A572 Gr 50", "4140 HT", 4 * INCH, INCH / 16, (INCH / 16, INCH / 4, INCH / 2), 10 * PSI,
    (500 * LBF, 1e3 * LBF),
    {
        "currency": "USD", "plate": "0.80 per lb", "cutting": "6 per ft", "pierce": 2.0,
        "machining": "45 per ft2", "rod": "2.40 per lb", "sleeve": "3.50 per lb",
        "nut": "75 per piece", "washer": "25 per piece", "cylinder": "5 per lb",
        "pump": "2800 per piece",
    },
)  # fmt: skip


def usual(system: SystemName | None = None) -> Usual:
    """Return the habits of a system of units, or of the case at hand."""
    return _US if (system or units.market()) == "US" else _METRIC


def up(value: float, size: int) -> float:
    """Round a length (m) up to a step of `Usual.lengths`."""
    step = usual().lengths[size]
    return round(math.ceil(value / step - 1e-6) * step, 6 if step in _METRIC.lengths else 9)


def down(value: float, size: int) -> float:
    """Round a length (m) down to a step of `Usual.lengths`."""
    step = usual().lengths[size]
    return math.floor(value / step + 1e-9) * step


def bores() -> list[float]:
    """Bores (m) that are sold, then whole 20 mm or inches, up to 3 m."""
    sold = tables.cylinder_bores(units.market())
    step = INCH if units.market() == "US" else 0.02
    return [*sold, *(k * step for k in range(math.ceil(sold[-1] / step + 1e-9) + 1, int(3 / step)))]


def thread_names() -> tuple[str, ...]:
    """Threads that rods carry, rising."""
    return tables.unified_names() if units.market() == "US" else tables.thread_names()


def capacity(force: float) -> str:
    """Write a pressing force (N) in whole tons where it is a whole number of them.

    Presses are named so; otherwise as all forces are.
    """
    size, name = (2e3 * LBF, "US ton") if units.market() == "US" else (9806.65, "tf")
    tons = force / size
    if math.isclose(tons, round(tons), rel_tol=1e-9):
        return f"{round(tons)} {name}"
    return units.show(force, units.FORCE, 8)
