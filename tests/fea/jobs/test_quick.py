"""Quick figures: each covers the full solution, and none contradicts it without a word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from platestack.fea.app.page import answers
from platestack.fea.checks import Check, all_checks
from platestack.fea.jobs.quick import QuickCheck, closing, quick, verdict, worst
from platestack.fea.results.summary import summarise


@pytest.fixture(scope="module")
def found(small_case, small_press) -> dict[str, QuickCheck]:
    return {one.check.name: one for one in quick(small_case, small_press)}


def test_bands_cover_the_full_solution(small_solution, found):
    full, bands = worst(all_checks(small_solution)), worst(one.check for one in found.values())
    assert full.keys() == bands.keys()
    for about, check in full.items():
        band = found[bands[about].name]
        assert band.low - 1e-9 <= check.utilisation <= band.high + 1e-9, check.name


def test_what_needs_no_solution_has_no_band(small_solution, found):
    exact = {check.name: check.utilisation for check in all_checks(small_solution)}
    for name in ("cylinder bottom: bending at the centre", "heaviest lift with its slings"):
        assert found[name].low == found[name].high == pytest.approx(exact[name], rel=1e-9)


def test_gaps_close_by_all_that_holds_plates_apart(small_press):
    """Three plates, two faces: 0.1 mm, bows of 0.5 mm either way and waves of 0.2 mm at each."""
    bed = small_press.bed
    gap = replace(bed.gap, uniform=0.1e-3, bow=-0.5e-3, waviness=0.2e-3)
    plates = (*bed.plates, bed.plates[0])
    apart = replace(bed, plates=plates, interface="loose", gap=gap)
    assert closing(apart) == pytest.approx(1.6e-3)
    assert closing(replace(apart, interface="welded")) == 0


def test_a_seated_rod_is_not_called_exceeded(press_of, request):
    """The demo in full: 63 % of what pressing may take off the seats, 44 % of fatigue."""
    from platestack.geometry import case as case_file

    file = next((request.config.rootpath / "cases").rglob("demo.toml"))
    bands = {one.check.name.partition(": ")[2]: one for one in
             quick(case_file.read(file), press_of("demo"))}  # fmt: skip
    for name, full in (
        ("clamping force taken off its seat", 0.63),
        ("fatigue of the thread", 0.44),
    ):
        assert bands[name].low <= full <= bands[name].high < 1.2
        assert bands[name].verdict != "exceeded"


@pytest.mark.parametrize(
    ("low", "high", "said"), [(0.2, 1.0, "within"), (0.9, 1.1, "open"), (1.01, 3.0, "exceeded")]
)
def test_verdicts(low, high, said):
    check = Check("press", "any", 1.0, 1.0, "m", "", "", "")
    within = QuickCheck(check, 0.1, 0.2)
    assert QuickCheck(check, low, high).verdict == said
    assert verdict([QuickCheck(check, low, high), within]) == said


def test_one_deflection_by_beam_theory(small_case, small_press, small_solution, found):
    """In the table of the page, its limits, and the summary of the run."""
    shown = answers.predict(small_case, small_press, {})
    summary = summarise(small_solution, "small.toml")
    for name, stack in shown["stacks"].items():
        record = summary.stacks[name]
        assert stack["deflection"] == pytest.approx(record.beam_deflection.value, rel=1e-12)
        limit = found[f"{name}: mid-span deflection"]
        assert stack["deflection"] == limit.check.value
        assert [end / limit.check.limit for end in stack["range"]] == pytest.approx(
            [limit.low, limit.high]
        )
        assert f"{record.beam.ratio:.2f} times that by beam theory" in record.beam.verdict
        low, high = record.beam.band
        assert low < 1 < high
