"""The cylinder's bottom on a thick block, soft and rigid, against punches on an elastic half space.

K. L. Johnson, Contact Mechanics (1985), 3.4: uniform pressure p on a circle of radius a sinks its
middle by 2 p a / E*; a rigid flat punch without friction sinks by F / (2 a E*), under the pressure
F / (2π a²) / √(1 − r²/a²), infinite at its edge. E* = E / (1 − ν²). Both forces have one resultant,
so that what they do far off, and how the block is held, falls out of the difference.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from platestack.fea.solid.contact.faces import at_points
from platestack.fea.solid.pressing import Pressing
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes
from platestack.geometry.mesher import make

FORCE, RADIUS = 490332.5, 0.05
MODULUS = 210e9 / (1 - 0.3**2)
DEPTH = FORCE / (2 * RADIUS * MODULUS)
"""How far the rigid punch sinks (m)."""

STACK = 'length = "1200 mm"\nwidth = "1200 mm"\nplates = "1 x 600 mm"\ngrade = "steel"\n'
TEXT = f"""
[press]
name = "Punch"
capacity = "50 tf"
working_pressure = "63 MPa"
daylight = "300 mm"
stroke = "100 mm"
[crosshead]
{STACK}
[bed]
{STACK}
[rods]
count = 4
pitch = ["1000 mm", "1000 mm"]
diameter = "40 mm"
[ram]
shape = "disc"
outer_diameter = "100 mm"
interface = {{ kind = "KIND" }}
[materials.steel]
yield_strength = "300 MPa"
tensile_strength = "500 MPa"
"""


def pressed(kind: str, stiffer: float = 1.0) -> Pressing:
    """The block, a twelfth as wide as the punch; the bottom's modulus is changed by a factor."""
    press = layout.build(case_file.parse(TEXT.replace("KIND", kind), "punch.toml"))
    stack = press.crosshead
    for pad in stack.pads:
        steel = replace(pad.body.material, young=stiffer * pad.body.material.young)
        stack = replace(stack, pads=(replace(pad, body=replace(pad.body, material=steel)),))
    sizes = Sizes(0.14, round_divisions=10, ring_divisions=1, patch_divisions=16)
    mesh = make(stack, press.rods, frozenset(("x", "y")), sizes)
    return Pressing(press, stack, mesh, lambda step: None)


@pytest.fixture(scope="module")
def even() -> Pressing:
    return pressed("even")


@pytest.fixture(scope="module")
def rigid() -> Pressing:
    return pressed("loose", 1e4)


def under(found: Pressing) -> tuple[np.ndarray, np.ndarray]:
    """Radius over that of the punch, and pressure over the mean, at the nodes that it touches."""
    points = found.pressed.interfaces[0].map.points
    mean = FORCE / (math.pi * RADIUS**2)
    return np.hypot(*points[:, :2].T) / RADIUS, found.pressed.interfaces[0].map.pressure / mean


@pytest.mark.slow
def test_a_soft_bottom_presses_evenly(even):
    soft = pressed("loose", 1e-4)
    radius, pressure = under(soft)
    assert pressure[radius < 0.99] == pytest.approx(1.0, rel=1e-3)
    assert soft.deflection()[0] - even.deflection()[0] == pytest.approx(0, abs=3e-3 * DEPTH)


def test_a_rigid_bottom_sinks_like_a_punch(even, rigid):
    """Even pressure sinks by 4/π times as much; the difference is known to 1 % of the depth."""
    less = even.deflection()[0] - rigid.deflection()[0]
    assert less == pytest.approx((4 / math.pi - 1) * DEPTH, abs=0.01 * DEPTH)


def test_its_pressure_is_that_of_a_punch(rigid):
    """Within 3 % where elements of an eighth of the radius can follow it, outside on average."""
    radius, pressure = under(rigid)
    exact = 0.5 / np.sqrt(1 - np.minimum(radius, 0.95) ** 2)
    inside = radius < 0.4
    assert pressure[inside] == pytest.approx(exact[inside], rel=0.03)
    ring = (radius > 0.4) & (radius < 0.9)
    assert np.mean(pressure[ring] / exact[ring]) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("part", [0.5, 0.8])
def test_the_force_within_a_radius_is_that_of_a_punch(rigid, part):
    """F (1 − √(1 − r²/a²)), the pressure integrated; elements across r are taken by their share."""
    faces, state = rigid.faces, rigid.pressed.contact.state
    places = at_points(faces.places)
    inside = np.hypot(places[..., 0], places[..., 1]) < part * RADIUS
    force = 4 * float((faces.area * state.pressure * inside).sum())
    assert force == pytest.approx(FORCE * (1 - math.sqrt(1 - part**2)), rel=0.05)
