"""Which mirror planes a stack has, and which of them its mesh uses."""

from __future__ import annotations

import dataclasses
from collections import Counter
from typing import Any, Literal

from platestack.geometry.errors import UsageError
from platestack.geometry.parts import Plate, Stack, TieRod
from platestack.geometry.shapes import mirror

Symmetry = frozenset[Literal["x", "y"]]
"""Mirror planes used: "x" stands for the plane x = 0, "y" for y = 0."""

FORCED: dict[str, Symmetry] = {
    "quarter": frozenset(("x", "y")),
    "half x": frozenset(("x",)),
    "half y": frozenset(("y",)),
    "whole": frozenset(),
}


def symmetry_of(stack: Stack, rods: tuple[TieRod, ...]) -> Symmetry:
    """Mirror planes of a stack together with what loads and holds it."""
    planes: tuple[Literal["x", "y"], ...] = ("x", "y")
    annuli = [(rod.annulus, rod.preload) for rod in rods]
    found = set()
    for axis, plane in enumerate(planes):
        same_plates = _multiset(_unnamed(p) for p in stack.plates) == _multiset(
            plate.mirrored(axis) for plate in stack.plates
        )
        same_rods = _multiset(annuli) == _multiset(
            (annulus.mirrored(axis), preload) for annulus, preload in annuli
        )
        same_bolts = _multiset(dataclasses.replace(b, name="") for b in stack.bolts) == _multiset(
            bolt.mirrored(axis) for bolt in stack.bolts
        )
        same_load = _signature((stack.patch, stack.off)) == _signature(
            (stack.patch.mirrored(axis), mirror(stack.off, axis))
        )
        if same_plates and same_rods and same_bolts and same_load:
            found.add(plane)
    return frozenset(found)


def choose_symmetry(stack: Stack, rods: tuple[TieRod, ...], wish: str = "auto") -> Symmetry:
    """Mirror planes to use: all there are, or those forced.

    Raises
    ------
    UsageError
        If a plane is forced that the stack does not have.
    """
    present = symmetry_of(stack, rods)
    if wish == "auto":
        return present
    forced = FORCED[wish]
    if not forced <= present:
        lacking = " and ".join(f"{plane} = 0" for plane in sorted(forced - present))
        raise UsageError(
            f'mesh.symmetry: given "{wish}"; the {stack.name} is not symmetric at {lacking}; '
            'allowed: "auto", or planes that it has'
        )
    return forced


def _unnamed(plate: Plate) -> Plate:
    return dataclasses.replace(plate, name="")


def _signature(thing: Any) -> Any:
    """Value of a part for comparison: lengths to the nanometre, order of holes irrelevant."""
    if dataclasses.is_dataclass(thing):
        return tuple(_signature(getattr(thing, f.name)) for f in dataclasses.fields(thing))
    if isinstance(thing, tuple):
        if thing and dataclasses.is_dataclass(thing[0]):
            return frozenset(_multiset(thing).items())
        return tuple(_signature(item) for item in thing)
    return round(thing, 9) + 0.0 if isinstance(thing, float) else thing


def _multiset(things: Any) -> Counter:
    return Counter(_signature(thing) for thing in things)
