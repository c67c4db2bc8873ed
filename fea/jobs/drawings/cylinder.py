"""The cylinder put together, in section, with its part numbers: ram in."""

from __future__ import annotations

from dataclasses import replace

from platestack.fea.jobs.drawings import notes
from platestack.fea.jobs.drawings.balloons import balloons
from platestack.geometry import bodies
from platestack.geometry.cylinder_part import Cylinder
from platestack.geometry.drafting.dimensions import Span, tiers
from platestack.geometry.drafting.draft import Draft
from platestack.geometry.drafting.frame import DrawingHead, SheetDraft, compose
from platestack.geometry.drafting.paper import paper
from platestack.geometry.drafting.turned_view import assembled
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.shapes import Point
from platestack.geometry.units import dimension, quantity

NUMBER = "Z00"


def assembly(press: Press, case: Case, head: DrawingHead, sheet: str) -> SheetDraft:
    """The sheet of the cylinder."""
    made = press.cylinder
    assert made is not None, "geometry.layout puts one into every press"
    own = replace(head, number=NUMBER, title="cylinder", kind="assembly drawing", quantity="1",
                  mass=f"{quantity(made.mass, 'kg')} without oil")  # fmt: skip
    words = notes.assembled_cylinder(made, press, case)
    return compose(own, lambda scale: _section(made, case, scale), words, (paper("large"),), sheet)


def _section(made: Cylinder, case: Case, scale: float) -> Draft:
    """All parts in their places, the bearing face at the left."""
    draft, k = Draft(), 1e3 * scale
    parts = bodies.cylinder_parts(made, threaded=case.cylinder.gland_bolts is None)
    inside = made.bottom + made.piston
    end = inside + made.stroke + made.gland
    at = {"Z01": made.bottom, "Z02": 0.0, "Z03": end - made.gland, "Z04": made.bottom,
          "Z05": inside}  # fmt: skip
    for number, lean in (("Z01", 1), ("Z02", -1), ("Z03", -1), ("Z04", 0), ("Z05", 0)):
        assembled(draft, parts[number], at[number], scale, lean)
    outer = made.outer_diameter
    places: dict[str, Point] = {
        "Z01": (k * (inside + made.stroke / 2), k * (made.bore + outer) / 4),
        "Z02": (k * made.bottom / 2, k * made.bore / 4),
        "Z03": (k * (end - made.gland / 2), k * (made.bore + made.ram) / 4),
        "Z04": (k * (made.bottom + made.piston / 2), -k * made.bore / 4),
        "Z05": (k * (inside + made.stroke / 2), -k * made.ram / 4),
    }
    flange = case.ram.flange
    if flange is not None:
        ring = bodies.ring(flange.outer_diameter, outer, flange.thickness)
        assembled(draft, ring, 0.0, scale, 1)
        outer = flange.outer_diameter
        places["Z06"] = k * flange.thickness / 2, -k * (made.outer_diameter + outer) / 4
    draft.own().stroke((-3.0, 0.0), (k * made.length + 3.0, 0.0), ink="centre")
    _dimensions(draft, made, k, k * outer / 2)
    balloons(draft, places, -1)
    return draft


def _dimensions(draft: Draft, made: Cylinder, k: float, low: float) -> None:
    """Lengths below, diameters on the right."""
    inside = made.bottom + made.piston
    end = inside + made.stroke + made.gland
    half = k * made.outer_diameter / 2
    faces = ((0.0, made.bottom), (made.bottom, inside), (inside, inside + made.stroke),
             (end - made.gland, end), (0.0, end), (0.0, made.length))  # fmt: skip
    tiers(draft, "below", [
        Span(k * a, k * b, (half, half), dimension(b - a), ()) for a, b in faces if b > a + 1e-9
    ], low)  # fmt: skip
    spans = [
        Span(-k * d / 2, k * d / 2, (k * x, k * x), f"⌀ {dimension(d)}{fit}", ())
        for d, x, fit in ((made.ram, made.length, " f7"), (made.bore, end, " H8"),
                          (made.outer_diameter, end, ""))
    ]  # fmt: skip
    tiers(draft, "right", spans, k * made.length + 2.0)
