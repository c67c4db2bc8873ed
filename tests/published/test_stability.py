"""Buckling, the seam of a cylinder's bottom, a lost rod: against closed forms of textbooks.

Sources: Timoshenko and Gere, Theory of Elastic Stability, 2nd ed.; Timoshenko and Woinowsky-Krieger,
Theory of Plates and Shells, 2nd ed. (not verified: quoted from memory, and derived in each test).
"""  # noqa: E501

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import jv

from platestack.fea.hand import lost, stability
from platestack.fea.hand.cylinder import junction_moment
from platestack.geometry import tables

E, NU = 210e9, 0.3
CORNERS = ((-0.4, -0.2), (0.4, -0.2), (-0.4, 0.2), (0.4, 0.2))


def test_strip_under_a_load_at_its_middle():
    """C φ'' + P² x²/(4B) φ = 0, φ(0) = φ'(l/2) = 0: 16 times the first zero of J_(−3/4), 1.0585."""
    root = brentq(lambda z: jv(-0.75, z), 0.5, 2.0)
    height, t, span, shear = 0.4, 0.05, 0.9, E / 2.6
    bending, twist = E * height * t**3 / 12, shear * height * t**3 / 3
    exact = 16 * root * math.sqrt(bending * twist) / span**2
    assert stability.tipping_load(E, shear, height, t, span, 0) == pytest.approx(exact, rel=1e-3)
    assert stability.tipping_load(E, shear, height, t, span, 0.2) < exact
    assert stability.tipping_load(E, shear, height, t, span, 5.0) == 0


def test_column_on_both_sides_of_the_transition():
    """Euler's load of a bar with hinged ends; half of yield where Johnson's parabola meets it."""
    assert stability.critical_stress(200, E, 355e6) == pytest.approx(math.pi**2 * E / 4e4)
    meet = math.sqrt(2 * math.pi**2 * E / 355e6)
    for near in (0.999999, 1.000001):
        assert stability.critical_stress(near * meet, E, 355e6) == pytest.approx(177.5e6, rel=1e-4)
    assert stability.critical_stress(1e-6, E, 355e6) == pytest.approx(355e6)


def test_wrinkling_of_a_panel_twice_as_long_as_high():
    """k_F = 4 where a = 2 h, type b of EN 1993-1-5, Figure 6.1 (not verified)."""
    for wide, factor in ((0.8, 4.0), (0.4, 5.5)):
        load = stability.wrinkling_load(E, 0.4, 0.05, wide)
        assert load == pytest.approx(0.9 * factor * E * 0.05**3 / 0.4)


def test_wrinkling_is_that_of_a_plate():
    """K π²E/(12(1−ν²)) t³/h with k = 3.5 for a long plate; the standard rounds to 0.9."""
    exact = 3.5 * math.pi**2 * E / (12 * (1 - NU**2)) * 0.05**3 / 0.4
    assert stability.wrinkling_load(E, 0.4, 0.05, 1e3) == pytest.approx(exact, rel=5e-3)


def test_seam_of_a_bottom_at_both_ends():
    """A stiff bottom: p/(2β²) of a clamped shell; a stiff wall: p a²/8 of a clamped plate."""
    p, a, w = 20e6, 0.2, 0.02
    beta = (3 * (1 - NU**2)) ** 0.25 / math.sqrt(a * w)
    assert junction_moment(p, a, w, 10.0, NU) == pytest.approx(p / (2 * beta**2), rel=1e-3)
    assert junction_moment(p, a, 10.0, 0.02, NU) == pytest.approx(p * a**2 / 8, rel=1e-3)


def test_three_of_four_rods_balance_on_the_diagonal():
    """Moments about the diagonal: its two rods bear half each, the one across nothing."""
    parts, plane = lost.shares(CORNERS[1:], [1e9] * 3, (0.0, 0.0))
    assert parts == pytest.approx([0.5, 0.5, 0.0], abs=1e-9)
    # Diagonal rods stretch by F/2k, the last by nothing: where the lost rod was, by F/k.
    assert plane @ (1.0, *CORNERS[0]) == pytest.approx(1e-9, rel=1e-6)


def test_a_rod_that_would_have_to_push_goes_slack_and_the_press_falls():
    assert lost.shares(CORNERS[1:], [1e9] * 3, (-0.1, -0.05)) is None  # beyond the diagonal
    assert lost.shares([(0.5, 0.0)], [1e9], (0.0, 0.0)) is None
    assert lost.shares([(0.5, 0.0)], [1e9], (0.5, 0.0)) is not None


def test_five_of_six_rods_by_least_squares_of_stretch():
    """Stiffness method on a rigid plate: equal rods share as 1/n + lever arms over inertia."""
    left = [(-0.8, -0.4), (0.0, -0.4), (0.8, -0.4), (-0.8, 0.4), (0.8, 0.4)]
    parts, _ = lost.shares(left, [2e9] * 5, (0.0, 0.0))
    xy = np.array(left)
    off = xy - xy.mean(axis=0)
    inertia = (off**2).sum(axis=0)
    expected = 0.2 + (off * -xy.mean(axis=0) / inertia).sum(axis=1)
    assert parts == pytest.approx(expected)


@given(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05), st.lists(st.floats(1e8, 1e10), min_size=4,
                                                               max_size=4))  # fmt: skip
def test_forces_and_moments_balance(x, y, stiffness):
    parts, _ = lost.shares(CORNERS, stiffness, (x, y))
    assert parts.min() >= 0
    assert parts.sum() == pytest.approx(1)
    assert parts @ np.array(CORNERS) == pytest.approx([x, y], abs=1e-9)


def test_lamellar_quality():
    """EN 1993-1-10 Table 3.2, not verified: 7 mm on 50 mm asks 3 + 5 + 10 + 3, Z25; warm Z15."""
    terms = tables.lamellar_terms(0.007, 0.050)
    assert terms == (3, 5, 10, 3)
    quality, preheat = tables.lamellar_quality(sum(terms))
    assert quality == "Z25"
    assert tables.lamellar_quality(sum(terms) + preheat)[0] == "Z15"
    assert tables.lamellar_quality(10)[0] == "no Z quality"
