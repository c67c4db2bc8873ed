"""Places in words: which feature is near, on which side, with coordinates in mm.

Expected words follow from where the point was put.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.solid.stress import places
from platestack.geometry import case as case_file
from platestack.geometry import layout

NEAR = 0.01


def say(press, stack: str, plate: int, at, near: float = NEAR) -> str:
    part = getattr(press, stack)
    return places.describe(part, press.rods, part.plates[plate], at, near)


@pytest.mark.parametrize(
    ("x", "y", "side"),
    [
        (0.1, 0.1, "+x +y"),
        (-0.1, 0.1, "−x +y"),
        (0.1, -0.1, "+x −y"),
        (0.1, 0.001, "+x"),
        (-0.001, -0.1, "−y"),
        (0.001, 0.001, "axis"),
    ],
)
def test_quadrant(x, y, side):
    assert places.quadrant(x, y) == side


def test_rim_of_a_rod_hole(small_press):
    # Hole of 48 mm at x = 175 mm; a point on its rim towards the axis, in the middle of a plate.
    text = say(small_press, "bed", 0, (0.175 - 0.024, 0.0, 0.025))
    assert text == "plate 1 from below, rim of the rod hole at +x (151, 0, 25 mm)"


def test_edge_of_the_loaded_patch(small_press):
    text = say(small_press, "bed", 1, (0.0, -0.04, 0.1))
    assert text == "plate 2 from below, edge of the workpiece patch at −y (0, -40, 100 mm)"
    ring = say(small_press, "crosshead", 0, (0.0625, 0.0, 0.62625))
    assert "edge of the ram patch at +x" in ring


def test_edge_of_a_rectangular_patch(press_of):
    press = press_of("large")
    on_edge = say(press, "bed", -1, (0.300, 0.1, press.bed.load_face))
    assert "edge of the workpiece patch at +x +y (300, 100," in on_edge
    assert "patch" not in say(press, "bed", -1, (0.15, 0.1, press.bed.load_face))


def test_edge_of_the_bearing_ring(small_press):
    text = say(small_press, "bed", 0, (-0.175 - 0.039375, 0.0, 0.0))
    assert "edge of the nut's bearing ring at −x (-214, 0, 0 mm)" in text


def test_plain_places_of_a_plate(small_press):
    assert "plate 1 from below, outer edge at +x +y" in say(
        small_press, "bed", 0, (0.1, 0.09, 0.025)
    )
    assert "plate 1 from below, inside at +x (90, 0, 25 mm)" in say(
        small_press, "bed", 0, (0.09, 0, 0.025)
    )
    assert "plate 2 from below, face at +x" in say(small_press, "bed", 1, (0.09, 0.0, 0.1))
    assert "face on the press axis (0, 0, 0 mm)" in say(small_press, "bed", 0, (0.0, 0.0, 0.0))


def test_openings_and_their_purpose(small_text):
    openings = (
        '[[bed.openings]]\nshape = "round"\ndiameter = "20 mm"\nat = ["90 mm", "50 mm"]\n'
        '[[bed.openings]]\nshape = "rectangle"\nlength = "30 mm"\nwidth = "20 mm"\n'
        'at = ["-90 mm", "-50 mm"]\n'
        '[[bed.clamp_bolts]]\nthread = "M16"\nat = ["90 mm", "-60 mm"]\n'
    )
    press = layout.build(case_file.parse(small_text + openings))
    assert "rim of the round opening at +x +y" in say(press, "bed", 0, (0.1, 0.05, 0.025))
    edge = say(press, "bed", 0, (-0.09, -0.04, 0.025))
    assert "edge of the rectangular opening at −x −y" in edge
    assert "rim of the clamp bolt hole" in say(press, "bed", 0, (0.099, -0.06, 0.025))


def test_a_groove_is_named_where_it_is(press_of):
    press = press_of("large")
    top = press.bed.load_face
    # T-slots at y = ±300 mm, 48 mm deep, in a platen of 100 mm.
    assert "groove" in say(press, "bed", -1, (0.1, 0.277, top - 0.048))
    assert "groove" in say(press, "bed", -1, (0.1, 0.3, top - 0.053))
    assert "groove" not in say(press, "bed", -1, (0.1, 0.3, top - 0.1))
    assert "groove" not in say(press, "bed", -1, (0.1, 0.2, top))


def test_upright_plates_are_counted_across(press_of):
    press = press_of("on_edge")
    index = next(i for i, p in enumerate(press.bed.plates) if p.name == "plate 1")
    text = say(press, "bed", index, (0.0, -0.205, 0.3))
    assert text.startswith("plate 1 from −y, inside at −y")
    saddle = next(i for i, p in enumerate(press.bed.plates) if p.role == "saddle")
    assert say(press, "bed", saddle, (-0.45, 0.0, 0.03)).startswith("saddle 1, ")


@given(st.floats(-0.22, 0.22), st.floats(-0.08, 0.08), st.floats(0.001, 0.049))
def test_coordinates_are_whole_millimetres(small_press, x, y, z):
    text = say(small_press, "bed", 0, (x, y, z))
    told = [int(part) for part in text.rpartition("(")[2].removesuffix(" mm)").split(", ")]
    assert all(abs(mm / 1000 - true) <= 0.5001e-3 for mm, true in zip(told, (x, y, z), strict=True))
    assert "-0" not in text.rpartition("(")[2].replace("-0.", "").split(", ")


@given(st.floats(0, 2 * math.pi), st.floats(-0.004, 0.004))
def test_near_a_rim_means_that_rim(small_press, turn, off):
    radius = 0.024 + off
    at = (0.175 + radius * math.cos(turn), radius * math.sin(turn), 0.025)
    assert "rim of the rod hole at +x" in say(small_press, "bed", 0, at)
