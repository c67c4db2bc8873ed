r"""Text with a unit as an SI float: ``"250 tf"``, ``"3 1/4 in"``, ``"1'8\""``, ``"4,000 psi"``."""

from __future__ import annotations

import difflib
import functools
import importlib.util
import math
import re
from pathlib import Path

from platestack.geometry.units.kinds import (
    COMMON,
    FOOT,
    FREEZING,
    INCH,
    TEMPERATURE,
    Kind,
    known,
    registry,
    scale,
)
from platestack.geometry.units.systems import shown_in, system


class UnitError(ValueError):
    """A text that is not a number with a fitting unit. The message says what is allowed."""


_NUMBER = r"(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,4})?"
_FORM = re.compile(rf"\s*([+-]?{_NUMBER})\s*([^\d\s+\-.].*)?\s*")
_FACTOR = r"[A-Za-zµμ%_]{1,30}(?:[²³]|\s*(?:\^|\*\*)\s*[1-4])?"
# Products and quotients of units with small powers; pint would evaluate any expression.
_UNIT = re.compile(rf"{_FACTOR}(?:\s*[*/·]\s*{_FACTOR}){{0,3}}\s*")
_COMMAS = re.compile(r"\s*[+-]?\d{1,3}((?:,\d{3})+)(\.\d*)?\s*(\S.*)")
_US_ONLY = re.compile(r"""in|inch|ft|psi|ksi|lbf|kip|lbs?|gal|gal/min|gpm|hp|["']|.*\bton[fs]?""")
"""Units with which a comma separates thousands: where they are used no decimal comma is."""
_MARKS = str.maketrans({"″": '"', "“": '"', "”": '"', "′": "'", "’": "'"})
_WHOLE = r"(?:(\d+)\s*[ -]\s*)?(\d{1,3})/(\d{1,3})"
_FRACTION = re.compile(rf"""\s*([+-]?){_WHOLE}\s*(in|inch|ft|"|')\s*""")
_INCHES = rf"(?:{_WHOLE}|(\d+\.?\d*|\.\d+))"
_FEET = re.compile(rf"""\s*([+-]?)(\d+)\s*(?:'|ft)\s*-?\s*{_INCHES}\s*(?:"|in|inch)\s*""")
_TONS = re.compile(r"(?:metric )?tons?(?:f|-force| force)?|tonnes?(?:f|-force)?")


def allowed(kind: Kind) -> str:
    """Range of a kind in the unit in which it is shown now, with an example."""
    unit = shown_unit(kind)
    start = FREEZING.get(unit, 0.0)
    low, high = (f"{x / scale_of(unit, kind) + start:.6g}" for x in (kind.low, kind.high))
    example = kind.us_example if system() == "US" and kind.us_example else kind.example
    return f"{kind.name} with its unit, {low} to {high} {unit}, such as {example!r}"


def shown_unit(kind: Kind, value: float | None = None) -> str:
    """Name of the unit in which a value of a kind is written, so that `parse` reads it."""
    si = system() == "SI" or (system() == "mm" and kind.unit != "N")
    return kind.shown if si else shown_in(kind.unit, value).name.replace("³", "^3")


def scale_of(unit: str, kind: Kind) -> float:
    """SI value of a unit of a kind."""
    return known(kind).get(unit) or scale(unit)


@functools.lru_cache(maxsize=512)
def _unit(text: str, kind: Kind, _system: str) -> float:
    """SI value of the unit `text`, checked to be of `kind`."""
    common = known(kind).get(" ".join(text.split()))
    if common is not None:
        return common
    wanted = f"{nearest(text, kind)}allowed: {allowed(kind)}"
    if not _UNIT.fullmatch(text) or kind is TEMPERATURE:  # others count from elsewhere
        raise UnitError(f"{text!r:.60} is not a unit; {wanted}")
    if any(text.strip() in units for units in COMMON.values()):
        raise UnitError(f"{text!r:.60} is not the unit of {kind.name}; {wanted}")
    try:
        if not _may_be_known(text):
            raise ValueError
        unit = registry().parse_units(text)
        fits = unit.dimensionality == registry().parse_units(kind.unit).dimensionality
    except Exception as error:  # pint raises many kinds for malformed text; one line serves all
        raise UnitError(f"{text!r:.60} is not a known unit; {wanted}") from error
    if not fits:
        raise UnitError(f"{text!r:.60} is not the unit of {kind.name}; {wanted}")
    return scale(text.strip())


def _may_be_known(text: str) -> bool:
    """Whether all units named in a text may be among pint's: a mistyped one is answered at once.

    Each word of pint's list of definitions counts as a unit, those with a dash as prefixes.
    """
    words = _words_of_pint()
    prefixes = ("", *(word[:-1] for word in words if word.endswith("-")))

    def listed(unit: str) -> bool:
        stems = (unit.removeprefix(prefix) for prefix in prefixes)
        return any(stem in words or stem.removesuffix("s") in words for stem in stems)

    return all(listed(unit) for unit in re.findall("[A-Za-zµμ%_]+", text))


@functools.cache
def _words_of_pint() -> frozenset[str]:
    """All words of the files in which pint defines its units, prefixes with their dash."""
    found = importlib.util.find_spec("pint")
    folder = Path(found.origin).parent if found and found.origin else Path()
    texts = [file.read_text("utf-8") for file in folder.glob("*_en.txt")]
    return frozenset(re.findall(r"(?:%|[^\W\d])\w*-?", "\n".join(texts)))


def nearest(text: str, kind: Kind) -> str:
    """Name the units of a kind that a text is nearest to, or all common ones, as a question."""
    units = {name.casefold(): name for name in known(kind) if name.isascii() and name[0].isalpha()}
    wrong = " ".join(text.split()).casefold()
    if _TONS.fullmatch(wrong) and kind.unit in ("N", "kg"):
        short = f"'US ton' ({2000:,} {'lbf' if kind.unit == 'N' else 'lb'})"
        metric = ("'tf' (metric tonne-force, 1,000 kgf)" if kind.unit == "N"
                  else "'t' (metric tonne, 1,000 kg)")  # fmt: skip
        return f"which ton? {metric} or {short}; did you mean {metric[:metric.index(' ')]} or " \
               "'US ton'? "  # fmt: skip
    close = dict.fromkeys(difflib.get_close_matches(wrong, units, 3, 0.5))
    names = [units[name] for name in close][:3] or list(units.values())
    return f"did you mean {' or '.join(map(repr, names[:8]))}? " if names else ""


def parse(given: object, kind: Kind) -> float:
    r"""Read a quantity such as ``"250 tf"`` as an SI float.

    Inches and feet may be whole numbers with a fraction: ``"3 1/4 in"``, ``"20\""``,
    ``"1'8 1/2\""``. A comma separates thousands where it can mean nothing else.

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
        raise UnitError(f"this is not a quantity; allowed: {allowed(kind)}")
    if isinstance(given, int | float):
        raise UnitError(f"a bare number, its unit is missing; allowed: {allowed(kind)}")
    value = _feet_and_inches(given) if kind.unit == "m" else None
    if value is None:
        value = _plain(_without_commas(given, kind), kind)
    if not math.isfinite(value) or not kind.low <= value <= kind.high:
        raise UnitError(f"out of range; allowed: {allowed(kind)}")
    return value


def _plain(given: str, kind: Kind) -> float:
    """SI value of a number with a unit."""
    match = _FORM.fullmatch(given.translate(_MARKS))
    if not match:
        raise UnitError(f"not a number with a unit; allowed: {allowed(kind)}")
    number, unit = match.groups()
    if unit is None:
        raise UnitError(f"the unit is missing; allowed: {allowed(kind)}")
    start = FREEZING.get(unit.strip(), 0.0)
    return (float(number) - start) * _unit(unit, kind, system())


def _feet_and_inches(given: str) -> float | None:
    """Length in m of a text with feet, inches or fractions of them; None if it is none of these."""
    text = given.translate(_MARKS)
    if match := _FRACTION.fullmatch(text):
        sign, whole, above, below, unit = match.groups()
        size = FOOT if unit in ("ft", "'") else INCH
        value = _mixed(whole, above, below) * size
    elif match := _FEET.fullmatch(text):
        sign, feet, whole, above, below, decimal = match.groups()
        inches = float(decimal) if decimal else _mixed(whole, above, below)
        value = int(feet) * FOOT + inches * INCH if inches < 12 else math.nan
    else:
        return None
    return -value if sign == "-" else value


def _mixed(whole: str | None, above: str, below: str) -> float:
    """Value of a whole number with a proper fraction; NaN where it is none."""
    fraction = int(above) / int(below) if int(below) else math.nan
    return int(whole or 0) + fraction if fraction < 1 or not whole else math.nan


def _without_commas(given: str, kind: Kind) -> str:
    """Drop commas between thousands; refuse those that may be decimal signs."""
    if not re.match(r"\s*[+-]?\d*,\d", given):
        return given
    match = _COMMAS.fullmatch(given)
    sure = match and (match[1].count(",") > 1 or match[2] or _US_ONLY.fullmatch(match[3].strip()))
    if match and sure:
        number = given[: match.start(3)].replace(",", "")
        return f"{number} {match[3]}"
    which = f" ({given.strip().replace(',', '')} or {given.strip().replace(',', '.')}?)"
    raise UnitError(
        f"the decimal sign is a point, not a comma{which if match else ''}; "
        f"allowed: {allowed(kind)}"
    )
