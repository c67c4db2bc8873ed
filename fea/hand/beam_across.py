"""Bending across, which a beam along x leaves out: flat stacks, saddles and platens on edge."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from platestack.fea.hand import section
from platestack.fea.hand.bending import BeamSupport, Load, bend, supports
from platestack.fea.hand.situation import Effect, Situation, turned
from platestack.geometry.parts import Outline, Patch, Plate


def across_flat(case: Situation) -> list[Effect]:
    """Bend a flat stack across too, from the patch to the rod lines.

    A plate on corner supports carries moments Mx(x)/W and My(y)/L per length, those of one beam
    along and one across that carry the whole load each. Its complementary energy

        U = 1/2 ∫∫ (mx² + my² − 2ν mx my) / (E t³/12) dx dy

    (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., art. 10, without
    twist) makes the two deflections add, less −2ν/F ∫ Mx/EIx dx ∫ My dy / L for their coupling.
    """
    curve = case.curve_across
    even = case.read(curve)
    crowded = even * (_crowding(case) - 1)
    poisson = case.loaded_plate.material.poisson
    coupling = -2 * poisson / case.force * case.curve.turn * curve.moment_area / case.length
    lean = abs(case.stack.patch.centre[1]) / _pitch_across(case)
    found = [
        Effect(
            "bending across",
            even + crowded,
            0.15 * abs(even) + 0.4 * abs(crowded) + lean * case.deflection,
            "the patch sags between the rod lines; a beam along x is rigid across",
        ),
        Effect(
            "coupling of the two bendings",
            coupling,
            0.3 * abs(coupling),
            "bending one way curves a wide plate the other way, by Poisson's ratio",
        ),
    ]
    if len(supports(replace(rod, at=rod.at[::-1]) for rod in case.rods)) == 1:
        found.append(_gathering(case))
    return found


def _crowding(case: Situation) -> float:
    """Factor on bending across, for moments that do not spread over the whole length.

    What a row of rods carries flows to it over a length of patch, half the pitch across, and
    twice the row's distance. With fractions f of the force over lengths l, centred, out of L,
    the energy of evenly spread moments grows to ΣΣ f_r f_s L / max(l_r, l_s).
    """
    rows = supports(case.rods)
    patch = case.stack.patch
    away = np.array([abs(row.x - patch.centre[0]) for row in rows])
    spread = np.minimum(patch.length + _pitch_across(case) / 2 + 2 * away, case.length)
    part = case.curve.forces / case.force
    return float(part @ (case.length / np.maximum.outer(spread, spread)) @ part)


def _gathering(case: Situation) -> Effect:
    """With rods on the x axis alone, each end gathers its force from the width to the nut.

    Two cantilevers of half the width c under even load: mean deflection q c⁴ / (20 EI), over a
    length along x as great as the width (Saint-Venant's principle).
    """
    curve = case.curve
    width = max(plate.outline.width for plate in case.plates)
    length = min(width, case.length / 2)
    per_width = float(curve.stiffness.bending.max()) / width
    value = case.force / 2 / width * (width / 2) ** 4 / (20 * per_width * length)
    return Effect(
        "gathering at the nuts",
        value,
        value,
        "rods on the x axis alone: the ends bend across to reach the nuts",
    )


def across_on_edge(case: Situation) -> list[Effect]:
    """Bend saddles between nuts and upright plates, the platen between upright plates.

    Both are beams across. Where welded, the upright plates are joined on as ribs: up to one
    thickness (of saddle or platen) from their sides in the soft limit, as the root of a
    cantilever yields; whole, and kept from tilting (a clamped beam sags a quarter as much, its
    shear apart: 0.3 taken), in the stiff one. Loose plates are no ribs in the soft limit. In the
    stiff one of loose plates, and of those that spacers tie together, nothing bends across.
    """
    names = "bending of the saddles", "uneven loading of the plates"
    reasons = (
        "saddles bend between nuts and plates, whose edges clamp them in part",
        "the platen bends across and loads the plates below the patch more",
    )
    tied = any(plate.role == "spacer" for plate in case.stack.plates)
    found = []
    for name, reason, sag in zip(names, reasons, (_saddles, _platen), strict=True):
        high = sag(case, 1.0 if case.welded else math.inf)
        low = 0.3 * sag(case, 0.0) if case.welded and not tied else 0.0
        found.append(Effect(name, (low + high) / 2, abs(high - low) / 2, reason))
    return found


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


def _platen(case: Situation, root: float) -> float:
    """Sag (m) by which the platen's middle exceeds the mean of the upright plates.

    A beam across on the upright plates as springs, as long along x as the patch spreads at 45
    degrees through half the depth.
    """
    total = sum(plate.thickness for plate in case.upright)
    stiffness = case.force / case.deflection
    springs = tuple(
        BeamSupport(_middle(plate), (_strip(plate),), (stiffness * plate.thickness / total,))
        for plate in case.upright
    )
    platen = case.loaded_plate
    reach = min(platen.outline.length, case.stack.patch.length + case.stack.depth)
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


def _pitch_across(case: Situation) -> float:
    """Distance of the outer rod lines (m), or the width where there is one line only."""
    y = [rod.at[1] for rod in case.rods]
    return max(y) - min(y) or max(plate.outline.width for plate in case.plates)
