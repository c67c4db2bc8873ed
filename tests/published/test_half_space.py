"""Settlement of a half-space against Boussinesq's point load added up, and published values.

Sources: S. P. Timoshenko, J. N. Goodier, Theory of Elasticity, 3rd ed., articles 138 and 139
(values at centre and edge of a disc, at the centre of a square); K. L. Johnson, Contact Mechanics,
eq. 3.29 (outside a disc). Not verified against the books' print. What has no printed value is the
point load's field, integrated numerically over the area.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe, ellipk

from platestack.fea.hand import halfspace
from platestack.geometry.parts import Patch

E, NU, P = 210e9, 0.3, 40e6
SURFACE = (1 - NU**2) / E
POINTS, WEIGHTS = np.polynomial.legendre.leggauss(60)


def below(inner: float, outer: float, depth: float) -> float:
    """Rings of point loads, u = P (1 + ν)/(2πE) (2 (1 − ν)/R + z²/R³), below their centre."""
    r = (outer + inner) / 2 + (outer - inner) / 2 * POINTS
    far = np.hypot(r, depth)
    each = (1 + NU) / (2 * np.pi * E) * (2 * (1 - NU) / far + depth**2 / far**3)
    return float(P * np.sum(WEIGHTS * (outer - inner) / 2 * 2 * np.pi * r * each))


def settled(radius: float, r: np.ndarray) -> np.ndarray:
    """The surface at distance r from the centre of a disc under P, inside and outside of it."""
    r = np.asarray(r, dtype=float)
    k = np.minimum(r / radius, 1.0) ** 2
    m = np.minimum(radius / np.maximum(r, 1e-12), 1.0) ** 2
    outside = r * (ellipe(m) - (1 - m) * ellipk(np.minimum(m, 1 - 1e-15)))
    return 4 * SURFACE * P / np.pi * np.where(r <= radius, radius * ellipe(k), outside)


def annulus(inner: float, outer: float) -> tuple[Patch, float]:
    """A patch and its force under P."""
    patch = Patch("disc", (0.0, 0.0), 2 * outer, 2 * outer, inner=2 * inner)
    return patch, P * math.pi * (outer**2 - inner**2)


radii = st.tuples(st.floats(0.05, 0.9), st.floats(0.02, 0.5)).map(lambda s: (s[0] * s[1], s[1]))


def test_centre_and_edge_of_a_disc():
    patch, force = annulus(0.0, 0.1)
    assert halfspace.below_patch(force, patch, 0.0, E, NU) == pytest.approx(2 * SURFACE * P * 0.1)
    edge = halfspace.at_inner_edge(force, patch, E, NU)
    assert edge == pytest.approx(4 * SURFACE * P * 0.1 / math.pi, rel=1e-6)
    mean = halfspace.mean(force, patch, E, NU)
    assert mean == pytest.approx(0.54 * P * math.pi * 0.1**2 * SURFACE / 0.1, rel=2e-3)
    half = halfspace.within_disc(P, 0.1, 0.05, E, NU)
    assert half == pytest.approx(float(settled(0.1, np.array(0.05))), rel=1e-6)


def test_centre_of_a_square_and_of_a_strip():
    """2.24 (1 − ν²) q a / E for sides of 2 a; a rectangle as point loads over one quadrant."""
    square = Patch("rectangle", (0.0, 0.0), 0.2, 0.2)
    found = halfspace.below_patch(P * 0.04, square, 0.0, E, NU)
    assert found == pytest.approx(2.24 * SURFACE * P * 0.1, rel=5e-3)
    length, width = 0.3, 0.1
    angle = math.atan2(width, length)
    total = 0.0  # ∫∫ dA / R = ∫ reach dθ over both triangles of a quadrant, four of them
    for low, high, side in ((0, angle, length), (0, math.pi / 2 - angle, width)):
        theta = (low + high) / 2 + (high - low) / 2 * POINTS
        total += 4 * float(np.sum(WEIGHTS * (high - low) / 2 * side / 2 / np.cos(theta)))
    found = halfspace.below_patch(
        P * length * width, Patch("rectangle", (0.0, 0.0), length, width), 0.0, E, NU
    )
    assert found == pytest.approx(P * SURFACE / math.pi * total, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(radii, st.floats(0.02, 1.0))
def test_below_an_annulus(sizes, depth):
    patch, force = annulus(*sizes)
    expected = below(*sizes, depth)
    assert halfspace.below_patch(force, patch, depth, E, NU) == pytest.approx(expected, rel=1e-6)
    side = Patch("rectangle", (0.0, 0.0), sizes[1], 2 * sizes[1])
    alike = below(0.0, math.sqrt(2 / math.pi) * sizes[1], depth)
    found = halfspace.below_patch(P * 2 * sizes[1] ** 2, side, depth, E, NU)
    assert found == pytest.approx(alike, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(radii)
def test_surface_of_an_annulus(sizes):
    """At its inner edge, and on the average over it: the outer disc less the inner."""
    inner, outer = sizes
    patch, force = annulus(inner, outer)
    edge = settled(outer, np.array(inner)) - settled(inner, np.array(inner))
    assert halfspace.at_inner_edge(force, patch, E, NU) == pytest.approx(float(edge), rel=1e-4)
    parts = np.linspace(0, 1, 40) ** 2
    parts = inner + (outer - inner) * np.concatenate([parts / 2, 1 - parts[::-1][1:] / 2])
    total = 0.0
    for low, high in pairwise(parts):
        r = (low + high) / 2 + (high - low) / 2 * POINTS
        moved = settled(outer, r) - settled(inner, r)
        total += float(np.sum(WEIGHTS * (high - low) / 2 * 2 * np.pi * r * moved))
    mean = total / (math.pi * (outer**2 - inner**2))
    assert halfspace.mean(force, patch, E, NU) == pytest.approx(mean, rel=1e-4)


def test_square_as_its_disc_at_the_edge():
    radius = 0.1
    side = math.sqrt(math.pi) * radius
    square = Patch("rectangle", (0.0, 0.0), side, side)
    found = halfspace.at_inner_edge(P * side**2, square, E, NU)
    assert found == pytest.approx(4 * SURFACE * P * radius / math.pi, rel=1e-6)
