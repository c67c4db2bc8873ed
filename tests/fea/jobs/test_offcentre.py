"""Capacity off centre on rigid stacks, where springs and statics say all in closed form."""

from __future__ import annotations

import csv
import json
import math

import numpy as np
import pytest
from typer.testing import CliRunner

from platestack.fea.app.cli.app import app
from platestack.fea.jobs import offcentre
from platestack.fea.jobs.offcentre import GUIDES, OPENING, ROD, TILT, OffCentre
from platestack.fea.jobs.tightening.passes import LOOSE
from platestack.fea.solid.frame import Frame, Unheld
from platestack.fea.solid.frame.press import GRAVITY, assemble
from platestack.fea.solid.frame.stations import Stations
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import UsageError
from platestack.geometry.parts import Press

RIGID = 1e13
SLEEVE = 'seat = "sleeve"\nseat_diameter = "80 mm"\nsleeve_bore = "56 mm"\npreload = "250 kN"\n'


def rigid(press: Press) -> Stations:
    """A stack that only moves as a rigid body, with the stations of `press`."""
    x, y = np.array([rod.at for rod in press.rods]).T
    count = len(x)
    seated = press.rods[0].seat != "none"
    one, none, more = np.ones(count), np.zeros(2 * count), seated * count
    motions = np.array([
        [*one, *none, *one[:more], 1, 0, 0],
        [*x, *(1, 0) * count, *x[:more], 0, 1, 0],
        [*y, *(0, 1) * count, *y[:more], 0, 0, 1],
    ]).T  # fmt: skip
    basis = np.linalg.qr(motions)[0]
    stiffness = RIGID * (np.eye(len(motions)) - basis @ basis.T)
    return Stations(stiffness, np.empty(0), count, seated, np.zeros(len(stiffness)))


@pytest.fixture
def press_with(four_rods):
    def make(rods: str = "") -> tuple[str, Press]:
        text = four_rods(rods=f'count = 4\npitch = ["520 mm", "250 mm"]\n{rods}')
        return text, layout.build(case_file.parse(text, "case.toml"))

    return make


def loaded(press: Press, tilt: float = 5e-4) -> OffCentre:
    return OffCentre(assemble(press, rigid(press), rigid(press)), tilt)


def test_four_rods_without_seats(press_with):
    """F/4 and the couple shared by the rods' tension and, little, their bending."""
    press = press_with()[1]
    rod, force = press.rods[0], press.capacity
    lifted = force - GRAVITY * press.crosshead.mass
    k, bending = rod.stiffness, 210e9 * math.pi / 64 * rod.diameter**4 / rod.free_length
    resist = 4 * k * 0.26**2 + 4 * bending, 4 * k * 0.125**2 + 4 * bending
    e = 0.03, 0.01
    place = loaded(press).at(e)
    tilts = [force * off / stiff for off, stiff in zip(e, resist, strict=True)]
    expected = [lifted / 4 + k * np.dot(tilts, rod.at) for rod in press.rods]
    assert place.forces == pytest.approx(expected, rel=1e-4)
    assert place.tilt == pytest.approx(tilts, rel=1e-4)
    assert place.moment == pytest.approx(force * math.hypot(*e))
    assert place.side == pytest.approx(force * math.hypot(*tilts), rel=1e-4)
    assert place.clamp == ()


def test_largest_offsets_without_seats(press_with):
    """Along x: where the far rods slacken, the near ones are used up, the tilt is reached."""
    press = press_with()[1]
    rod, force = press.rods[0], press.capacity
    lifted = force - GRAVITY * press.crosshead.mass
    k, bending = rod.stiffness, 210e9 * math.pi / 64 * rod.diameter**4 / rod.free_length
    resist = 4 * k * 0.26**2 + 4 * bending
    room = rod.stress_area * rod.material.yield_strength / press.rod_safety_factor
    expected = {
        OPENING: lifted / 4 * resist / (k * 0.26 * force),
        ROD: (room - lifted / 4) * resist / (k * 0.26 * force),
        TILT: 5e-4 * resist / force,
    }
    along = loaded(press).allowed()[0]
    assert along.angle == 0
    for name, offset in expected.items():
        if offset > 0.26:
            assert along.largest[name] == math.inf
        else:
            assert along.largest[name] == pytest.approx(offset, abs=0.26 / 900)
    assert sum(math.isfinite(value) for value in along.largest.values()) >= 2
    apart = (press.cylinder.piston + press.cylinder.gland) / 2
    area = press.cylinder.ram * press.cylinder.gland / 2
    # The couple alone would allow this; the side force takes a little of it.
    assert along.largest[GUIDES] <= press.cylinder.guide_pressure * area * apart / force


def test_sleeves_share_as_springs(press_with):
    """On the axis φ = k_rod / (k_rod + k_sleeve); off it the clamp falls on one side."""
    press = press_with(SLEEVE)[1]
    rod, part = press.rods[0], press.capacity / 4
    k, sleeve = rod.stiffness, 210e9 * rod.sleeve_area / rod.between
    here = loaded(press)
    centre = here.at((0.0, 0.0))
    assert centre.forces == pytest.approx([250e3 + k / (k + sleeve) * part] * 4, rel=1e-3)
    left = 250e3 + GRAVITY * press.crosshead.mass / 4 - sleeve / (k + sleeve) * part
    assert centre.clamp == pytest.approx([left] * 4, rel=5e-3)
    off = here.at((0.05, 0.0))
    assert off.clamp[1] < centre.clamp[1] < off.clamp[0]
    assert sum(off.forces) - sum(off.clamp) == pytest.approx(
        press.capacity - GRAVITY * press.crosshead.mass, rel=1e-8
    )


def test_what_opens_is_named(press_with):
    """Beyond the kern of four rods the far nuts lift off; the others then hold it by bending."""
    press = press_with()[1]
    here = loaded(press)
    assert here.at((0.0, 0.0)).opened == ()
    assert here.at((0.27, 0.0)).opened == ("nut of rod 1", "nut of rod 3")
    sleeved = loaded(press_with(SLEEVE)[1])
    assert sleeved.at((0.0, 0.0)).opened == ()
    assert "seat of rod 4" in sleeved.at((0.4, 0.2)).opened


def test_one_rod_left_loose(press_with):
    """Three rods hold what lies in their triangle, by statics; the loose one is named."""
    press = press_with()[1]
    here = loaded(press)
    here.advance[0] = LOOSE
    inside = here.at((0.02, 0.02))
    assert inside.opened[0] == "nut of rod 1"
    assert inside.forces[0] == 0.0
    lifted = press.capacity - GRAVITY * press.crosshead.mass
    assert sum(inside.forces) == pytest.approx(lifted, rel=1e-6)


def test_one_of_two_rods_left_loose_holds_nothing():
    """A crosshead on one rod tips; the message says what is missing."""
    frame = Frame(np.zeros((2, 2)), np.array([[1.0, -0.4], [1.0, 0.4]]), np.array([1e8, 1e8]))
    with pytest.raises(Unheld, match="neither rods nor seats hold"):
        frame.solve(np.zeros(2), np.array([1e5, 0.0]), without=[0])


def test_command(press_with, tmp_path, monkeypatch):
    text, press = press_with(SLEEVE)
    case, out = tmp_path / "case.toml", tmp_path / "out"
    case.write_text(text, encoding="utf-8")
    frame = assemble(press, rigid(press), rigid(press))
    monkeypatch.setattr(offcentre.capacity, "tightened_and_pressed", lambda *_: (frame, frame))
    options = ["offcentre", str(case), "--out", str(out), "--at", "20 mm, -5 mm"]
    for _ in range(2):
        result = CliRunner().invoke(app, options)
        assert result.exit_code == 1, result.exception  # done, and the guides are overloaded
        assert "exceeded At 20, -5 mm: pressure on the ram guides" in " ".join(
            result.output.split()
        )
    kept = json.loads((out / "off_centre.json").read_text(encoding="utf-8"))
    assert [place["offset"] for place in kept["places"]] == [[0.0, 0.0], [0.02, -0.005]]
    rows = list(csv.reader((out / "off_centre.csv").read_text(encoding="utf-8").splitlines()[1:]))
    assert len(rows) == 1 + len(kept["allowed"])
    assert (out / "off_centre.png").stat().st_size > 10_000
    assert "ram guides" in result.output


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--at", "20"], "--at"),
        (["--at", "20 mm"], "--at"),
        (["--at", "20 mm, x"], "--at"),
        (["--at", "900 mm, 0 mm"], "tips"),
        (["--tilt", "3"], "--tilt"),
    ],
)
def test_bad_input(press_with, tmp_path, monkeypatch, options, words):
    text, press = press_with()
    case, out = tmp_path / "case.toml", tmp_path / "out"
    case.write_text(text, encoding="utf-8")
    frame = assemble(press, rigid(press), rigid(press))
    monkeypatch.setattr(offcentre.capacity, "tightened_and_pressed", lambda *_: (frame, frame))
    result = CliRunner().invoke(app, ["offcentre", str(case), "--out", str(out), *options])
    assert isinstance(result.exception, UsageError)
    assert words in str(result.exception)
    assert not out.exists()
