"""Frame of a press from the mesh: rigid motions, lever rule, joint; and its tightening sheet."""

from __future__ import annotations

import csv
import dataclasses
import json

import numpy as np
import pytest
from typer.testing import CliRunner

from fea import stack
from fea.cli.app import app
from fea.frame.press import assemble, rod_spring
from fea.frame.stations import condense
from fea.tightening import Bench
from fea.tightening import sheet as job
from fea.tightening.sheet import make
from geometry import case as case_file
from geometry import layout
from geometry.errors import CaseError, UsageError
from geometry.mesh import Sizes

SLEEVE = """
seat = "sleeve"
seat_diameter = "75 mm"
sleeve_bore = "50 mm"
preload = "180 kN"
"""


@pytest.fixture(scope="module")
def sleeved(small_text):
    text = small_text.replace('diameter = "45 mm"', 'diameter = "45 mm"' + SLEEVE)
    case = case_file.parse(text, "small.toml")
    press = layout.build(case)
    with pytest.MonkeyPatch.context() as patch:
        coarse = Sizes(0.06, round_divisions=10, ring_divisions=1, patch_divisions=5)
        patch.setattr(stack, "default_sizes", lambda *_: coarse)
        found = {s.name: condense(press, s, case, lambda step: None) for s in press.stacks}
    return press, found, assemble(press, found["crosshead"], found["bed"])


def test_rod_with_its_nuts(press_of):
    """M80x6, 80 mm shank, 1500 mm: 1.57358e-6 mm/N (VDI 2230-1 form, evaluated by hand)."""
    rod = dataclasses.replace(
        press_of("small").rods[0], diameter=0.08, thread="M80x6", free_length=1.5
    )
    assert rod.material.young == 210e9
    assert 1 / rod_spring(rod) == pytest.approx(1.57358e-9, rel=1e-5)


def test_a_free_stack_resists_no_rigid_motion(sleeved):
    """Lift and tilt of all stations together take no force, against any other motion that does."""
    press, found, _ = sleeved
    for stations in found.values():
        assert stations.flexibility == pytest.approx(stations.flexibility.T, rel=1e-6)
        stiffness = stations.stiffness
        x = np.array([*(rod.at[0] for rod in press.rods * 2), 0.0, 1.0, 0.0])
        lift = np.array([1.0] * 5 + [0.0, 0.0])
        for motion in (lift, x):
            left = np.abs(stiffness @ motion).max()
            assert left < 1e-4 * np.abs(stiffness).max() * np.abs(motion).max()


def test_lever_rule_off_centre(sleeved):
    """Two rods, no preload: F/2 (1 ± e/a), whatever the stacks are."""
    press, _, frame = sleeved
    half, e = press.rods[1].at[0], 0.05
    state = frame.frame.solve(np.zeros(4), frame.pressing(press.capacity, (e, 0.0)))
    expected = press.capacity / 2 * np.array([1 - e / half, 1 + e / half, 0, 0])
    assert state.forces == pytest.approx(expected, rel=1e-4, abs=1.0)


def test_sleeves_give_way_as_rods_take_up(sleeved):
    """Rods less sleeves balance the ram at every load; a sleeve opens where the rods carry all."""
    press, _, frame = sleeved
    bench = Bench(frame.frame, 2, frame.weight)
    advance = bench.advance_for(bench.loose, range(2), np.full(2, 180e3))
    for part in (0.0, 0.5, 1.0, 2.0):
        force = part * press.capacity
        forces = frame.frame.solve(advance, frame.pressing(force)).forces
        assert forces[:2].sum() - forces[2:].sum() == pytest.approx(force, rel=1e-6, abs=1.0)
        if part == 1.0:
            assert (forces[2:] > 0).all()
            assert (forces[:2] < 180e3 + force / 2).all()
    assert forces[2:] == pytest.approx(0.0)


def test_sheet_says_when_one_round_is_enough(sleeved):
    press, _, frame = sleeved
    sheet = make(press, Bench(frame.frame, 2, frame.weight), 0.05)
    assert sheet.rounds == 1
    assert sheet.scatter < 1e-6
    rod = press.rods[0]
    line = sheet.lines[0]
    assert line.force > rod.preload
    assert line.stretch == pytest.approx(line.force / rod.stiffness)
    assert line.flats == pytest.approx(line.turn / 60)
    assert line.jack > line.force


def test_command(small_text, sleeved, tmp_path, monkeypatch):
    bench = Bench(sleeved[2].frame, 2, sleeved[2].weight)  # stacks condensed before: the same case
    monkeypatch.setattr(job, "prepare", lambda *_: bench)
    case = tmp_path / "sleeved.toml"
    case.write_text(
        small_text.replace('diameter = "45 mm"', 'diameter = "45 mm"' + SLEEVE), encoding="utf-8"
    )
    out = tmp_path / "out"
    for _ in range(2):  # the second replaces what the first wrote
        result = CliRunner().invoke(app, ["tighten", str(case), "--out", str(out)])
        assert result.exit_code == 0, result.exception
    kept = json.loads((out / "tightening.json").read_text(encoding="utf-8"))
    rows = list(csv.reader((out / "tightening.csv").read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 1 + len(kept["lines"]) == 3


@pytest.mark.parametrize(
    ("more", "options", "words"),
    [
        ("", [], "rods.seat"),
        (SLEEVE, ["--scatter", "5"], "--scatter"),
        ('seat = "shoulder"\n', [], "hardly changes"),
        (SLEEVE.replace("50 mm", "40 mm"), [], "sleeve_bore"),
        (SLEEVE.replace("75", "48").replace("50", "46"), [], "seat of rod"),
    ],
)
def test_bad_input(small_text, tmp_path, more, options, words):
    case = tmp_path / "case.toml"
    text = small_text.replace('diameter = "45 mm"', 'diameter = "45 mm"\n' + more)
    case.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    result = CliRunner().invoke(app, ["tighten", str(case), "--out", str(out), *options])
    assert isinstance(result.exception, CaseError | UsageError)
    assert words in str(result.exception)
    assert not out.exists()
