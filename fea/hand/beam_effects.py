"""What a beam along x leaves out of a stack's mid-span deflection, each effect estimated.

A stack is short, deep and wide, so beam theory alone is no check of a finite-element result: with
these estimates it is. Each has a spread that says how far the estimate may be off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from platestack.fea.hand import halfspace, joint, section
from platestack.fea.hand.beam_across import across_on_edge
from platestack.fea.hand.bending import Curve, Load, bend, supports
from platestack.fea.hand.leaves import Leaves
from platestack.fea.hand.plate_bending import as_plate
from platestack.fea.hand.situation import Effect, Situation, turned
from platestack.geometry.parts import Patch, Plate, TieRod
from platestack.geometry.units import fixed

FloatArray = npt.NDArray[np.float64]


def effects(case: Situation) -> tuple[Effect, ...]:
    """Estimate everything that the beam leaves out."""
    flat = case.stack.layout == "flat"
    across = [as_plate(case)] if flat else across_on_edge(case)
    return (
        *across,
        _thickening(case),
        _patch(case),
        _nuts(case),
        _depth(case),
        _holes(case),
        *_short_plates(case),
        *_leaves(case),
        *_closing(case),
        *_pads(case),
        *_seats(case),
        *_mesh(case),
    )


def _thickening(case: Situation) -> Effect:
    """Estimate by how much bending thickens the loaded half by Poisson's ratio.

    Bending compresses the loaded side along and across, so that its face moves away from
    mid-depth, against the deflection: ∫ ν (σx + σy) / E dz over half the depth h, which is
    ν (h/2)² / 2 times the sum of the (negative) curvatures.
    """
    plate = case.loaded_plate
    depth = case.depth if case.welded else plate.bounds[1][2] - plate.bounds[0][2]
    curvature = case.curve.curvature(0.0)
    if case.stack.layout == "flat":
        curvature += case.curve_across.curvature(0.0)
    value = plate.material.poisson * (depth / 2) ** 2 / 2 * curvature
    return Effect(
        "thickening in bending",
        value,
        0.3 * abs(value),
        "the loaded face is compressed by bending and bulges towards the load",
    )


def _patch(case: Situation) -> Effect:
    """Settlement of the loaded face at the reading, less that at mid-depth, on the axis.

    Away from the patch's middle the settlement dies out.
    """
    plate, patch, depth = case.loaded_plate, case.stack.patch, case.stack.depth
    young, poisson = plate.material.young, plate.material.poisson
    if case.reading > 0:
        face = halfspace.at_inner_edge(case.force, patch, young, poisson)
        weaker = 1 / (1 - min(case.opening / patch.length, 0.7) ** 2)
    else:
        face = halfspace.below_patch(case.force, patch, 0.0, young, poisson)
        weaker = 1.0
    value, uncertainty = _settled(case, face, case.force, patch, plate)
    value *= (1 + weaker) / 2
    away = max(2 * abs(patch.centre[0]) / patch.length, 2 * abs(patch.centre[1]) / patch.width)
    away = min(away, 1.0)
    return Effect(
        "compression under the patch",
        value * (1 - away / 2),
        uncertainty + abs(value) * (0.12 + away / 2 + (weaker - 1) / 4),
        f"half-space of depth {fixed(depth / 2, 'm', 0)} under the patch's pressure",
    )


def _nuts(case: Situation) -> Effect:
    """Mean settlement of a nut's annulus, less that at mid-depth.

    The hole takes away a share (d/D)² of the steel below the bearing circle; the settlement of
    the full half-space is divided by the rest. Of rods with seats, only a share of the working
    force comes in under the nut; the rest takes pressure off the seat on the other face, which
    lets the mid-depth follow the seat a little more than the nut does. Seats that bear on saddles
    squeeze these alone.
    """
    plate = case.nut_plate
    young, poisson = plate.material.young, plate.material.poisson
    annulus = case.rods[0].annulus
    each = case.force / len(case.rods)
    face = halfspace.mean(each, annulus, young, poisson)
    rest = 1 - (annulus.inner / annulus.length) ** 2
    value, uncertainty = _settled(case, face, each, annulus, plate)
    low, high = joint.felt(case.rods[0]).usual if _squeezed(case) else (1.0, 1.0)
    share, either = (low + high) / 2, (high - low) / 2
    depth = case.stack.depth
    near, far = (
        halfspace.below_patch(each, annulus, part, young, poisson) for part in (depth / 2, depth)
    )
    tail = (1 - share) * (near - far)
    return Effect(
        "compression at the nuts",
        (share * value - tail) / rest,
        (0.2 * share * value + uncertainty + either * value + 0.5 * tail) / rest,
        "half-space under the nuts' pressure, weakened by the rod holes",
    )


def _squeezed(case: Situation) -> bool:
    """Whether the rods squeeze the whole depth between nut and seat."""
    annulus = case.rods[0].seat_annulus
    face = None if annulus is None else case.stack.seat_face(annulus)
    return face is None or abs(face - case.stack.nut_face) > case.stack.depth / 2


def _settled(
    case: Situation, face: float, force: float, patch: Patch, plate: Plate
) -> tuple[float, float]:
    """Shortening from the face down to mid-depth, and its uncertainty (m).

    Below the platen or saddle of upright plates with gaps, the steel's share of the width carries
    the force where it spreads across, and nothing is lost where it finds a plate below: the mean.
    """
    young, poisson = plate.material.young, plate.material.poisson
    half = case.stack.depth / 2
    middle = halfspace.below_patch(force, patch, half, young, poisson)
    below = halfspace.below_patch(force, patch, min(plate.thickness, half), young, poisson)
    more = (below - middle) * (1 / case.solid - 1)
    return face - middle + more / 2, abs(more) / 2


def _depth(case: Situation) -> Effect:
    """Round off the beam's sharp bend under a point force, as in a deep beam.

    Timoshenko and Goodier, Theory of Elasticity, 3rd ed., chapter on beams (Lamb, Filon; not
    verified): the middle of a narrow beam of span l, depth h sags by P l³/48EI times
    1 + 2.85 (h/l)² − 0.84 (h/l)³, where κ = 5/6 gives 1 + 3.12 (h/l)². Where rods stand in more
    rows than two, l is twice the mean distance from the load of the forces that they carry.
    """
    away = [abs(row.x - case.stack.patch.centre[0]) for row in supports(case.rods)]
    carried = abs(case.curve.forces)
    slender = case.depth / (2 * float(carried @ away) / carried.sum())
    bending = case.curve.bending_work / case.force
    value = -(0.27 * slender**2 + 0.84 * slender**3) * bending
    return Effect(
        "plane sections that bend",
        value,
        0.6 * abs(value),
        f"depth over span {slender:.2f}: sections near the forces do not stay plane",
    )


def _holes(case: Situation) -> Effect:
    """Stresses flow around a hole and miss more steel than its net section.

    In a plate in tension a small round hole costs three times the compliance of the steel taken
    out (Kirsch 1898, dilute limit 1 + 3φ of the plane compliance); net sections count one. What
    bends across does so near the rods that it flows to.
    """
    gross = [section.without_holes(plate) for plate in case.plates]
    lost = case.deflection - case.read(case.along(gross))
    if case.stack.layout == "flat":
        across = case.read(case.curve_across) - case.read(case.across(gross))
        lost += _crowding(case) * across
    return Effect(
        "flow around holes",
        2 * lost,
        1.2 * abs(lost),
        "more than the net section is lost beside holes and grooves",
    )


def _crowding(case: Situation) -> float:
    """Moments across near the patch over those spread evenly along the plates.

    What a row of rods carries flows to it over a length of patch, half the pitch across, and twice
    the row's distance (Saint-Venant's principle).
    """
    rows, patch = supports(case.rods), case.stack.patch
    pitch = 2 * max(abs(rod.at[1]) for rod in case.rods)
    away = np.array([abs(row.x - patch.centre[0]) for row in rows])
    spread = np.minimum(patch.length + pitch / 2 + 2 * away, case.length)
    return float(case.curve.forces / case.force @ (case.length / spread))


def _short_plates(case: Situation) -> list[Effect]:
    """Let a plate shorter than the stack take up its share over about its thickness."""
    longest = max(plate.outline.length for plate in case.plates)
    short = [
        p for p in case.plates
        if p.outline.contour is None and p.outline.length < longest - p.thickness / 2
    ]  # fmt: skip
    if not short:
        return []
    kept = []
    for plate in case.plates:
        length = plate.outline.length - (2 * plate.thickness if plate in short else 0.0)
        if length > 0:
            kept.append(replace(plate, outline=replace(plate.outline, length=length)))
    more = case.read(case.along(kept)) - case.deflection
    return [
        Effect(
            "ends of shorter plates",
            more / 2,
            more / 2,
            "a shorter plate does not carry its full share near its ends",
        )
    ]


def _leaves(case: Situation) -> list[Effect]:
    """Loose plates need not share one deflection: they part where nothing presses them together."""
    if case.welded or len(case.plates) == 1:
        return []
    return [
        Effect(
            "parting of loose plates",
            0.0,
            0.06 * case.deflection,
            "loose plates part where nothing presses them together",
        )
    ]


def _closing(case: Situation) -> list[Effect]:
    """Let uneven loose plates bend one after the other until the gaps between them close.

    Flat plates are leaves (`fea.hand.leaves`), softer by what bends across between the outer rods,
    which is what a plate spans before it rests on others. On edge
    platen and saddles lie on the upright plates' edges; how far their bow closes is not known.
    """
    gap, loose = case.stack.gap, not case.welded and len(case.plates) > 1
    if not (loose and gap):
        return []
    name = "closing of gaps"
    reason = "uneven plates bend one after the other until the gaps between them close"
    if case.stack.layout == "on edge":
        lying = [plate for plate in case.stack.plates if plate.role in ("platen", "saddle")]
        faces = 2 if any(plate.role == "saddle" for plate in lying) else 1
        even = faces * gap.uniform * (case.rods[0].seat == "none")
        more = faces * (abs(gap.bow) + gap.waviness)
        return [Effect(name, even + more / 2, more / 2, reason)]
    ends = [abs(rod.at[0]) for rod in case.rods]
    outer = case.on(tuple(rod for rod, x in zip(case.rods, ends, strict=True) if x > max(ends) / 2))
    leaves = Leaves.of(case, max(1 + as_plate(outer).value / outer.deflection, 0.5))
    value = leaves.sag(leaves.gap) - leaves.sag(np.where(np.isfinite(leaves.gap), 0.0, np.inf))
    even = (len(case.plates) - 1) * gap.uniform * (case.rods[0].seat == "none")
    return [Effect(name, value, 0.15 * abs(value - even), reason)]


def _pads(case: Situation) -> list[Effect]:
    """The cylinder's end bends with the plates: between not at all and as if it were one of them.

    A loose one is a leaf at most. Washers, which are small, are left out.
    """
    ends = [pad for pad in case.stack.pads if pad.body.role == "flange"]
    if not ends:
        return []
    joined = [pad.body for pad in ends if pad.kind != "loose"]
    leaves = tuple(pad.body for pad in ends if pad.kind == "loose")
    less = case.read(case.along([*case.plates, *joined], leaves)) - case.deflection
    return [
        Effect(
            "cylinder's end as a body",
            less / 2,
            abs(less) / 2,
            "the end of the cylinder stiffens the plates on which it presses",
        )
    ]


def _seats(case: Situation) -> list[Effect]:
    """Seats that are pressed, and the rods in them, hold the slope of the plates.

    All round they do so as springs against tilt (`fea.hand.support`), of which the steel under them
    takes a part; where their moment is beyond the kern of what is left on them they open at one
    edge, and may hold hardly at all.
    """
    rod = case.rods[0]
    if rod.seat == "none":
        return []
    less, closed = _held_slope(case, case.rods, case.plates, case.loads[0])
    if case.stack.layout == "flat":
        turned_rods = tuple(replace(rod, at=rod.at[::-1]) for rod in case.rods)
        load = Load(turned(case.stack.patch), case.force)
        plates = tuple(section.turned(plate) for plate in case.plates)
        more, closed_too = _held_slope(case, turned_rods, plates, load)
        less, closed = less + more, closed and closed_too
    part, spread = (0.8, 0.3) if closed else (0.5, 0.5)
    return [
        Effect(
            "slope held by seats",
            part * less,
            spread * abs(less),
            "seats that are pressed all round, and the rods in them, resist the tilt of the plates",
        )
    ]


def _held_slope(
    case: Situation, rods: Sequence[TieRod], plates: tuple[Plate, ...], load: Load
) -> tuple[float, bool]:
    """What seats add to the deflection along x (m), negative, and whether no edge of them opens."""
    held = supports(rods)
    if len(held) < 2:
        return 0.0, True
    found = joint.against_tilt(rods[0])
    outer = max(rods[0].seat_outer, rods[0].diameter)

    def bent(couples: Sequence[float]) -> Curve:
        loads = [load]
        for row, couple in zip(held, couples, strict=True):
            for side in (1, -1):
                patch = Patch("disc", (row.x + side * outer / 4, 0.0), outer / 2, outer / 2)
                loads.append(Load(patch, side * couple / (outer / 2)))
        return bend(plates, tuple(loads), held, welded=case.welded)

    def read(curve: Curve) -> tuple[float, FloatArray]:
        ends = np.array([[row.x - outer / 4, row.x + outer / 4] for row in held])
        at = np.interp(ends, curve.x, curve.deflection)
        return case.read(curve), (at[:, 1] - at[:, 0]) / (outer / 2)

    unit = case.force * outer
    sag, slope = read(bent([0.0] * len(held)))
    each = [read(bent(row)) for row in unit * np.eye(len(held))]
    sags = np.array([one - sag for one, _ in each]) / unit
    slopes = np.array([one - slope for _, one in each]).T / unit
    count = np.array([len(row.patches) for row in held])
    moments = -np.linalg.solve(np.diag(1 / (count * found)) + slopes, slope)
    # What is left on a seat of all that its rod bears, against the moment that it has to take.
    worst = float(np.abs(moments / count).max())
    force = float(np.abs(case.curve.forces / [len(r.patches) for r in supports(case.rods)]).max())
    left = rods[0].preload - (1 - joint.felt(rods[0]).usual[0]) * force
    return float(sags @ moments), worst < joint.kern(rods[0]) * left


def _mesh(case: Situation) -> list[Effect]:
    return [Effect("discretisation", 0.0, 0.03 * case.deflection, "both methods are approximate")]
