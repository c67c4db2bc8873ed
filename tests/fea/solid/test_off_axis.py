"""A workpiece beside the press axis: one line of force through both stacks, and one set of rods."""

from __future__ import annotations

import numpy as np
import pytest

from platestack.fea.jobs.offcentre import TILT, OffCentre, work_out
from platestack.fea.solid import loads, stack
from platestack.fea.solid.frame.press import of_case
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes
from platestack.geometry.mesher import make
from platestack.geometry.symmetry import symmetry_of

OFFSET = (0.04, 0.02)
WORK = '[workpiece]\ndiameter = "90 mm"\noffset = ["40 mm", "20 mm"]\n'
COARSE = Sizes(0.09, round_divisions=10, ring_divisions=1, patch_divisions=5)


@pytest.fixture(scope="module")
def case(four_rods):
    return case_file.parse(four_rods(more=WORK), "off.toml")


def test_ram_pushes_in_line_with_the_workpiece(case):
    """Force and moments of the pressure on both patches: F at the offset, in both stacks."""
    press = layout.build(case)
    for one in press.stacks:
        assert symmetry_of(one, press.rods) == frozenset()
        mesh = make(one, press.rods, frozenset(), COARSE)
        force = loads.patch_load(mesh, one, 1e6).reshape(-1, 3)[:, 2]
        assert force.sum() == pytest.approx(one.direction * 1e6, rel=1e-12)
        for axis in (0, 1):
            place = force @ mesh.nodes[:, axis] / force.sum()
            assert place == pytest.approx(OFFSET[axis], abs=2e-5)  # as exact as the meshed circle
    assert press.crosshead.patch.centre == (0.0, 0.0)


@pytest.mark.slow
@pytest.mark.parametrize("seat", ["", 'seat = "sleeve"\npreload = "250 kN"'])
def test_rods_of_the_stacks_are_those_of_the_frame(four_rods, solve_coarse, seat, monkeypatch):
    """Each stack alone on half of every rod, against both on whole rods.

    Three of four rod forces are given by statics. Only the fourth, which twists the stacks, tells
    one from the other: it is shared by both in the frame, and by stack and ground in a stack alone.
    """
    rods = f'count = 4\npitch = ["520 mm", "250 mm"]\n{seat}'
    case = case_file.parse(four_rods(more=WORK, rods=rods), "off.toml")
    press = layout.build(case)
    solved = solve_coarse(case)
    monkeypatch.setattr(stack, "default_sizes", lambda *_: COARSE)
    place = OffCentre(of_case(press, case, lambda step: None, "capacity"), 1.0).at(OFFSET)
    away = []
    for number, rod in enumerate(press.rods):
        alone = [solved[one.name].rods[rod.name].nut for one in press.stacks]
        away += [force / place.forces[number] - 1 for force in alone]
    print(f"rods alone against the frame: {min(away):+.3%} to {max(away):+.3%}")
    assert np.abs(away).max() < 0.02
    spread = np.ptp(place.forces) / np.mean(place.forces)
    assert spread > 0.05  # of which the difference is but a small part


@pytest.mark.slow
def test_offsets_of_a_symmetric_press_are_symmetric(four_rods, tmp_path, monkeypatch):
    """Wherever the workpiece of the case stands: pressed on its axis the press does not tilt."""
    monkeypatch.setattr(stack, "default_sizes", lambda *_: COARSE)
    path = tmp_path / "off.toml"
    path.write_text(four_rods(more=WORK), encoding="utf-8")
    found = work_out(path, tmp_path / "out", lambda step: None, offset=None, tilt_limit=5e-4)
    axis, beside = found.places
    assert beside.offset == OFFSET
    assert np.abs(axis.tilt).max() < 0.01 * np.abs(beside.tilt).max()
    largest = np.array([one.largest[TILT] for one in found.allowed]).reshape(2, -1)
    assert largest[0] == pytest.approx(largest[1], rel=0.02)
