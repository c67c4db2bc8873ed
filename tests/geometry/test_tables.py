"""Tables as a whole, odd names, friction, stock plates, bores, oil.

Sources stand at each check; "secondary copy": a public reproduction of the table was read, not the
standard; "not verified against the standard": nothing was read.
"""

from __future__ import annotations

import contextlib
import itertools

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from platestack.geometry import tables
from platestack.geometry.errors import PlatestackError
from platestack.geometry.tables.source import in_mm

MPA = 1e6
GRADES = (*tables.grade_names(), *tables.rod_grade_names())

near_misses = st.builds(
    lambda name, cut, junk: name[:cut] + junk + name[cut:],
    st.sampled_from((*GRADES, "M80x6", "M64", "as rolled")),
    st.integers(0, 12),
    st.text(max_size=3),
)
garbage = st.text(max_size=60) | near_misses


@given(garbage)
@example("")
@example("S355J2+")
@example("S355N+N")
@example("\x00")
def test_garbage_grades_raise_unknown_grade_or_are_that_grade(name):
    for lookup in (tables.structural_grade, tables.rod_grade):
        with contextlib.suppress(tables.UnknownName):
            grade = lookup(name)
            assert "".join(name.split()).upper()[:3] == grade.name[:3].upper()


@given(garbage | st.from_regex(r"M\s?[0-9.,]{1,6}[xX ]?[0-9.,]{0,6}", fullmatch=True))
@example("M80x")
@example("M80 x 6 x 4")
@example("M٨٠")
@example("M0")
@example("M80x0")
def test_garbage_threads_raise_unknown_thread_or_have_that_diameter(name):
    with contextlib.suppress(tables.UnknownName):
        assert f"{tables.thread(name).d * 1e3:g}" in name


@given(garbage)
def test_garbage_surfaces_raise_unknown_surface_or_are_that_surface(name):
    with contextlib.suppress(tables.UnknownName):
        entry = tables.friction(name)
        letters = "".join(filter(str.isalpha, name)).lower()
        assert letters in ("asrolled", "a", "b", "c", "d")
        assert entry.slip_class == ("D" if letters == "asrolled" else letters.upper())


def test_errors_are_input_errors_of_the_tree_and_value_errors():
    for error in (tables.UnknownName, tables.OutOfTable):
        assert issubclass(error, PlatestackError)
        assert issubclass(error, ValueError)
        assert error.exit_code == 2


def test_cylinder_bores():
    # ISO 3320:2013 Table 2, not verified: R10 numbers and the intermediate ones.
    r10 = {25, 32, 40, 50, 63, 80, 100, 125, 160, 200, 250, 320, 400, 500}
    between = {140, 180, 220, 280, 360, 450}
    assert [round(b * 1e3, 9) for b in tables.cylinder_bores()] == sorted(r10 | between)


# EN 1090-2:2008 Table 18: slip factor that may be assumed without test; secondary copy.
@pytest.mark.parametrize(
    ("surface", "slip_class", "factor"),
    [
        ("blasted", "A", 0.50),
        ("blasted and metallised", "B", 0.40),
        ("wire-brushed", "C", 0.30),
        ("as rolled", "D", 0.20),
    ],
)
def test_slip_factor(surface, slip_class, factor):
    entry = tables.friction(surface)
    assert entry.slip_class == slip_class
    assert entry.low == factor
    assert tables.friction(slip_class) == entry


# VDI 2230-1 friction classes B and C; secondary copy.
@pytest.mark.parametrize(
    ("surface", "low", "high"), [("oiled", 0.08, 0.16), ("slightly oiled", 0.14, 0.24)]
)
def test_friction_of_oiled_faces(surface, low, high):
    entry = tables.friction(surface)
    assert (entry.low, entry.high, entry.slip_class) == (low, high, None)


def test_friction_from_memory():
    # Clean mill scale: mean 0.33, standard deviation 0.07, Kulak, Fisher and Struik, Guide to
    # Design Criteria for Bolted and Riveted Joints, 1987. VDI 2230-1:2015 Table A6, dry.
    assert tables.friction("mill scale").high == pytest.approx(0.33 + 0.07)
    assert tables.friction("machined dry").low == 0.1
    assert tables.friction("machined dry").high == 0.3


def test_friction_brackets_are_brackets_and_spelling_is_free():
    for name in tables.surface_names():
        entry = tables.friction(name)
        assert 0 < entry.low < entry.high < 1
    assert tables.friction("Mill_Scale") is tables.friction("as-rolled")


def test_stock_thicknesses_rise_and_have_a_strength():
    stock = tables.stock_thicknesses()
    assert list(stock) == sorted(set(stock))
    grade = tables.structural_grade("S355J2")
    assert all(grade.yield_strength(t) >= 265 * MPA for t in stock)
    # Common practice, no source: heavy plate is kept in steps of 10 mm from 20 to 160 mm.
    assert {t / 1e3 for t in range(20, 161, 10)} <= set(stock)


def test_overview_is_complete_and_rectangular():
    overview = tables.overview()
    for table in overview:
        assert table.title
        assert table.source
        assert isinstance(table.certainty, tables.Certainty)
        assert table.rows
        for row in table.rows:
            assert len(row) == len(table.columns)
            assert all(isinstance(cell, str) and cell for cell in row)
    printed = " ".join(
        [t.title for t in overview] + [c for t in overview for r in t.rows for c in r]
    )
    for name in (*GRADES, *tables.thread_names(), *tables.surface_names()):
        assert name in printed


def test_overview_prints_what_the_lookups_return():
    table = next(t for t in tables.overview() if t.title.startswith("S355 structural"))
    grade = tables.structural_grade("S355J2")
    for row, band in zip(table.rows, grade.bands, strict=True):
        shown = tuple(float(cell) for cell in row)
        assert shown[:2] == (in_mm(band.over), in_mm(band.up_to))
        assert shown[2:4] == (band.yield_strength / MPA, band.tensile_strength / MPA)


def test_all_that_the_package_offers_is_documented():
    offered = [thing for thing in vars(tables).values() if callable(thing)]
    assert len(offered) > 30
    assert [thing for thing in offered if not thing.__doc__] == []


def test_oil_and_its_plant():
    oil = tables.oil("iso vg 46")
    # ISO 3448: the grade is the viscosity at 40 °C in mm²/s.
    assert (oil.grade, oil.viscosity) == ("ISO VG 46", pytest.approx(46e-6))
    assert tables.oil("32") == tables.oil("ISO VG 32")
    # Mineral oil: 1.4 to 1.7 GPa, 860 to 890 kg/m³ (several makers; check values of the trade).
    assert 1.4e9 <= oil.bulk_modulus <= 1.7e9
    assert 860 <= oil.density <= 890
    with pytest.raises(tables.UnknownName, match="Allowed: ISO VG 32, ISO VG 46"):
        tables.oil("olive")
    # Series rise, near enough to those of preferred numbers (R10: 1.26, R5: 1.58; ISO 3).
    for series, most in ((tables.motor_outputs(), 1.51), (tables.pressure_classes(), 1.3)):
        ratios = [b / a for a, b in itertools.pairwise(series)]
        assert all(1 < ratio < most for ratio in ratios)
