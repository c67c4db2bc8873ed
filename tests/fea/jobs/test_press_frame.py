"""Frame of a press from the mesh: rigid motions, lever rule, joint; and its tightening sheet."""

from __future__ import annotations

import csv
import dataclasses
import json

import numpy as np
import pytest
from typer.testing import CliRunner

from platestack.fea.app.cli.app import app
from platestack.fea.hand.support import STRUTS
from platestack.fea.jobs.offcentre import OffCentre
from platestack.fea.jobs.tightening import Bench
from platestack.fea.jobs.tightening import sheet as job
from platestack.fea.jobs.tightening.sheet import make
from platestack.fea.solid import loads, readings, stack
from platestack.fea.solid.frame.press import GRAVITY, assemble
from platestack.fea.solid.frame.stations import condense
from platestack.fea.solid.pressing import Pressing
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, UsageError
from platestack.geometry.mesh import Sizes
from tests.figures import frame_agreement

SLEEVE = """
seat = "sleeve"
seat_diameter = "75 mm"
sleeve_bore = "50 mm"
preload = "180 kN"
"""


COARSE = Sizes(0.12, round_divisions=8, ring_divisions=1, patch_divisions=4)


def frame_of(text: str, rods: str, sizes: Sizes = COARSE):
    """Press, its condensed stacks and its frame, on coarse meshes."""
    text = text.replace('diameter = "45 mm"', 'diameter = "45 mm"' + rods)
    case = case_file.parse(text, "small.toml")
    press = layout.build(case)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stack, "default_sizes", lambda *_: sizes)
        found = {s.name: condense(press, s, case, lambda step: None) for s in press.stacks}
    return press, found, assemble(press, found["crosshead"], found["bed"])


@pytest.fixture(scope="module")
def sleeved(welded_text):
    return frame_of(welded_text, SLEEVE)


def test_rod_with_its_nuts(press_of):
    """M80x6, 80 mm shank, 1500 mm: 1.57358e-6 mm/N (VDI 2230-1 form, evaluated by hand)."""
    rod = dataclasses.replace(
        press_of("small").rods[0], diameter=0.08, thread="M80x6", free_length=1.5
    )
    assert rod.material.young == 210e9
    assert 1 / rod.stiffness == pytest.approx(1.57358e-9, rel=1e-5)


def test_unit_forces_at_two_stations_read_each_other(sleeved):
    """Maxwell's reciprocal theorem, on what the solver gave for each station by itself."""
    for stations in sleeved[1].values():
        flexibility = stations.flexibility
        size = np.sqrt(np.diag(flexibility))
        assert (np.abs(flexibility - flexibility.T) < 1e-6 * np.outer(size, size)).all()


def test_a_free_stack_resists_no_rigid_motion(sleeved):
    """Lift and both tilts of all stations take no force, against any other motion that does."""
    press, found, _ = sleeved
    x, y = np.array([rod.at for rod in press.rods]).T
    one, none = np.ones(2), np.zeros(2)
    for stations in found.values():
        stiffness = stations.stiffness
        motions = (
            [*one, *none, *none, *one, 1, 0, 0],
            [*x, *(1, 0) * 2, *x, 0, 1, 0],
            [*y, *(0, 1) * 2, *y, 0, 0, 1],
        )
        scale = np.sqrt(np.diag(stiffness))
        kept = np.linalg.eigvalsh(stiffness / np.outer(scale, scale))
        assert np.abs(kept[:3]).max() < 1e-5 * kept[3]
        for motion in map(np.array, motions):  # as far as coarse rings lie about their centres
            left = np.abs(stiffness @ motion).max()
            assert left < 2e-4 * np.abs(stiffness).max() * np.abs(motion).max()


def test_lever_rule_off_centre(sleeved):
    """Two rods, no preload, off centre along both axes: statics, whatever the stacks are.

    The centres of coarsely meshed rings are off by 2e-4. Across the rods' line only their bending
    holds the crosshead, and that of sleeves in contact.
    """
    press, found, frame = sleeved
    half, force = press.rods[1].at[0], press.capacity
    for e in ((0.05, 0.0), (0.02, 0.001)):
        state = frame.frame.solve(np.zeros(len(frame.frame.springs)), frame.pressing(force, e))
        first, crosshead, bed = len(found["crosshead"].stiffness), *found.values()
        moments = np.zeros(2)
        for i, rod in enumerate(press.rods):
            up = state.displacement[crosshead.tilt(i) :][:2]
            down = state.displacement[first + bed.tilt(i) :][:2]
            moments += 210e9 * np.pi * 0.045**4 / 64 / rod.free_length * (up - down)
        rows = frame.frame.rows[:, :first]
        at = np.vstack([np.array([-half, half]), np.zeros(2)])
        for i in range(2):  # forces times places of the stations they act on
            places = np.zeros(first)
            places[:2] = places[6:8] = at[i]
            places[[2 + i, 4 + i, 9 + i]] = 1.0
            assert state.forces @ rows @ places + moments[i] == pytest.approx(
                force * e[i], rel=3e-4, abs=1e-5 * force * half
            )
        assert state.forces[:2].sum() - state.forces[2:].sum() == pytest.approx(force, rel=1e-6)
    assert abs(moments[1]) > 0.1 * force * e[1]


def test_a_sleeve_resists_tilting_as_a_tube(sleeved):
    """All struts pressing: EA/L against lift, EI/L against tilt, I = π (D⁴ − d⁴) / 64."""
    press, found, frame = sleeved
    rod, first = press.rods[0], found["crosshead"]
    struts, springs = frame.frame.rows[2 : 2 + STRUTS], frame.frame.springs[2 : 2 + STRUTS]
    lift = np.zeros(struts.shape[1])
    lift[first.seat(0)] = 1.0
    assert springs @ (struts @ lift) ** 2 == pytest.approx(
        210e9 * np.pi / 4 * (0.075**2 - 0.05**2) / rod.between
    )
    for axis in (0, 1):
        tilt = np.zeros(struts.shape[1])
        tilt[first.tilt(0) + axis] = 1.0
        assert springs @ (struts @ tilt) ** 2 == pytest.approx(
            210e9 * np.pi / 64 * (0.075**4 - 0.05**4) / rod.between
        )


def test_sleeves_give_way_as_rods_take_up(sleeved):
    """Rods less sleeves balance the ram at every load; a sleeve opens where the rods carry all."""
    press, _, frame = sleeved
    bench = Bench(frame.frame, 2, frame.weight)
    advance = bench.advance_for(bench.loose, range(2), np.full(2, 180e3))
    for part in (0.0, 0.5, 1.0, 3.0):
        force = part * press.capacity
        forces = frame.frame.solve(advance, frame.pressing(force)).forces
        assert forces[:2].sum() - forces[2:].sum() == pytest.approx(force, rel=1e-6, abs=1.0)
        if part == 1.0:
            assert (forces[2:] > 0).all()
            assert (forces[:2] < 180e3 + force / 2).all()
    assert forces[2:] == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize(
    ("seat", "preload"), [("sleeve", 90e3), ("shoulder", 116e3), ("inner nuts", 106e3)]
)
def test_run_has_seats_press_on_edges_as_the_frame_does(sleeved, welded_text, seat, preload):
    """Where pressing has lifted a seat in the middle, or takes an edge off it: within 0.3 %."""
    rods = tuple(dataclasses.replace(r, preload=preload, seat=seat) for r in sleeved[0].rods)
    press = dataclasses.replace(sleeved[0], rods=rods)
    case = case_file.parse(welded_text)
    here = OffCentre(assemble(press, *sleeved[1].values()), 1.0).at((0.0, 0.0))
    alone = []
    for one in press.stacks:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(stack, "default_sizes", lambda *_: COARSE)
            mesh = stack.mesh_stack(press, one, case)
        alone.append(Pressing(press, one, mesh, lambda step: None))
        end, bears = alone[-1].pressed.held.ends[0], alone[-1].pressed.rods[0]
        assert 0 < end.at_work[end.support.ring > 0].sum() < STRUTS
        assert bears.nut - bears.seat == pytest.approx(press.capacity / 2, rel=1e-6)
    run = frame_agreement.run_of(case, press, alone)
    weight = GRAVITY * press.crosshead.mass
    for number, nut in enumerate(here.forces):
        bears = run._bears(rods[number % 2])[number // 2]
        assert bears.seat > 0
        assert nut == pytest.approx(bears.nut, rel=3e-3)
        assert here.clamp[number] == pytest.approx(bears.seat, abs=3e-3 * nut + weight)


def test_sheet_says_when_one_round_is_enough(sleeved):
    press, _, frame = sleeved
    sheet = make(frame, 0.05)
    assert sheet.rounds == 1
    assert sheet.scatter < 1e-6
    rod = press.rods[0]
    line = sheet.lines[0]
    assert line.force > rod.preload
    assert line.stretch == pytest.approx(
        line.force * rod.free_length / (210e9 * np.pi / 4 * rod.diameter**2)
    )  # what an indicator between the nuts reads
    assert line.flats == pytest.approx(line.turn / 60)
    assert line.jack > line.force


@pytest.fixture
def tightened(welded_text, sleeved, tmp_path, monkeypatch):
    """Run the command on the sleeved case, its stacks condensed before."""
    monkeypatch.setattr(job, "prepare", lambda *_: sleeved[2])
    case = tmp_path / "sleeved.toml"
    case.write_text(
        welded_text.replace('diameter = "45 mm"', 'diameter = "45 mm"' + SLEEVE), encoding="utf-8"
    )
    out = tmp_path / "out"

    def run(*options: str):
        return CliRunner().invoke(app, ["tighten", str(case), "--out", str(out), *options]), out

    return run


def test_command(tightened):
    for _ in range(2):  # the second replaces what the first wrote
        result, out = tightened()
        assert result.exit_code == 0, result.exception
    kept = json.loads((out / "tightening.json").read_text(encoding="utf-8"))
    rows = list(csv.reader((out / "tightening.csv").read_text(encoding="utf-8").splitlines()[1:]))
    assert len(rows) == 1 + len(kept["lines"]) == 3
    assert (out / "tightening.png").stat().st_size > 10_000


def test_measured_stretches_lead_to_the_same_end(sleeved, tightened, tmp_path):
    """Half tightened and unevenly: the remaining pass ends at the target, and turns less."""
    press = sleeved[0]
    file = tmp_path / "read.csv"
    rod = press.rods[0]
    half = 1e3 * 90e3 * rod.free_length / (rod.material.young * rod.area)
    file.write_text(f"rod,stretch\nrod 1,{half:.4f} mm\nrod 2,0 mm\n", encoding="utf-8")
    result, out = tightened("--measured", str(file))
    assert result.exit_code == 0, result.exception
    kept = json.loads((out / "tightening.json").read_text(encoding="utf-8"))
    assert kept["measured"] == pytest.approx([90e3, 0.0], rel=1e-3)
    assert kept["scatter"] < 1e-6
    one, two = kept["lines"]
    assert 0.4 < one["turn"] / two["turn"] < 0.6
    assert "measured before" in result.output


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "line 1"),
        ("rod;stretch\n", "line 1"),
        ("rod,stretch\nrod 1,0.4\nrod 2,0.4 mm\n", "line 2"),
        ("rod,stretch\nrod 1,0.4 mm\nrod 9,0.4 mm\n", "line 3"),
        ("rod,stretch\nrod 1,0.4 mm\nrod 1,0.4 mm\n", "line 3"),
        ("rod,stretch\nrod 1,0.4 mm\nrod 2,-0.4 mm\n", "line 3"),
        ("rod,stretch\nrod 1,0.4 mm\nrod 2,nan mm\n", "line 3"),
        ("rod,stretch\nrod 1,0.4 mm,7\n", "line 2"),
        ("rod,stretch\nrod 1,0.4 mm\n", "no line for rod 2"),
    ],
)
def test_bad_stretches(tightened, tmp_path, text, words):
    file = tmp_path / "read.csv"
    file.write_text(text, encoding="utf-8")
    result, out = tightened("--measured", str(file))
    assert isinstance(result.exception, UsageError)
    assert words in str(result.exception)
    assert not out.exists()


@pytest.mark.parametrize(
    ("more", "options", "words"),
    [
        ("", [], "rods.seat"),
        (SLEEVE, ["--scatter", "5"], "--scatter"),
        ('seat = "shoulder"\npreload = "0 N"\n', [], "preload"),
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


# --- seats of the rods' own


@pytest.fixture(scope="module", params=["inner nuts", "shoulder"])
def seated(request, sleeved):
    """The same stacks, with seats of the rods' own on the same annuli."""
    press, found, _ = sleeved
    rods = tuple(dataclasses.replace(rod, seat=request.param) for rod in press.rods)
    press = dataclasses.replace(press, rods=rods)
    return press, found, assemble(press, found["crosshead"], found["bed"])


def borne(forces):
    """Forces (8,) of four nuts, and of four seats, each the sum of its struts."""
    return np.concatenate([forces[:4], forces[4:].reshape(4, STRUTS).sum(axis=1)])


def test_each_end_is_tightened_by_itself(seated):
    """What one end bears stays in its stack: seat against nut, the shank with the weight only."""
    press, _, frame = seated
    assert [end.name for end in frame.ends] == [
        f"rod {i} {name}" for name in ("crosshead", "bed") for i in (1, 2)
    ]
    bench = Bench(frame.frame, 4, frame.weight)
    advance = bench.advance_for(bench.loose, [0], np.array([180e3]))
    forces = borne(frame.frame.solve(advance, frame.weight).forces)
    weight = 9.80665 * press.crosshead.mass
    assert forces[0] == pytest.approx(180e3)
    assert forces[1:4] == pytest.approx(0.0, abs=weight)
    assert forces[4] == pytest.approx(180e3, abs=weight)


def test_a_seated_rod_shares_the_load_until_its_seat_opens(seated):
    """Nut less seat is what the shank bears, half the ram's force; beyond the seat the nut too."""
    press, _, frame = seated
    bench = Bench(frame.frame, 4, frame.weight)
    tight = bench.advance_for(bench.loose, range(4), np.full(4, 180e3))
    for part in (0.5, 1.0, 3.0):
        force = part * press.capacity
        forces = borne(frame.frame.solve(tight, frame.pressing(force)).forces)
        shank = (forces[:4] - forces[4:]).reshape(2, 2)
        assert shank.sum(axis=1) == pytest.approx(force, rel=1e-6)
        assert shank == pytest.approx(force / 2, rel=2e-3)  # as exact as the rings' places
        if part < 3:
            assert (forces[4:] > 0).all()
            assert (forces[:4] < 180e3 + 0.5 * force / 2).all()
    assert forces[4:] == pytest.approx(0.0)


def test_sheet_for_ends(seated):
    _, _, frame = seated
    sheet = make(frame, 0.05)
    assert len(sheet.lines) == 4
    assert sheet.scatter < 1e-6
    assert sheet.lines[0].stretch == pytest.approx(
        sheet.lines[0].force * 0.1 / (210e9 * np.pi / 4 * 0.045**2), rel=0.02
    )  # nut to seat: the depth of the stack


@pytest.mark.slow
def test_loose_plates_as_they_stand_at_preload(small_text):
    """The stations' slope against tightening a little more, contact solved anew, nut to seat."""
    text = small_text.replace("[bed]", '[bed]\ninterface = { kind = "loose", gap = "0.01 mm" }')
    text = text.replace('diameter = "45 mm"', 'diameter = "45 mm"' + SLEEVE)
    case = case_file.parse(text, "small.toml")
    press = layout.build(case)
    more, closed = 0.02 * 180e3, []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stack, "default_sizes", lambda *_: COARSE)
        stations = condense(press, press.bed, case, lambda step: None, "preload")
        whole = case.mesh.model_copy(update={"symmetry": "whole"})
        mesh = stack.mesh_stack(press, press.bed, case.model_copy(update={"mesh": whole}))
    for preload in (180e3, 180e3 + more):
        rods = tuple(dataclasses.replace(rod, preload=preload) for rod in press.rods)
        done = Pressing(dataclasses.replace(press, rods=rods), press.bed, mesh, lambda step: None)
        rows = [
            readings.face_weights(done.mesh.nodes, done.mesh.faces[f"{what} of rod 1"])
            for what in ("nut", "seat")
        ]
        nut, seat = (row @ done.rest[2::3] / row.sum() for row in rows)
        closed.append(nut - seat)
    force = np.zeros(len(stations.stiffness))
    force[:2], force[6:8] = more, -more  # the bed's nuts push up, its seats down
    moved = np.linalg.pinv(stations.stiffness, rcond=1e-9, hermitian=True) @ force
    assert moved[0] - moved[6] == pytest.approx(closed[1] - closed[0], rel=0.02)


def test_connectors_stiffen_the_stations(small_text):
    """Patch against nuts: as on the whole pressed stack; 1.4 times that without the dowels."""
    joined = (
        '[bed]\ninterface = { kind = "loose" }\n'
        'connectors = { kind = "dowels", count = 60, diameter = "20 mm" }\n'
    )
    case = case_file.parse(small_text.replace("[bed]\n", joined), "joined.toml")
    press = layout.build(case)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(stack, "default_sizes", lambda *_: COARSE)
        stations = condense(press, press.bed, case, lambda step: None)
        whole = case.mesh.model_copy(update={"symmetry": "whole"})
        mesh = stack.mesh_stack(press, press.bed, case.model_copy(update={"mesh": whole}))
    done = Pressing(press, press.bed, mesh, lambda step: None)
    area = readings.face_weights(done.mesh.nodes, done.mesh.faces[press.bed.patch_name])
    nuts = loads.mean_of_nuts(done.held) @ done.moved
    patch_at = stations.patch
    held, force = stations.stiffness.copy(), np.zeros(len(stations.stiffness))
    on = [0, 1, patch_at + 1, patch_at + 2]  # nuts, and no tipping of the patch
    held[on, on] += max(np.diag(held))
    force[patch_at] = -press.capacity
    moved = np.linalg.lstsq(held, force, rcond=1e-12)[0]
    expected = float(area @ done.moved[2::3] / area.sum() - nuts[0])
    assert moved[patch_at] - moved[:2].mean() == pytest.approx(expected, rel=0.02)
