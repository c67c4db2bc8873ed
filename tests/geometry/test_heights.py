"""Rods over stacks that are higher or lower than drawn, and what machined plates are bought as.

Expected values: EN 10029:1991, Table 1, class A (copied: 60 mm −1.0 +1.8, 90 mm −1.0 +2.2); pitches
of ISO 261; yields of EN 10025-2. The rules for threads are stated in `geometry.layout`.
"""

from __future__ import annotations

import pytest

from platestack.geometry import case as case_file
from platestack.geometry import heights, layout
from platestack.geometry.cutting.work import plan
from platestack.geometry.errors import CaseError


def three(small_text: str, rods: str = "", plates: str = '"3 x 60 mm"') -> str:
    """The small press with three plates in its bed, and more lines in its table of rods."""
    head, bed, rest = small_text.partition("[bed]")
    return (head + bed + rest.replace('"2 x 50 mm"', plates)).replace("[rods]", f"[rods]\n{rods}")


def built(text: str):
    return layout.build(case_file.parse(text))


def test_a_pitch_stands_out_over_the_highest_stack(small_text):
    press = built(three(small_text))
    assert heights.stack_deviation(press.crosshead) == pytest.approx((-0.4e-3, 0.4e-3))
    assert heights.stack_deviation(press.bed) == pytest.approx((-1.4e-3, 2.2e-3))
    rod = press.rods[0]
    assert rod.projection == pytest.approx(0.007)  # M45: 4.5 mm and 2.2 mm, in whole mm
    assert rod.engaged == rod.nut_height
    # Below the nut: 1.4 mm that the stack may be lower, and two pitches.
    assert rod.thread_length == pytest.approx(0.063)  # 7 + 45 + 1.4 + 9, in whole mm
    assert rod.length == pytest.approx(rod.free_length + 2 * (0.009 + 0.045 + 0.007))


def test_a_rod_too_short_for_the_highest_stack_loses_thread(small_text):
    rod = built(three(small_text, 'projection = "1 mm"')).rods[0]
    assert rod.engaged == pytest.approx(0.045 - 1.2e-3)
    with pytest.raises(CaseError, match=r"rods\.projection"):
        case_file.parse(three(small_text, 'projection = "0.1 mm"\nnut_height = "6 mm"'))


def test_the_thread_of_a_rod_with_inner_nuts_goes_through_the_stack(small_text):
    rod = built(three(small_text, 'seat = "inner nuts"')).rods[0]
    # Thread, nut, washer, the bed of 180 mm, inner nut, what the stack may be lower, two pitches.
    assert rod.thread_length == pytest.approx(0.2975, abs=1e-3)
    assert rod.thread_length >= 0.007 + 0.045 + 0.009 + 0.18 + 0.045 + 1.4e-3 + 0.009


def test_machined_plates_are_bought_thicker_and_are_as_strong_as_bought(small_text):
    case = case_file.parse(three(small_text))
    press = layout.build(case)
    assert [p.bought for p in press.bed.plates] == pytest.approx([0.065, 0.06, 0.065])
    # S355: 335 MPa up to 63 mm, 325 MPa above, by the thickness of the product.
    assert [p.material.yield_strength for p in press.bed.plates] == [325e6, 335e6, 325e6]
    works = {work.plate.name: work for work in plan(press, case.cutting) if work.stack == "bed"}
    assert works["plate 1"].stock_mass == pytest.approx(0.46 * 0.18 * 0.065 * 7850)
    assert works["plate 2"].stock_mass == pytest.approx(0.46 * 0.18 * 0.06 * 7850)
    assert works["plate 1"].milled == ("lower face", "from 65 to 60 mm")
    assert works["plate 2"].milled == ()


def test_a_blank_may_be_given_and_must_leave_something_to_machine(small_text):
    plates = '[{{ thickness = "58 mm", blank = "{}", count = 2 }}]'
    press = built(three(small_text, plates=plates.format("60 mm")))
    assert [p.bought for p in press.bed.plates] == [0.06, 0.06]
    assert press.bed.depth == pytest.approx(0.116)
    with pytest.raises(CaseError, match=r"blank: given 58\.5 mm; allowed: at least 59 mm"):
        case_file.parse(three(small_text, plates=plates.format("58.5 mm")))
