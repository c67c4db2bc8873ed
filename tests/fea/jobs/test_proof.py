"""Proof test: readings are those of the fields; measured sets are told apart."""

from __future__ import annotations

import csv
import json
import math
import shutil
from types import SimpleNamespace

import meshio
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from platestack.fea.app.cli import app
from platestack.fea.jobs import proof
from platestack.fea.jobs.proof import measured, plan, readings
from platestack.fea.results import run_directory
from platestack.geometry.errors import UsageError


@pytest.fixture(scope="module")
def sheet(small_run):
    """Plan, summary and press of the small case."""
    run = run_directory.reopen(small_run)
    return plan.make(run), run.summary, run.press


@pytest.fixture
def folder(small_run, tmp_path):
    return shutil.copytree(small_run, tmp_path / "run")


def series_of(sheet, change):
    """Readings of all instruments, each changed: (reading, share of load) -> value."""
    test, _, press = sheet
    shares = np.array([step.share for step in test.steps])
    return tuple(
        measured.Series(r, shares * press.capacity_pressure,
                        np.array([change(r, share) for share in shares]))
        for r in test.readings
    )  # fmt: skip


def outcome(sheet, change):
    test, summary, press = sheet
    fits = tuple(measured.fit(s, press.capacity_pressure) for s in series_of(sheet, change))
    return fits, measured.reasons(fits, test, summary) or [measured.AGREES]


def test_cautions_are_of_what_the_proof_load_adds():
    """Neither fatigue nor a valve's setting is passed by one pressing; an opening seat is named."""

    def check(name, use, unit="Pa", kind="rods", sense="at most"):
        return SimpleNamespace(name=name, utilisation=use, value=use, unit=unit, kind=kind,
                               sense=sense, limit_name="yield")  # fmt: skip

    checks = [
        check("rod 1: tension", 0.9),
        check("rod 1: fatigue of the thread", 0.9),
        check("relief valve: setting below the proof of the press", 0.9, kind="pressures"),
        check("bed: peak at overload", 0.9, kind="overload"),
        check("bed plate 2: pressure under the seat as tightened", 0.9),
        check("wall: stress at proof pressure", 0.9),
        check("bed: stress", 0.7),
        check("rod 2: clamping force taken off its seat", 0.82, "1"),
    ]
    words = plan._over(SimpleNamespace(checks=checks), 1.25)
    assert [w.partition(":")[0] for w in words] == [
        "At the proof load, rod 1", "At the proof load the seat of rod 2 opens"
    ]  # fmt: skip
    assert "112\N{NO-BREAK SPACE}% of yield" in words[0]
    assert "102\N{NO-BREAK SPACE}% of its preload" in words[1]
    assert len(plan._over(SimpleNamespace(checks=checks), 1.2)) == 1


def test_readings_are_those_of_the_fields(small_run, sheet):
    test, summary, press = sheet
    grid = meshio.read(small_run / "fields.vtu")
    dials = [r for r in test.readings if r.kind == "dial"]
    assert len(dials) == 4
    for r in dials:
        # The quarter model holds x >= 0, y >= 0; the front edge is the mirror image.
        mirrored = np.array([abs(r.at[0]), abs(r.at[1]), r.at[2]])
        node = np.flatnonzero(np.linalg.norm(grid.points - mirrored, axis=1) < 1e-9)
        stack = getattr(press, r.part)
        nuts = summary.stacks[r.part].nut_displacement.value
        moved = stack.direction * (grid.point_data["displacement"][node, 2] - nuts)
        assert r.value == pytest.approx(moved[0], rel=1e-12)
        assert abs(r.at[0]) < 1e-9
    for r in (r for r in test.readings if r.name.endswith("gauge outer face")):
        node = np.flatnonzero(np.linalg.norm(grid.points - np.array(r.at), axis=1) < 1e-9)[0]
        xx, yy, zz = grid.point_data["stress"][node, :3]
        steel = press.bed.plates[0].material
        # Hooke's law; no rod is tightened here, so that stress and displacement agree. The fit of
        # displacements and the recovered stress differ by their errors of discretisation.
        strain = (xx - steel.poisson * (yy + zz)) / steel.young
        assert r.value == pytest.approx(strain, rel=0.01)
        assert r.value > 0  # the outer face is the one in tension


def test_strain_on_the_outer_face_is_about_the_beams(sheet):
    test, summary, _ = sheet
    for name, stack in summary.stacks.items():
        gauge = next(r for r in test.readings if r.name == f"{name} gauge outer face")
        assert gauge.value * 210e9 == pytest.approx(stack.beam.bending_stress, rel=0.1)


def test_rods_carry_the_ram_force(sheet):
    test, _, press = sheet
    force = sum(
        r.value * press.rods[0].area * 210e9 for r in test.readings
        if r.part == "rods" and r.kind == "gauge"
    )  # fmt: skip
    assert force == pytest.approx(press.capacity, rel=1e-6)
    assert max(step.force for step in test.steps) == pytest.approx(1.25 * press.capacity)
    for step in test.steps:
        assert step.force / step.pressure == pytest.approx(
            math.pi / 4 * press.ram_diameter**2
        ) if step.pressure else step.force == 0  # fmt: skip


@settings(deadline=None)
@given(stiffness=st.floats(0.3, 3.0), offset=st.floats(-1e-4, 1e-4))
def test_stiffness_and_offset_are_found(sheet, stiffness, offset):
    fits, _ = outcome(sheet, lambda r, share: share * r.value / stiffness + offset)
    for fit in fits:
        assert fit.stiffness == pytest.approx(stiffness, rel=1e-9)
        assert fit.offset == pytest.approx(offset, abs=1e-12)


def test_uncertainty_covers_scatter(sheet):
    """About 95 % of fits lie within two standard uncertainties (independent noise, fixed seed)."""
    noise = np.random.default_rng(1)
    hits = []
    for _ in range(60):
        fits, _ = outcome(sheet, lambda r, share: share * r.value + noise.normal() * r.fixed / 3)
        hits += [abs(1 / f.stiffness - 1) < 2 * f.stiffness_uncertainty for f in fits]
    assert 0.9 < np.mean(hits) <= 1.0


def test_a_press_as_computed_raises_nothing(sheet):
    fits, said = outcome(sheet, lambda r, share: share * r.value)
    assert not any(f.deviates for f in fits)
    assert said == ["Every fitted reading lies within its band of the computed one."]


def test_a_looser_stack_is_recognised(sheet):
    _, summary, _ = sheet
    loose = summary.bed.beam.loose_deflection / summary.bed.beam.welded_deflection
    assert loose > 2
    # A fifth of the way from welded to loose, in the bed alone.
    softer = 1 + 0.2 * (loose - 1)
    _, said = outcome(sheet, lambda r, share: share * r.value * (softer if r.part == "bed" else 1))
    assert len(said) == 1
    assert said[0].startswith(f"Looser stack: the bed has {1 / softer:.2f} of")


def test_uneven_rods_low_preload_and_a_wrong_gauge_are_recognised(sheet):
    _, said = outcome(
        sheet, lambda r, share: share * r.value * {"rod 1": 1.15, "rod 2": 0.85}.get(r.name[:5], 1)
    )
    assert [words.split(":")[0] for words in said] == ["Uneven rods"]
    _, said = outcome(
        sheet, lambda r, share: share * r.value + (0.08e-3 if r.kind == "dial" else 0)
    )
    assert len(said) == 2
    assert all("low preload" in words for words in said)
    _, said = outcome(sheet, lambda r, share: share * r.value * 0.8)
    assert said[0].startswith("All rods deviate alike")


def test_sheet_and_record_are_kept(folder):
    test = proof.write(folder)
    data = json.loads((folder / "proof.json").read_text(encoding="utf-8"))
    rows = list(csv.DictReader((folder / "proof.csv").read_text(encoding="utf-8").splitlines()[1:]))
    assert len(rows) == len(test.steps) * len(test.readings)
    r = test.readings[0]
    wanted = data["steps"][4]["expected"][r.name]["value"]
    assert wanted == pytest.approx(r.value)
    assert float(rows[4 * len(test.readings)]["expected"]) == pytest.approx(1e3 * wanted, abs=1e-4)
    assert (folder / "proof.png").stat().st_size > 10_000
    lines = (folder / "proof-readings.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].split(",") == ["pressure_MPa", *(r.column for r in test.readings)]
    filled = [lines[0]] + [
        ",".join([f"{s.pressure / 1e6:g}"]
                 + [f"{1.3 * s.share * r.value / proof.SHOWN[r.kind][0]:.4f}" if r.part == "bed"
                    else "" for r in test.readings])
        for s in test.steps
    ]  # fmt: skip
    file = folder / "taken.csv"
    file.write_text("\n".join(filled), encoding="utf-8")
    for count in (1, 2):
        told = CliRunner().invoke(app, ["proof", str(folder), "--measured", str(file)])
        assert told.exit_code == 1
        assert "Looser stack: the bed has 0.77" in told.output
        record = json.loads((folder / "proof-record.json").read_text(encoding="utf-8"))
        assert len(record) == count
        assert record[-1]["fits"][0]["stiffness"] == pytest.approx(1 / 1.3, rel=0.01)


@pytest.mark.parametrize("filled", ["5,0.1", "5;0,1", "pressure was low"])
def test_readings_are_kept_and_an_empty_file_is_made_anew(folder, filled):
    file = folder / "proof-readings.csv"
    proof.write(folder, 1.5)
    blank = file.read_text(encoding="utf-8")
    proof.write(folder, 1.25)
    assert file.read_text(encoding="utf-8") != blank  # steps of another test
    file.write_text(f"pressure_MPa\n{filled}\n", encoding="utf-8")
    proof.write(folder)
    assert file.read_text(encoding="utf-8") == f"pressure_MPa\n{filled}\n"


HEAD = "pressure_MPa,rod_1_stretch_mm"


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", "line 1"),
        ("pressure_MPa,colour\n1,2", "line 1"),
        ("rod_1_stretch_mm\n1", "line 1"),
        (f"{HEAD},rod_1_stretch_mm\n1,2,3", "line 1"),
        (f"{HEAD}\n5,0.1\n10,a lot\n15,0.3", "line 3"),
        (f"{HEAD}\n5,0.1\n10\n15,0.3", "line 3"),
        (f"{HEAD}\n5,0.1\n\n,0.3", "line 4"),
        (f"{HEAD}\n-5,0.1", "line 2"),
        (f"{HEAD}\n5,nan", "line 2"),
        (f"{HEAD}\n5,4.7e196", "allowed: a number up to 1,000,000 or nothing"),
        (f"{HEAD}\n5,1e999", "line 2"),
        (f"{HEAD}\n5,0.1\n5,0.1\n10,0.2", "column rod_1_stretch_mm"),
        (f"{HEAD}\n5,\n10,", "no reading"),
        (f"{HEAD}\n5,0_1", "line 2"),
        (f"{HEAD}\n1e-300,1\n2e-300,1\n3e-300,1", "fewer than three pressures"),
    ],
)
def test_bad_files_are_refused_with_the_line(folder, sheet, text, where):
    file = folder / "taken.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError) as told:
        proof.compare(folder, file)
    assert where in str(told.value)
    assert len(str(told.value).splitlines()) == 1
    assert not (folder / "proof-record.json").exists()


@settings(deadline=None)
@given(text=st.text(alphabet="pressure_MPa,rod1stchm\n0123456789.-\"'e \r\x00", max_size=60))
def test_any_file_is_read_or_refused(sheet, text, tmp_path_factory):
    file = tmp_path_factory.getbasetemp() / "any.csv"
    file.write_text(f"{HEAD}\n{text}", encoding="utf-8")
    try:
        found = measured.read(file, sheet[0])
    except UsageError:
        return
    assert all(np.isfinite(s.value).all() for s in found)


def test_a_factor_out_of_range_is_refused(small_run):
    for factor in (0.9, 2.0, float("nan")):
        with pytest.raises(UsageError, match=r"allowed: 1 to 1\.5"):
            plan.make(run_directory.reopen(small_run), factor)


def test_nearest_mirrors_a_place_and_back():
    points = np.array([[0.0, 0.0, 0.0], [0.0, 0.5, 1.0], [1.0, 0.5, 1.0]])
    node, at = readings.nearest(points, np.arange(3), (-1.0, -0.6, 1.0), ["x", "y"])
    assert (node, at) == (2, (-1.0, -0.5, 1.0))
    # Without mirrors the place stays where it is: (0, -0.6, 0.4) is nearest to the origin.
    assert readings.nearest(points, np.arange(3), (0.0, -0.6, 0.4), [])[0] == 0


def test_a_sleeved_rod_feels_what_its_thread_feels(sheet):
    """Sleeves give back most of the force: thread and sleeve together carry the ram.

    Joint diagram, VDI 2230-1: working force = what the thread gains + what the seat loses.
    """
    from dataclasses import replace

    _, summary, press = sheet
    record = summary.rods[0]
    working, preload = record.working_force.value, 80e3
    gained = 0.3 * working
    nut = record.largest_force.model_copy(update={"value": preload + gained})
    sleeved = [replace(rod, seat="sleeve", preload=preload) for rod in press.rods]
    stretches = [rod.stretch(gained, working) for rod in sleeved]
    rods = [
        r.model_copy(update={"largest_force": nut,
                             "stretch": r.stretch.model_copy(update={"value": value})})
        for r, value in zip(summary.rods, stretches, strict=True)
    ]  # fmt: skip
    made = readings._of_rods(
        summary.model_copy(update={"rods": rods}), replace(press, rods=tuple(sleeved))
    )
    stretch, gauge = made[:2]
    rod = press.rods[0]
    assert gauge.value * rod.area * rod.material.young == pytest.approx(gained)
    pull = gauge.value * rod.free_length  # one strain all along
    assert stretch.value == pytest.approx(pull)


def test_strain_of_a_quadratic_field_is_exact(small_run, sheet):
    """∂u/∂x of a quadratic is what the fit must give at any node (closed form)."""
    _, _, press = sheet
    grid = meshio.read(small_run / "fields.vtu")
    cells = grid.cells[0].data
    bed = cells[np.concatenate(grid.cell_data["stack"]) == 1]
    places = readings.Places(press.bed, grid.points, bed, ["x", "y"])
    x, y, z = grid.points.T
    moved = np.zeros_like(grid.points)
    moved[:, 0] = 3e-4 * x + 2e-3 * x * z - 5e-3 * x * x + 1e-3 * y * z
    gauge = places.read(moved, 0.0)[2]
    x0, _, z0 = grid.points[places.spots[2].node]
    assert gauge == pytest.approx(3e-4 + 2e-3 * z0 - 1e-2 * x0, rel=1e-9)
