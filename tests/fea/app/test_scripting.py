"""The Python interface: cases built, changed and written; solutions as numbers and arrays."""

from __future__ import annotations

import doctest
import importlib
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import platestack
from platestack.fea.app import solving
from platestack.fea.results import run_directory
from platestack.fea.solid import model
from platestack.fea.support import machine
from platestack.geometry import case as case_file
from platestack.geometry.schema import Case

ROOT = Path(__file__).parents[3]
SMALL = ROOT / "cases" / "small" / "small.toml"
TABLES = {
    "press": {"name": "Flat press", "capacity": "60 tf", "working_pressure": "25 MPa",
              "daylight": "400 mm", "stroke": "200 mm"},
    "crosshead": {"length": "700 mm", "width": "400 mm", "plates": "2 x 60 mm"},
    "bed": {"length": "700 mm", "width": "400 mm", "plates": "2 x 60 mm",
            "openings": [{"shape": "round", "at": ["0 mm", "150 mm"], "diameter": "20 mm"}]},
    "rods": {"diameter": "50 mm", "count": 4, "pitch": ["520 mm", "250 mm"]},
    "materials": {"mine": {"yield_strength": "300 MPa", "tensile_strength": "450 MPa"}},
}  # fmt: skip
IN_SI = {
    "press": {"name": "Flat press", "capacity": 60 * 9806.65, "working_pressure": 25e6,
              "daylight": 0.4, "stroke": 0.2},
    "crosshead": {"length": 0.7, "width": np.float64(0.4), "plates": [{"thickness": 0.06}] * 2},
    "bed": {"length": 0.7, "width": 0.4, "plates": "2 x 0.06 m",
            "openings": ({"shape": "round", "at": (0.0, 0.15), "diameter": 0.02},)},
    "rods": {"diameter": 0.05, "count": 4, "pitch": [0.52, 0.25]},
    "materials": {"mine": {"yield_strength": 3e8, "tensile_strength": 4.5e8}},
}  # fmt: skip


@pytest.fixture
def small():
    return platestack.load(SMALL)


@pytest.fixture
def welded(welded_text, tmp_path):
    """The small case with its plates welded, as `small_solution` has them."""
    file = tmp_path / "small.toml"
    file.write_text(welded_text, encoding="utf-8")
    return platestack.load(file)


@pytest.fixture
def solved(welded, small_solution, monkeypatch):
    """Answer of `solve` for the welded case, whose solution stands ready."""
    monkeypatch.setattr(solving, "analyse", lambda case, report: small_solution)
    return platestack.solve(welded)


@pytest.mark.parametrize(
    "name", ["", ".geometry.case_data", ".fea.app.scripting", ".fea.app.solving"]
)
def test_examples_in_docstrings_are_true(name, small_solution, monkeypatch):
    monkeypatch.chdir(ROOT)
    monkeypatch.setattr(solving, "analyse", lambda case, report: small_solution)
    flags = doctest.NORMALIZE_WHITESPACE
    done = doctest.testmod(importlib.import_module(f"platestack{name}"), optionflags=flags)
    assert done.failed == 0
    assert done.attempted >= 1


def test_names_are_those_promised():
    assert {name: getattr(platestack, name) for name in platestack.__all__}
    assert set(platestack.__all__) <= set(dir(platestack))
    with pytest.raises(AttributeError, match="no attribute 'lode'"):
        getattr(platestack, "lode")  # noqa: B009


def test_texts_with_units_and_si_mean_the_same():
    one, other = platestack.build(TABLES), platestack.build(**IN_SI)
    assert one["press.capacity"] == pytest.approx(60e3 * 9.80665, rel=1e-15)
    assert one["materials.mine.yield_strength"] == 300e6
    assert one["bed.openings[1].at"] == other["bed.openings[1].at"] == (0.0, 0.15)
    assert one["bed.plates[2].thickness"] == other["bed.plates[2].thickness"] == 0.06
    assert other["crosshead.width"] == one["crosshead.width"]


def test_a_change_reaches_one_plate_and_nothing_else(small):
    thick = small.with_("bed.plates[2].thickness", "60 mm")
    assert [thick[f"bed.plates[{n}].thickness"] for n in (1, 2)] == [0.05, 0.06]
    assert [small[f"bed.plates[{n}].thickness"] for n in (1, 2)] == [0.05, 0.05]
    assert thick.with_("bed.plates[2].thickness", 0.05)["bed.plates"][1].thickness == 0.05
    expected = tomllib.loads(SMALL.read_text()) | {"bed": tomllib.loads(thick.text)["bed"]}
    assert tomllib.loads(thick.text) == expected
    assert "# wider than the bed, or it tips too easily" in thick.text


def test_values_that_go_together_are_changed_together(small):
    with pytest.raises(platestack.CaseError, match="bed"):
        small.with_("bed.layout", "on edge")
    both = small.with_({"press.daylight": "300 mm", "press.stroke": 0.15})
    assert (both["press.daylight"], both["press.stroke"]) == (0.3, 0.15)
    assert both.with_("limits.hoist", None)["limits.hoist"] is None
    assert small.with_("mesh.size", 0.02)["mesh.size"] == 0.02


def test_what_is_written_is_read_as_the_same(small, tmp_path):
    changed = small.with_({"bed.plates": ["50 mm", "60 mm"], "bed.interface.kind": "loose"})
    changed.write(tmp_path / "mine.toml")
    again = platestack.load(tmp_path / "mine.toml")
    assert again == changed
    assert again != small
    with pytest.raises(platestack.UsageError, match="exists"):
        small.write(tmp_path / "mine.toml")
    small.write(tmp_path / "mine.toml", replace=True)
    assert (tmp_path / "mine.toml").read_text() == SMALL.read_text()


@settings(deadline=None, max_examples=30)
@given(
    length=st.floats(0.7, 1.5),
    force=st.floats(1e5, 1e6),
    thickness=st.lists(st.floats(0.04, 0.12), min_size=1, max_size=4),
)
def test_numbers_in_si_come_back_to_the_last_digit(length, force, thickness):
    data = {**IN_SI, "bed": {"length": length, "width": 0.4,
                             "plates": [{"thickness": t} for t in thickness]}}  # fmt: skip
    case = platestack.build(data).with_("press.capacity", force)
    assert case["bed.length"] == length
    assert case["press.capacity"] == force
    assert [plate.thickness for plate in case["bed.plates"]] == thickness


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("bed.plates[3].thickness", "50 mm", "bed.plates[3].thickness: given [3]; allowed: 1 to 2"),
        ("bed.plates[0].thickness", "50 mm", "given [0]; allowed: a number from 1 on"),
        ("bed.plate[1].thickness", "50 mm", "bed.plate"),
        ("bed.lenght", "500 mm", "bed.lenght: unknown key; did you mean 'length'?"),
        ("bed.length", "500", "bed.length: given \"500\"; the unit is missing"),
        ("bed.length", -0.5, "bed.length: given \"-0.5 m\"; out of range"),
        ("bed.length", float("nan"), "not a number with a unit"),
        ("bed.length.x", 1, "given x of a value"),
        ("bed..length", 1, "allowed: a key path such as bed.plates[2].thickness"),
        ("", 1, "allowed: a key path"),
        ("rods.count", 3, "rods.count: given 3; "),
        ("bed.openings[1].at", 1, "given [1]; allowed: an entry; the list is empty"),
    ],
)  # fmt: skip
def test_mistakes_are_those_of_the_command_line(small, key, value, said):
    with pytest.raises(platestack.CaseError) as caught:
        small.with_(key, value)
    assert said in str(caught.value)
    assert str(caught.value).startswith(f"{SMALL}: ")


def test_mistakes_of_a_file_are_the_same_both_ways(tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text(SMALL.read_text().replace("350 mm", "350").replace("hoist", "hoists"))
    with pytest.raises(platestack.CaseError) as here:
        platestack.load(bad)
    with pytest.raises(platestack.CaseError) as there:
        case_file.read(bad)
    assert str(here.value) == str(there.value)
    with pytest.raises(platestack.CaseError, match="allowed: clamp_bolts, connectors"):
        platestack.load(SMALL)["bed.lenght"]


def test_numbers_are_those_of_the_run(solved, small_run, welded):
    run = run_directory.read(small_run)
    assert solved.summary.bed == run.bed
    assert solved.checks == run.checks
    assert solved.summary.case_digest == run.case_digest
    assert solved.case == welded


def test_fields_are_arrays_with_coordinates(solved, small_press):
    bed = solved.fields("bed")
    assert bed.points.shape == bed.displacement.shape == bed.principal.shape
    assert len(bed.von_mises) == len(bed.plate) == len(bed.points)
    assert bed.cells.max() == len(bed.points) - 1
    top = small_press.bed.load_face
    assert bed.points[:, 2].max() == pytest.approx(top)
    thickness = [np.ptp(bed.points[bed.plate == n, 2]) for n in range(len(bed.plates))]
    assert thickness == pytest.approx([0.05, 0.05])
    s = bed.stress  # von Mises' formula, written out
    squares = ((s[:, 0] - s[:, 1]) ** 2 + (s[:, 1] - s[:, 2]) ** 2 + (s[:, 2] - s[:, 0]) ** 2) / 2
    assert np.sqrt(squares + 3 * (s[:, 3:] ** 2).sum(axis=1)) == pytest.approx(bed.von_mises)
    # What an indicator on a bridge between the nuts reads, at the press axis.
    axis = np.flatnonzero(
        (np.hypot(*bed.points[:, :2].T) < 1e-9) & np.isclose(bed.points[:, 2], top)
    )
    sunk = -bed.displacement[axis[0], 2] + solved.summary.bed.nut_displacement.value
    assert sunk == pytest.approx(solved.summary.bed.mid_span_deflection.value, rel=1e-6)
    with pytest.raises(KeyError):
        solved.fields("table")


def test_grid_holds_both_stacks(solved):
    grid = solved.grid()
    assert type(grid).__name__ == "UnstructuredGrid"
    parts = [solved.fields(name) for name in ("crosshead", "bed")]
    assert grid.n_points == sum(len(part.points) for part in parts)
    assert grid["von_mises"] == pytest.approx(np.concatenate([p.von_mises for p in parts]))


def test_a_result_is_written_as_a_run_is(solved, small_run, tmp_path):
    solved.write(tmp_path / "small", pictures=False)
    names = {path.name for path in small_run.iterdir()}
    assert {path.name for path in (tmp_path / "small").iterdir()} == names
    one, other = run_directory.read(tmp_path / "small"), run_directory.read(small_run)
    assert one.model_copy(update={"date": other.date}) == other


def test_the_case_of_a_solution_is_what_was_solved(monkeypatch, small_solution, small_case, welded):
    """Where memory is short, refinement ends earlier than the case says."""
    monkeypatch.setattr(machine, "room", lambda: machine.Room(0.8e9, "so a test says"))
    asked = []

    def solve_stack(press, stack, case: Case, report):
        asked.append(case)
        return small_solution.stacks[stack.name]

    monkeypatch.setattr(model, "solve_stack", solve_stack)
    result = platestack.solve(welded)
    assert result.case["mesh.most_unknowns"] == asked[0].mesh.most_unknowns
    assert asked[0].mesh.most_unknowns < small_case.mesh.most_unknowns
    assert result.case.checked.model_copy(update={"mesh": small_case.mesh}) == small_case
