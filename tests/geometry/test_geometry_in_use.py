"""Geometry that people have: computed, or refused for a reason that holds."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from platestack.fea.checks.plate_strength import patch_bearing
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError
from platestack.geometry.shapes import Groove
from platestack.geometry.steel_under import steel_area

CASES = Path(__file__).parents[2] / "cases"
HOLE = '[[{}.openings]]\nshape = "round"\ndiameter = "{}"\nat = ["0 mm", "0 mm"]\n'
SLOT = (
    '[[bed.openings]]\nshape = "rectangle"\nlength = "{}"\nwidth = "10 mm"\n'
    'corner_radius = "{}"\nat = ["0 mm", "0 mm"]\n'
)


def test_a_hole_on_the_press_axis_within_the_bore_is_computed(small_text, solve_coarse):
    """The cylinder bears on its wall; what lies within the bore is spanned by its bottom."""
    case = case_file.parse(small_text + HOLE.format("crosshead", "50 mm"), "case.toml")
    press = layout.build(case)
    assert press.ram_diameter > 0.05
    solved = solve_coarse(case, "crosshead")["crosshead"]
    plain = solve_coarse(case_file.parse(small_text, "case.toml"), "crosshead")["crosshead"]
    assert solved.balance < 1e-6
    # A hole in the middle third of the width takes stiffness away, by less than half.
    assert plain.deflection < solved.deflection < 2 * plain.deflection


def test_a_hole_under_the_wall_of_the_cylinder_is_refused(small_text):
    with pytest.raises(CaseError, match=r"ram patch: .* clear of opening 150 mm"):
        case_file.parse(small_text + HOLE.format("crosshead", "150 mm"), "case.toml")


@pytest.mark.parametrize(
    ("hole", "taken"),
    [
        (HOLE.format("bed", "20 mm"), math.pi / 4 * 0.02**2),
        # Half of a hole whose middle is on the workpiece's rim, but for the rim's curve; a slot of
        # 10 mm right across; a slot with round ends.
        (HOLE.format("bed", "2 mm").replace('["0 mm"', '["40 mm"'), math.pi / 8 * 0.002**2),
        (
            SLOT.format("200 mm", "0 mm"),
            2 * (0.005 * math.sqrt(0.04**2 - 0.005**2) + 0.04**2 * math.asin(1 / 8)),
        ),
        (SLOT.format("40 mm", "5 mm"), 0.03 * 0.01 + math.pi / 4 * 0.01**2),
    ],
)
def test_a_workpiece_bridges_holes_and_bears_on_the_rest(hole, taken, small_text):
    """The pressure under it is that on the steel that is left; areas by plane geometry."""
    stack = layout.build(case_file.parse(small_text + hole, "case.toml")).bed
    assert stack.patch.area == pytest.approx(math.pi / 4 * 0.08**2)
    assert steel_area(stack) == pytest.approx(stack.patch.area - taken, abs=1.5e-6)


@pytest.mark.parametrize(("grooved", "taken"), [("+", 0.08 * 0.01), ("-", 0.0)])
def test_a_groove_takes_steel_from_the_face_that_it_opens(grooved, taken, small_press):
    """10 mm wide across a rectangle of 80 mm by 60, that lies on the upper face."""
    bed = small_press.bed
    patch = replace(bed.patch, shape="rectangle", length=0.08, width=0.06)
    top = replace(bed.plates[-1], holes=(Groove("x", 0.0, 0.01, 0.02),), grooved=grooved)
    stack = replace(bed, plates=(*bed.plates[:-1], top), patch=patch)
    assert steel_area(stack) == pytest.approx(0.08 * 0.06 - taken, rel=1e-6)


def test_holes_under_the_work_are_computed(small_text, solve_coarse):
    """The whole force goes through the steel between them, which is softer for them."""
    case = case_file.parse(small_text + HOLE.format("bed", "30 mm"), "case.toml")
    solved = solve_coarse(case, "bed")["bed"]
    plain = solve_coarse(case_file.parse(small_text, "case.toml"), "bed")["bed"]
    assert solved.balance < 1e-6
    assert plain.deflection < solved.deflection < 1.5 * plain.deflection
    press = layout.build(case)
    found = patch_bearing(Solution(case, press, {}, 0.0))[1]
    assert found.value == pytest.approx(press.capacity / (math.pi / 4 * (0.08**2 - 0.03**2)), 1e-4)
    assert "holes and slots taken out" in found.note


def test_a_workpiece_that_lies_mostly_on_air_is_refused(small_text):
    with pytest.raises(
        CaseError,
        match="44\N{NO-BREAK SPACE}% of it lies on steel; allowed: 50\N{NO-BREAK SPACE}% or more",
    ):
        case_file.parse(small_text + HOLE.format("bed", "60 mm"), "case.toml")


def test_a_plate_that_ends_between_the_rods_is_computed(small_text, solve_coarse):
    """It is softer than a plate that reaches them, and stiffer than none."""
    head, bed, rest = small_text.partition("[bed]")

    def sag(*lengths: str) -> float:
        plates = ", ".join(f'{{ thickness = "50 mm"{length} }}' for length in lengths)
        text = head + bed + rest.replace('"2 x 50 mm"', f"[ {plates} ]", 1)
        return float(solve_coarse(case_file.parse(text, "case.toml"), "bed")["bed"].deflection)

    assert sag("", "") < sag("", ', length = "250 mm"') < sag("")


def test_a_plate_whose_edge_runs_through_a_rod_hole_is_refused(small_text):
    head, bed, rest = small_text.partition("[bed]")
    plates = '[ { thickness = "50 mm" }, { thickness = "50 mm", length = "360 mm" } ]'
    with pytest.raises(CaseError, match=r"plate 2: given rod 48 mm at .* it leaves the plate"):
        case_file.parse(head + bed + rest.replace('"2 x 50 mm"', plates, 1), "case.toml")


def test_two_rods_where_four_were_ask_for_one_pitch():
    four = (CASES / "demo" / "demo.toml").read_text(encoding="utf-8")
    two = four.replace("count = 4", "count = 2", 1)
    with pytest.raises(CaseError) as caught:
        case_file.parse(two, "case.toml")
    words = str(caught.value)
    assert "pitch has 2 lengths; allowed: one for two rods" in words
    assert "seat" not in words.partition("; allowed:")[2]


def test_a_seat_off_its_plate_is_not_mended_by_dropping_it(small_text):
    seats = 'seat = "sleeve"\nseat_diameter = "{}"\nsleeve_bore = "56 mm"\n\n[ram]'
    wide = small_text.replace("\n[ram]", seats.format("190 mm"), 1)
    with pytest.raises(CaseError) as caught:
        case_file.parse(wide, "case.toml")
    words = str(caught.value)
    assert "a smaller rods.seat_diameter, rods further in, or a wider plate" in words
    assert "none" not in words
