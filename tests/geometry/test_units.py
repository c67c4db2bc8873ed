"""Units: exact definitions, refusals, and a round trip."""

from __future__ import annotations

import itertools
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.geometry.units import (
    COMMON,
    FORCE,
    LENGTH,
    MASS,
    OFFSET,
    PRESSURE,
    SLOPE,
    UnitError,
    parse,
    registry,
    show,
)
from platestack.geometry.units.reading import _may_be_known

# Exact by definition: g0 = 9.80665 m/s² (3rd CGPM 1901), 1 atm = 101325 Pa (10th CGPM 1954),
# 1 in = 25.4 mm and 1 lbf = 0.45359237 kg g0 (international yard and pound, 1959).
EXACT = [
    ("250 tf", FORCE, 250e3 * 9.80665),
    ("250 kN", FORCE, 250e3),
    ("1 kgf", FORCE, 9.80665),
    ("1 lbf", FORCE, 0.45359237 * 9.80665),
    ("320 bar", PRESSURE, 32e6),
    ("450 atm", PRESSURE, 450 * 101325),
    ("1 kgf/cm^2", PRESSURE, 98066.5),
    ("60 mm", LENGTH, 0.06),
    ("60mm", LENGTH, 0.06),
    (" 6 cm ", LENGTH, 0.06),
    ("10 in", LENGTH, 0.254),
    ("-350 mm", OFFSET, -0.35),
    ("1.5 t", MASS, 1500.0),
    ("150 US ton", FORCE, 150 * 2000 * 0.45359237 * 9.80665),
    ("2 US ton", MASS, 4000 * 0.45359237),
    ("2 short ton", MASS, 4000 * 0.45359237),
    ("330 kip", FORCE, 330e3 * 0.45359237 * 9.80665),
    ("24 N/mm2", PRESSURE, 24e6),
    ("1 mm/m", SLOPE, 1e-3),
    ("6e1 mm", LENGTH, 0.06),
]


@pytest.mark.parametrize(("si", "unit"), [(s, u) for s, us in COMMON.items() for u in us])
def test_common_units_are_those_of_pint(si, unit):
    assert registry().parse_units(unit).dimensionality == registry().parse_units(si).dimensionality
    assert COMMON[si][unit] == pytest.approx(registry().Quantity(1.0, unit).to(si).m, rel=1e-15)


def test_no_unit_of_pint_is_refused_unseen():
    """Of those that a case may write: letters, with a prefix or without; no temperatures."""
    known = registry()
    form = re.compile("(?!delta_)[A-Za-zµ%_]{1,30}")
    names = [str(name) for name in known._units if form.fullmatch(str(name))]
    assert len(names) > 700
    assert [name for name in names if not _may_be_known(name)] == []
    for prefix, name in itertools.product(known._prefixes, ("m", "meters", "N", "Pa", "grams")):
        assert not known.parse_unit_name(prefix + name) or _may_be_known(prefix + name)


@pytest.mark.parametrize("text", ["6 tff", "6 Mpa", "6 mmm", "6 milimeter", "6 kN/mmm", "6 kg"])
def test_a_mistyped_unit_is_answered_without_pint(text, monkeypatch):
    monkeypatch.setattr("platestack.geometry.units.reading.registry", None)
    with pytest.raises(UnitError, match=r"is not a known unit|is not the unit of a pressure"):
        parse(text, PRESSURE)


@pytest.mark.parametrize(("text", "kind", "value"), EXACT)
def test_exact_values(text, kind, value):
    assert parse(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "given_value",
    [
        "60",
        "mm",
        "",
        "60 mm mm mm mm mm",
        "60 kg",
        "sixty mm",
        "60 mm; 7",
        "1/2 mm",
        "60,5 mm",
        "0x10 mm",
        "nan mm",
        "inf m",
        "1e400 mm",
        "60 mm**9**9**9",
        "60 mm^77",
        "60 (mm",
        "60 °C",
        60,
        60.0,
        True,
        None,
        [],
        {},
        "250 t" * 50,
        "60 __import__('os')",
    ],
)
def test_refusals_say_what_is_allowed(given_value):
    with pytest.raises(UnitError, match="allowed: a length with its unit"):
        parse(given_value, LENGTH)


@pytest.mark.parametrize(
    ("text", "kind", "units"),
    [
        ("150 ton", FORCE, "'tf' or 'US ton'"),
        ("330 kps", FORCE, "'kip'"),
        ("20 KN", FORCE, "'kN'"),
        ("20 lbs", FORCE, "'lbf'"),
        ("28 mpa", PRESSURE, "'MPa'"),
        ("60 mmm", LENGTH, "'mm'"),
        ("60 furlongs_per_ox", FORCE, "'N' or 'kN' or 'MN' or 'tf' or 'kgf' or 'lbf' or 'kip'"),
    ],
)
def test_the_nearest_units_are_named(text, kind, units):
    with pytest.raises(UnitError, match=f"did you mean .*{units}"):
        parse(text, kind)


@given(st.floats(min_value=1e-4, max_value=100.0))
def test_round_trip(value):
    assert math.isclose(parse(show(value, LENGTH, 17), LENGTH), value, rel_tol=1e-12)


@given(st.text(max_size=60))
def test_any_text_is_a_length_or_an_error(text):
    try:
        value = parse(text, LENGTH)
    except UnitError:
        return
    assert LENGTH.low <= value <= LENGTH.high
