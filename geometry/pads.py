"""Washers and the cylinder's end as bodies between a stack and what presses on it."""

from __future__ import annotations

from collections.abc import Iterator

from platestack.geometry.errors import Problem
from platestack.geometry.parts import Cylinder, Pad, Patch, Plate, Point, Press, Stack, TieRod
from platestack.geometry.schema import Case
from platestack.geometry.shapes import Outline, RoundHole
from platestack.geometry.units import LENGTH, show

LEAST_RING = 0.001
"""Least width of a ring on which nut or wall bears (m): below it a mesh has no sense."""


def of_stack(
    case: Case, stack: Stack, rods: tuple[TieRod, ...], cylinder: Cylinder
) -> tuple[Pad, ...]:
    """Bodies that the case wants between a stack and what presses on it; none where even."""
    return (*_washers(case, stack, rods), *_cylinder_end(case, stack, cylinder))


def _washers(case: Case, stack: Stack, rods: tuple[TieRod, ...]) -> Iterator[Pad]:
    """A washer under each nut, as large as the annulus it bears on; the nut presses on a ring."""
    wish = case.rods.washer_interface
    if wish.kind == "even":
        return
    for rod in rods:
        thickness = rod.washer_thickness
        base = stack.nut_face if stack.direction == 1 else stack.nut_face - thickness
        steel = rod.washer_material or rod.material
        yield Pad(
            Plate(
                f"washer of {rod.name}",
                "washer",
                disc(rod.at, rod.bearing_outer),
                thickness,
                base,
                steel,
                holes=(RoundHole(rod.at, rod.hole, "rod"),),
            ),
            f"nut of {rod.name}",
            stack.direction,
            nut_ring(rod),
            "nut",
            wish.kind,
            wish.friction,
        )


def nut_ring(rod: TieRod) -> Patch:
    """Where a nut bears on its washer: inside the circle in its hexagon."""
    outer = min(rod.nut_across_flats, rod.bearing_outer)
    return Patch("annulus", rod.at, outer, outer, rod.hole)


def _cylinder_end(case: Case, stack: Stack, cylinder: Cylinder) -> Iterator[Pad]:
    """The flange, or the bottom, of the cylinder over the area that bears.

    On an annulus the wall presses on it, on a disc the oil over the bore. What of the bottom spans
    the bore of an annulus, and the wall as a stiffener, are left out.
    """
    wish, flange, area = case.ram.interface, case.ram.flange, stack.patch
    if wish.kind == "even" or stack.patch_name != "ram":
        return
    thickness = flange.thickness if flange else cylinder.bottom
    base = stack.load_face - thickness if stack.direction == 1 else stack.load_face
    holes = (RoundHole(area.centre, area.inner),) if area.inner else ()
    yield Pad(
        Plate(
            "flange" if flange else "cylinder bottom",
            "flange",
            disc(area.centre, area.length),
            thickness,
            base,
            cylinder.bottom_material,
            holes=holes,
        ),
        "ram",
        1 if stack.direction == -1 else -1,
        pressed_by_cylinder(area, cylinder),
        "cylinder's wall" if area.inner else "bore",
        wish.kind,
        wish.friction,
    )


def pressed_by_cylinder(area: Patch, cylinder: Cylinder) -> Patch:
    """Where the cylinder's force enters its end: under the wall, or over the bore."""
    if not area.inner:
        bore = min(cylinder.bore, area.length)
        return Patch("disc", area.centre, bore, bore)
    outer = min(cylinder.outer_diameter, area.length)
    return Patch("annulus", area.centre, outer, outer, max(cylinder.bore, area.inner))


def mistakes(press: Press) -> Iterator[Problem]:
    """What presses on a pad stands on it, on a ring of some width; rods are all alike."""
    wrong = {
        pad.body.role: stack
        for stack in press.stacks
        for pad in stack.pads
        if pad.force.length - pad.force.inner < 2 * LEAST_RING
    }
    if "washer" in wrong:
        rod = press.rods[0]
        yield Problem(
            "rods.nut_across_flats",
            show(rod.nut_across_flats, LENGTH),
            "the nut does not bear on its washer; allowed: more than the rod hole, "
            f"{show(rod.hole, LENGTH)}",
        )
    if "flange" in wrong:
        made, area = press.cylinder, wrong["flange"].patch
        assert made is not None, "the cylinder's end is a pad"
        yield Problem(
            "ram.interface",
            f"wall from {show(made.bore, LENGTH)} to {show(made.outer_diameter, LENGTH)}",
            "the cylinder's wall does not stand on the ring that bears, "
            f"{show(area.inner, LENGTH)} to {show(area.length, LENGTH)}; allowed: "
            'ram.inner_diameter and ram.outer_diameter that overlap with it, or kind "even"',
        )


def disc(centre: Point, diameter: float) -> Outline:
    """A round outline."""
    return Outline(diameter, diameter, "rounded", diameter / 2, centre)
