"""Options by beam theory and hand checks alone, beside the beam itself and the full solve."""

from __future__ import annotations

import pytest

from platestack.fea.hand.beam import beam_check
from platestack.fea.jobs.options.by_hand import evaluate_by_hand
from platestack.fea.jobs.options.variation import Option
from platestack.geometry import case as case_file
from platestack.geometry import layout


def test_by_beam_is_the_beam_and_covers_the_full_solve(small_case, small_solution):
    row = evaluate_by_hand(small_case, Option())
    assert row.state == "by beam"
    press = small_solution.press
    assert (row.mass, row.height) == (press.mass, press.height)
    # Half of the capacity on each of two rods.
    assert row.rod_force == pytest.approx(press.capacity / 2, rel=1e-6)
    for figures, stack in ((row.crosshead, press.crosshead), (row.bed, press.bed)):
        beam = beam_check(stack, press.rods, press.capacity)
        assert figures.mid_span_deflection == pytest.approx(beam.welded.expected)
        assert figures.peak_von_mises == beam.welded.bending_stress
        assert figures.peak_error is None
        solved = small_solution.stacks[stack.name].deflection
        assert abs(solved - figures.mid_span_deflection) <= figures.deflection_error


def test_clamped_lies_between_welded_and_loose(small_case):
    rows = {
        kind: evaluate_by_hand(small_case, Option((("interface", kind),))).bed
        for kind in ("welded", "clamped", "loose")
    }
    clamped = rows["clamped"]
    low = clamped.mid_span_deflection - clamped.deflection_error
    high = clamped.mid_span_deflection + clamped.deflection_error
    welded, loose = rows["welded"], rows["loose"]
    assert low == pytest.approx(welded.mid_span_deflection - welded.deflection_error)
    assert high == pytest.approx(loose.mid_span_deflection + loose.deflection_error)
    # Two equal plates, bending alone: loose is four times softer; shear takes from that.
    assert 2 < loose.mid_span_deflection / welded.mid_span_deflection < 4


def test_by_beam_is_priced(four_rods):
    """Hoses at 250 make any press dearer by as much; without prices there is no cost."""
    more = '[prices]\ncurrency = "EUR"\nplate = "1.40 per kg"\n'
    dear = more + "extra = { hoses = 250.0 }\n"
    none, cheap, dearer = (
        evaluate_by_hand(case_file.parse(four_rods(more=text)), Option()).cost
        for text in ("", more, dear)
    )
    assert none is None
    assert dearer == pytest.approx(cheap + 250)


def test_what_beam_theory_cannot_tell_is_a_reason(small_case, four_rods):
    more = '[workpiece]\ndiameter = "100 mm"\noffset = ["0 mm", "20 mm"]'
    row = evaluate_by_hand(case_file.parse(four_rods(more=more)), Option())
    assert row.state == "failed"
    assert "off the axis across" in row.reason
    assert evaluate_by_hand(small_case, Option((("thickness", 0.9),))).state == "failed"


def test_the_press_of_a_row_is_the_one_built(small_case):
    option = Option((("plates", 3), ("thickness", 0.04)))
    press = layout.build(option.apply(small_case))
    assert evaluate_by_hand(small_case, option).mass == press.mass
