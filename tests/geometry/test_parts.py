"""Parts: volumes, masses, distances and reflections.

Expected values are closed forms of plane geometry, or brute force on polygons; densities and moduli
are the common ones of steel (EN 1993-1-1, 3.2.6).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.geometry.parts import Material, Patch, Plate, TieRod
from platestack.geometry.shapes import Groove, Outline, RectangleHole, RoundHole

STEEL = Material("steel", 210e9, 0.3, 7850.0, 355e6, 510e6, "EN 1993-1-1, 3.2.6")


def plate(outline: Outline, thickness: float, *holes, **more) -> Plate:
    return Plate("plate 1", "plate", outline, thickness, 0.0, STEEL, holes=holes, **more)


def rod(**changes) -> TieRod:
    made = TieRod("rod 1", (0.4, 0.2), 0.08, "M80x6", 4.344e-3, 0.086, 1.5, 0.064, 0.115, 0.14,
                  0.02, 1e6, STEEL)  # fmt: skip
    return replace(made, **changes)


# --- volumes and masses


def test_mass_of_a_block_with_four_holes():
    # Closed form: (1200 x 800 - 4 x pi/4 x 90²) x 240 mm³ of 7850 kg/m³ is 1760.698 kg.
    holes = [RoundHole((x, y), 0.09) for x in (-0.5, 0.5) for y in (-0.3, 0.3)]
    assert plate(Outline(1.2, 0.8), 0.24, *holes).mass == pytest.approx(1760.698, abs=1e-3)


@pytest.mark.parametrize(
    ("corners", "area"),
    [
        ("straight", 1.0 * 0.6),
        ("chamfered", 1.0 * 0.6 - 4 * 0.1**2 / 2),  # four right triangles
        ("rounded", 1.0 * 0.6 - 4 * (0.1**2 - math.pi * 0.1**2 / 4)),  # four spandrels
    ],
)
def test_area_of_an_outline(corners, area):
    assert Outline(1.0, 0.6, corners, 0.1).area == pytest.approx(area, rel=1e-12)


def test_volume_of_a_plate_with_every_kind_of_hole():
    slot = Groove("x", 0.0, width=0.028, depth=0.048, head_width=0.046, head_depth=0.02)
    across = Groove("y", 0.35, width=0.02, depth=0.03)
    window = RectangleHole((0.0, 0.2), 0.2, 0.1, radius=0.02)
    made = plate(Outline(1.0, 0.6), 0.1, slot, across, window, RoundHole((0.2, -0.2), 0.09))
    window_area = 0.2 * 0.1 - (4 - math.pi) * 0.02**2
    expected = (
        1.0 * 0.6 * 0.1
        - math.pi / 4 * 0.09**2 * 0.1
        - window_area * 0.1
        - 1.0 * (0.028 * 0.028 + 0.046 * 0.020)  # neck of 28 mm depth over a head of 20 mm
        - 0.6 * 0.02 * 0.03
    )
    assert made.volume == pytest.approx(expected, rel=1e-12)


def test_area_of_patches():
    assert Patch("disc", (0, 0), 0.2, 0.2).area == pytest.approx(math.pi * 0.01, rel=1e-12)
    ring = Patch("annulus", (0, 0), 0.4, 0.4, 0.32)
    assert ring.area == pytest.approx(math.pi * (0.2**2 - 0.16**2), rel=1e-12)
    assert Patch("rectangle", (0, 0), 0.3, 0.2).area == pytest.approx(0.06, rel=1e-12)


# --- the rod


def test_bearing_pressure_under_a_washer():
    # Statics: 500 kN on a washer 160 mm over a hole of 90 mm: 13,744.47 mm², 36.378 MPa.
    ring = rod(bearing_outer=0.16, hole=0.09).annulus
    assert ring.area == pytest.approx(13744.47e-6, rel=1e-6)
    assert 500e3 / ring.area == pytest.approx(36.378e6, rel=1e-5)


def test_rod_by_hand():
    made = rod()
    assert made.area == pytest.approx(math.pi * 0.04**2, rel=1e-12)
    # L/EA = 1.5 / (210e9 x 5026.548e-6) = 1.421026e-9 m/N; a nut and the thread in it (VDI 2230-1)
    # 0.5 d on d3 = 80 - 1.22687 x 6 mm, 4144.12 mm², and 0.4 d on 5026.548 mm²: 7.62782e-11 m/N
    assert made.end_compliance == pytest.approx(7.62782e-11, rel=1e-5)
    assert made.stiffness == pytest.approx(1 / (1.421026e-9 + 2 * 7.62782e-11), rel=1e-5)
    # 1.5 m between the nuts, twice a nut of 64 mm and a washer of 20 mm
    assert made.length == pytest.approx(1.668, rel=1e-12)
    assert made.mass == pytest.approx(math.pi * 0.04**2 * 1.668 * 7850, rel=1e-12)
    # A regular hexagon of 115 mm across flats is six triangles of height 57.5 mm.
    hexagon = 6 * 0.0575**2 / math.sqrt(3)
    assert made.nut_mass == pytest.approx((hexagon - made.area) * 0.064 * 7850, rel=1e-12)


# --- clearance: against brute force on a polygon


def polygon(outline: Outline, arc: int = 400) -> np.ndarray:
    """Corners of an outline, counter-clockwise; arcs as many short chords."""
    a, b, c = outline.length / 2, outline.width / 2, outline.corner
    points = []
    for quarter, (i, j) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        if outline.corners == "rounded":
            turns = (quarter + np.linspace(0, 1, arc)) * math.pi / 2
            points += [(i * (a - c) + c * math.cos(t), j * (b - c) + c * math.sin(t))
                       for t in turns]  # fmt: skip
        elif outline.corners == "chamfered":
            two = [(i * a, j * (b - c)), (i * (a - c), j * b)]
            points += two if quarter % 2 == 0 else two[::-1]
        else:
            points.append((i * a, j * b))
    return np.array(points) + outline.centre


def signed_distance(corners: np.ndarray, at: tuple[float, float]) -> float:
    """Distance to the nearest edge of a convex polygon, negative outside."""
    start, end = corners, np.roll(corners, -1, axis=0)
    along = end - start
    length = np.hypot(*along.T)
    start, along = start[length > 0], along[length > 0]
    away = np.asarray(at) - start
    part = np.clip((away * along).sum(1) / (along**2).sum(1), 0, 1)
    nearest = np.hypot(*(away - part[:, None] * along).T).min()
    left = along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0]
    return float(nearest if (left >= 0).all() else -nearest)


outlines = st.builds(
    lambda length, width, corners, part, x, y: Outline(
        length, width, corners, 0.0 if corners == "straight" else part * min(length, width), (x, y)
    ),
    st.floats(0.1, 3.0),
    st.floats(0.1, 3.0),
    st.sampled_from(["straight", "chamfered", "rounded"]),
    st.floats(0.02, 0.45),
    st.floats(-1.0, 1.0),
    st.floats(-1.0, 1.0),
)


@settings(max_examples=200, deadline=None)
@given(outlines, st.floats(-0.7, 0.7), st.floats(-0.7, 0.7), st.floats(0.0, 0.3))
def test_clearance_is_the_distance_to_the_polygon(outline, u, v, radius):
    at = (outline.centre[0] + u * outline.length, outline.centre[1] + v * outline.width)
    brute = signed_distance(polygon(outline), at)
    # Chords of an arc of radius r and angle φ lie inside it by up to r φ² / 8.
    sagitta = outline.corner * (math.pi / 2 / 399) ** 2 / 8 + 1e-12
    if brute > sagitta:
        assert outline.clearance(at, radius) == pytest.approx(brute - radius, abs=2 * sagitta)
    elif brute < -sagitta:  # how far off is not needed, that it is off is
        assert outline.clearance(at) <= sagitta


@settings(max_examples=100, deadline=None)
@given(outlines, st.floats(-0.5, 0.5), st.floats(-0.5, 0.5))
def test_a_circle_with_no_clearance_left_touches_and_no_more(outline, u, v):
    at = (outline.centre[0] + u * outline.length, outline.centre[1] + v * outline.width)
    reach = outline.clearance(at)
    if reach > 0:
        turns = np.linspace(0, 2 * math.pi, 721)
        rim = [outline.clearance((at[0] + reach * math.cos(t), at[1] + reach * math.sin(t)))
               for t in turns]  # fmt: skip
        assert min(rim) > -1e-9
        assert min(rim) < 1e-4 * (1 + reach)


# --- reflections

lengths = st.floats(0.01, 2.0)
offsets = st.floats(-1.0, 1.0)
points = st.tuples(offsets, offsets)
holes = st.one_of(
    st.builds(RoundHole, points, lengths),
    st.builds(RectangleHole, points, lengths, lengths, st.floats(0, 0.1)),
    st.builds(Groove, st.sampled_from(["x", "y"]), offsets, lengths, lengths),
)


@given(holes, st.sampled_from([0, 1]))
def test_a_hole_mirrored_twice_is_itself(hole, axis):
    assert hole.mirrored(axis).mirrored(axis) == hole


@given(points, st.sampled_from([0, 1]))
def test_a_mirrored_hole_is_where_it_should_be(at, axis):
    image = RoundHole(at, 0.1).mirrored(axis).at
    assert image[axis] == -at[axis]
    assert image[1 - axis] == at[1 - axis]


@given(
    outlines,
    st.lists(holes, max_size=3),
    offsets,
    lengths,
    st.sampled_from("yz"),
    st.sampled_from([0, 1]),
)
def test_a_plate_mirrored_twice_is_itself(outline, holes, base, thickness, normal, axis):
    made = Plate("", "plate", outline, thickness, base, STEEL, normal, tuple(holes), "+")
    twice = made.mirrored(axis).mirrored(axis)
    assert np.allclose(twice.bounds, made.bounds, rtol=0, atol=1e-12)
    assert replace(twice, base=base) == made


@given(outlines, offsets, lengths, st.sampled_from("yz"), st.sampled_from([0, 1]))
def test_bounds_of_a_mirrored_plate_are_mirrored_bounds(outline, base, thickness, normal, axis):
    made = Plate("", "plate", outline, thickness, base, STEEL, normal)
    low, high = np.array(made.bounds)
    low[axis], high[axis] = -high[axis], -low[axis]
    assert np.allclose(made.mirrored(axis).bounds, (low, high), rtol=0, atol=1e-12)


@given(points, st.sampled_from([0, 1]))
def test_a_patch_mirrored_twice_is_itself(centre, axis):
    patch = Patch("annulus", centre, 0.3, 0.3, 0.2)
    assert patch.mirrored(axis).mirrored(axis) == patch
    assert patch.mirrored(axis).area == patch.area
