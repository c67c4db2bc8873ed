"""A stack as a beam, against closed forms of Timoshenko beam theory.

Bending: S. P. Timoshenko, Strength of Materials, part I (three-point, four-point and uniform load;
closed forms, re-derived). Shear with κ = 5/6: P l / (4 κGA) in three-point bending and so on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_stacks import (
    POINT,
    STEEL,
    crosshead,
    disc,
    flat,
    mirrored,
    on_edge,
    rectangle,
    rod,
    rod_compliance,
    rod_holes,
)

from platestack.fea.hand import section
from platestack.fea.hand.beam import beam, beam_check
from platestack.fea.hand.bending import Load, NotABeam, bend, share, supports
from platestack.geometry.parts import Material, Plate
from platestack.geometry.shapes import Groove, Outline, RectangleHole, RoundHole

E, NU = 210e9, 0.3
G = E / (2 * (1 + NU))
ENDS = (rod((-0.5, 0.0)), rod((0.5, 0.0)))
"""Two point supports 1 m apart."""


def bar(width=0.3, *thicknesses, length=1.0 + 2 * POINT):
    return flat([(length, width, t) for t in thicknesses or (0.24,)])


def test_three_point_bending():
    """B9: P = 1 MN, l = 1 m, 300 mm x 240 mm: 0.287055 + 0.051587 mm; stress M/W."""
    result = beam(crosshead(bar(), disc(POINT)), ENDS, 1e6, welded=True)
    force, span, b, h = 1e6, 1.0, 0.3, 0.24
    bending = force * span**3 / (48 * E * b * h**3 / 12)
    shear = force * span / (4 * 5 / 6 * G * b * h)
    assert bending == pytest.approx(0.287055e-3, rel=2e-6)
    assert shear == pytest.approx(0.051587e-3, rel=1e-5)
    assert result.mid_span_deflection == pytest.approx(bending + shear, rel=1e-5)
    # The point's own width of 1 µm costs the moment a millionth.
    assert result.bending_stress == pytest.approx(force * span / 4 / (b * h**2 / 6), rel=1e-5)
    assert [row.force for row in result.rows] == pytest.approx([5e5, 5e5])


def test_four_point_bending():
    """Two forces P at a from the supports: P a (3 l² − 4 a²) / 24EI + P a / κGA; moment P a."""
    force, span, a, b, h = 4e5, 1.0, 0.3, 0.3, 0.24
    loads = tuple(Load(disc(POINT, at=(x, 0.0)), force) for x in (-0.2, 0.2))
    curve = bend(bar(), loads, supports(ENDS), welded=True)
    inertia = b * h**3 / 12
    expected = force * a * (3 * span**2 - 4 * a**2) / (24 * E * inertia)
    expected += force * a / (5 / 6 * G * b * h)
    assert curve.at(0.0) == pytest.approx(expected, rel=1e-5)
    between = abs(curve.x) < 0.19
    assert curve.moment[between] == pytest.approx(-force * a, rel=1e-5)


def test_uniform_load():
    """5 q l⁴ / 384EI + q l² / 8κGA; moment q l² / 8."""
    span, b, h, q = 1.0, 0.3, 0.24, 2e6
    stack = crosshead(bar(), rectangle(1.0, 0.1))
    result = beam(stack, ENDS, q * span, welded=True)
    expected = 5 * q * span**4 / (384 * E * b * h**3 / 12)
    expected += q * span**2 / (8 * 5 / 6 * G * b * h)
    assert result.mid_span_deflection == pytest.approx(expected, rel=1e-5)
    assert result.bending_stress == pytest.approx(q * span**2 / 8 / (b * h**2 / 6), rel=1e-4)


def test_third_row_on_springs():
    """Three equal springs, force in the middle: statics and compatibility of springs in series.

    The end springs and the beam (with shear) bring P − R to the ends, the middle spring R:
    R / k = (P − R) (1 / 2k + l³ / 48EI + l / 4κGA).
    """
    rods = tuple(rod((x, 0.0)) for x in (-0.5, 0.0, 0.5))
    force, span, b, h = 1e6, 1.0, 0.3, 0.24
    k = 2 / rod_compliance(rods[0])
    soft = 1 / (2 * k) + span**3 / (48 * E * b * h**3 / 12) + span / (4 * 5 / 6 * G * b * h)
    middle = force * soft / (soft + 1 / k)
    stack = crosshead(bar(), disc(POINT))
    result = beam(stack, rods, force, welded=True)
    assert [row.force for row in result.rows] == pytest.approx(
        [(force - middle) / 2, middle, (force - middle) / 2], rel=1e-5
    )
    # Relative to the mean of all three annuli, one of which is at the axis.
    ends = (force - middle) / (2 * k)
    axis = middle / k
    assert result.mid_span_deflection == pytest.approx(axis - (2 * ends + axis) / 3, rel=1e-4)


def test_rows_share_an_off_centre_load_by_the_lever():
    stack = crosshead(bar(), disc(POINT, at=(0.2, 0.0)))
    result = beam(stack, ENDS, 1e6, welded=True)
    assert [row.force for row in result.rows] == pytest.approx([0.3e6, 0.7e6], rel=1e-9)


def test_four_rods_stand_in_two_rows():
    rods = tuple(rod(at) for at in mirrored([(0.5, 0.1)]))
    result = beam(crosshead(bar(), disc(POINT)), rods, 1e6, welded=True)
    assert [(row.x, row.rods) for row in result.rows] == [(-0.5, 2), (0.5, 2)]
    assert [row.force for row in result.rows] == pytest.approx([5e5, 5e5])


def test_one_row_is_no_beam():
    rods = tuple(rod((0.0, y)) for y in (-0.1, 0.1))
    with pytest.raises(NotABeam, match="two rows"):
        beam_check(crosshead(bar(), disc(POINT)), rods, 1e6)


def test_no_section_is_no_beam():
    gone = replace(bar()[0], holes=(RectangleHole((0.2, 0.0), 0.05, 0.31),))
    with pytest.raises(NotABeam, match="no section is left at x ="):
        beam_check(crosshead((gone,), disc(POINT)), ENDS, 1e6)


@pytest.mark.parametrize("patch", [disc(0.4), disc(0.4, 0.26), rectangle(0.3, 0.2)])
def test_patch_spreads_by_its_chord(patch):
    x = np.linspace(-0.25, 0.25, 5001)
    if patch.shape == "rectangle":
        chord = np.where(abs(x) < 0.15, 0.2, 0.0)
    else:
        circles = [np.sqrt(np.maximum(d**2 / 4 - x**2, 0.0)) for d in (patch.length, patch.inner)]
        chord = 2 * (circles[0] - circles[1])

    def running(values):
        steps = (values[1:] + values[:-1]) / 2 * np.diff(x)
        return np.concatenate([[0.0], np.cumsum(steps)])

    fraction, integral = share(patch, x)
    assert fraction == pytest.approx(running(chord) / patch.area, abs=4e-4)
    assert integral == pytest.approx(running(fraction), abs=1e-7)


@pytest.mark.parametrize("welded", [True, False])
def test_result_does_not_depend_on_the_steps(welded):
    """The step error of a stack with holes (a vertical start of the chord) falls with the step."""
    rods = tuple(rod(at, hole=0.09, bearing=0.16) for at in mirrored([(0.42, 0.26)]))
    holes = (*rod_holes(rods), RoundHole((0.0, 0.0), 0.2))
    stack = crosshead(flat([(1.2, 0.8, 0.08)] * 5, holes), disc(0.4, 0.26))
    found = [
        beam(stack, rods, 1e6, welded=welded, steps=n).mid_span_deflection for n in (100, 400, 6400)
    ]
    errors = [abs(value / found[-1] - 1) for value in found[:-1]]
    assert errors[1] < 3e-5
    assert errors[0] / errors[1] > 3.5


# Sections


def at_middle(plates, welded=True):
    return section.stiffness(plates, np.array([0.0]), welded=welded)


def test_rectangle_has_the_shear_coefficient_five_sixths():
    found = at_middle(bar())
    assert found.shear[0] == pytest.approx(5 / 6 * G * 0.3 * 0.24, rel=1e-12)
    assert found.bending[0] == pytest.approx(E * 0.3 * 0.24**3 / 12, rel=1e-12)
    assert found.fibre[0] == pytest.approx(1 / (0.3 * 0.24**2 / 6), rel=1e-12)


def test_hole_and_slot_are_taken_out():
    """300 x 240 mm, hole of 100 mm through, 40 x 50 mm T-slot with a 60 x 20 mm head, by hand."""
    plate = replace(
        bar()[0],
        holes=(RoundHole((0.0, 0.08), 0.1), Groove("x", -0.08, 0.04, 0.05, 0.06, 0.02)),
    )
    parts = [  # width, lower, upper edge (the slot is cut from below), sign
        (0.2, 0.0, 0.24, 1),
        (0.04, 0.0, 0.03, -1),
        (0.06, 0.03, 0.05, -1),
    ]
    area = sum(s * b * (v - u) for b, u, v, s in parts)
    centre = sum(s * b * (v**2 - u**2) / 2 for b, u, v, s in parts) / area
    inertia = sum(s * b * ((v - centre) ** 3 - (u - centre) ** 3) / 3 for b, u, v, s in parts)
    found = at_middle((plate,))
    assert found.bending[0] == pytest.approx(E * inertia, rel=1e-12)
    assert found.fibre[0] == pytest.approx(max(centre, 0.24 - centre) / inertia, rel=1e-12)


def test_round_hole_is_taken_out_by_its_chord():
    plate = replace(bar()[0], holes=(RoundHole((0.0, 0.0), 0.1),))
    found = section.stiffness((plate,), np.array([-0.04, 0.0, 0.03, 0.06]), welded=True)
    widths = 0.3 - np.array([0.06, 0.1, 0.08, 0.0])
    assert found.bending == pytest.approx(E * widths * 0.24**3 / 12, rel=1e-12)


def test_hole_in_an_upright_plate_leaves_two_chords():
    outline = Outline(1.0, 0.4, centre=(0.0, 0.2))
    plate = Plate(
        "plate 1", "plate", outline, 0.05, -0.025, STEEL, "y", (RoundHole((0.0, 0.2), 0.1),)
    )
    found = at_middle((plate,))
    assert found.bending[0] == pytest.approx(E * 0.05 * (0.4**3 - 0.1**3) / 12, rel=1e-12)


def test_composite_section_and_its_shear():
    """A flange of another E welded on a web; transformed section, shear by brute summation."""
    soft = Material("soft", 70e9, 0.33, 2700.0, 2e8, 3e8, "given")
    web = Plate("plate 1", "plate", Outline(1.0, 0.1), 0.3, 0.0, STEEL)
    flange = Plate("platen", "platen", Outline(1.0, 0.6), 0.06, 0.3, soft)
    found = at_middle((web, flange))
    z = (np.arange(36_000) + 0.5) * 1e-5
    eb = np.where(z < 0.3, E * 0.1, 70e9 * 0.6)
    gb = np.where(z < 0.3, G * 0.1, 70e9 / 2.66 * 0.6)
    centre = np.sum(eb * z) / np.sum(eb)
    stiffness = np.sum(eb * (z - centre) ** 2) * 1e-5
    static = np.cumsum((eb * (z - centre))[::-1])[::-1] * 1e-5
    shear = stiffness**2 / (np.sum(static**2 / gb) * 1e-5)
    assert found.bending[0] == pytest.approx(stiffness, rel=1e-6)
    assert found.shear[0] == pytest.approx(shear, rel=1e-4)
    assert found.fibre[0] == pytest.approx(max(E * centre, 70e9 * (0.36 - centre)) / stiffness)


def test_groove_across_leaves_the_rest_of_the_depth():
    """A T-slot along y cut into the upper face: 30 mm neck, 60 mm head from 20 to 50 mm deep."""
    groove = Groove("y", 0.1, 0.03, 0.05, 0.06, 0.03)
    plate = replace(bar()[0], holes=(groove,), grooved="+")
    found = section.stiffness((plate,), np.array([0.05, 0.08, 0.1, 0.14]), welded=True)
    whole, left, below, above = 0.24, 0.19, 0.19, 0.02
    # Beside the neck the head leaves a lip of 20 mm above and 190 mm below.
    area, static = below + above, below * below / 2 + above * (0.22 + 0.24) / 2
    centre = static / area
    lip = sum((v - centre) ** 3 / 3 - (u - centre) ** 3 / 3 for u, v in ((0.0, 0.19), (0.22, 0.24)))
    expected = E * 0.3 * np.array([whole**3 / 12, lip, left**3 / 12, whole**3 / 12])
    assert found.bending == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("grooved", ["+", "-"])
def test_groove_is_cut_into_the_loaded_face(grooved):
    """On a second plate a slot on the far side weighs more than one at the joint."""
    lower, upper = bar(0.3, 0.1, 0.1)
    slotted = replace(upper, holes=(Groove("x", 0.0, 0.1, 0.04),), grooved=grooved)
    found = at_middle((lower, slotted))
    low, high = (0.16, 0.2) if grooved == "+" else (0.1, 0.14)
    area = 0.3 * 0.2 - 0.1 * 0.04
    centre = (0.3 * 0.2**2 / 2 - 0.1 * 0.04 * (low + high) / 2) / area
    inertia = 0.3 * ((0.2 - centre) ** 3 + centre**3) / 3
    inertia -= 0.1 * ((high - centre) ** 3 - (low - centre) ** 3) / 3
    assert found.bending[0] == pytest.approx(E * inertia, rel=1e-12)


@pytest.mark.parametrize("corners", ["chamfered", "rounded"])
def test_corners_narrow_the_ends(corners):
    plate = replace(bar()[0], outline=Outline(1.0, 0.3, corners, 0.1))
    found = section.stiffness((plate,), np.array([-0.48, 0.0, 0.46]), welded=True)
    lost = {"chamfered": (0.08, 0.06), "rounded": (0.1 - 0.06, 0.1 - 0.08)}[corners]
    widths = np.array([0.3 - 2 * lost[0], 0.3, 0.3 - 2 * lost[1]])
    assert found.bending == pytest.approx(E * widths * 0.24**3 / 12, rel=1e-12)


def test_short_platen_acts_where_it_is():
    plates = flat([(0.4, 0.3, 0.1), (1.0, 0.3, 0.1)])
    found = section.stiffness(plates, np.array([0.0, 0.3]), welded=True)
    assert found.bending == pytest.approx(E * 0.3 / 12 * np.array([0.2**3, 0.1**3]), rel=1e-12)


def test_spacers_and_saddles_do_not_bend():
    rods = tuple(rod(at, hole=0.05, bearing=0.09) for at in mirrored([(0.5, 0.0)]))
    plates = on_edge([-0.1, 0.1], (1.2, 0.3, 0.05), (1.2, 0.3, 0.05), (0.2, 0.3, 0.06), rods)
    block = Outline(0.06, 0.3, centre=(0.0, 0.2))
    spacer = Plate("spacer 1.1", "spacer", block, 0.15, -0.075, STEEL, "y")
    bending = section.bending_plates((*plates, spacer))
    assert {plate.role for plate in bending} == {"plate", "platen"}
    loose = at_middle(bending, welded=False)
    assert loose.bending[0] == pytest.approx(E / 12 * (2 * 0.05 * 0.3**3 + 0.3 * 0.05**3))


# Leaves


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_loose_leaves(count):
    """B10: n equal slender leaves are n² times softer, their stress n times higher, than one."""
    stack = crosshead(bar(0.3, *([0.01 / count] * count)), disc(POINT), "loose")
    check = beam_check(stack, ENDS, 1e3)
    ratio = check.loose.mid_span_deflection / check.welded.mid_span_deflection
    # At l/h = 100 shear adds 3.12 (h/l)² = 3e-4 to the welded bar and 1/n² of that to the leaves.
    assert ratio == pytest.approx(count**2, rel=4e-4)
    stresses = check.loose.bending_stress / check.welded.bending_stress
    assert stresses == pytest.approx(count, rel=1e-9)


def test_leaves_share_the_moment_by_their_stiffness():
    """Of two leaves the thicker carries t³, so its stress goes with t: M t₂ / 2 Σ E I."""
    stack = crosshead(bar(0.3, 0.1, 0.06), disc(POINT), "loose")
    result = beam(stack, ENDS, 1e6, welded=False)
    inertia = 0.3 * (0.1**3 + 0.06**3) / 12
    assert result.bending_stress == pytest.approx(0.25e6 * 0.05 / inertia, rel=1e-5)


# Properties that any stack has

lengths = st.floats(0.6, 2.5)
thickness = st.floats(0.02, 0.2)


@st.composite
def presses(draw):
    length = draw(lengths)
    width = length * draw(st.floats(0.3, 1.0))
    x, y = 0.38 * length, 0.35 * width
    hole = 0.1 * min(length, width)
    count = draw(st.sampled_from([2, 4, 6]))
    points = {2: [(x, 0.0)], 4: [(x, y)], 6: [(x, y), (0.0, y)]}[count]
    rods = tuple(rod(at, 0.9 * hole, hole, 1.7 * hole) for at in mirrored(points))
    sizes = [(length, width, t) for t in draw(st.lists(thickness, min_size=1, max_size=5))]
    patch = disc(draw(st.floats(0.1, 0.4)) * width)
    return sizes, rods, patch


def computed(sizes, rods, patch, force=1e6):
    return beam_check(crosshead(flat(sizes, rod_holes(rods)), patch), rods, force)


@settings(max_examples=25, deadline=None)
@given(presses(), st.floats(1.01, 2.0), st.integers(0, 4), st.booleans())
def test_thicker_never_deflects_more(press, factor, which, welded):
    """The load moves less (Castigliano), and between two rows of rods the middle sags less.

    With a third row the middle may sag more relative to the nuts, whose rods stretch unevenly.
    """
    sizes, rods, patch = press
    which %= len(sizes)
    length, width, t = sizes[which]
    thicker = [*sizes[:which], (length, width, factor * t), *sizes[which + 1 :]]
    held, load = supports(rods), (Load(patch, 1e6),)
    before, after = (
        bend(flat(each, rod_holes(rods)), load, held, welded=welded) for each in (sizes, thicker)
    )
    assert after.loaded < before.loaded
    if len(held) == 2:
        assert after.at(0.0) < before.at(0.0)


@settings(max_examples=25, deadline=None)
@given(presses())
def test_loose_is_never_stiffer_than_welded(press):
    sizes, rods, patch = press
    plates, held, load = flat(sizes, rod_holes(rods)), supports(rods), (Load(patch, 1e6),)
    welded, loose = (bend(plates, load, held, welded=one) for one in (True, False))
    assert loose.loaded >= welded.loaded * (1 - 1e-9)
    if len(held) == 2:
        assert loose.at(0.0) >= welded.at(0.0) * (1 - 1e-9)
    if len(plates) == 1:
        assert loose.at(0.0) == pytest.approx(welded.at(0.0))


@settings(max_examples=25, deadline=None)
@given(presses(), st.floats(0.01, 100.0))
def test_everything_is_linear_in_the_force(press, factor):
    one, many = computed(*press), computed(*press, force=factor * 1e6)
    for before, after in ((one.welded, many.welded), (one.loose, many.loose)):
        assert after.mid_span_deflection == pytest.approx(factor * before.mid_span_deflection)
        assert after.bending_stress == pytest.approx(factor * before.bending_stress)
        assert after.expected == pytest.approx(factor * before.expected)
    assert many.band == pytest.approx(tuple(factor * end for end in one.band))


@settings(max_examples=25, deadline=None)
@given(presses())
def test_rods_carry_the_force_evenly_about_the_axis(press):
    rows = [row.force for row in computed(*press).welded.rows]
    assert sum(rows) == pytest.approx(1e6)
    assert rows == pytest.approx(rows[::-1])
