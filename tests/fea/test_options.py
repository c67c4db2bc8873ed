"""Options side by side: reading thicknesses, changing plates, and what thicker plates do.

Expected trends: beam theory (a deeper stack is stiffer and less stressed) and masses by hand.
"""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.jobs import options
from platestack.fea.solid import model
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, UsageError

# --- reading


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("60 mm, 70 mm, 80 mm", (0.06, 0.07, 0.08)),
        ("60mm", (0.06,)),
        (" 6 cm ,0.07 m,", (0.06, 0.07)),
        ("80 mm, 60 mm", (0.08, 0.06)),  # as given, not sorted
    ],
)
def test_thicknesses(text, values):
    assert options.thicknesses(text) == pytest.approx(values)


@given(st.lists(st.integers(1, 500), min_size=1, max_size=options.MOST, unique=True))
def test_what_is_written_is_read(millimetres):
    text = ", ".join(f"{mm} mm" for mm in millimetres)
    assert options.thicknesses(text) == pytest.approx([mm / 1000 for mm in millimetres])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "1 to 40 different lengths"),
        (" , ,", "1 to 40 different lengths"),
        ("60 mm, 60 mm", "different"),
        ("60 mm, 6 cm", "different"),
        ("60, 70", "unit is missing"),
        ("60 kg", "not the unit of a length"),
        ("60 mm; 70 mm", "a length"),
        ("sixty mm", "a length"),
        ("-60 mm", "out of range"),
        ("0 mm", "out of range"),
        ("1e999 mm", "out of range"),
        (", ".join(f"{i} mm" for i in range(10, 51)), "1 to 40"),
    ],
)
def test_bad_thicknesses_are_told(text, words):
    with pytest.raises(UsageError, match=words) as caught:
        options.thicknesses(text)
    assert str(caught.value).startswith(f'--thickness: given "{text}"')
    assert "\n" not in str(caught.value)


@given(st.text(max_size=40))
def test_any_text_is_lengths_or_a_usage_error(text):
    try:
        values = options.thicknesses(text)
    except UsageError:
        return
    assert all(1e-4 <= value <= 100 for value in values)


# --- changing


@pytest.mark.parametrize(
    ("which", "crosshead", "bed"),
    [("both", 0.07, 0.07), ("crosshead", 0.07, 0.05), ("bed", 0.05, 0.07)],
)
def test_plates_of_the_chosen_stack_change(small_case, which, crosshead, bed):
    press = layout.build(options.with_thickness(small_case, 0.07, which))
    assert [p.thickness for p in press.crosshead.plates] == [crosshead] * 2
    assert [p.thickness for p in press.bed.plates] == [bed] * 2
    assert small_case.bed.plates[0].thickness == 0.05  # the case itself stays


def test_platens_keep_their_thickness(four_rods):
    case = case_file.parse(four_rods(bed='platen = { thickness = "45 mm" }'))
    press = layout.build(options.with_thickness(case, 0.05))
    assert [p.thickness for p in press.bed.plates] == [0.05, 0.05, 0.045]
    assert [p.role for p in press.bed.plates] == ["plate", "plate", "platen"]


def test_strength_follows_the_thickness(small_case):
    # EN 10025-2, S355: 335 MPa to 63 mm, 315 MPa from 80 to 100 mm; of plates as bought:
    # 2 mm are machined off the loaded face, so that 55 mm are bought in 60, and 90 mm in 100.
    thin, thick = (layout.build(options.with_thickness(small_case, t)) for t in (0.055, 0.09))
    assert thin.bed.plates[0].material.yield_strength == pytest.approx(335e6)
    assert thick.bed.plates[0].material.yield_strength == pytest.approx(315e6)


def test_an_option_that_cannot_be_built_says_which(small_case):
    with pytest.raises(CaseError, match=r"small\.toml with plates 900 mm: crosshead\.grade"):
        options.with_thickness(small_case, 0.9, "both", "small.toml")


def test_a_bad_option_is_refused_before_any_is_solved(small_case, monkeypatch):
    def solve(*_):
        raise AssertionError("solved before all options were checked")

    monkeypatch.setattr(options, "analyse", solve)
    with pytest.raises(CaseError, match="900 mm"):
        options.compare(small_case, (0.05, 0.9), "both", lambda step: None)


# --- comparing


@pytest.fixture(scope="module")
def rows(small_case, solve_coarse):
    """Beds of 40, 60 and 80 mm plates, solved on coarse meshes."""
    steps: list[str] = []

    def solve(case, report):
        report("bed: mesh")
        stacks = solve_coarse(case, "bed")
        return model.Solution(case, layout.build(case), stacks, 0.0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options, "analyse", solve)
        made = options.compare(small_case, (0.04, 0.06, 0.08), "bed", steps.append, "small.toml")
    assert steps == ["40 mm, bed: mesh", "60 mm, bed: mesh", "80 mm, bed: mesh"]
    return made


def test_one_row_for_each_option(rows):
    assert [(row.label, row.thickness, row.stack) for row in rows] == [
        ("40 mm", 0.04, "bed"),
        ("60 mm", 0.06, "bed"),
        ("80 mm", 0.08, "bed"),
    ]


def test_thicker_is_stiffer_less_stressed_and_heavier(rows):
    for thin, thick in pairwise(rows):
        assert thick.peak_von_mises < thin.peak_von_mises
        assert thick.mid_span_deflection < thin.mid_span_deflection
        assert thick.stack_mass > thin.stack_mass
        assert thick.press_mass > thin.press_mass
        assert thick.press_height > thin.press_height


def test_numbers_of_an_option_by_hand(rows, small_press):
    for row in rows:
        assert row.stack_mass == pytest.approx(small_press.bed.mass * row.thickness / 0.05)
        # Only the bed grows: two plates.
        assert row.press_height == pytest.approx(small_press.height + 2 * (row.thickness - 0.05))
        assert row.deflection_limit == pytest.approx(1.2e-3 * 0.35)
        assert row.deflection_utilisation == pytest.approx(
            row.mid_span_deflection / row.deflection_limit
        )
        assert row.stress_utilisation == pytest.approx(row.peak_von_mises / row.stress_limit)
        assert row.worst_utilisation >= max(row.stress_utilisation, row.deflection_utilisation)


# --- writing


@pytest.fixture(scope="module")
def written(rows, tmp_path_factory):
    place = tmp_path_factory.mktemp("options") / "compared"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(options.pictures, "preflight", lambda: None)
        options.write(rows, place, "Bench press")
    return place


def test_csv_has_units_in_its_header_and_si_numbers(rows, written):
    with (written / "comparison.csv").open(newline="", encoding="utf-8") as file:
        assert next(file).startswith("# urn:platestack:comparison-thickness:1; ")
        header, *lines = list(csv.reader(file))
    assert header == [
        "label", "thickness [m]", "stack", "peak_von_mises [Pa]", "stress_limit [Pa]",
        "stress_utilisation", "mid_span_deflection [m]", "deflection_limit [m]",
        "deflection_utilisation", "stack_mass [kg]", "press_mass [kg]", "press_height [m]",
        "worst_check", "worst_utilisation",
    ]  # fmt: skip
    assert len(lines) == len(rows)
    for line, row in zip(lines, rows, strict=True):
        assert float(line[1]) == row.thickness
        assert float(line[3]) == row.peak_von_mises
        assert float(line[9]) == row.stack_mass


def test_json_holds_the_rows(rows, written):
    data = json.loads((written / "comparison.json").read_text(encoding="utf-8"))["options"]
    assert [options.Option(**item) for item in data] == rows


def test_picture_is_drawn(written):
    assert (written / "comparison.png").read_bytes().startswith(b"\x89PNG")


def test_a_comparison_may_be_replaced_by_the_next(written, rows, monkeypatch):
    monkeypatch.setattr(options.pictures, "preflight", lambda: None)
    options.write([replace(rows[0], label="new")], written, "Bench press")
    data = json.loads((written / "comparison.json").read_text(encoding="utf-8"))["options"]
    assert [item["label"] for item in data] == ["new"]
