"""Units at the edge: text with a unit in, SI float out, and back.

Everything behind the case file and before the report is a plain float in SI. `parse` is the only
way in, `show` the only way out.

The units of `COMMON` are known at once. All others come from pint, which is imported at the first
of them: it loads numpy and dask, and takes longer than reading a case.
"""

from __future__ import annotations

import difflib
import functools
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import pint


class UnitError(ValueError):
    """A text that is not a number with a fitting unit. The message says what is allowed."""


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its SI unit, an example for messages, and the range that makes sense."""

    name: str
    unit: str
    example: str
    low: float
    high: float
    shown: str

    @property
    def allowed(self) -> str:
        """The allowed range in the unit that reports use, with an example."""
        low, high = (f"{self.to_shown(x):.6g}" for x in (self.low, self.high))
        return f"{self.name} with its unit, {low} to {high} {self.shown}, such as {self.example!r}"

    def to_shown(self, value: float) -> float:
        """Convert an SI value to the unit that reports use."""
        return value / scale(self.shown)


LENGTH = Kind("a length", "m", "60 mm", 1e-4, 100.0, "mm")
OFFSET = Kind("a signed length", "m", "-350 mm", -100.0, 100.0, "mm")
GAP = Kind("a gap", "m", "0.3 mm", 0.0, 0.1, "mm")
BOW = Kind("a bow", "m", "0.5 mm", -0.1, 0.1, "mm")
DISTANCE = Kind("a distance", "m", "60 mm", 0.0, 10.0, "mm")
FORCE = Kind("a force", "N", "250 tf", 1.0, 1e9, "kN")
LOAD = Kind("a force", "N", "250 tf", 0.0, 1e9, "kN")
"""That may be nothing."""
PRESSURE = Kind("a pressure", "Pa", "32 MPa", 1e3, 5e9, "MPa")
STIFFNESS = Kind("an elastic modulus", "Pa", "210 GPa", 1e6, 2e12, "GPa")
MASS = Kind("a mass", "kg", "2 t", 1e-3, 1e7, "kg")
DENSITY = Kind("a density", "kg/m^3", "7850 kg/m^3", 1.0, 3e4, "kg/m^3")
SLOPE = Kind("a length for each length", "m/m", "1 mm/m", 1e-6, 0.1, "mm/m")

FLOW = Kind("a flow", "m^3/s", "5 L/min", 1e-8, 1.0, "L/min")
VOLUME = Kind("a volume", "m^3", "60 L", 1e-6, 100.0, "L")
POWER = Kind("a power", "W", "5.5 kW", 1.0, 1e7, "kW")
DURATION = Kind("a duration", "s", "60 s", 1e-3, 1e6, "s")
TEMPERATURE = Kind("a temperature", "°C", "-10 °C", -50.0, 100.0, "°C")
"""In °C inside as well: formulas take differences only."""

_FORM = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,4})?)\s*([^\d\s+\-.].*)?\s*")
_FACTOR = r"[A-Za-zµμ%_]{1,30}(?:[²³]|\s*(?:\^|\*\*)\s*[1-4])?"
# Products and quotients of units with small powers; pint would evaluate any expression.
_UNIT = re.compile(rf"{_FACTOR}(?:\s*[*/·]\s*{_FACTOR}){{0,3}}\s*")


LBF = 0.45359237 * 9.80665  # N: the international pound (1959) times standard gravity
COMMON = {
    "m": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "in": 0.0254, "inch": 0.0254, "ft": 0.3048},
    "N": {"N": 1.0, "kN": 1e3, "MN": 1e6, "tf": 9806.65, "kgf": 9.80665, "lbf": LBF,
          "kip": 1e3 * LBF},
    "Pa": {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9, "bar": 1e5, "atm": 101325.0,
           "psi": LBF / 0.0254**2, "ksi": 1e3 * LBF / 0.0254**2},
    "kg": {"kg": 1.0, "t": 1e3, "lb": 0.45359237},
    "kg/m^3": {"kg/m^3": 1.0},
    "m/m": {"mm/m": 1e-3},
    "m^3/s": {"L/min": 1e-3 / 60.0},
    "m^3": {"L": 1e-3},
    "W": {"W": 1.0, "kW": 1e3},
    "s": {"s": 1.0, "min": 60.0},
}  # fmt: skip
"""SI unit -> units of the same dimension and their SI values, which are exact by definition."""
WRITTEN = {
    "N": {"US ton": 2e3 * LBF},
    "Pa": {"N/mm2": 1e6, "kgf/cm2": 98066.5},
    "kg": {"US ton": 2e3 * 0.45359237},
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
    for known in (*COMMON.values(), DEGREES):
        if unit in known:
            return known[unit]
    return float(registry().Quantity(1.0, unit).to_base_units().magnitude)


@functools.lru_cache(maxsize=512)
def _unit(text: str, kind: Kind) -> float:
    """SI value of the unit `text`, checked to be of `kind`."""
    common = _known(kind).get(" ".join(text.split()))
    if common is not None:
        return common
    if not _UNIT.fullmatch(text) or kind is TEMPERATURE:  # others count from elsewhere
        raise UnitError(f"{text!r:.60} is no unit; {nearest(text, kind)}allowed: {kind.allowed}")
    try:
        unit = registry().parse_units(text)
        fits = unit.dimensionality == registry().parse_units(kind.unit).dimensionality
    except Exception as error:  # pint raises many kinds for malformed text; one line serves all
        hint = nearest(text, kind)
        raise UnitError(f"{text!r:.60} is no known unit; {hint}allowed: {kind.allowed}") from error
    if not fits:
        hint = nearest(text, kind)
        raise UnitError(
            f"{text!r:.60} is not the unit of {kind.name}; {hint}allowed: {kind.allowed}"
        )
    return scale(text.strip())


def _known(kind: Kind) -> dict[str, float]:
    """Common units of a kind and their SI values."""
    known = COMMON.get(kind.unit, {}) | WRITTEN.get(kind.unit, {})
    return DEGREES if kind is TEMPERATURE else known


def nearest(text: str, kind: Kind) -> str:
    """Name the units of a kind that a text is nearest to, or all common ones, as a question."""
    known = {name.casefold(): name for name in _known(kind)}
    wrong = " ".join(text.split()).casefold()
    tons = [name for name in ("tf", "t", "us ton") if wrong.startswith("ton") and name in known]
    close = dict.fromkeys([*tons, *difflib.get_close_matches(wrong, known, 3, 0.5)])
    names = [known[name] for name in close][:3] or list(known.values())
    return f"did you mean {' or '.join(map(repr, names[:8]))}? " if names else ""


def parse(given: object, kind: Kind) -> float:
    """Read a quantity such as ``"250 tf"`` as an SI float.

    Parameters
    ----------
    given : object
        What the case file holds. Only text with a number and a unit is accepted.
    kind : Kind
        The expected kind of quantity.

    Returns
    -------
    float
        Value in the SI unit of `kind`.

    Raises
    ------
    UnitError
        If the number, the unit, the dimension or the range is wrong.
    """
    if isinstance(given, bool) or not isinstance(given, str | int | float):
        raise UnitError(f"this is no quantity; allowed: {kind.allowed}")
    if isinstance(given, int | float):
        raise UnitError(f"a bare number, its unit is missing; allowed: {kind.allowed}")
    if re.match(r"\s*[+-]?\d*,\d", given):
        raise UnitError(f"the decimal sign is a point, not a comma; allowed: {kind.allowed}")
    match = _FORM.fullmatch(given)
    if not match:
        raise UnitError(f"not a number with a unit; allowed: {kind.allowed}")
    number, unit = match.groups()
    if unit is None:
        raise UnitError(f"the unit is missing; allowed: {kind.allowed}")
    value = (float(number) - FREEZING.get(unit.strip(), 0.0)) * _unit(unit, kind)
    if not math.isfinite(value) or not kind.low <= value <= kind.high:
        raise UnitError(f"out of range; allowed: {kind.allowed}")
    return value


def show(value: float, kind: Kind, digits: int = 4) -> str:
    """Write an SI value with the unit that reports use, such as ``"60 mm"``."""
    return f"{kind.to_shown(value):.{digits}g} {kind.shown}"


ROUNDING = 1e-9
"""Lengths below it (m) are what rounding leaves of heights, and are written as 0."""

SHOWN: dict[str, tuple[float, str]] = {
    "Pa": (1e6, "MPa"),
    "m": (1e-3, "mm"),
    "N": (1e3, "kN"),
    "kg": (1.0, "kg"),
    "J": (1.0, "J"),
    "W": (1e3, "kW"),
    "m³": (1e-3, "L"),
    "m/s": (1e-3, "mm/s"),
    "1": (1.0, ""),
}
"""SI unit -> SI value of the unit that reports use, and its name."""


def quantity(value: float | None, unit: str, digits: int = 4) -> str:
    """Write an SI number in the unit that people use for it."""
    if value is None:
        return "not known"
    scale, name = SHOWN.get(unit, (1.0, unit))
    if unit == "m" and abs(value) < ROUNDING:
        value = 0.0
    return f"{plain(value / scale, digits)} {name}".rstrip()


def plain(value: float, digits: int = 4) -> str:
    """Write a number to so many digits, never with an exponent where people read it."""
    if 10**digits - 0.5 <= abs(value) < 1e9:  # where the other form takes an exponent
        return f"{value:,.0f}"
    return f"{value:.{digits}g}"


class WithError(Protocol):
    """A number with its unit and error, either of which may be unknown."""

    @property
    def value(self) -> float | None: ...  # noqa: D102
    @property
    def error(self) -> float | None: ...  # noqa: D102
    @property
    def unit(self) -> str: ...  # noqa: D102


def percent(use: float) -> str:
    """Write a utilisation in per cent; rounding never hides on which side of the limit it is."""
    if 0.995 <= use < 1.005 and use != 1:
        return f"{(math.floor if use < 1 else math.ceil)(1e3 * use) / 10:.1f}%"
    return f"{use:.0%}"


def figure(number: WithError | None, digits: int = 4) -> str:
    """Write a number with its error, where it has one, both to the error's second digit."""
    if number is None:
        return "–"
    if number.error is None or number.value is None or number.error <= 0:
        return quantity(number.value, number.unit, digits)
    scale, name = SHOWN.get(number.unit, (1.0, number.unit))
    value, error = number.value / scale, number.error / scale
    places = min(max(0, 1 - math.floor(math.log10(error))), 6)
    return f"{value:,.{places}f} ± {error:,.{places}f} {name}".rstrip()
