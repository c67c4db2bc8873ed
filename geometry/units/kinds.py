"""Kinds of quantity, and the units of each with their exact SI values.

The units of `COMMON` are known at once. All others come from pint, which is imported at the first
of them: it loads numpy and dask, and takes longer than reading a case.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: SI unit, example for messages (metric, US), range that makes sense."""

    name: str
    unit: str
    example: str
    low: float
    high: float
    shown: str
    us_example: str = ""


LENGTH = Kind("a length", "m", "60 mm", 1e-4, 100.0, "mm", "2 1/2 in")
OFFSET = Kind("a signed length", "m", "-350 mm", -100.0, 100.0, "mm", "-13 3/4 in")
GAP = Kind("a gap", "m", "0.3 mm", 0.0, 0.1, "mm", "0.012 in")
BOW = Kind("a bow", "m", "0.5 mm", -0.1, 0.1, "mm", "0.02 in")
DISTANCE = Kind("a distance", "m", "60 mm", 0.0, 10.0, "mm", "2 1/2 in")
FORCE = Kind("a force", "N", "250 tf", 1.0, 1e9, "kN", "500 kip")
LOAD = Kind("a force", "N", "250 tf", 0.0, 1e9, "kN", "500 kip")
"""That may be nothing."""
PRESSURE = Kind("a pressure", "Pa", "32 MPa", 1e3, 5e9, "MPa", "4600 psi")
STIFFNESS = Kind("an elastic modulus", "Pa", "210 GPa", 1e6, 2e12, "GPa", "30000 ksi")
MASS = Kind("a mass", "kg", "2 t", 1e-3, 1e7, "kg", "4000 lb")
DENSITY = Kind("a density", "kg/m^3", "7850 kg/m^3", 1.0, 3e4, "kg/m^3", "0.284 lb/in^3")
SLOPE = Kind("a length for each length", "m/m", "1 mm/m", 1e-6, 0.1, "mm/m", "0.012 in/ft")

FLOW = Kind("a flow", "m^3/s", "5 L/min", 1e-8, 1.0, "L/min", "1.5 gal/min")
VOLUME = Kind("a volume", "m^3", "60 L", 1e-6, 100.0, "L", "15 gal")
POWER = Kind("a power", "W", "5.5 kW", 1.0, 1e7, "kW", "7.5 hp")
DURATION = Kind("a duration", "s", "60 s", 1e-3, 1e6, "s", "60 s")

TEMPERATURE = Kind("a temperature", "°C", "-10 °C", -50.0, 100.0, "°C", "15 °F")
"""In °C inside as well: formulas take differences only."""

INCH, FOOT, LB = 0.0254, 0.3048, 0.45359237
LBF = LB * 9.80665  # N: the international pound (1959) times standard gravity
GALLON = 231 * INCH**3
COMMON = {
    "m": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "in": INCH, "inch": INCH, "ft": FOOT},
    "N": {"N": 1.0, "kN": 1e3, "MN": 1e6, "tf": 9806.65, "kgf": 9.80665, "lbf": LBF,
          "kip": 1e3 * LBF},
    "Pa": {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9, "bar": 1e5, "atm": 101325.0,
           "psi": LBF / INCH**2, "ksi": 1e3 * LBF / INCH**2},
    "kg": {"kg": 1.0, "t": 1e3, "lb": LB},
    "kg/m^3": {"kg/m^3": 1.0, "lb/in^3": LB / INCH**3},
    "m/m": {"mm/m": 1e-3, "in/ft": 1 / 12},
    "m^3/s": {"L/min": 1e-3 / 60.0, "gal/min": GALLON / 60.0},
    "m^3": {"L": 1e-3, "gal": GALLON},
    "W": {"W": 1.0, "kW": 1e3, "hp": 550 * FOOT * LBF},
    "s": {"s": 1.0, "min": 60.0},
}  # fmt: skip
"""SI unit -> units of the same dimension and their SI values, which are exact by definition."""
WRITTEN = {
    "m": {'"': INCH, "'": FOOT},
    "N": {"US ton": 2e3 * LBF, "US tonf": 2e3 * LBF, "short tonf": 2e3 * LBF},
    "Pa": {"N/mm2": 1e6, "kgf/cm2": 98066.5},
    "kg": {"US ton": 2e3 * LB, "short ton": 2e3 * LB, "lbs": LB},
    "m/m": {"in/in": 1.0},
    "m^3/s": {"gpm": GALLON / 60.0},
}
"""The same for spellings that people use and pint does not know."""
DEGREES = {"°C": 1.0, "degC": 1.0, "°F": 5 / 9, "degF": 5 / 9, "K": 1.0}
"""Units of temperature, and the degrees Celsius of one of each."""
FREEZING = {"°F": 32.0, "degF": 32.0, "K": 273.15}
"""Where water freezes, in units that do not count from there."""


@functools.cache
def registry() -> pint.UnitRegistry:
    """The one pint registry, made at first use."""
    import pint

    return pint.UnitRegistry(cache_folder=None)


@functools.cache
def scale(unit: str) -> float:
    """SI value of one `unit`; of a temperature, the degrees Celsius of one."""
    for known in (*COMMON.values(), *WRITTEN.values(), DEGREES):
        if unit in known:
            return known[unit]
    return float(registry().Quantity(1.0, unit).to_base_units().magnitude)


def known(kind: Kind) -> dict[str, float]:
    """Common units of a kind and their SI values."""
    if kind is TEMPERATURE:
        return DEGREES
    return COMMON.get(kind.unit, {}) | WRITTEN.get(kind.unit, {})
