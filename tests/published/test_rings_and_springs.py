"""Rings, flanges and springs against handbooks.

- S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., Table 3, case 1 (a
  ring held at its rim, loaded at its bore; ν = 0.3): σ = k P/h². The values of k, read in a
  secondary copy (Mechanical Engineer's Data Handbook, 10.3), are rounded from slide-rule work.
- W. C. Young, Roark's Formulas for Stress and Strain, 7th ed., Table 11.2, case 1a: K_Mtb of the
  same ring, M = K w a with w the load along its bore (not verified against the standard).
- J. E. Shigley, Mechanical Engineering Design, example 10-1 (not verified): a spring of 0.037 in
  music wire, mean diameter 0.400 in, 10.5 working coils, G = 11.85 Mpsi.
- prEN 1993-1-8 (draft of 6 December 2000), 6.2.2: modes of a T-stub.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.hand import springs
from platestack.fea.hand.rings import TStub, overhang_stress, ring_stress
from platestack.fea.hand.springs import CoilSpring

LBF, INCH, PSI = 4.4482216, 0.0254, 6894.757


@pytest.mark.parametrize(("ratio", "k"), [(1.5, 1.26), (2, 1.48), (3, 1.88), (4, 2.17), (5, 2.34)])
def test_ring_loaded_at_its_bore(ratio, k):
    stress = ring_stress(1e6, 0.02, (0.1, 0.1 * ratio), (0.1, 0.1 * ratio), 0.3)
    assert stress == pytest.approx(k * 1e6 / 0.02**2, rel=0.035)


@pytest.mark.parametrize(("b", "moment"), [(0.1, 0.3374), (0.3, 0.6210), (0.7, 0.8814)])
def test_ring_of_roark(b, moment):
    stress = ring_stress(2 * math.pi * b, 1.0, (b, 1.0), (b, 1.0), 0.3)
    assert stress / 6 == pytest.approx(moment, abs=1e-4)


def test_ring_by_differences():
    """The plate's equation solved by differences, force and reaction inside the ring."""
    b, a, r1, r2, force, t, nu = 0.1, 0.2, 0.12, 0.17, 1e6, 0.05, 0.3
    n = 4000
    r = np.linspace(b, a, n)
    h = r[1] - r[0]
    # D (φ'' + φ'/r − φ/r²) = −Q, Q = F/2πr between the circles; M_r = D (φ' + νφ/r) = 0 at ends.
    matrix, load = np.zeros((n, n)), np.where((r > r1) & (r < r2), -force / (2 * math.pi * r), 0.0)
    i = np.arange(1, n - 1)
    matrix[i, i - 1] = 1 / h**2 - 1 / (2 * h * r[i])
    matrix[i, i] = -2 / h**2 - 1 / r[i] ** 2
    matrix[i, i + 1] = 1 / h**2 + 1 / (2 * h * r[i])
    matrix[0, :3] = np.array([-1.5, 2, -0.5]) / h
    matrix[-1, -3:] = np.array([0.5, -2, 1.5]) / h
    matrix[0, 0] += nu / b
    matrix[-1, -1] += nu / a
    load[0] = load[-1] = 0
    phi = np.linalg.solve(matrix, load)
    moment = phi[0] / b + nu * (-1.5 * phi[0] + 2 * phi[1] - 0.5 * phi[2]) / h
    assert ring_stress(force, t, (b, a), (r1, r2), nu) == pytest.approx(
        6 * abs(moment) / t**2, rel=2e-3
    )


@given(st.floats(1.05, 5), st.floats(0.01, 0.1))
def test_thicker_rings_are_stressed_less(ratio, thickness):
    sizes = (0.1, 0.1 * ratio)
    thin, thick = (ring_stress(1e6, t, sizes, sizes, 0.3) for t in (thickness, 1.1 * thickness))
    assert thick == pytest.approx(thin / 1.21)


def test_overhang_is_a_cantilever():
    # q c²/2 on a strip 1 wide: M = 10 MPa · 40² / 2 = 8,000 N; W = 30²/6 = 150 mm²: 53.3 MPa.
    assert overhang_stress(10e6, 0.030, 0.040) == pytest.approx(53.33e6, rel=1e-4)


def test_t_stub_modes():
    """A pair of bolts of the draft's formulae 6.5 to 6.9 is two of ours."""
    m, edge, length, t, f_y, bolt = 0.04, 0.06, 0.1, 0.02, 235e6, 100e3
    own = TStub(m, edge, length, t, f_y, bolt)
    plastic, n = 0.25 * length * t**2 * f_y, min(edge, 1.25 * m)
    modes = (4 * plastic / m, (2 * plastic + n * 2 * bolt) / (m + n), 2 * bolt)
    assert own.resistance == pytest.approx(min(modes) / 2)
    assert n == pytest.approx(0.05)
    thick = TStub(m, edge, length, 3 * t, f_y, bolt)
    assert thick.resistance == bolt  # mode 3: the bolt alone


@pytest.mark.parametrize("n", [0.3, 0.6, 1.0, 1.25])
def test_leverage_is_below_its_bound(n):
    """A strip built in at the wall, held by a bolt at m and touching at m + n (m = 1)."""
    # Deflection of a cantilever under unit loads at 1 and at 1 + n; bolt and rim do not move.
    end = 1 + n
    own, cross, far = 1 / 3, end / 2 - 1 / 6, end**3 / 3
    # The stack pulls the wall up by δ: the bolt pulls down, the rim pushes up; both stay at −δ.
    bolt, rim = np.linalg.solve([[own, -cross], [cross, -far]], [1.0, 1.0])
    pull = bolt - rim
    assert rim > 0
    stub = TStub(1.0, n, 1.0, 1.0, 1.0, 1.0)
    assert 1 < bolt / pull <= stub.pried + 1e-12


def test_spring_of_shigley():
    spring = CoilSpring(0.037 * INCH, 0.400 * INCH, 10.5, 1.0)
    scale = 11.85e6 * PSI / springs.SHEAR_MODULUS
    assert spring.rate * scale == pytest.approx(4.13 * LBF / INCH, rel=2e-3)
    # 6.46 lbf reach the torsional yield strength, 0.45 · 201 / 0.037^0.145 = 146 kpsi.
    assert spring.stress(6.46 * LBF) == pytest.approx(146e3 * PSI, rel=5e-3)


def test_spring_is_empty_beyond_its_free_length():
    spring = CoilSpring(0.01, 0.08, 8, 0.3)
    assert spring.force(0.31) == 0
    assert spring.force(0.2) == pytest.approx(0.1 * spring.rate)
    assert spring.solid_length == pytest.approx(0.1)


@pytest.mark.parametrize(
    "make",
    [
        lambda: ring_stress(1e6, 0.02, (0.1, 0.2), (0.05, 0.2), 0.3),
        lambda: ring_stress(1e6, 0.0, (0.1, 0.2), (0.1, 0.2), 0.3),
        lambda: ring_stress(1e6, 0.02, (100.0, math.inf), (100.0, 200.0), 0.3),
        lambda: overhang_stress(1e6, 0.02, 0.0),
        lambda: TStub(0.0, 0.06, 0.1, 0.02, 235e6, 1e5),
        lambda: CoilSpring(10.0, 0.08, 8, 0.3),
        lambda: CoilSpring(0.01, 0.08, 8, 0.05),
    ],
)
def test_what_cannot_be_is_refused(make):
    with pytest.raises(ValueError, match="allowed"):
        make()
