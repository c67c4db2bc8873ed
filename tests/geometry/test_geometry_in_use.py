"""Geometry that people have: computed, or refused for a reason that holds."""

from __future__ import annotations

import pytest

from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError

HOLE = '[[{}.openings]]\nshape = "round"\ndiameter = "{}"\nat = ["0 mm", "0 mm"]\n'


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


def test_a_hole_under_the_wall_or_the_work_is_refused_with_its_reason(small_text):
    with pytest.raises(CaseError, match=r"ram patch: .* clear of opening 150 mm"):
        case_file.parse(small_text + HOLE.format("crosshead", "150 mm"), "case.toml")
    with pytest.raises(CaseError, match="even over the whole of the workpiece; or a platen"):
        case_file.parse(small_text + HOLE.format("bed", "20 mm"), "case.toml")


def test_a_seat_off_its_plate_is_not_mended_by_dropping_it(small_text):
    seats = 'seat = "sleeve"\nseat_diameter = "{}"\nsleeve_bore = "56 mm"\n\n[ram]'
    wide = small_text.replace("\n[ram]", seats.format("190 mm"), 1)
    with pytest.raises(CaseError) as caught:
        case_file.parse(wide, "case.toml")
    words = str(caught.value)
    assert "a smaller rods.seat_diameter, rods further in, or a wider plate" in words
    assert "none" not in words
