"""Contours of lines, arcs and curves, against closed forms and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon

from platestack.geometry.contour import Corner, bulged, closed, mirrored

SQUARE = [Corner((0, 0)), Corner((1, 0)), Corner((1, 1)), Corner((0, 1))]


def turned(corners, angle=0.3, at=(0.2, -0.1)):
    """Corners turned about the origin and moved."""
    c, s = math.cos(angle), math.sin(angle)

    def put(p):
        return (c * p[0] - s * p[1] + at[0], s * p[0] + c * p[1] + at[1])

    return [
        Corner(put(one.to), one.radius, one.through and put(one.through), one.smooth)
        for one in corners
    ]


def test_rounded_square():
    """One corner of a unit square rounded by r: (1 − π/4) r² less, (2 − π/2) r shorter."""
    contour = closed([*SQUARE[:2], Corner((1, 1), radius=0.2), SQUARE[3]])
    assert contour.area == pytest.approx(1 - (1 - math.pi / 4) * 0.04, rel=1e-12)
    assert contour.perimeter == pytest.approx(4 - (2 - math.pi / 2) * 0.2, rel=1e-12)
    assert contour.box == pytest.approx((0, 0, 1, 1))


@pytest.mark.parametrize("way", [1, -1])
def test_circle_of_two_arcs(way):
    """In either sense, wherever it lies."""
    two = [Corner((-1, 0), through=(0, -way)), Corner((1, 0), through=(0, way))]
    contour = closed(turned(two))
    assert contour.area == pytest.approx(math.pi, rel=1e-12)
    assert contour.perimeter == pytest.approx(2 * math.pi, rel=1e-12)
    assert contour.box == pytest.approx((-0.8, -1.1, 1.2, 0.9), abs=1e-12)
    assert contour.clearance((0.2, -0.1)) == pytest.approx(1, abs=2e-6)
    assert contour.clearance((2.2, -0.1)) == pytest.approx(-1, abs=2e-6)


def test_bezier_quarter_circles():
    """Four cubics with handles of 0.5522847 r: within 2.73e-4 of a circle, as is known."""
    k, r = 0.5522847498, 0.2
    ends = [(r, 0.0), (0.0, r), (-r, 0.0), (0.0, -r)]
    corners = []
    for (ax, ay), (bx, by) in zip([ends[-1], *ends[:-1]], ends, strict=True):
        corners.append(
            Corner((bx, by), control=((ax - k * ay, ay + k * ax), (bx + k * by, by - k * bx)))
        )
    contour = closed(corners)
    radii = np.hypot(*contour.points.T) / r
    assert np.abs(radii - 1).max() == pytest.approx(2.73e-4, rel=0.02)
    assert contour.area == pytest.approx(math.pi * r**2, rel=5e-4)


def test_smooth_closed_curve_converges_to_its_circle():
    """Cubic interpolation is of fourth order: half the step, a sixteenth of the error."""
    off = []
    for count in (8, 16):
        angles = 2 * math.pi * np.arange(count) / count
        contour = closed([Corner((math.cos(a), math.sin(a)), smooth=True) for a in angles])
        off.append(abs(contour.perimeter / (2 * math.pi) - 1))
    assert off[0] / off[1] == pytest.approx(16, rel=0.25)


def test_smooth_points_between_corners_on_a_parabola():
    """A parabola through three points is met exactly; its segment has 2/3 of the rectangle."""
    contour = closed([Corner((0, 0)), Corner((0.5, 0.25), smooth=True), Corner((1, 0))])
    assert contour.area == pytest.approx(2 / 3 * 0.25, rel=1e-9)


@given(st.lists(st.floats(0.1, 1), min_size=5, max_size=9), st.floats(-0.9, 0.9))
def test_chords_are_shapelys(radii, x):
    """What runs inside across a star is what shapely cuts out of it."""
    angles = 2 * math.pi * np.arange(len(radii)) / len(radii)
    at = [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)]
    contour = closed([Corner(p) for p in at])
    assert contour.area == pytest.approx(Polygon(at).area, rel=1e-9)
    inside = float(np.diff(contour.chords(np.array([x])), axis=2).sum())
    line = LineString([(x, -2), (x, 2)])
    assert inside == pytest.approx(Polygon(at).intersection(line).length, abs=1e-9)


@pytest.mark.parametrize("plane", ["x", "y", "both"])
@pytest.mark.parametrize("back", [False, True])
def test_mirrored_shares(plane, back):
    """A half or a quarter of a rounded rectangle with an arc for a side, from either end."""
    ends = {
        "x": [Corner((0, -0.2)), Corner((0.3, -0.2)), Corner((0.3, 0.2)), Corner((0, 0.2))],
        "y": [Corner((0.3, 0)), Corner((0.3, 0.2)), Corner((-0.3, 0.2)), Corner((-0.3, 0))],
        "both": [Corner((0.3, 0)), Corner((0.3, 0.2)), Corner((0, 0.2))],
    }[plane]
    contour = closed(mirrored(ends[::-1] if back else ends, plane))
    assert contour.area == pytest.approx(0.24, rel=1e-12)
    assert contour.box == pytest.approx((-0.3, -0.2, 0.3, 0.2))


@pytest.mark.parametrize("start", range(6))
def test_lines_that_go_straight_on_are_one(start):
    around = [(0, 0), (0.4, 0), (1, 0), (1, 1), (0.7, 1), (0, 1)]
    contour = closed([Corner(p) for p in around[start:] + around[:start]])
    assert len(contour.segments) == 4
    assert contour.area == pytest.approx(1)
    assert all(a.end == b.start for a, b in zip(contour.segments, contour.segments[1:]
               + contour.segments[:1], strict=True))  # fmt: skip
    assert contour.with_edges(0.1).area == pytest.approx(1.2)


def test_mirrored_corner_is_a_rectangle():
    contour = closed(mirrored([Corner((0.3, 0.2), radius=0.1)], "both"))
    assert contour.area == pytest.approx(0.24 - (4 - math.pi) * 0.01, rel=1e-12)


def test_mirrored_arc_is_the_whole_circle():
    quarter = [Corner((0.5, 0)), Corner((0, 0.5), through=(0.5 * math.sqrt(0.5),) * 2)]
    contour = closed(mirrored(quarter, "both"))
    assert contour.area == pytest.approx(math.pi / 4, rel=1e-12)
    assert {type(segment).__name__ for segment in contour.segments} == {"Arc"}


def test_mirror_image_turned_and_moved_has_the_same_area():
    arc = Corner((1, 1), through=(1.2, 0.5))
    contour = closed(turned([*SQUARE[:2], arc, SQUARE[3]]))
    for other in (
        contour.mirrored(0),
        contour.mirrored(1),
        contour.exchanged(),
        contour.moved(3, 4),
    ):
        assert other.area == pytest.approx(contour.area, rel=1e-9)
        assert other.perimeter == pytest.approx(contour.perimeter, rel=1e-9)


def test_vertices_with_bulges_are_the_same_contour():
    """Lines and arcs exactly; a curve as arcs within what is allowed."""
    arc = Corner((1, 1), through=(1.2, 0.5))
    exact = closed(turned([*SQUARE[:2], arc, SQUARE[3]]))
    again = bulged(exact.vertices(1e-5))
    assert again.area == pytest.approx(exact.area, rel=1e-12)
    curve = closed(
        [Corner((math.cos(a), 0.5 * math.sin(a)), smooth=True) for a in np.arange(0, 6.2, 0.4)]
    )
    arcs = bulged(curve.vertices(1e-5))
    assert 10 < len(arcs.segments) < 200
    assert arcs.polygon.exterior.hausdorff_distance(curve.polygon.exterior) < 2e-4
    assert arcs.area == pytest.approx(curve.area, abs=1e-5 * curve.perimeter)


def test_inner_corners_are_found():
    notch = [*SQUARE[:3], Corner((0.6, 1)), Corner((0.6, 0.5), radius=0.05), Corner((0.4, 0.5)),
             Corner((0.4, 1)), SQUARE[3]]  # fmt: skip
    found = list(closed(notch).inner_corners)
    assert [radius for _, radius in found] == pytest.approx([0.0, 0.05])
    assert found[0][0] == (0.4, 0.5)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([Corner((0, 0)), Corner((1, 1)), Corner((1, 0)), Corner((0, 1))], "crosses"),
        ([Corner((0, 0)), Corner((1, 0)), Corner((1, 5e-4)), Corner((0, 1))], "edge of 0.5 mm"),
        ([Corner((0, 0)), Corner((1, 0), radius=1.2), Corner((1, 1))], "too short"),
        ([Corner((0, 0)), Corner((1, 0))], "three points"),
        ([*SQUARE[:2], Corner((1, 1), through=(1.2, 0.5), radius=0.1), SQUARE[3]], "two straight"),
    ],
)
def test_what_is_no_contour(corners, words):
    with pytest.raises(ValueError, match=words):
        closed(corners)
