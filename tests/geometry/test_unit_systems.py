"""Units as people write and wish them: inches with fractions, tons that must say which, systems."""

from __future__ import annotations

import math

import pytest

from platestack.geometry import units
from platestack.geometry.units import (
    COMMON,
    FORCE,
    LENGTH,
    MASS,
    OFFSET,
    POWER,
    PRESSURE,
    SLOPE,
    VOLUME,
    UnitError,
    parse,
)

INCH, LBF = 0.0254, 4.4482216152605  # N, exactly (0.45359237 kg times 9.80665 m/s²)


@pytest.fixture
def us():
    with units.using("US"):
        yield


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("3 1/4 in", LENGTH, 3.25 * INCH),
        ("3-1/4 in", LENGTH, 3.25 * INCH),
        ('20"', LENGTH, 20 * INCH),
        ("20″", LENGTH, 20 * INCH),
        ("1'8\"", LENGTH, 20 * INCH),
        ("1' 8 1/2\"", LENGTH, 20.5 * INCH),
        ("1 ft 8 in", LENGTH, 20 * INCH),
        ("1/2 in", LENGTH, 0.5 * INCH),
        ("-13 3/4 in", OFFSET, -13.75 * INCH),
        ("150 US ton", FORCE, 300_000 * LBF),
        ("4,000 psi", PRESSURE, 4000 * LBF / INCH**2),
        ("66,139 lbf", FORCE, 66_139 * LBF),
        ("1,234,567 N", FORCE, 1_234_567.0),
        ("1,250.5 kN", FORCE, 1_250_500.0),
        ("2000 lbs", MASS, 2000 * 0.45359237),
        ("10 gal", VOLUME, 10 * 231 * INCH**3),
        ("7.5 hp", POWER, 7.5 * 550 * 0.3048 * LBF),
        ("0.012 in/ft", SLOPE, 1e-3),
    ],
)
def test_what_people_write_is_read(text, kind, value):
    assert parse(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["1/2 mm", "3 5/4 in", "1'14\"", "1/0 in", "12,5 in", "1,2 in", "3 1/4", "1' 8 mm"]
)
def test_what_may_mean_two_things_is_refused(text):
    with pytest.raises(UnitError, match="allowed: a length with its unit"):
        parse(text, LENGTH)


@pytest.mark.parametrize("text", ["1,234 mm", "4,000 kN"])
def test_a_comma_that_may_be_a_decimal_sign_asks_which(text):
    number, unit = text.split()
    either = f"{number.replace(',', '')} {unit} or {number.replace(',', '.')} {unit}"
    with pytest.raises(UnitError, match=either.replace(".", r"\.")):
        parse(text, LENGTH if unit == "mm" else FORCE)


@pytest.mark.parametrize("text", ["150 ton", "150 tons", "150 tonf", "150 tonne", "150 ton-force"])
def test_a_ton_asks_which(text):
    with pytest.raises(UnitError, match=r"which ton\? 'tf' \(metric.*'US ton' \(2,000 lbf\)"):
        parse(text, FORCE)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (1.25 * INCH, "m", "1.25 in"),
        (100 * LBF, "N", "100 lbf"),
        (66_139 * LBF, "N", "66.14 kip"),
        (4000 * LBF / INCH**2, "Pa", "4000 psi"),
        (36e3 * LBF / INCH**2, "Pa", "36 ksi"),
        (403.8 * 0.45359237, "kg", "403.8 lb"),
        (231 * INCH**3 * 12, "m³", "12 gal"),
        (100 * 0.3048 * LBF, "N m", "100 lbf·ft"),
        (12 * INCH, "run", "1 ft"),
        (7.5 * 550 * 0.3048 * LBF, "W", "7.5 hp"),
    ],
)
def test_us_units_are_shown(us, value, unit, text):
    assert units.quantity(value, unit) == text


def test_a_value_and_its_limit_have_one_unit(us):
    limit = 20e3 * LBF / INCH**2
    assert units.quantity(limit / 2, "Pa") == "10,000 psi"
    assert units.quantity(limit / 2, "Pa", beside=limit) == "10 ksi"


def test_tonnes_force_are_shown():
    with units.using("mm"):
        assert units.quantity(250 * 9806.65, "N") == "250 tf"
        assert units.quantity(50 * 9.80665, "N") == "50 kgf"
        assert units.quantity(0.06, "m") == "60 mm"
    assert units.quantity(250e3, "N") == "250 kN"


@pytest.mark.parametrize(
    ("inches", "text"), [(3.25, "3 1/4 in"), (0.0625, "1/16 in"), (2, "2 in"), (1.9685, "1.968 in")]
)
def test_stock_is_shown_in_fractions_where_it_is_sold_so(us, inches, text):
    assert units.stock(inches * INCH) == text


@pytest.mark.parametrize("kind", [LENGTH, OFFSET, FORCE, PRESSURE, MASS, SLOPE, VOLUME, POWER])
@pytest.mark.parametrize("system", units.NAMES)
def test_what_is_written_is_read_again(kind, system):
    value = 0.37 * min(kind.high, 1e3 * COMMON[kind.unit][kind.shown])
    with units.using(system):
        assert parse(units.show(value, kind, 12), kind) == pytest.approx(value, rel=1e-10)
        example = parse(kind.us_example if system == "US" else kind.example, kind)
        assert kind.low <= example <= kind.high


def test_fixed_decimals_are_as_fine_in_inches(us):
    assert units.fixed(0.0254, "m", 0) == "1.00 in"  # a millimetre is 0.04 in
    assert units.fixed(1000 * LBF, "N", 1) == "1.00 kip"


def test_a_block_and_a_thread_have_their_own_system():
    with units.using("US"):
        assert units.system() == "US"
        with units.using("SI"):
            assert units.system() == "SI"
        assert units.system() == "US"
    assert units.system() == "SI"


def test_figures_keep_their_error(us):
    class One:
        value, error, unit = 0.312e-3, 0.02e-3, "m"

    text = units.figure(One())
    shown, error = (float(part) for part in text.removesuffix(" in").split(" ± "))
    assert math.isclose(shown * INCH, One.value, abs_tol=0.5e-4 * INCH)
    assert math.isclose(error * INCH, One.error, rel_tol=0.07)


@pytest.mark.parametrize(
    ("inches", "shown"),
    [(3.0625, "3.0625"), (0.1875, "0.1875"), (2.5, "2.5"), (18, "18"), (1 / 3, "0.333"),
     (-6.8125, "-6.8125"), (0.00001, "0")],
)  # fmt: skip
def test_drawings_show_sixteenths_of_an_inch_whole(inches, shown):
    with units.using("US"):
        assert units.dimension(inches * 0.0254) == shown
