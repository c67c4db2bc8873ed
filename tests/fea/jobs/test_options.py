"""Options side by side: other plates, and what thicker ones do.

Expected trends: beam theory (a deeper stack is stiffer and less stressed) and masses by hand.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from platestack.fea.jobs.options import comparing, evaluation
from platestack.fea.jobs.options.variation import Option, combinations, distinct
from platestack.fea.solid import model
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError

# --- changing


def thick(value: float, stack: str = "") -> Option:
    return Option(((f"{stack} thickness".strip(), value),))


@pytest.mark.parametrize(
    ("stack", "crosshead", "bed"),
    [("", 0.07, 0.07), ("crosshead", 0.07, 0.05), ("bed", 0.05, 0.07)],
)
def test_plates_of_the_chosen_stack_change(small_case, stack, crosshead, bed):
    press = layout.build(thick(0.07, stack).apply(small_case))
    assert [p.thickness for p in press.crosshead.plates] == [crosshead] * 2
    assert [p.thickness for p in press.bed.plates] == [bed] * 2
    assert small_case.bed.plates[0].thickness == 0.05  # the case itself stays


def test_platens_keep_their_thickness(four_rods):
    case = case_file.parse(four_rods(bed='platen = { thickness = "45 mm" }'))
    press = layout.build(thick(0.05).apply(case))
    assert [p.thickness for p in press.bed.plates] == [0.05, 0.05, 0.045]
    assert [p.role for p in press.bed.plates] == ["plate", "plate", "platen"]


def test_strength_follows_the_thickness(small_case):
    # EN 10025-2, S355: 335 MPa to 63 mm, 315 MPa from 80 to 100 mm; of plates as bought:
    # 2 mm are machined off the loaded face, so that 55 mm are bought in 60, and 90 mm in 100.
    thin, deep = (layout.build(thick(t).apply(small_case)) for t in (0.055, 0.09))
    assert thin.bed.plates[0].material.yield_strength == pytest.approx(335e6)
    assert deep.bed.plates[0].material.yield_strength == pytest.approx(315e6)


def test_an_option_that_cannot_be_built_says_which(small_case):
    with pytest.raises(CaseError, match=r"small\.toml with plates 900 mm: crosshead\.grade"):
        thick(0.9).apply(small_case, "small.toml")


def test_a_bad_option_is_refused_before_any_is_solved(small_case, monkeypatch):
    def solve(*_):
        raise AssertionError("solved before all options were checked")

    monkeypatch.setattr(evaluation, "analyse", solve)
    with pytest.raises(CaseError, match="900 mm"):
        comparing.compared(small_case, (thick(0.05), thick(0.9)), lambda step: None)


def test_the_press_of_the_case_is_no_option_beside_itself(small_case):
    chosen = combinations({"bed thickness": "40 mm, 50 mm, 60 mm"})
    assert [one.label for one in distinct(small_case, chosen)] == [
        "bed plates 40 mm", "bed plates 60 mm",
    ]  # fmt: skip


# --- comparing


@pytest.fixture(scope="module")
def rows(small_case, solve_coarse):
    """Beds of 40, 50 (the base), 60 and 80 mm plates, solved on coarse meshes."""
    upper = solve_coarse(small_case, "crosshead")

    def solve(case, report):
        report("bed: mesh")
        stacks = upper | solve_coarse(case, "bed")
        return model.Solution(case, layout.build(case), stacks, 0.0)

    steps: list[str] = []
    chosen = combinations({"bed thickness": "40 mm, 60 mm, 80 mm"})
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(evaluation, "analyse", solve)
        made = comparing.compared(small_case, chosen, steps.append, verify=3)
    assert sorted(steps) == ["base, bed: mesh", *(f"{one.label}, bed: mesh" for one in chosen)]
    assert made.spread is None
    return sorted(made.rows, key=lambda row: row.height)


def test_one_row_for_each_option(rows):
    assert [row.label for row in rows] == [
        "bed plates 40 mm", "base", "bed plates 60 mm", "bed plates 80 mm",
    ]  # fmt: skip
    assert {row.state for row in rows} == {"solved in full"}


def test_thicker_is_stiffer_less_stressed_and_heavier(rows):
    for thin, deep in pairwise(rows):
        assert deep.bed.peak_von_mises < thin.bed.peak_von_mises
        assert deep.bed.mid_span_deflection < thin.bed.mid_span_deflection
        assert deep.bed.mass > thin.bed.mass
        assert deep.mass > thin.mass


def test_numbers_of_an_option_by_hand(rows, small_press):
    for row, thickness in zip(rows, (0.04, 0.05, 0.06, 0.08), strict=True):
        assert row.bed.mass == pytest.approx(small_press.bed.mass * thickness / 0.05)
        # Only the bed grows: two plates.
        assert row.height == pytest.approx(small_press.height + 2 * (thickness - 0.05))
        assert row.bed.deflection_utilisation == pytest.approx(
            row.bed.mid_span_deflection / (1.2e-3 * 0.35)
        )
        assert row.worst_utilisation >= max(row.stress_utilisation, row.deflection_utilisation)
