"""Bending across of saddles and platens on edge, which a beam along x leaves out."""

from __future__ import annotations

import math
from dataclasses import replace

from platestack.fea.hand import section
from platestack.fea.hand.bending import BeamSupport, Load, bend, supports
from platestack.fea.hand.situation import Effect, Situation, turned
from platestack.geometry.parts import Patch, Plate
from platestack.geometry.shapes import Outline


def across_on_edge(case: Situation) -> list[Effect]:
    """Bend saddles between nuts and upright plates, the platen between upright plates.

    Both are beams across. Where welded, the upright plates are joined on as ribs: up to one
    thickness (of saddle or platen) from their sides in the soft limit, as the root of a
    cantilever yields; whole, and kept from tilting (a clamped beam sags a quarter as much, its
    shear apart: 0.3 taken), in the stiff one. Where spacers tie welded plates together nothing
    bends across in the stiff one. Loose plates are no ribs. They stand upright, so that in the
    stiff limit the saddles are clamped on them. Nothing ties them together either, so that the
    platen bends in both limits: as long as it is, or as far as the patch spreads within it.
    """
    tied = any(plate.role == "spacer" for plate in case.stack.plates)
    if case.welded:
        whole = min(case.loaded_plate.outline.length, case.stack.patch.length + case.stack.depth)
        part = 0.0 if tied else 0.3
        saddles = part * _saddles(case, 0.0), _saddles(case, 1.0)
        uneven = part * _platen(case, 0.0, whole), _platen(case, 1.0, whole)
    else:
        whole = case.loaded_plate.outline.length
        short = min(whole, case.stack.patch.length + case.loaded_plate.thickness)
        sag = _saddles(case, math.inf)
        saddles = 0.3 * sag, sag
        uneven = _platen(case, math.inf, whole), _platen(case, math.inf, short)
    return [
        _between(
            "bending of the saddles",
            saddles,
            "saddles bend between nuts and plates, whose edges clamp them in part",
        ),
        _between(
            "uneven loading of the plates",
            uneven,
            "the platen bends across and loads the plates below the patch more",
        ),
    ]


def _between(name: str, ends: tuple[float, float], reason: str) -> Effect:
    """Return an effect that lies between two limits."""
    low, high = ends
    return Effect(name, (low + high) / 2, abs(high - low) / 2, reason)


def _saddles(case: Situation, root: float) -> float:
    """Mean sag (m) of the saddles: each a beam across under even shares of the upright plates."""
    total = sum(plate.thickness for plate in case.upright)
    sag = 0.0
    for row, carried in zip(supports(case.rods), case.curve.forces, strict=True):
        parts = [
            section.turned(plate)
            for plate in case.stack.plates
            if plate.role == "saddle" and plate.outline.box[0] < row.x < plate.outline.box[2]
        ]
        parts += _ribs(case, parts[0].outline.width, root * parts[0].thickness)
        rods = [replace(r, at=r.at[::-1]) for r in case.rods if abs(r.at[0] - row.x) < 1e-6]
        held = supports(rods)
        loads = tuple(
            Load(_strip(plate), float(carried) * plate.thickness / total) for plate in case.upright
        )
        curve = bend(tuple(parts), loads, held, welded=True, guided=len(held) == 1)
        sag += (curve.loaded - curve.supported) * len(rods) / len(case.rods)
    return sag


def _platen(case: Situation, root: float, reach: float) -> float:
    """Sag (m) by which the platen's middle exceeds the mean of the upright plates.

    A beam across on the upright plates as springs, `reach` (m) along x.
    """
    total = sum(plate.thickness for plate in case.upright)
    stiffness = case.force / case.deflection
    springs = tuple(
        BeamSupport(_middle(plate), (_strip(plate),), (stiffness * plate.thickness / total,))
        for plate in case.upright
    )
    platen = case.loaded_plate
    parts = [section.turned(replace(platen, outline=replace(platen.outline, length=reach)))]
    parts += _ribs(case, reach, root * platen.thickness)
    loads = (Load(turned(case.stack.patch), case.force),)
    curve = bend(tuple(parts), loads, springs, welded=True, guided=len(springs) == 1)
    return curve.at(0.0) + curve.supported - case.deflection


def _ribs(case: Situation, width: float, root: float) -> list[Plate]:
    """Return upright plates, those that touch as one, as parts of a beam along y.

    `width` (m) is theirs along x; what lies within `root` (m) of their sides is left out.
    """
    groups: list[tuple[float, float]] = []
    for plate in sorted(case.upright, key=lambda plate: plate.base):
        if groups and plate.base - groups[-1][1] < 1e-6:
            groups[-1] = groups[-1][0], plate.top
        else:
            groups.append((plate.base, plate.top))
    one = case.upright[0]
    low, high = one.bounds[0][2], one.bounds[1][2]
    ribs = []
    for start, end in groups:
        length = end - start - 2 * root
        if length > 0:
            outline = Outline(length, width, centre=((start + end) / 2, 0.0))
            ribs.append(
                replace(one, outline=outline, base=low, thickness=high - low, normal="z", holes=())
            )
    return ribs


def _strip(upright: Plate) -> Patch:
    """Return the edge of an upright plate, with y along the beam's x."""
    return Patch("rectangle", (_middle(upright), 0.0), upright.thickness, upright.thickness)


def _middle(upright: Plate) -> float:
    return upright.base + upright.thickness / 2
