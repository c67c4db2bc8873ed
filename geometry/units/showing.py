"""SI floats as text, in the units that the user wishes (`geometry.units.systems`)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Any, Protocol

from platestack.geometry.units.kinds import FORCE, FREEZING, INCH, LBF, Kind
from platestack.geometry.units.reading import scale_of, shown_unit
from platestack.geometry.units.systems import metric, shown_in, system

ROUNDING = 1e-9
"""Lengths below it (m) are what rounding leaves of heights, and are written as 0."""
SIXTEENTH = INCH / 16
FRACTION = 1e-6
"""Lengths (m) within this of a sixteenth of an inch are written as a fraction."""


def show(value: float, kind: Kind, digits: int = 4) -> str:
    """Write an SI value with its unit as `parse` reads it, such as ``"60 mm"``."""
    if system() == "US" and kind.unit == "m" and (text := fraction(value)):
        return text
    unit = shown_unit(kind, value)
    return f"{value / scale_of(unit, kind) + FREEZING.get(unit, 0.0):.{digits}g} {unit}"


def fraction(value: float) -> str:
    """Write a length (m) as inches with a fraction, ``"3 1/4 in"``; empty if it is no sixteenth."""
    if value < SIXTEENTH / 2 or abs(value / SIXTEENTH - round(value / SIXTEENTH)) > (
        FRACTION / SIXTEENTH
    ):
        return ""
    whole, rest = divmod(Fraction(round(value / SIXTEENTH), 16), 1)
    words = [str(whole)] * bool(whole) + [f"{rest.numerator}/{rest.denominator}"] * bool(rest)
    return f"{' '.join(words)} in"


def quantity(value: float | None, unit: str, digits: int = 4, beside: float | None = None) -> str:
    """Write an SI number in the unit that people use for it; `beside` another, in the same."""
    if value is None:
        return "not known"
    shown = shown_in(unit, max(abs(value), abs(beside or 0.0)))
    return f"{bare(value, unit, digits, beside)} {shown.name}".rstrip()


def bare(value: float, unit: str, digits: int = 4, beside: float | None = None) -> str:
    """Write an SI number as `quantity` does, without the unit's name."""
    if unit == "m" and abs(value) < ROUNDING:
        value = 0.0
    shown = shown_in(unit, max(abs(value), abs(beside or 0.0)))
    return plain(value / shown.scale + shown.zero, digits)


def fixed(value: float, unit: str, decimals: int) -> str:
    """Write an SI number to so many decimals of SI's shown unit, and as fine in another's."""
    shown = shown_in(unit, value)
    digits = max(0, decimals + math.ceil(math.log10(shown.scale / metric(unit).scale)))
    return f"{round(value / shown.scale, digits) + 0.0:,.{digits}f} {shown.name}"


def stock(value: float) -> str:
    """Write a size that steel is sold in: in inches with a fraction where it is one."""
    return (system() == "US" and fraction(value)) or quantity(value, "m")


def capacity(value: float) -> str:
    """Write a pressing force (N); in US units in kips with short tons-force."""
    words = quantity(value, FORCE.unit)
    return f"{words} ({plain(value / (2e3 * LBF))} US tonf)" if system() == "US" else words


def dimension(metres: float) -> str:
    """Write a length on a drawing, no unit: mm to six digits, or inches to three decimals.

    Sixteenths of an inch are written whole, such as 3.0625.
    """
    value = metres / shown_in("m").scale
    places = 4 if fraction(abs(metres)) else 3
    text = f"{value:.{places}f}".rstrip("0").rstrip(".") if system() == "US" else f"{value:.6g}"
    return "0" if text in ("-0", "") else text


def place(*coordinates: float) -> str:
    """Write coordinates (m) to the millimetre or the hundredth of an inch, without the unit."""
    shown = shown_in("m")
    digits = 2 if system() == "US" else 0
    return ", ".join(f"{round(c / shown.scale, digits) + 0.0:.{digits}f}" for c in coordinates)


def column(unit: str) -> tuple[float, str]:
    """SI value and name of the unit of a column of a file that is SI unless another is wished."""
    if system() == "SI":
        return 1.0, unit
    shown = shown_in(unit)
    return shown.scale, shown.name


def in_columns(units: Mapping[str, str], rows: Iterable[Mapping[str, Any]]) -> list[list[Any]]:
    """Head and rows of a table of SI figures whose keys have these SI units, in what is wished."""
    rows = list(rows)
    known = {key: column(unit) for key, unit in units.items()}
    head = [f"{key} [{known[key][1]}]" if key in known else key for key in rows[0]]
    return [head, *([_in_column(cell, known.get(key)) for key, cell in row.items()]
                    for row in rows)]  # fmt: skip


def _in_column(cell: Any, unit: tuple[float, str] | None) -> Any:
    number = isinstance(cell, int | float) and not isinstance(cell, bool)
    return cell / unit[0] if unit and number and unit[0] != 1.0 else cell


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


def percent(part: float, digits: int = 0, *, signed: bool = False) -> str:
    """Write a part of one in per cent, its sign after a space that does not break (SI Brochure).

    Without digits, rounding never hides on which side of 1 it is, as of a limit.
    """
    value = 100 * part
    if digits == 0 and 0.995 <= part < 1.005 and part != 1:
        digits, value = 1, (math.floor if part < 1 else math.ceil)(1e3 * part) / 10
    return f"{value:{'+' if signed else ''}.{digits}f}\N{NO-BREAK SPACE}%"


def figure(number: WithError | None, digits: int = 4) -> str:
    """Write a number with its error, where it has one, both to the error's second digit."""
    if number is None:
        return "–"
    if number.error is None or number.value is None or number.error <= 0:
        return quantity(number.value, number.unit, digits)
    shown = shown_in(number.unit, number.value)
    value, error = number.value / shown.scale, number.error / shown.scale
    places = min(max(0, 1 - math.floor(math.log10(error))), 6)
    return f"{value:,.{places}f} ± {error:,.{places}f} {shown.name}".rstrip()
