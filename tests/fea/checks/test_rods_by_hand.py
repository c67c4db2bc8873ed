"""Rods bent by tilting nuts, overloaded, stretched: closed forms, finite differences, statics."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.checks.reserve import reserve_facts
from platestack.fea.checks.rods import rod_facts, rods
from platestack.fea.checks.threads import thread_fatigue, thread_shear
from platestack.fea.checks.tilt import rod_bending
from platestack.fea.hand import rods as hand
from platestack.fea.hand import threads
from platestack.fea.hand.bending import Load, bend, supports
from platestack.fea.hand.section import bending_plates
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables

EI, LENGTH = hand.round_stiffness(210e9, 0.09), 1.82
slopes = st.floats(-1e-2, 1e-2)


def stability(tension: float, top: float, bottom: float) -> tuple[float, float]:
    """Stability functions for tension, Livesley and Chandler 1956, not verified."""
    phi = LENGTH * math.sqrt(tension / EI)
    base = 2 - 2 * math.cosh(phi) + phi * math.sinh(phi)
    near = phi * (phi * math.cosh(phi) - math.sinh(phi)) / base
    far = phi * (math.sinh(phi) - phi) / base
    scale = EI / LENGTH
    return scale * (near * top + far * bottom), -scale * (near * bottom + far * top)


def test_round_bar_by_strips():
    """E ∫ 2 √(r² − y²) y² dy, and its extreme fibre under a moment."""
    r = 0.045
    y = r * (2 * (np.arange(100_000) + 0.5) / 100_000 - 1)
    inertia = float(np.mean(2 * np.sqrt(r**2 - y**2) * y**2) * 2 * r)
    assert hand.round_stiffness(210e9, 2 * r) == pytest.approx(210e9 * inertia, rel=1e-6)
    found = hand.bending_stress(5e3, math.pi * r**2)
    assert found == pytest.approx(5e3 * r / inertia, rel=1e-6)


@given(slopes, slopes, st.floats(1e4, 5e6))
def test_end_moments_by_stability_functions(top, bottom, tension):
    found = hand.end_moments(tension, EI, LENGTH, top, bottom)
    # The functions lose digits at small loads: 1e-16 cosh φ over φ⁴/12.
    assert found == pytest.approx(stability(tension, top, bottom), rel=1e-6, abs=1e-3)


def test_end_moments_without_tension():
    # Slope-deflection: bow 2 EI θ/L, S 6 EI θ/L (any textbook).
    for tension in (0.0, 1e-3, 10.0):
        bow = hand.end_moments(tension, EI, LENGTH, 1e-3, -1e-3)
        assert bow == pytest.approx([2 * EI * 1e-3 / LENGTH] * 2, rel=1e-4)
        s_shape = hand.end_moments(tension, EI, LENGTH, 1e-3, 1e-3)
        assert s_shape == pytest.approx([6 * EI * 1e-3 / LENGTH, -6 * EI * 1e-3 / LENGTH], rel=1e-4)


def test_end_moments_by_finite_differences():
    # EI w'''' = T w'' on 600 steps with w = 0 at the ends and ghost nodes for the given slopes.
    n, tension, top, bottom = 600, 6e5, 2.1e-3, -1.4e-3
    d = LENGTH / n
    turn = (np.eye(n + 3, k=1) - 2 * np.eye(n + 3) + np.eye(n + 3, k=-1))[1:-1] / d**2
    matrix = np.zeros((n + 3, n + 3))
    matrix[2:-2] = EI * (turn[:-2] - 2 * turn[1:-1] + turn[2:]) / d**2 - tension * turn[1:-1]
    right = np.zeros(n + 3)
    for row, held, node, slope in ((0, 1, 1, bottom), (-1, -2, n + 1, top)):
        matrix[row, [node - 1, node + 1]] = -1 / (2 * d), 1 / (2 * d)
        matrix[held, node] = 1.0
        right[row] = slope
    moments = EI * turn @ np.linalg.solve(matrix, right)
    found = hand.end_moments(tension, EI, LENGTH, top, bottom)
    assert found == pytest.approx((moments[-1], moments[0]), rel=1e-4)


@given(slopes, st.floats(0, 5e6), st.floats(0, 5e6))
def test_more_tension_never_eases_the_ends(slope, one, other):
    low, high = sorted((one, other))
    for both in ((slope, -slope), (slope, slope)):
        less = abs(hand.end_moments(low, EI, LENGTH, *both)[0])
        assert abs(hand.end_moments(high, EI, LENGTH, *both)[0]) >= less * (1 - 1e-6)


@pytest.mark.parametrize("bad", [(-1.0, EI, LENGTH), (1.0, 0.0, LENGTH), (1.0, EI, math.nan)])
def test_out_of_range_is_refused(bad):
    with pytest.raises(ValueError, match="allowed"):
        hand.end_moments(*bad, 1e-3, 1e-3)


def test_tilts_are_those_of_the_beam(small_solution):
    # Slope of the stack as a beam at the rods; the solid's lies within 5 %.
    press = small_solution.press
    rod = press.rods[0]
    bent = rod_bending(small_solution, rod)
    for stack, tilt in ((press.crosshead, bent.top), (press.bed, bent.bottom)):
        curve = bend(
            bending_plates(stack.plates),
            (Load(stack.patch, press.capacity),),
            supports(press.rods),
            welded=True,
        )
        slope = np.interp(rod.at[0], curve.x, np.gradient(curve.deflection, curve.x))
        assert tilt[0] == pytest.approx(stack.direction * slope, rel=0.05)
        assert tilt[1] == 0.0


def test_both_rods_bend_alike(small_solution):
    one, other = (rod_bending(small_solution, rod) for rod in small_solution.press.rods)
    assert one.stress == pytest.approx(other.stress)
    assert one.top[0] == pytest.approx(-other.top[0])


def test_bending_by_hand(small_solution):
    rod = small_solution.press.rods[0]
    bent = rod_bending(small_solution, rod)
    force = small_solution.nut_force(rod)
    k = math.sqrt(force / hand.round_stiffness(rod.material.young, rod.diameter))
    theta = (abs(bent.top[0]) + abs(bent.bottom[0])) / 2
    h = rod.free_length / 2
    least = force / k * theta / math.tanh(k * h)
    assert least <= bent.moment <= 1.1 * least
    # W = π d³/32 of the circle with 1306 mm² (M45, ISO 898-1): d = 40.78 mm.
    assert bent.stress == pytest.approx(bent.moment / (math.pi / 32 * 0.04078**3), rel=1e-3)


def test_overload_and_what_it_is_compared_with(small_solution):
    found = {check.name.split(": ")[1]: check for check in rods(small_solution)}
    plain, over = found["tension in the thread"], found["tension in the thread at overload"]
    force = max(map(small_solution.rod_force, small_solution.press.rods))
    assert over.value == pytest.approx(1.25 * force / 1306.0e-6, rel=1e-4)
    assert over.limit == pytest.approx(2 * plain.limit)
    assert found["tension and bending in the thread"].value > force / 1306.1e-6
    limits = small_solution.case.limits.model_copy(update={"overload": 1.5})
    case = small_solution.case.model_copy(update={"limits": limits})
    assert rods(replace(small_solution, case=case))[-1].value == pytest.approx(1.2 * over.value)


def test_forces_at_which_parts_give_way(small_solution):
    """Two rods of M45, 1306 mm²; the wall by Hill, 2/√3 R_e ln K on the piston's area."""
    facts = {fact.name: fact for fact in reserve_facts(small_solution)}
    (rods_give,) = (f for name, f in facts.items() if name.startswith("rods: "))
    rod, made = small_solution.press.rods[0], small_solution.press.cylinder
    each = 1306e-6 * rod.material.yield_strength
    share = max(map(small_solution.rod_force, small_solution.press.rods))
    assert rods_give.value == pytest.approx(
        min(small_solution.press.capacity * each / share, 2 * each), rel=1e-3
    )
    (wall,) = (f for name, f in facts.items() if name.startswith("cylinder wall: "))
    area = math.pi / 4 * 0.125**2
    hill = 2 / math.sqrt(3) * made.material.yield_strength * math.log(made.outer_diameter / 0.125)
    assert wall.value == pytest.approx(hill * area)


def test_stretch_and_nut_height(small_solution):
    stretch, nut = rod_facts(small_solution)
    rod = small_solution.press.rods[0]
    force = max(map(small_solution.rod_force, small_solution.press.rods))
    length, area = rod.free_length, math.pi / 4 * rod.diameter**2
    assert stretch.value == pytest.approx(force * length / (210e9 * area), rel=1e-6)
    # At that height, less a pitch, 0.58 R_e on the weaker thread equals R_e on the stress area.
    thread = tables.thread(rod.thread)
    length = nut.value - thread.pitch
    left = threads.dilation_factor(rod.nut_across_flats, thread.d)
    area = min(f(thread, length) for f in (threads.rod_shear_area, threads.nut_shear_area))
    assert 0.58 * left * area == pytest.approx(rod.stress_area, rel=1e-6)
    # Nuts of 0.8 d are made as strong as the rod (ISO 4032, DIN 934).
    assert nut.value == pytest.approx(0.8 * thread.d, rel=0.05)


def test_masses_of_a_500_tf_press(small_press):
    # Rods about 130 kg and nuts about 10 kg each: common practice, no source. M110, 1.75 m; the
    # trade's nuts are as high as the thread.
    rod = replace(small_press.rods[0], diameter=0.11, thread="M110x6", free_length=1.53,
                  nut_height=0.11, nut_across_flats=0.155, washer_thickness=0.0)  # fmt: skip
    assert rod.mass == pytest.approx(130, rel=0.05)
    assert rod.nut_mass == pytest.approx(10, rel=0.05)


def test_rods_with_trapezoidal_threads(small_text, small_solution):
    """The whole list of rod checks runs on them, with their areas, nuts and pitch."""
    text = small_text.replace("[rods]\n", '[rods]\nthread = "Tr44x7"\n', 1)
    case = case_file.parse(text, "small.toml")
    solution = replace(small_solution, case=case, press=layout.build(case))
    rod = solution.press.rods[0]
    # d2 = 44 − 3.5, d3 = 44 − 2 (3.5 + 0.5): ISO 2904.
    assert rod.stress_area == pytest.approx(math.pi / 4 * 38.25e-3**2)
    assert rod.nut_height == pytest.approx(66e-3)
    kinds = (*rods(solution), *thread_shear(solution), *thread_fatigue(solution))
    assert sum("Tr44x7" in check.note for check in kinds) == len(kinds) - 1  # not of overload
    shear = min(thread_shear(solution), key=lambda check: check.utilisation)
    assert 0 < shear.utilisation < 1
