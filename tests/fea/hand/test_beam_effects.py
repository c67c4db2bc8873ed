"""What a beam leaves out, one effect at a time, each derived again by another route.

Boussinesq's stresses on the axis below a disc (Timoshenko and Goodier, Theory of Elasticity, 3rd
ed., art. 138: σz, σr; not verified) are integrated in place of his displacements; energies by
Castigliano; closed forms of beams and cantilevers (Timoshenko, Strength of Materials, part I).
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sample_stacks import POINT, crosshead, disc, flat, on_edge, rectangle, rod

from platestack.fea.hand import halfspace, joint, plate_bending
from platestack.fea.hand.beam import beam, beam_check, nominal
from platestack.fea.hand.bending import Load, bend, supports
from platestack.fea.hand.situation import Effect, Situation
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.parts import Pad, Patch, Stack, TieRod
from platestack.geometry.shapes import RoundHole

E, NU, F = 210e9, 0.3, 1e6
G = E / 2 / (1 + NU)
SPAN, WIDTH, DEPTH = 1.0, 0.3, 0.24
ENDS = (rod((-0.5, 0.0)), rod((0.5, 0.0)))
INERTIA = WIDTH * DEPTH**3 / 12
LINE = rectangle(SPAN, POINT)
"""A load along the whole span, on the axis."""


def bar(*sizes: tuple[float, float, float], holes: tuple[RoundHole, ...] = ()):
    return flat(sizes or [(SPAN + 2 * POINT, WIDTH, DEPTH)], holes)


def effects(stack: Stack, rods: tuple[TieRod, ...] = ENDS, *, welded=True) -> dict[str, Effect]:
    return {one.name: one for one in beam(stack, rods, F, welded=welded).effects}


def shortened(pressure: float, radius: float, low: float, high: float) -> float:
    """Shortening between two depths on the axis below a disc: ∫ (σz − 2ν σr)/E dz."""
    x, w = np.polynomial.legendre.leggauss(200)
    z, w = (low + high) / 2 + (high - low) / 2 * x, (high - low) / 2 * w
    slant = np.sqrt(radius**2 + z**2)
    along = -pressure * (1 - (z / slant) ** 3)
    radial = -pressure / 2 * ((1 + 2 * NU) - 2 * (1 + NU) * z / slant + (z / slant) ** 3)
    return -float(np.sum(w * (along - 2 * NU * radial)) / E)


# --- the curve


def test_integrals_of_a_bent_beam():
    """Uniform load: M = q/2 (l²/4 − x²); ∫M / EI = F l²/12 EI, ∫M² = F² l³/120."""
    curve = bend(bar(), (Load(LINE, F),), supports(ENDS), welded=True)
    assert curve.turn == pytest.approx(-F * SPAN**2 / 12 / (E * INERTIA), rel=1e-4)
    assert curve.bending_work == pytest.approx(F**2 * SPAN**3 / 120 / (E * INERTIA), rel=1e-4)
    for x in (0.0, 0.25, -0.4):
        moment = F / SPAN / 2 * (SPAN**2 / 4 - x**2)
        assert curve.curvature(x) == pytest.approx(-moment / (E * INERTIA), rel=1e-4)


def test_nominal_is_the_beam_in_three_point_bending():
    stress, sag = nominal(crosshead(bar(), disc(POINT)), ENDS, F, welded=True)
    assert stress == pytest.approx(F * SPAN / 4 / (WIDTH * DEPTH**2 / 6), rel=1e-5)
    bending, shear = SPAN**3 / 48 / (E * INERTIA), SPAN / 4 / (5 / 6 * G * WIDTH * DEPTH)
    assert sag == pytest.approx(F * (bending + shear), rel=1e-5)


def test_effects_add_and_their_spreads_as_independent():
    result = beam(crosshead(bar(), disc(0.15)), ENDS, F, welded=True)
    values = np.array([(one.value, one.spread) for one in result.effects])
    assert result.expected - result.mid_span_deflection == pytest.approx(values[:, 0].sum())
    assert result.uncertainty**2 == pytest.approx((values[:, 1] ** 2).sum())
    check = beam_check(crosshead(bar(), disc(0.15)), ENDS, F)
    both = result.expected - result.uncertainty, result.expected + result.uncertainty
    assert check.band == pytest.approx(both)


@pytest.mark.parametrize("kind", ["loose", "welded"])
def test_the_end_of_the_cylinder_as_a_leaf_or_as_part_of_the_plates(kind):
    """As long and wide as the plate, bent with it by a force in the middle, or one with it."""
    thick = 0.06
    body = replace(bar((SPAN + 2 * POINT, WIDTH, thick))[0], role="flange", base=-thick)
    end = Pad(body, "ram", -1, disc(POINT), "the cylinder", kind, 0.0)
    stack = replace(crosshead(bar(), disc(POINT)), pads=(end,))

    def sag(inertia: float, depth: float) -> float:
        return F * (SPAN**3 / 48 / (E * inertia) + SPAN / 4 / (5 / 6 * G * WIDTH * depth))

    deep = WIDTH * (DEPTH + thick) ** 3 / 12
    inertia = deep if kind == "welded" else INERTIA + WIDTH * thick**3 / 12
    found = effects(stack)["cylinder's end as a body"]
    less = sag(inertia, DEPTH + thick) - sag(INERTIA, DEPTH)
    assert (found.value, found.spread) == pytest.approx((less / 2, -less / 2), rel=1e-3)


# --- compression, thickening, sections


def test_thickening_is_the_strain_of_the_loaded_half():
    moment = F * SPAN / 8
    z = (np.arange(1000) + 0.5) / 1000 * DEPTH / 2
    across = NU * moment * z / INERTIA / E
    found = effects(crosshead(bar(), LINE))["thickening in bending"]
    assert found.value == pytest.approx(-across.mean() * DEPTH / 2, rel=1e-4)


def test_compression_under_a_disc():
    found = effects(crosshead(bar(), disc(0.15)))["compression under the patch"]
    pressure = F / (math.pi / 4 * 0.15**2)
    assert found.value == pytest.approx(shortened(pressure, 0.075, 0, DEPTH / 2), rel=1e-6)


def test_compression_under_a_disc_off_the_axis():
    """At its edge the settlement is 2/π of that in the middle; the rule takes a half."""
    on, off = (
        effects(crosshead(bar(), disc(0.15, at=(x, 0.0))))["compression under the patch"]
        for x in (0.0, 0.075)
    )
    assert off.value == pytest.approx(on.value / 2)
    assert abs(on.value * 2 / math.pi - off.value) < off.spread


def test_compression_at_the_nuts():
    """Mean over the annulus, less the axis at mid-depth, over what the hole leaves."""
    rods = tuple(rod((x, 0.0), hole=0.09, bearing=0.16) for x in (-0.5, 0.5))
    plates = bar((1.4, WIDTH, DEPTH), holes=tuple(RoundHole(r.at, 0.09) for r in rods))
    pressure = F / 2 / (math.pi / 4 * (0.16**2 - 0.09**2))
    far = 50.0  # where nothing moves any more: 1/z of a point load is left
    below = shortened(pressure, 0.08, DEPTH / 2, far) - shortened(pressure, 0.045, DEPTH / 2, far)
    below += F / 2 * (1 + NU) * (3 - 2 * NU) / (2 * math.pi * E * far)
    face = halfspace.mean(F / 2, rods[0].annulus, E, NU)
    found = effects(crosshead(plates, disc(POINT)), rods)["compression at the nuts"]
    assert found.value == pytest.approx((face - below) / (1 - (0.09 / 0.16) ** 2), rel=1e-4)


def test_share_that_comes_in_under_the_nut():
    """Rod and sleeve as springs side by side, k_r/(k_r + k_s); the demo, beside its platen."""
    case = case_file.read(Path(__file__).parents[3] / "cases" / "demo" / "demo.toml")
    one = layout.build(case).rods[0]
    sleeve = E * math.pi / 4 * (0.14**2 - 0.095**2) / (0.45 + 0.25 + 1.25 * 0.32 + 0.06)
    low, high = joint.felt(one).usual
    assert low == pytest.approx(one.stiffness / (one.stiffness + sleeve))
    assert low < high <= 1
    for seat in ("sleeve", "shoulder", "none"):
        shares = joint.felt(replace(one, seat=seat))
        ends = (shares.least, shares.usual[0], shares.expected, shares.usual[1], shares.most)
        assert list(ends) == sorted(ends)
    assert joint.felt(replace(one, seat="none")).usual == (1, 1)


def test_deep_beam_by_its_published_series():
    """P l³/48EI (1 + 2.85 s² − 0.84 s³) against 1 + 3.12 s² of the beam, s = h/l."""
    found = effects(crosshead(bar(), disc(POINT)))["plane sections that bend"]
    s, beam_alone = DEPTH / SPAN, F * SPAN**3 / 48 / (E * INERTIA)
    series, timoshenko = 1 + 2.85 * s**2 - 0.84 * s**3, 1 + 12 * (1 + NU) / 5 * s**2
    assert found.value == pytest.approx(beam_alone * (series - timoshenko), rel=1e-4)


# --- holes, short plates


def test_a_small_hole_costs_three_times_its_steel():
    """Kirsch: 1 + 3φ of the plane compliance; the net section has counted one of the three."""
    d, x0 = 0.02, 0.25
    holes = tuple(RoundHole((x, 0.0), d) for x in (-x0, x0))
    found = effects(crosshead(bar(holes=holes), disc(POINT)))["flow around holes"]
    # ∫ M m/EI over the hole's steel, M m = F (l/2 − x)²/4, and its part of the shear.
    x = x0 + d / 2 * np.cos(np.pi * (np.arange(4000) + 0.5) / 4000)
    weight = np.pi / 4000 * np.sqrt((d / 2) ** 2 - (x - x0) ** 2)
    chord = 2 * np.sqrt((d / 2) ** 2 - (x - x0) ** 2) / WIDTH
    bending = F * (SPAN / 2 - x) ** 2 / 4 / (E * INERTIA)
    shear = F / 4 / (5 / 6 * G * WIDTH * DEPTH)
    lost = 2 * float(np.sum(weight * (bending + shear) * chord / (1 - chord)))
    assert found.value == pytest.approx(2 * lost, rel=0.02)


def test_a_short_plate_takes_its_share_over_its_thickness():
    """Half of what its thickness off each end costs; sags by ∫ M m/EI + V v/κGA."""
    t = 0.06

    def sag(length: float) -> float:
        x = (np.arange(200_000) + 0.5) / 200_000 * SPAN / 2
        there = x < length / 2
        bending = E * WIDTH * (DEPTH**3 + there * t**3) / 12
        shear = 5 / 6 * G * WIDTH * (DEPTH + there * t)
        return F * SPAN * float(np.mean((SPAN / 2 - x) ** 2 / bending / 4 + 1 / shear / 4))

    plates = bar((0.5, WIDTH, t), (SPAN + 2 * POINT, WIDTH, DEPTH))
    found = effects(crosshead(plates, disc(POINT), "loose"), welded=False)
    expected = (sag(0.5 - 2 * t) - sag(0.5)) / 2
    assert found["ends of shorter plates"].value == pytest.approx(expected, rel=2e-3)
    assert found["parting of loose plates"].spread == pytest.approx(0.06 * sag(0.5), rel=1e-3)


# --- bending across


def four(a: float, b: float) -> tuple[TieRod, ...]:
    return tuple(rod((x, y)) for x in (-a, a) for y in (-b, b))


def plate(stack: Stack, rods: tuple[TieRod, ...], *, welded: bool = True) -> float:
    """Mid-span deflection (m) of a plate by the method of Ritz."""
    held = supports(rods)
    curve = bend(stack.plates, (Load(stack.patch, F),), held, welded=welded)
    return plate_bending.sag(Situation(stack, rods, F, welded, curve))


def test_a_narrow_plate_is_the_beam():
    """Nothing spans across, nor is it held in: the beam's own deflection, with its shear."""
    width = 0.06
    stack = crosshead(flat([(SPAN + 2 * POINT, width, 0.05)]), rectangle(0.3, width))
    beam_alone = beam(stack, ENDS, F, welded=True).mid_span_deflection
    assert plate(stack, ENDS) == pytest.approx(beam_alone, rel=5e-3)


@pytest.mark.parametrize(("shape", "published"), [("all over", 0.00406), ("a part", 0.01160)])
def test_a_square_plate_on_its_edges(shape, published):
    """α q a⁴/D and α P a²/D (Timoshenko and Woinowsky-Krieger, 2nd ed., tables 8 and 23).

    It stands on stiff rods close to each other in place of the edges, under a small square in place
    of a point, which costs 1 % (Navier's series), and is a 50th as thick as it is long.
    """
    a, t = 1.0, 0.02
    steps = np.linspace(-a / 2, a / 2, 13)
    edge = {(x, y) for s in steps for x, y in ((s, -a / 2), (s, a / 2), (-a / 2, s), (a / 2, s))}
    rods = tuple(rod(at, diameter=0.5) for at in sorted(edge))
    size = a if shape == "all over" else 0.06
    stack = crosshead(flat([(a + 2 * POINT, a + 2 * POINT, t)]), rectangle(size, size))
    found = plate(stack, rods) * E * t**3 / 12 / (1 - NU**2) / F / a**2
    assert found == pytest.approx(published, rel=0.03)


def test_loose_leaves_share_what_a_plate_bears():
    one, three = (
        plate(crosshead(flat([(1.2, 0.8, 0.05)] * n), disc(0.3), "loose"), four(0.5, 0.3),
              welded=False)
        for n in (1, 3)
    )  # fmt: skip
    assert one == pytest.approx(3 * three, rel=1e-6)


def test_a_plate_that_covers_all_is_one_with_the_others():
    """Two welded plates of half the thickness; a platen as large as they are."""
    whole, halves = (
        plate(crosshead(flat(sizes), disc(0.3)), four(0.5, 0.3))
        for sizes in ([(1.2, 0.8, 0.1)], [(1.2, 0.8, 0.05)] * 2)
    )
    platen = plate(crosshead(flat([(0.6, 0.4, 0.05), (1.2, 0.8, 0.05)]), disc(0.3)), four(0.5, 0.3))
    leaf = plate(crosshead(flat([(1.2, 0.8, 0.05)]), disc(0.3)), four(0.5, 0.3))
    assert halves == pytest.approx(whole, rel=1e-9)
    assert whole < platen < leaf


def test_energy_of_a_layer_wherever_it_lies():
    """Over 0.1 < x < 0.4, −0.3 < y < 0.1, by calculus.

    Of w = x²: S ∫ (2 x)² dA. Of θx = x y: D ∫ y², D (1 − ν)/2 ∫ x² and S ∫ x² y².
    """
    one = plate_bending._Polynomials(tuple(range(3)), 0.5)
    x = np.linspace(-0.5, 0.5, 5)
    square, line = (np.linalg.lstsq(one.at(x), v, rcond=None)[0] for v in (x**2, x))
    even = np.linalg.lstsq(one.at(x), np.ones(5), rcond=None)[0]
    layer = plate_bending._Layer((0.1, -0.3, 0.4, 0.1), 7.0, 0.3, 5.0)
    blocks = plate_bending._blocks([(one, one)] * 3, layer)
    w, turned = np.kron(square, even), np.kron(line, line)
    cubes, tall = (0.4**3 - 0.1**3) / 3, (0.1**3 + 0.3**3) / 3
    assert w @ blocks[0, 0] @ w == pytest.approx(5.0 * 4 * cubes * 0.4)
    energy = 7.0 * tall * 0.3 + 7.0 * 0.35 * cubes * 0.4 + 5.0 * cubes * tall
    assert turned @ blocks[1, 1] @ turned == pytest.approx(energy)


def test_a_small_patch_acts_as_a_larger_one():
    """Westergaard: 0.325 h for a point; nothing is added from 1.724 h on."""
    felt = plate_bending._felt(disc(POINT), 0.2)
    assert felt.length / 2 == pytest.approx(0.325 * 0.2, rel=1e-3)
    large = disc(2 * 1.724 * 0.2)
    assert plate_bending._felt(large, 0.2) == large


@pytest.mark.parametrize(("at", "part"), [((0.05, 0.0), 0.5), ((0.0, 0.1), 0.75), ((0.3, 0), 0.5)])
def test_settlement_dies_out_beside_the_patch(at, part):
    """To half at its edge, which counts for what lies beyond too."""
    middle, beside = (
        effects(crosshead(bar(), rectangle(0.1, 0.4, place)))["compression under the patch"]
        for place in ((0.0, 0.0), at)
    )
    assert beside.value == pytest.approx(part * middle.value)
    assert beside.spread == pytest.approx(middle.spread + (1 - part) * middle.value)


def test_a_seat_takes_from_none_to_a_third_of_the_nut():
    plates = flat([(SPAN + 2 * POINT, WIDTH, DEPTH)], ())
    rods = tuple(rod((x, 0.0), hole=0.09, bearing=0.16) for x in (-0.5, 0.5))
    seat = {"seat": "shoulder", "seat_outer": 0.16, "between": 0.5, "preload": F}
    seated = tuple(replace(one, **seat) for one in rods)
    whole, part = (
        effects(crosshead(plates, disc(POINT)), each)["compression at the nuts"]
        for each in (rods, seated)
    )
    assert part.value < whole.value
    assert part.value - part.spread <= 0 <= part.value + part.spread
    assert part.spread < whole.value


def test_only_several_loose_plates_can_part():
    size = (SPAN + 2 * POINT, WIDTH, DEPTH / 2)
    parting = {
        (count, welded): "parting of loose plates" in effects(
            crosshead(bar(*[size] * count), disc(POINT), "welded" if welded else "loose"),
            welded=welded,
        )
        for count in (1, 2) for welded in (True, False)
    }  # fmt: skip
    assert [key for key, there in parting.items() if there] == [(2, False)]


# --- on edge

MIDDLES, UPRIGHT, PLATEN, SADDLE = (
    (-0.15, 0.15),
    (1.2, 0.3, 0.002),
    (0.5, 0.31, 0.06),
    (0.2, 0.31, 0.05),
)


@pytest.fixture(scope="module")
def upright() -> dict[str, Effect]:
    """Two thin upright plates, loose, on a nut and under a force between them."""
    rods = tuple(rod((x, 0.0)) for x in (-0.5, 0.5))
    plates = on_edge(MIDDLES, UPRIGHT, PLATEN, SADDLE, rods)
    return effects(crosshead(plates, disc(POINT), "loose", "on edge"), rods, welded=False)


def test_saddles_are_cantilevers_either_side_of_their_nut(upright):
    """F/4 at each end of 0.15 m: P c³/3EI + P c/κGA; between 0.3 of it, clamped, and all."""
    length, _, t = SADDLE
    c, each = 0.15, F / 4
    sag = each * c**3 / 3 / (E * length * t**3 / 12) + each * c / (5 / 6 * G * length * t)
    found = upright["bending of the saddles"]
    assert found.value == pytest.approx(0.65 * sag, rel=1e-2)
    assert found.spread == pytest.approx(0.35 * sag, rel=1e-2)


def test_the_platen_sags_between_upright_plates(upright):
    """Three-point bending across 0.3 m, of the whole length and of what 45° in the platen give."""
    whole, _, t = PLATEN
    span = 0.3
    sags = [
        F * span**3 / 48 / (E * length * t**3 / 12) + F * span / 4 / (5 / 6 * G * length * t)
        for length in (whole, t)
    ]
    found = upright["uneven loading of the plates"]
    assert found.value == pytest.approx(sum(sags) / 2, rel=1e-2)
    assert found.spread == pytest.approx((sags[1] - sags[0]) / 2, rel=1e-2)


def test_compression_below_a_platen_over_gaps():
    """Below the platen steel fills a third of the width: the mean of no loss and three times."""
    rods = tuple(rod((x, 0.0)) for x in (-0.5, 0.5))
    plates = on_edge((-0.1, 0.0, 0.1), (1.2, 0.3, 0.04), (0.5, 0.24, 0.06), SADDLE, rods)
    patch: Patch = disc(0.1)
    found = effects(crosshead(plates, patch, "loose", "on edge"), rods, welded=False)
    pressure, middle = F / patch.area, (0.06 + 0.3 + 0.05) / 2
    above, below = shortened(pressure, 0.05, 0, 0.06), shortened(pressure, 0.05, 0.06, middle)
    expected = above + below * (1 + 0.24 / 0.12) / 2
    assert found["compression under the patch"].value == pytest.approx(expected, rel=1e-6)
