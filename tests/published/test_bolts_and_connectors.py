"""Bolts and shear connectors by hand, against published values.

VDI 2230-1:2015: preload of M12 8.8 at μ = 0.14, 41.9 kN (table as reproduced by a supplier), 93 N m
(not verified); torque, resilience and cone of larger sizes evaluated by hand from its formulae, the
cone also by integration. Steel Building Design: Design Data (SCI P363, not verified): weld strength
of S275 223 and S355 241 N/mm², shear of M20 8.8 94.1 kN, slip resistance of preloaded M20 8.8 at
μ = 0.5, 54.9 kN. EN 1995-1-1 Annex B: γ1 = 1/(1 + π² E A s/(K l²)). Newmark's beam of three leaves
in three-point bending by an energy form, five figures.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.hand import bolts, connectors
from platestack.fea.hand.connectors import Layer
from platestack.geometry import tables

MM, KN, MPA = 1e-3, 1e3, 1e6
STEEL = 210e9


def test_m12_of_vdi_2230():
    thread = tables.thread("M12")
    force = bolts.assembly_preload(thread, 640 * MPA, 0.14)
    assert force == pytest.approx(41.9 * KN, rel=3e-3)
    assert bolts.class_preload("M12", "8.8", 0.14) == force
    # Head of ISO 4762: face 17.23 mm (d_k 18), hole 13.5 mm (ISO 273 medium).
    assert bolts.torque(thread, force, 0.14, 17.23 * MM, 13.5 * MM) == pytest.approx(93, rel=0.01)


def test_torque_of_m64():
    # 1 MN, μ = 0.12, D_Km = (88.2 + 69.1)/2: 9.8380 kN m; VDI's rounded form gives 9.8622.
    found = bolts.torque(tables.thread("M64"), 1e6, 0.12, 88.2 * MM, 69.1 * MM)
    assert found == pytest.approx(9838.0, rel=1e-4)


def test_resilience_of_a_tie_rod():
    # M80x6, 1500 mm: 1.57358e-6 mm/N.
    found = bolts.bolt_resilience(tables.thread("M80x6"), 1.5, STEEL)
    assert found == pytest.approx(1.57358e-9, rel=1e-5)


def test_cones_of_pressure():
    # dw = 107.2, dh = 86, l = 240 mm: 0.090301e-6 mm/N; Φ with the rod above 0.05427.
    found = bolts.plate_resilience(107.2 * MM, 86 * MM, 0.24, STEEL)
    assert found == pytest.approx(0.090301e-9, rel=1e-5)
    rod = bolts.bolt_resilience(tables.thread("M80x6"), 1.5, STEEL)
    assert bolts.load_factor(rod, found) == pytest.approx(0.05427, rel=1e-3)
    z = (np.arange(20000) + 0.5) / 20000 * 0.12
    area = math.pi / 4 * ((0.1072 + 2 * z * math.tan(math.pi / 6)) ** 2 - 0.086**2)
    assert found == pytest.approx(2 * 0.12 * np.mean(1 / area) / STEEL, rel=1e-5)


def test_slip_resistance_of_m20():
    proof = 0.7 * 800 * MPA * 245e-6
    assert bolts.slip_resistance(proof, 0.5, 1.0) == pytest.approx(54.9 * KN, rel=1e-3)


def test_endurance_of_a_thread():
    # VDI 2230 (5.5): M8 54.2 MPa, M20 44.6 MPa, evaluated by hand.
    assert bolts.endurance_amplitude(8 * MM) == pytest.approx(54.1875 * MPA)
    assert bolts.endurance_amplitude(20 * MM) == pytest.approx(44.625 * MPA)


def test_mass_of_m24():
    # DIN 931 M24x100 0.494 kg with its head, nut 0.110 kg: trade tables, not verified. It clamps
    # 100 mm less nut and pitch.
    thread = tables.thread("M24")
    found = bolts.mass(thread, (100 - 21.5 - 3) * MM, 36 * MM, 21.5 * MM, 7850)
    assert found == pytest.approx(0.494 + 0.110, rel=0.02)


@given(st.floats(1e8, 1.2e9), st.floats(0.04, 0.4), st.sampled_from(["M12", "M24", "M64"]))
def test_more_friction_never_gives_more_preload(strength, friction, name):
    thread = tables.thread(name)
    force = bolts.assembly_preload(thread, strength, friction)
    assert 0 < force < 0.9 * strength * thread.stress_area
    assert bolts.assembly_preload(thread, strength, 1.1 * friction) < force
    assert bolts.assembly_preload(thread, 1.1 * strength, friction) == pytest.approx(1.1 * force)
    more = bolts.torque(thread, force, 1.1 * friction, 2 * thread.d, 1.1 * thread.d)
    assert more > bolts.torque(thread, force, friction, 2 * thread.d, 1.1 * thread.d) > 0


def gamma_method(a: Layer, b: Layer, slip: float, span: float) -> float:
    """EN 1995-1-1 Annex B for two parts, γ2 = 1."""
    gamma = 1 / (1 + math.pi**2 * a.axial / (slip * span**2))
    arm = (a.thickness + b.thickness) / 2
    a2 = gamma * a.axial * arm / (gamma * a.axial + b.axial)
    return a.bending + b.bending + gamma * a.axial * (arm - a2) ** 2 + b.axial * a2**2


def test_two_leaves_by_the_gamma_method():
    # K/s = 500 N/mm³ × 300 mm: (EI)ef = 1.92102e13 N mm².
    leaf = Layer(0.08, 0.3, STEEL)
    found, _ = connectors.effective_stiffness([leaf, leaf], [500e9 * 0.3], 1.0)
    assert found == pytest.approx(1.92102e7, rel=1e-5)
    assert found == pytest.approx(gamma_method(leaf, leaf, 500e9 * 0.3, 1.0))


sizes = st.floats(0.01, 0.3)


@given(sizes, sizes, st.floats(0.2, 1), st.floats(0.2, 1), st.floats(1e7, 1e14), st.floats(0.3, 5))
def test_any_two_layers_by_the_gamma_method(t1, t2, b1, e2, slip, span):
    a, b = Layer(t1, b1, STEEL), Layer(t2, 0.4, e2 * STEEL)
    found, _ = connectors.effective_stiffness([a, b], [slip], span)
    assert found == pytest.approx(gamma_method(a, b, slip, span), rel=1e-9)


# Slip modulus (N/mm³), deflection (mm) of three 80 mm leaves, 1 MN on 1 m, 300 mm wide.
NEWMARK = [(0, 2.58350), (50, 0.92276), (500, 0.37736), (5000, 0.29695), (1e7, 0.28706)]


@pytest.mark.parametrize(("modulus", "deflection"), NEWMARK)
def test_three_leaves_in_three_point_bending(modulus, deflection):
    slip = [modulus * 1e9 * 0.3] * 2
    found, _ = connectors.point_load([Layer(0.08, 0.3, STEEL)] * 3, slip, 1.0, 1e6)
    assert found == pytest.approx(deflection * MM, rel=2e-5)


@given(st.integers(2, 6), sizes, sizes, st.floats(0.5, 4))
def test_loose_and_welded_leaves(n, t, width, span):
    layers = [Layer(t, width, STEEL)] * n
    own = STEEL * width * t**3 / 12
    loose, _ = connectors.effective_stiffness(layers, [0.0] * (n - 1), span)
    one, flows = connectors.effective_stiffness(layers, [math.inf] * (n - 1), span)
    assert loose == pytest.approx(n * own)
    assert one == pytest.approx(n**3 * own)
    # Jourawski at the lowest interface: q = V S / I, amplitude of V = EI β³.
    beta = math.pi / span
    moment = width * t * (n * t - t) / 2
    assert flows[0] == pytest.approx(one * beta**3 * moment / (width * (n * t) ** 3 / 12))


@pytest.mark.parametrize("n", [2, 5])
def test_force_across_welded_interfaces(n):
    # M S / I at mid-span, M = F L / 4; the series ends 5e-4 short.
    layers, inertia = [Layer(0.05, 0.3, STEEL)] * n, 0.3 * (0.05 * n) ** 3 / 12
    _, forces = connectors.point_load(layers, [math.inf] * (n - 1), 0.9, 1e6)
    assert forces[0] == pytest.approx(
        1e6 * 0.9 / 4 * 0.3 * 0.05 * (n - 1) * 0.025 / inertia, rel=7e-4
    )


@given(st.lists(sizes, min_size=2, max_size=6), st.floats(1e6, 1e14), st.floats(0.3, 5))
def test_stiffer_connectors_never_soften(thicknesses, slip, span):
    layers = [Layer(t, 0.3, STEEL) for t in thicknesses]
    few = [slip] * (len(layers) - 1)
    loose, one = (
        connectors.effective_stiffness(layers, [k] * len(few), span)[0] for k in (0.0, math.inf)
    )
    found, _ = connectors.effective_stiffness(layers, few, span)
    stiffer, _ = connectors.effective_stiffness(layers, [*few[:-1], 2 * slip], span)
    assert loose < found * (1 + 1e-12)
    assert found <= stiffer * (1 + 1e-12)
    assert stiffer <= one * (1 + 1e-12)
    thicker = [*layers[:-1], Layer(1.1 * thicknesses[-1], 0.3, STEEL)]
    assert connectors.effective_stiffness(thicker, few, span)[0] > found


@pytest.mark.parametrize(("tensile", "published"), [(410, 223), (470, 241)])
def test_weld_strength(tensile, published):
    assert connectors.weld_strength(tensile * MPA) == pytest.approx(published * MPA, abs=0.5e6)


def test_dowels():
    # 0.6 × 800 × 245 / 1.25 = 94.1 kN on the stress area; the pin has the full one.
    full = connectors.dowel_strength(20 * MM, 1.0, 800 * MPA, 355 * MPA)
    assert full * 245 / (math.pi / 4 * 400) == pytest.approx(94.1 * KN, rel=1e-3)
    assert connectors.dowel_strength(20 * MM, 5 * MM, 800 * MPA, 355 * MPA) == pytest.approx(
        1.5 * 5 * 20 * 355
    )
    # M16 8.8, shear spring 8 × 256 × 800 / 16 = 102.4 kN/mm; thick plates of 470 MPa add
    # 1/(12 × 1.25 × 2.5 × 16 × 470) twice.
    expected = 1 / (1 / 102.4e6 + 2 / 282e6)
    found = connectors.dowel_stiffness(16 * MM, (60 * MM, 80 * MM), 800 * MPA, 470 * MPA)
    assert found == pytest.approx(expected)
    thin = connectors.dowel_stiffness(16 * MM, (10 * MM, 80 * MM), 800 * MPA, 470 * MPA)
    assert thin < found


def test_two_seams():
    # Shear strain of a block as high as the leg: q / (a G) over a √2.
    a, q, g = 7 * MM, 1e6, 80.77e9
    assert connectors.seam_stiffness(g, 2) == pytest.approx(
        2 * q / (q / (a * g) * a * math.sqrt(2))
    )


def test_out_of_range_is_refused():
    thread, leaf = tables.thread("M24"), Layer(0.08, 0.3, STEEL)
    for call in (
        lambda: bolts.assembly_preload(thread, -1.0, 0.1),
        lambda: bolts.assembly_preload(thread, 6e8, 0.1, 1.2),
        lambda: bolts.plate_resilience(0.02, 0.03, 0.1, STEEL),
        lambda: bolts.bolt_resilience(thread, math.nan, STEEL),
        lambda: bolts.endurance_amplitude(0.064),
        lambda: connectors.effective_stiffness([leaf], [1.0], 1.0),
        lambda: connectors.effective_stiffness([leaf, leaf], [-1.0], 1.0),
        lambda: connectors.effective_stiffness([leaf, leaf], [1.0], 0.0),
        lambda: connectors.weld_strength(0.0),
    ):
        with pytest.raises(ValueError, match=r"allowed|must be"):
            call()
