"""Brittle fracture: the table of sub-grades, its check, sizing, and what to change."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from duties import DUTIES, duty_of

from platestack.fea.checks.brittle import brittle_fracture, thickness_check
from platestack.fea.jobs import sizing
from platestack.fea.jobs.changes import _of_stack
from platestack.fea.jobs.sizing.tough import tough_enough
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.errors import CaseError
from platestack.geometry.units import TEMPERATURE, UnitError, parse

TABLE = tables.source.read("subgrade.toml")


@pytest.mark.parametrize("series", ["S235", "S275", "S355", "S460", "S690"])
def test_ten_kelvin_of_transition_are_ten_of_service(series):
    """EN 1993-1-10 2.3.2: the table depends on temperature less that of 27 J alone.

    So rows of one class are one row, shifted by 10 K a column; 200 mm is where the table is cut.
    """
    rows = [row for row in TABLE["rows"] if row[0] == series]
    for one, other in itertools.combinations(rows, 2):
        shift = round((one[4] - other[4]) / 10)
        for mine, theirs in zip(one[5:], other[5:], strict=True):
            for i, t in enumerate(mine[: len(mine) - shift]):
                assert theirs[i + shift] == t or min(theirs[i + shift], t) == 200


def test_colder_thicker_and_more_stress_only_tighten():
    for row in TABLE["rows"]:
        assert (np.diff(row[5:], axis=1) <= 0).all()
        assert (np.diff(row[5:], axis=0) > 0).all()


def test_values_as_quoted():
    """EN 1993-1-10 Table 2.1, not verified; half-way between values their mean."""
    steel = tables.subgrade("1.0577", 355e6)[0]
    assert steel.allowed(0, 0.5) == pytest.approx(0.110)
    assert steel.allowed(0, 0.75) == pytest.approx(0.075)
    assert steel.allowed(-5, 0.625) == pytest.approx((0.110 + 0.095 + 0.075 + 0.060) / 4)
    assert steel.allowed(30, 0.1) == pytest.approx(0.200)
    assert steel.allowed(0, 1.0) == pytest.approx(0.040)  # on along the line
    with pytest.raises(ValueError, match="allowed"):
        steel.allowed(-60, 0.5)


def test_every_listed_plate_grade_has_its_row_and_others_take_the_least():
    for name in tables.grade_names("SI"):
        found, known = tables.subgrade(name, 0.0)
        assert known
        assert found.name == name
    assert tables.subgrade("boiler plate", 250e6)[0].name == "S275JR"
    assert tables.subgrade("boiler plate", 900e6) == (tables.subgrade("S690Q", 0.0)[0], False)
    assert [s.name for s in tables.tougher(tables.subgrade("S355J2", 0.0)[0])] == [
        "S355K2", "S355N", "S355NL"
    ]  # fmt: skip


def judged(text: str, thickness: float, ratio: float):
    case = case_file.parse(text, "case.toml")
    plate = layout.build(case).bed.plates[0]
    stress = ratio * plate.material.yield_strength
    return thickness_check("bed plate 1", case, plate.material, thickness, stress, "given")


def test_thick_plate_of_jr_in_the_cold_is_caught(small_text):
    """80 mm of S355JR at -10 °C and half of yield: 45 mm are allowed; S355J2 would do (95)."""
    check = judged(small_text.replace('"S355J2"', '"S355JR"'), 0.080, 0.5)
    assert check.utilisation == pytest.approx(80 / 45)
    assert "S355J2" in " ".join(check.cautions)
    assert judged(small_text, 0.080, 0.5).utilisation == pytest.approx(80 / 95)
    cold = small_text.replace("[shop]", '[shop]\nlowest_temperature = "-30 °C"')
    assert judged(cold, 0.080, 0.5).utilisation == pytest.approx(80 / 65)


def test_a_steel_of_ones_own_has_the_least_impact_energy_unless_it_says(small_text):
    def text(more: str) -> str:
        steel = '\n[materials.old]\nyield_strength = "340 MPa"\ntensile_strength = "480 MPa"\n'
        return small_text.replace('"S355J2"', '"old"') + steel + more

    unknown = judged(text(""), 0.05, 0.5)
    assert unknown.limit == pytest.approx(0.045)
    assert "toughness_as" in " ".join(unknown.cautions)
    assert judged(text('toughness_as = "S355NL"\n'), 0.05, 0.5).limit == pytest.approx(0.155)
    with pytest.raises(CaseError, match="toughness_as"):
        case_file.parse(text('toughness_as = "S999"\n'), "case.toml")


def test_the_check_is_of_the_worst_plate_as_bought(small_solution):
    bed = next(c for c in brittle_fracture(small_solution) if c.name.startswith("bed"))
    peaks = small_solution.stacks["bed"].peaks
    assert bed.value == 0.055  # 50 mm with both faces machined, from stock
    assert bed.limit == min(
        tables.subgrade("S355J2", 0)[0].allowed(-10, p.von_mises / 335e6) for p in peaks
    )


def test_temperatures_have_units():
    assert parse("-10 °C", TEMPERATURE) == -10
    assert parse("14 °F", TEMPERATURE) == pytest.approx(-10)
    for wrong in ("-10", "-10 K", "-60 °C"):
        with pytest.raises(UnitError, match="allowed"):
            parse(wrong, TEMPERATURE)


def test_sizing_takes_a_sub_grade_that_is_tough_enough():
    # 40 mm at -50 °C: 45 mm of S355J2 are allowed at half of yield; at 0.75 of it 25 mm, 35 mm of
    # S355K2, 50 mm of S355NL.
    capacity, pressure, daylight, more = DUTIES["20 tf, two rods"]
    cold = {**more, "lowest_temperature": "-50 °C"}
    made = sizing.propose(duty_of(capacity, pressure, daylight, cold), thorough=False)
    assert made.plan.case.shop.lowest_temperature == -50
    rows = [c for c in made.checks if "brittle" in c.name and "bottom" not in c.name]
    assert [c.value for c in rows] == [0.040] * 2
    for ratio, grade in ((0.5, "S355J2"), (0.75, "S355NL")):
        plan = tough_enough(made.plan, dict.fromkeys(("crosshead", "bed"), ratio * 345e6))
        assert plan.case.bed.grade == grade
    # At 0.95 of yield nothing is tough enough in frost; warmth may be asked for if none is said.
    high = dict.fromkeys(("crosshead", "bed"), 0.95 * 345e6)
    assert tough_enough(made.plan, high).warm is None
    free = replace(made.plan, duty=duty_of(capacity, pressure, daylight, more), grade=None)
    thick = replace(free, bed=replace(free.bed, thickness=0.15))
    kept_warm = tough_enough(thick, high)
    assert kept_warm.case.shop.lowest_temperature in (0, 10)
    asked = duty_of(capacity, pressure, daylight, {**cold, "grade": "S355J0"})
    kept = tough_enough(replace(made.plan, duty=asked, grade=None), {"crosshead": 0, "bed": 0})
    assert kept.case.bed.grade == "S355J0"


def test_tougher_grades_are_among_what_may_be_changed(small_text):
    case = case_file.parse(small_text.replace('"S355J2"', '"S355JR"'), "case.toml")
    words = [step.words for ladder in _of_stack(case, "bed") for step in ladder]
    grades = [w.split('"')[1] for w in words if w.startswith("bed.grade") and "S355" in w[:20]]
    assert grades == ["S355J0", "S355J2", "S355K2", "S355N", "S355NL"]


def test_the_bottom_of_a_cylinder_is_as_tough_as_it_is_thick(small_text):
    """35 mm needs no more than S355J2; a bore of 600 mm at 35 MPa in frost does."""
    built = layout.build(case_file.parse(small_text, "case.toml"))
    assert built.cylinder.bottom_material.grade == "S355J2"
    assert ("cylinder.bottom_grade", "S355J2") in built.assumed
    thick = replace(built, cylinder=replace(built.cylinder, bottom=0.15))
    (check,) = brittle_fracture(Statics(case_file.parse(small_text), thick, {}, 0.0))
    assert check.value == 0.15
