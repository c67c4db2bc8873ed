"""Shear, bearing and edges of plates: rectangles by formula, statics of the small press."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.checks.delivery import delivery_facts
from platestack.fea.checks.plate_strength import (
    edge_fatigue,
    patch_bearing,
    patch_facts,
    plate_shear,
)
from platestack.fea.hand import plates, shear
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.parts import Material, Plate
from platestack.geometry.shapes import Outline, RoundHole

STEEL = Material("S355J2", 210e9, 0.3, 7850.0, 355e6, 470e6, "test")
X = np.array([0.0])


def stack_of(thicknesses, width=0.3, young=None, holes=()):
    found, base = [], 0.0
    for i, t in enumerate(thicknesses):
        steel = replace(STEEL, young=(young or [210e9] * len(thicknesses))[i])
        found.append(Plate(str(i), "plate", Outline(2.0, width), t, base, steel, holes=holes))
        base += t
    return tuple(found)


def test_flow_of_three_leaves():
    # Jourawski on a rectangle, τ = V/(2I) (H²/4 − y²): 500 kN on 300 × 240, y = 40: 9.2593 MPa.
    flow = shear.flow(stack_of([0.08] * 3), X, np.array([500e3]), 0.16)
    assert flow / 0.3 == pytest.approx(9.2593e6, rel=1e-5)


@pytest.mark.parametrize("welded", [True, False])
def test_peak_of_rectangles_is_three_halves_of_the_mean(welded):
    # Timoshenko, Strength of Materials I: 3/2 V/A, for one rectangle or equal leaves alike.
    peak = shear.peak_stress(stack_of([0.08] * 3), X, np.array([-500e3]), welded=welded)
    assert peak == pytest.approx(1.5 * 500e3 / (0.3 * 0.24))


def test_loose_leaves_share_by_their_cubes():
    peak = shear.peak_stress(stack_of([0.06, 0.12]), X, np.array([9e5]), welded=False)
    assert peak == pytest.approx(1.5 * 8e5 / (0.3 * 0.12))


def test_flow_of_two_moduli_by_the_transformed_section():
    # Width transformed by E ratio 2: areas 0.6 × 0.1 below and 0.3 × 0.1 above.
    parts = stack_of([0.1, 0.1], young=[420e9, 210e9])
    neutral = (0.06 * 0.05 + 0.03 * 0.15) / 0.09
    inertia = 0.9 * 0.1**3 / 12 + 0.06 * (neutral - 0.05) ** 2 + 0.03 * (0.15 - neutral) ** 2
    expected = 1e6 * 0.03 * (0.15 - neutral) / inertia
    assert shear.flow(parts, X, np.array([1e6]), 0.1) == pytest.approx(expected)


def test_a_hole_takes_its_width():
    parts = stack_of([0.08], holes=(RoundHole((0.0, 0.0), 0.1),))
    peak = shear.peak_stress(parts, X, np.array([1e6]), welded=True)
    assert peak == pytest.approx(1.5 * 1e6 / (0.2 * 0.08))


@pytest.mark.parametrize("d", [0.03, 0.08, 0.15])
def test_use_by_a_round_workpiece(small_press, d):
    """Mean pressure, and M = F/2 (l/2 − 2d/3π) of half discs on W = b h²/6; the larger counts."""
    force = small_press.capacity
    (point,) = plates.patch_curve(small_press.bed, small_press.rods, force, 1.5, (d,))
    pressure = force / (math.pi / 4 * d**2)
    bending = force / 2 * (0.175 - 2 * d / (3 * math.pi)) / (0.18 * 0.1**2 / 6)
    assert point.pressure == pytest.approx(1.5 * pressure / 335e6)
    assert point.bending == pytest.approx(1.5 * bending / 335e6, rel=1e-3)
    assert point.utilisation == max(point.pressure, point.bending)


@given(
    st.lists(st.floats(0.02, 0.2), min_size=1, max_size=5),
    st.floats(1e3, 1e7),
    st.integers(0, 4),
    st.booleans(),
)
def test_more_force_or_less_steel_never_helps(thicknesses, force, which, welded):
    def peak(sizes, v):
        return shear.peak_stress(stack_of(sizes), X, np.array([v]), welded=welded)[0]

    plain = peak(thicknesses, force)
    assert plain > 0
    assert peak(thicknesses, 1.5 * force) == pytest.approx(1.5 * plain)
    # All plates thicker: the stress falls in proportion. (One alone may draw load when loose.)
    assert peak([1.5 * t for t in thicknesses], force) == pytest.approx(plain / 1.5)
    if welded:
        # One rectangle: 3/2 of the mean.
        assert plain == pytest.approx(1.5 * force / (0.3 * sum(thicknesses)))
    flow = shear.flow(stack_of(thicknesses), X, np.array([force]), sum(thicknesses[:which]))
    assert -1e-9 <= flow[0] * sum(thicknesses) / force <= 1.5 + 1e-9


def test_small_press_by_statics(small_solution):
    # Half the force each side, 2 × 50 mm welded, 180 wide; holes of the rods take their part.
    for check in plate_shear(small_solution):
        plain = 1.5 * 0.5 * 294199.5 / (0.18 * 0.1)
        assert plain * (1 - 1e-6) <= check.value < 1.5 * plain
        assert check.limit == pytest.approx(335e6 / math.sqrt(3) / 1.5)
        assert "lamellar" in " ".join(check.cautions)
    _, bed = patch_bearing(small_solution)
    assert bed.value == pytest.approx(294199.5 / (math.pi / 4 * 0.08**2), rel=1e-6)
    assert bed.limit == pytest.approx(335e6 / 1.5)


def test_edge_fatigue_by_hand(small_solution):
    # Category 125, 1.35: 429.8 MPa at 20,000 cycles, below 1.5 × 335; 541.5 MPa at 10,000, above.
    case = small_solution.case
    for cycles, limit in (
        (20_000, 125e6 * 100 ** (1 / 3) / 1.35), (10_000, 1.5 * 335e6), (1, 1.5 * 335e6)
    ):  # fmt: skip
        limits = case.limits.model_copy(update={"cycles": cycles})
        pressed = replace(small_solution, case=case.model_copy(update={"limits": limits}))
        for check in edge_fatigue(pressed):
            assert check.limit == pytest.approx(limit)
            name = check.name.split()[0]
            assert check.value == small_solution.stacks[name].peak.von_mises


def test_smallest_workpiece(small_solution):
    press = small_solution.press
    (fact,) = patch_facts(small_solution)
    pressure = math.sqrt(4 * press.capacity / (math.pi * 335e6 / 1.5))
    (point,) = plates.patch_curve(press.bed, press.rods, press.capacity, 1.5, (pressure,))
    assert point.pressure == pytest.approx(1)
    if point.bending <= 1:
        assert fact.value == pytest.approx(pressure, rel=0.02)
    else:
        assert fact.value > pressure
    # Bending of a simply supported beam under a patch: M = F/4 (L − 2 e), e a disc's chord centre.
    span, d = 0.35, 0.08
    moment = press.capacity / 4 * (span - 2 * 4 * d / 2 / (3 * math.pi))
    (point,) = plates.patch_curve(press.bed, press.rods, press.capacity, 1.5, (d,))
    assert point.bending == pytest.approx(1.5 * moment / (0.18 * 0.1**2 / 6) / 335e6, rel=5e-3)


def test_a_larger_workpiece_or_less_force_never_loads_more(small_press):
    sizes = np.linspace(0.03, 0.3, 12)
    for force in (1e5, 3e5):
        curve = plates.patch_curve(small_press.bed, small_press.rods, force, 1.5, sizes)
        for smaller, larger in itertools.pairwise(curve):
            assert smaller.pressure > larger.pressure
            assert smaller.bending > larger.bending
    assert plates.smallest_patch(small_press.bed, small_press.rods, 1e8, 1.5) is None


@pytest.mark.parametrize("bad", [(0.0, 1e8), (1e5, -1.0), (math.nan, 1e8)])
def test_out_of_range_is_refused(bad):
    with pytest.raises(ValueError, match="allowed"):
        plates.least_diameter(*bad)


def pressed(text: str) -> Statics:
    case = case_file.parse(text, "case.toml")
    return Statics(case, layout.build(case), {}, 0.0)


@pytest.mark.parametrize("check", [plate_shear, patch_bearing])
def test_more_force_never_helps_and_thicker_never_weakens(small_text, check):
    # Up to 63 mm the yield strength stays (EN 10025-2); over that a thicker plate may be weaker. It
    # is that of the plate as bought: 2 mm of each are machined off.
    def used(text: str) -> list[float]:
        return [c.utilisation for c in check(pressed(text))]

    plain = used(small_text)
    more = used(small_text.replace("30 tf", "36 tf").replace("25 MPa", "30 MPa"))
    thick = used(small_text.replace("2 x 50 mm", "2 x 55 mm"))
    assert more == pytest.approx([1.2 * u for u in plain], rel=1e-3)
    assert all(a <= b * (1 + 1e-12) for a, b in zip(thick, plain, strict=True))


def test_plates_as_delivered(small_text):
    # EN 10029:1991 class A, 50 mm: −1.0 +1.8; flatness 5 mm under 1 m (not verified). The outer
    # plates are machined to ± 0.2 mm.
    height, gap = delivery_facts(pressed(small_text.replace("2 x 50 mm", "3 x 50 mm")))[:2]
    assert height.value == pytest.approx(0.150 - 0.0014)
    assert "3.6 mm more" in height.note
    # Half of 2.8 mm, and twice 0.2 mm: √(1.4² + 2 · 0.2²).
    assert "± 1.4 mm" in height.note
    assert gap.value == pytest.approx(0.005)
    height, _ = delivery_facts(pressed(small_text))[:2]
    assert height.value == pytest.approx(0.100 - 0.0004)
    assert "0.8 mm more" in height.note
    assert "± 0.3 mm" in height.note


def test_plates_outside_the_tables(small_case, small_press):
    """No flatness is told; a height is: 1.5 % of what no table covers, 0.2 mm where machined."""
    plates = tuple(
        replace(plate, thickness=0.3, base=0.3 * i, blank=None)
        for i, plate in enumerate(small_press.bed.plates)
    )
    press = replace(small_press, bed=replace(small_press.bed, plates=plates))
    facts = delivery_facts(Statics(small_case, press, {}, 0.0))
    assert any(fact.name.startswith("crosshead: gap") for fact in facts)
    (height,) = (fact for fact in facts if fact.name.startswith("bed"))
    # The lower plate's face under the nuts is machined, the upper plate is as rolled.
    assert height.value == pytest.approx(0.6 - 0.0002 - 0.0045)
    assert "beyond it 1.5\N{NO-BREAK SPACE}% of the thickness, common practice" in height.source
    (within,) = (fact for fact in facts if fact.name.startswith("crosshead: height"))
    assert "beyond" not in within.source
