"""Drawings on paper: whatever is drawn, words stay clear, and its numbers are those of the part."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import rebuilding
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Polygon

from platestack.geometry import bodies, units
from platestack.geometry.cutting.drawing import vertices
from platestack.geometry.cutting.work import plan
from platestack.geometry.drafting import conflicts, flat_view, svg, turned_view
from platestack.geometry.drafting.dimensions import LeaderLabel, Span, labels, spread, tiers
from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.frame import DrawingHead, compose
from platestack.geometry.drafting.lettering import TEXT, fitted, width, wrapped
from platestack.geometry.drafting.paper import PAPERS
from platestack.geometry.drafting.solids import FlatPart, Opening, Slot, Step, Turned
from platestack.geometry.schema import Cutting
from platestack.geometry.shapes import Outline

mm = st.integers(5, 900).map(lambda n: n / 1e3)
HEAD = DrawingHead("X01", "a part", "a press")
EASY = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def on_paper(part, size="large"):
    """A part on its sheet, with long notes."""

    def make(scale):
        if isinstance(part, FlatPart):
            return flat_view(part, scale)
        return turned_view(part, scale, 250.0)

    return compose(HEAD, make, ["a note " * 40, "another"], [PAPERS[size]])


@st.composite
def turned_parts(draw):
    """Up to five steps of any sizes, some threaded; half of them bored, in up to three steps."""
    count = draw(st.integers(1, 5))
    outside = tuple(
        Step(draw(st.integers(60, 400)) / 1e3, draw(mm), draw(st.sampled_from(["", "f7", "h9"])),
             words=draw(st.sampled_from(["", "ground; Ra 0.4 µm"]))) for _ in range(count)
    )  # fmt: skip
    if draw(st.booleans()):
        first = Step(0.09, outside[0].length, thread="M90x6 - 6g", pitch=0.006)
        outside = (first, *outside[1:])
    length, bored = sum(step.length for step in outside), ()
    if draw(st.booleans()):
        parts = draw(st.integers(1, 3))
        bored = tuple(Step(draw(st.integers(5, 50)) / 1e3, length / parts) for _ in range(parts))
    leg = draw(st.sampled_from([0.0, 0.002, 0.005]))
    return Turned(outside, bored, chamfers=(leg, draw(st.sampled_from([leg, 0.0]))))


@EASY
@given(turned_parts())
def test_turned_parts_can_be_read_and_made(part):
    sheet = on_paper(part)
    assert conflicts(sheet.draft) == []
    # Six digits of each number; the shortest length of a difference counts most.
    assert rebuilding.volume(sheet.draft) == pytest.approx(part.volume, rel=1e-4)


@st.composite
def flat_parts(draw):
    """A plate with any openings of up to four kinds, and slots."""
    length, wide = draw(st.integers(200, 2500)) / 1e3, draw(st.integers(150, 1500)) / 1e3
    corners = draw(st.sampled_from(["straight", "chamfered", "rounded"]))
    size = 0.0 if corners == "straight" else 0.05
    at = st.tuples(st.floats(-0.45, 0.45), st.floats(-0.45, 0.45))
    kinds = draw(st.lists(st.integers(8, 60), max_size=4))
    holes = [
        Opening((round(u * length, 3), round(v * wide, 3)), d / 1e3, words="bored")
        for d in kinds for u, v in draw(st.lists(at, min_size=1, max_size=6))
    ]  # fmt: skip
    slots = tuple(Slot(draw(st.sampled_from("xy")), s / 1e3, 0.014, 0.03, 0.024, 0.01)
                  for s in draw(st.lists(st.integers(-60, 60), max_size=2)))  # fmt: skip
    contour = tuple(vertices(Outline(length, wide, corners, size)))
    return FlatPart(contour, draw(st.integers(8, 250)) / 1e3, tuple(holes), slots,
                corners if size else "", size)  # fmt: skip


@EASY
@given(flat_parts())
def test_flat_parts_can_be_read_and_made(part):
    sheet = on_paper(part)
    assert conflicts(sheet.draft) == []
    assert rebuilding.volume(sheet.draft) == pytest.approx(part.volume, rel=1e-4)
    along = {s.text for s in sheet.draft.shown if s.role == "x coordinate"}
    for opening in part.openings:
        assert units.dimension(opening.at[0]).replace("-", "−") in along


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 200), st.integers(1, 120)), min_size=1, max_size=9))
def test_dimensions_never_meet_whatever_they_span(pairs):
    draft = Draft()
    spans = [Span(a, a + long, (0.0, 0.0), f"{long}.123", ()) for a, long in set(pairs)]
    tiers(draft, "below", spans, 0.0, blocked=[50.0, 90.0])
    for u in (50.0, 90.0):  # what else runs there
        draft.own().stroke((u, 0.0), (u, -200.0))
    assert conflicts(draft) == []


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 150), st.integers(0, 30)), min_size=1, max_size=9))
def test_labels_never_meet_and_their_leaders_do_not_cross(anchors):
    draft = Draft()
    labels(draft, [LeaderLabel((x, y), (f"{x} and some words", "more")) for x, y in anchors], 40.0)
    assert conflicts(draft) == []
    rows = [item for item in draft.items if getattr(item, "ink", "") == "thin"
            and not getattr(item, "filled", True)]  # fmt: skip
    ends = [(item.points[1][0], item.points[2][0]) for item in rows]
    assert ends == sorted(ends)
    assert [left for _, left in ends] == sorted(left for _, left in ends)


@given(st.lists(st.tuples(st.floats(-100, 100), st.floats(0.5, 20)), min_size=1, max_size=12))
def test_spread_is_the_nearest_that_keeps_order_and_room(wanted):
    places, needs = [p for p, _ in sorted(wanted)], [n for _, n in wanted]
    found = spread(places, needs)
    gaps = [(a + b) / 2 for a, b in pairwise(needs)]
    for (a, b), gap in zip(pairwise(found), gaps, strict=True):
        assert b - a >= gap - 1e-6
    # Of what touches, the forces that keep it apart push outwards and sum up to nothing.
    force = 0.0
    for index, (place, at) in enumerate(zip(places, found, strict=True)):
        force += at - place
        if index + 1 < len(found) and found[index + 1] - at > gaps[index] + 1e-6:
            assert force == pytest.approx(0.0, abs=1e-6)
            force = 0.0
        assert force <= 1e-6
    assert force == pytest.approx(0.0, abs=1e-6)


def test_areas_of_contours_by_shapely():
    for corners, size in (("straight", 0.0), ("chamfered", 0.05), ("rounded", 0.08)):
        outline = Outline(1.0, 0.6, corners, size)
        part = FlatPart(tuple(vertices(outline)), 0.1)
        if corners != "rounded":
            polygon = Polygon([(x, y) for x, y, _ in part.contour])
        else:
            polygon = Polygon([(-0.42, -0.22), (0.42, -0.22), (0.42, 0.22), (-0.42, 0.22)])
            polygon = polygon.buffer(0.08, quad_segs=2000)
        assert part.area == pytest.approx(polygon.area, rel=1e-6)


@pytest.mark.parametrize("name", ["demo", "on_edge", "off_centre", "us_units"])
def test_solids_have_the_volumes_of_the_parts(press_of, name):
    press = press_of(name)
    for work in plan(press, Cutting()):
        assert bodies.plate(work).volume == pytest.approx(work.plate.volume, rel=1e-12)
    rod = press.rods[0]
    assert bodies.rod(press, rod).volume * rod.material.density == pytest.approx(rod.mass)
    assert bodies.nut(rod).volume * rod.material.density == pytest.approx(rod.nut_mass)
    made = press.cylinder
    for threaded in (True, False):
        parts = bodies.cylinder_parts(made, threaded=threaded)
        steel = {"Z01": made.material, "Z02": made.bottom_material, "Z03": made.material,
                 "Z04": made.ram_material, "Z05": made.ram_material}  # fmt: skip
        mass = sum(parts[n].volume * steel[n].density for n in parts)
        assert mass == pytest.approx(made.mass, rel=1e-12)


def test_letters_are_as_wide_as_their_font_says():
    """DejaVu Sans: 2048 units an em, a digit 1303 wide, capitals 1493 high."""
    assert width("00", 1.0) == pytest.approx(2 * 1303 / 1493, rel=2e-3)
    lines = wrapped("a few words that are too long for a line", 20.0)
    assert " ".join(lines) == "a few words that are too long for a line"
    assert max(map(width, lines)) <= 20.0
    assert max(map(width, wrapped("W" * 100, 20.0))) <= 20.0
    text, height = fitted("W" * 100, 20.0)
    assert width(text, height) <= 20.0
    assert text.endswith("…")


def test_svg_holds_all_words_escaped():
    draft = Draft()
    draft.own().words((0.0, 0.0), 'a < b & "c"')
    text = svg(draft, (0.0, 0.0, 10.0, 10.0), "<title>")
    assert "a &lt; b &amp;" in text
    assert 'aria-label="&lt;title&gt;"' in text
    assert f'font-size="{TEXT / 0.729:.3f}"' in text
    assert math.isclose(float(text.partition('width="')[2].partition("mm")[0]), 10.0)
