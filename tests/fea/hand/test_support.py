"""Seats that press edge by edge: a ring under a force off its middle, against closed forms.

Kern of an annulus (D² + d²) / 8D: a linear pressure p = p₀ (1 + x/a) is nothing at the rim where
its force is at e = I / (A R), with I/A = (R² + r²)/4 (Roark's Formulas for Stress and Strain,
properties of sections; not verified). Beyond it: pressure k max(0, δ − θ x) over the annulus.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from platestack.fea.hand import joint
from platestack.fea.hand.support import STRUTS, Support
from platestack.geometry import case as case_file
from platestack.geometry import layout

RODS = 'count = 4\npitch = ["520 mm", "250 mm"]\nseat = "{}"\npreload = "200 kN"'
KINDS = ["sleeve", "shoulder", "inner nuts"]


@pytest.fixture
def rod_with(four_rods):
    def make(seat: str):
        return layout.build(case_file.parse(four_rods(rods=RODS.format(seat)))).rods[0]

    return make


def annulus(rod, lift: float, tilt: float) -> tuple[float, float]:
    """Force (N) and moment (N m) of a ring whose stiffness is spread over it, by fine sums."""
    stiffness = 2 * rod.material.young * rod.sleeve_area / rod.between
    inner, outer = rod.sleeve_inner / 2, rod.seat_outer / 2
    r = np.sqrt(np.linspace(inner**2, outer**2, 401)[:, None])
    x = (r[1:] + r[:-1]) / 2 * np.cos(np.linspace(0, 2 * math.pi, 721)[:-1])
    pressed = stiffness * np.maximum(0.0, -lift - tilt * x) / x.size
    return float(pressed.sum()), float((pressed * -x).sum())


def borne(rod, lift: float, tilt: float) -> tuple[float, float, int]:
    """The same of a support's struts, and how many of them press."""
    support = Support.of(replace(rod, preload=0.0), 0.2)
    moved = np.array([0.0, tilt, 0.0, lift])
    at_work = support.at_work(moved, support.pressed)
    forces = np.where(at_work & (support.ring > 0), support.forces(moved, at_work), 0.0)
    return (
        float(forces.sum()),
        float(forces @ support.rows[:, 1]),
        int(at_work[support.ring > 0].sum()),
    )


@pytest.mark.parametrize("tilt", [0.0, 2e-4, 1e-3, 3e-3])
def test_a_tilted_sleeve_presses_as_an_annulus(rod_with, tilt):
    """Compressed by 0.05 mm in the middle; at the steepest tilt half of it is open."""
    rod = rod_with("sleeve")
    force, moment, pressing = borne(rod, -5e-5, tilt)
    assert (pressing < STRUTS) == (tilt * rod.seat_outer / 2 > 5e-5)
    assert (force, moment) == pytest.approx(annulus(rod, -5e-5, tilt), rel=0.06, abs=1.0)


def test_an_edge_still_presses_where_the_middle_has_lifted(rod_with):
    rod = rod_with("sleeve")
    lift, tilt = 2e-5, 2e-3
    force, moment, pressing = borne(rod, lift, tilt)
    assert 0 < pressing < STRUTS / 2
    whole = annulus(rod, lift, tilt)
    assert (force, moment) == pytest.approx(whole, rel=0.12)
    assert moment > 0  # at the side to which it tilts down
    assert borne(rod, 1.01 * tilt * rod.seat_outer / 2, tilt)[2] == 0


def test_a_ring_opens_where_its_force_leaves_the_kern(rod_with):
    rod = rod_with("sleeve")
    wide, bore = rod.seat_outer, rod.sleeve_inner
    kern = (wide**2 + bore**2) / (8 * wide)
    for part, pressing in ((0.99, STRUTS), (1.01, STRUTS - 1)):
        tilt = part * 5e-5 / (wide / 2)
        force, moment, found = borne(rod, -5e-5, tilt)
        assert found == pressing
        if part < 1:
            assert abs(moment) / force == pytest.approx(part * kern, rel=1e-6)


@pytest.mark.parametrize("seat", KINDS)
def test_a_support_is_the_slope_of_its_energy(rod_with, seat):
    """Its own point freed: symmetric, and the forces of a step along the slope's end there."""
    support = Support.of(rod_with(seat), 0.2)
    moved = np.array([3e-5, 2e-2, -1e-2, 8e-5])
    at_work = support.at_work(moved, support.pressed)
    assert 0 < at_work[support.ring > 0].sum() < STRUTS
    stiffness, rest = support.condensed(at_work)
    assert stiffness == pytest.approx(stiffness.T, rel=1e-9, abs=1.0)
    assert np.linalg.eigvalsh(stiffness).min() > -1e-6 * stiffness.max()
    forces = np.where(at_work, support.forces(moved, at_work), 0.0)
    assert rest + stiffness @ moved == pytest.approx(support.rows[:, :4].T @ forces, rel=1e-6)
    assert support.rows[:, 4:].T @ forces == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("seat", KINDS)
def test_tightening_on_a_tilted_stack_leaves_the_preload_on_one_edge(rod_with, seat):
    """Nut and ring bear the preload, however steep the stack stands under the seat."""
    support = Support.of(rod_with(seat), 0.2)
    for tilt in (1e-4, 6e-2):
        slope = np.array([tilt, 0.0])
        at_rest = support.tightened(slope, support.pressed)
        moved = np.array([0.0, tilt, 0.0, 0.0])
        at_work = at_rest.at_work(moved, at_rest.pressed)
        stiffness, rest = at_rest.condensed(at_work)
        assert (rest + stiffness @ moved)[[0, 3]] == pytest.approx([200e3, -200e3], rel=1e-6)
        asked, moment = support.squeezed(at_work)
        assert (rest + stiffness @ moved)[1:3] == pytest.approx(moment + asked @ slope, abs=1e-3)
    assert at_work[support.ring > 0].sum() < STRUTS


@pytest.mark.parametrize("seat", KINDS)
@pytest.mark.parametrize("tilt", [0.0, 2e-3])
def test_between_rigid_tilted_stacks_nut_less_seat_is_the_working_force(rod_with, seat, tilt):
    """Whole while little is pressed; a seat that has lifted in the middle presses at an edge."""
    rod = rod_with(seat)
    whole = np.ones(STRUTS + (3 if seat == "sleeve" else 6), dtype=bool)
    matrix = Support.of(rod, (rod.free_length - rod.between) / 2).condensed(whole)[0]
    through = matrix[0, [0, 3]].sum() / matrix[np.ix_([0, 3], [0, 3])].sum()
    opens = 200e3 / (1 - through)
    for working in (0.3 * opens, 0.6 * opens, 1.01 * opens):
        nut, left = joint.tilted(rod, working, tilt)
        assert nut - left == pytest.approx(working, rel=1e-9)
        if tilt == 0.0:
            expected = max(200e3 + through * working, working)
            assert nut == pytest.approx(expected, rel=1e-9)
    assert left == pytest.approx(0.0, abs=1e-3) if tilt == 0.0 else left > 100.0
