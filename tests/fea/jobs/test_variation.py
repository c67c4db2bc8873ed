"""Candidates of a comparison: reading wishes, changing the press, a row for each."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import platestack
from platestack.fea.app.console.options import print_rows
from platestack.fea.jobs.options import evaluation, writing
from platestack.fea.jobs.options.comparing import compared
from platestack.fea.jobs.options.evaluation import Row, StackFigures
from platestack.fea.jobs.options.variation import MOST, Option, combinations, values
from platestack.fea.pictures.trade import front
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, UsageError


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("thickness", "60 mm, 7 cm", (0.06, 0.07)),
        ("thickness", "50..90 mm step 20 mm", (0.05, 0.07, 0.09)),
        ("thickness", "50 mm..6 cm step 5 mm", (0.05, 0.055, 0.06)),
        ("thickness", "stock 62..92 mm", (0.065, 0.07, 0.075, 0.08, 0.09)),
        ("thickness", "40 mm, 60..70 mm step 10 mm", (0.04, 0.06, 0.07)),
        ("plates", "2, 3", (2, 3)),
        ("interface", "welded,loose", ("welded", "loose")),
        ("grade", "S235JR", ("S235JR",)),
    ],
)
def test_values(name, text, found):
    assert values(name, text) == pytest.approx(found) if name == "thickness" else found


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("thickness", "90..50 mm step 5 mm", "smaller to the larger"),
        ("thickness", "50..90 mm", "with its step"),
        ("thickness", "stock", "with a range"),
        ("thickness", "stock 50..90 mm step 5 mm", "no step"),
        ("thickness", "1..90 mm step 0.1 mm", "steps; allowed: up to"),
        ("thickness", "60", "unit is missing"),
        ("thickness", "60 mm, 6 cm", "all different"),
        ("plates", "2.5", "whole numbers"),
        ("plates", "0", "whole numbers"),
        ("interface", "glued", "allowed: welded"),
        ("grade", " , ", "one value or more"),
    ],
)
def test_bad_values_are_told_in_one_line(name, text, words):
    with pytest.raises(UsageError, match=words) as caught:
        values(name, text)
    assert str(caught.value).startswith(f'--{name}: given "{text}"')
    assert "\n" not in str(caught.value)


@given(st.text(max_size=30))
def test_any_text_is_lengths_or_a_usage_error(text):
    try:
        found = values("thickness", text)
    except UsageError:
        return
    assert all(1e-4 <= value <= 100 for value in found)


def test_every_combination_once():
    made = combinations({"plates": "2, 3", "thickness": "40 mm, 50 mm, 60 mm"})
    assert len({c.label for c in made}) == len(made) == 6
    with pytest.raises(UsageError, match=f"up to {MOST}"):
        combinations({"plates": "2, 3", "thickness": "10..300 mm step 2 mm"})


def test_changes_reach_the_press(small_case):
    option = combinations({"plates": "3", "thickness": "40 mm", "interface": "loose"})[0]
    press = layout.build(option.apply(small_case))
    for stack in press.stacks:
        assert [plate.thickness for plate in stack.plates] == [0.04] * 3
        assert stack.interface == "loose"
    rods = layout.build(Option((("rod-diameter", 0.05),)).apply(small_case)).rods
    # Stress area of M48x5, the largest coarse thread on 50 mm (ISO 261): 1473 mm².
    assert rods[0].stress_area == pytest.approx(1473e-6, rel=1e-3)


def test_an_impossible_candidate_is_a_row_with_its_reason(small_case):
    thick = Option((("thickness", 0.9),))
    with pytest.raises(CaseError, match=r"with plates 900 mm"):
        thick.apply(small_case)
    row = evaluation.evaluate(small_case, thick)
    assert row.state == "failed"
    assert "900 mm" in row.reason
    assert row.flat()["bed_mass"] is None


def test_a_row_says_what_the_solution_says(small_case, small_solution, monkeypatch):
    monkeypatch.setattr(evaluation, "analyse", lambda case, report: small_solution)
    row = evaluation.evaluate(small_case, Option())
    bed = small_solution.stacks["bed"]
    assert (row.label, row.state) == ("base", "solved in full")
    assert row.flat()["bed_mid_span_deflection"] == bed.deflection
    assert row.mass == small_solution.press.mass
    # Half of the capacity on each of the two rods.
    assert row.rod_force == pytest.approx(small_solution.press.capacity / 2, rel=1e-5)
    assert evaluation.gains(row, row) == "much the same"
    lighter = evaluation.Row(**{**vars(row), "mass": 0.9 * row.mass})
    assert evaluation.gains(row, lighter) == "10\N{NO-BREAK SPACE}% lighter"


def test_errors_stand_beside_what_was_solved(capsys):
    solved = StackFigures(100e6, 5e6, 0.6, 5e-4, 2e-6, 0.5, 100.0, 1.0)
    told = replace(solved, peak_error=None, deflection_error=None)
    rows = [
        Row(state, state, "", one, one, 400.0, 3.0, 100.0, 1e5, "some check", 0.9)
        for state, one in (("solved in full", solved), ("predicted", told))
    ]
    print_rows(rows)
    lines = capsys.readouterr().out.splitlines()
    verified, predicted = (
        next(x for x in lines if f" {n} " in x) for n in ("solved in full", "predicted")
    )
    assert verified.count("±0.4\N{NO-BREAK SPACE}%") == 2
    assert "60\N{NO-BREAK SPACE}% ±3\N{NO-BREAK SPACE}%" in verified
    assert "±" not in predicted
    assert predicted.count("~") == 4  # welded is 100 % as one by definition


def test_rows_are_written_with_the_base_first(small_case, small_solution, monkeypatch, tmp_path):
    monkeypatch.setattr(evaluation, "analyse", lambda case, report: small_solution)
    chosen = combinations({"plates": "2, 3", "grade": "S235JR"})
    rows = compared(small_case, chosen, lambda step: None, "small.toml").rows
    writing.write(rows, tmp_path / "compared", "Bench press")
    data = json.loads((tmp_path / "compared" / "comparison.json").read_text(encoding="utf-8"))
    assert data["schema"] == "urn:platestack:comparison:1"
    assert data["program_version"] == platestack.__version__
    assert data["units"].startswith("SI: m, N, Pa, kg")
    data = data["options"]
    assert [item["label"] for item in data] == ["base", "2 plates, S235JR", "3 plates, S235JR"]
    assert all(item["state"] == "solved in full" for item in data)
    with (tmp_path / "compared" / "comparison.csv").open(newline="", encoding="utf-8") as file:
        assert next(file).startswith("# urn:platestack:comparison:1; ")
        lines = list(csv.DictReader(file))
    assert float(lines[1]["bed_mid_span_deflection [m]"]) == small_solution.stacks["bed"].deflection
    picture = tmp_path / "compared" / "comparison.png"
    assert picture.read_bytes().startswith(b"\x89PNG")
    with pytest.raises(CaseError):
        compared(small_case, combinations({"grade": "cheese"}), lambda step: None, "small.toml")


def test_front_is_what_no_other_beats():
    points = [(3.0, 1.0), (1.0, 5.0), (2.0, 2.0), (2.5, 4.0), (2.0, 3.0)]
    assert front(points) == [1, 2, 0]
    for index, (x, y) in enumerate(points):
        beaten = any(a <= x and b <= y and (a, b) != (x, y) for a, b in points)
        assert beaten != (index in front(points))
