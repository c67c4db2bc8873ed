"""Limit loads by hand: plastic moments of sections and the forces of beams.

Baker, Horne and Heyman, The Steel Skeleton II (1956), and any text on plastic design (closed
forms); Hill, The Mathematical Theory of Plasticity (1950): thick cylinder, 0.8004 σ_y for b/a = 2.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from platestack.fea.hand.cylinder import ThickCylinder
from platestack.fea.hand.plastic import collapse_force, plastic_moment
from platestack.geometry.parts import Material, Plate
from platestack.geometry.shapes import Outline, RoundHole

STEEL = Material("S355J2", 210e9, 0.3, 7850.0, 355e6, 470e6, "test")
X = np.array([0.1])


def stack_of(thicknesses, width=0.3, yields=None, holes=()):
    found, base = [], 0.0
    for i, t in enumerate(thicknesses):
        steel = replace(STEEL, yield_strength=(yields or [355e6] * len(thicknesses))[i])
        found.append(Plate(str(i), "plate", Outline(2.0, width), t, base, steel, holes=holes))
        base += t
    return tuple(found)


def test_thick_cylinder_of_hill():
    assert ThickCylinder(0.1, 0.2).collapse(1.0) == pytest.approx(0.8004, rel=1e-4)


def test_rectangle_and_loose_leaves():
    """σ_y b h²/4; n loose leaves bear 1/n of the solid."""
    solid = plastic_moment(stack_of([0.24]), X, welded=True)
    assert solid == pytest.approx(355e6 * 0.3 * 0.24**2 / 4)
    leaves = stack_of([0.08] * 3)
    assert plastic_moment(leaves, X, welded=True) == pytest.approx(solid)
    assert plastic_moment(leaves, X, welded=False) == pytest.approx(solid / 3)


def test_two_steels_about_the_height_that_halves_the_force():
    """100 mm of 200 MPa on 100 mm of 400: z_0 = 75 mm; 400·(75² + 25²)/2 + 200·(125² − 25²)/2."""
    parts = stack_of([0.1, 0.1], width=1.0, yields=[400e6, 200e6])
    expected = (400e6 * (75**2 + 25**2) + 200e6 * (125**2 - 25**2)) / 2 * 1e-6
    assert plastic_moment(parts, X, welded=True) == pytest.approx(expected)


def test_a_hole_takes_its_width():
    parts = stack_of([0.1], holes=(RoundHole((0.1, 0.0), 0.1),))
    assert plastic_moment(parts, X, welded=True) == pytest.approx(355e6 * 0.2 * 0.1**2 / 4)


def test_beam_on_two_rods(small_press):
    # F/2 (l/2 − 4r/3π) = M_p, two plates of 50 mm as one, a disc of 80 mm; half where they slide.
    bed, rods = small_press.bed, small_press.rods
    lever = (0.350 / 2 - 4 * 0.040 / (3 * np.pi)) / 2
    welded = collapse_force(bed, rods, 1e5)
    assert welded == pytest.approx(335e6 * 0.18 * 0.1**2 / 4 / lever, rel=0.01)
    loose = collapse_force(replace(bed, interface="loose"), rods, 1e5)
    assert loose == pytest.approx(welded / 2, rel=1e-6)
    assert collapse_force(bed, rods, 3e5) == pytest.approx(welded)
