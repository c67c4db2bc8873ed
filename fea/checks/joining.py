"""What holds the plates of a stack together: clamp bolts, and what acting as one would take."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from platestack.fea.hand import bolts, connectors, section, shear
from platestack.fea.hand.bending import Load, NotABeam, bend, supports
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import ClampBoltEntry, Fastening
from platestack.geometry.stacking import bolt_bearing, bolt_hole
from platestack.geometry.units import fixed, percent, quantity

_UNLISTED = "ISO 898-1 ends at M39: ask for a certificate of the strength."
_SCREW = "VDI 2230-1:2015, not verified against the standard; strengths of ISO 898-1"


def clamp_bolts(solution: Solution) -> list[Check]:
    """Preload of the clamp bolts against their class, pressure under their nuts, and slip."""
    checks: list[Check] = []
    for stack in solution.press.stacks:
        for bolt in _kinds(solution, stack):
            checks += _tightened(stack, bolt)
        checks += _slips(solution, stack)
    return checks


def _slips(solution: Solution, stack: Stack) -> Iterator[Check]:
    """Slip between plates taken as welded, where nothing but clamp bolts makes them so."""
    own, plates = getattr(solution.case, stack.name), section.bending_plates(stack.plates)
    alone = stack.interface == "welded" and own.clamp_bolts and own.connectors is None
    if not alone or stack.layout != "flat" or len(plates) < 2:
        return
    try:
        force, height = composite_shear(solution.press, stack)
    except NotABeam:
        return
    friction = own.interface.friction
    yield Check(
        stack.name,
        "slip between plates taken as welded",
        force,
        # A half without bolts, or no friction: 1 N, so that the use is a number.
        max(_grips(own.clamp_bolts, friction, stack), 1.0),
        "N",
        "friction of the clamp bolts, one half",
        "T ≤ max(μ·F_V / (α_A·γ_M3), 1)",
        "Jourawski's formula; EN 1993-1-8 3.9.1, not verified against the standard",
        f"interface {fixed(abs(height - stack.load_face), 'm', 0)} from the loaded face; friction "
        "the pressing force not counted",
        (Input("T", force, "N"), *_slipping(own.clamp_bolts, friction, stack)),
        (
            'Where the bolts slip the stack is not welded: take it as "clamped" or "loose", or '
            "weld or dowel it.",
        ),
        method="T = ∫ V S / I dx over one half; F_V of all bolts of the weaker half; 1 N at least",
    )


def _fewest(given: tuple[ClampBoltEntry, ...], stack: Stack) -> int:
    """Bolts in the half that has fewer."""
    away = [bolt.at[0] - stack.patch.centre[0] for bolt in given]
    return min(sum(sign * x > 1e-9 for x in away) for sign in (1, -1))


def _grips(given: tuple[ClampBoltEntry, ...], friction: float, stack: Stack) -> float:
    """Force (N) that the bolts of the weaker half hold by friction."""
    centre = stack.patch.centre[0]
    return min(
        sum(
            bolts.slip_resistance(preload(b), friction, bolts.SCATTER[b.tightening])
            for b in given
            if sign * (b.at[0] - centre) > 1e-9
        )
        for sign in (1, -1)
    )


def _slipping(
    given: tuple[ClampBoltEntry, ...], friction: float, stack: Stack
) -> tuple[Input, ...]:
    """What goes into the slip resistance; preload over scatter of bolts of several kinds."""
    scatter = max(bolts.SCATTER[b.tightening] for b in given)
    held = _grips(given, friction, stack) / friction if friction else 0.0
    return (
        Input("μ", friction, "1"), Input("F_V", held * scatter * bolts.SLIP_FACTOR, "N"),
        Input("α_A", scatter, "1"), Input("γ_M3", bolts.SLIP_FACTOR, "1"),
    )  # fmt: skip


def joining_facts(solution: Solution) -> list[Fact]:
    """How to tighten the clamp bolts; what it takes that the plates act as one."""
    facts: list[Fact] = []
    for stack in solution.press.stacks:
        for bolt in _kinds(solution, stack):
            facts += _tightening(stack, bolt)
        facts += _as_one(solution, stack)
    return facts


def preload(bolt: Fastening) -> float:
    """Preload of a bolt (N): given, or what its class allows."""
    return bolt.preload or allowed_preload(bolt)


def allowed_preload(bolt: Fastening) -> float:
    """Preload (N) that the property class of a bolt allows."""
    return bolts.class_preload(bolt.thread, bolt.property_class, bolt.thread_friction)


PRELOAD = "F_V ≤ A_s·ν·R_e / √(1 + 3·(3/2·d_2/d_0·(P/(π·d_2) + μ/cos(π/6)))²)"
"""Preload against what tension and torsion leave of yield; d_0 the mean of d_2 and d_3."""
TORQUE = "F_V·(P/(2·π) + μ·d_2/(2·cos(π/6)) + μ·(d_w + d_h)/4)"


def tightened(bolt: Fastening) -> tuple[Input, ...]:
    """What goes into `PRELOAD`."""
    thread = tables.thread(bolt.thread)
    strength = tables.property_class(bolt.property_class, thread.d)
    return (
        Input("F_V", preload(bolt), "N"), Input("A_s", thread.stress_area, "m²"),
        Input("ν", bolts.UTILISATION, "1"), Input("R_e", strength.yield_strength, "Pa"),
        Input("d_2", thread.d2, "m"), Input("d_0", (thread.d2 + thread.d3) / 2, "m"),
        Input("P", thread.pitch, "m"), Input("μ", bolt.thread_friction, "1"),
    )  # fmt: skip


def turned(bolt: Fastening) -> tuple[Input, ...]:
    """What goes into `TORQUE`."""
    thread, (outer, hole) = tables.thread(bolt.thread), bearing(bolt)
    return (
        Input("F_V", preload(bolt), "N"), Input("P", thread.pitch, "m"),
        Input("μ", bolt.thread_friction, "1"), Input("d_2", thread.d2, "m"),
        Input("d_w", outer, "m"), Input("d_h", hole, "m"),
    )  # fmt: skip


def _kinds(solution: Solution, stack: Stack) -> list[ClampBoltEntry]:
    """One bolt of each kind, wherever it stands."""
    given = getattr(solution.case, stack.name).clamp_bolts
    return list({bolt.model_copy(update={"at": (0.0, 0.0)}): bolt for bolt in given}.values())


def bearing(bolt: Fastening) -> tuple[float, float]:
    """Outer and inner diameter of what nut or washer bears on (m)."""
    return bolt_bearing(bolt), bolt_hole(bolt)


def _tightened(stack: Stack, bolt: ClampBoltEntry) -> Iterator[Check]:
    name, force = f"{stack.name} clamp bolt {bolt.thread}", preload(bolt)
    if bolt.preload:
        yield Check(
            name, "preload",
            force, allowed_preload(bolt), "N",
            f"class {bolt.property_class}: tension and torsion at {percent(bolts.UTILISATION)} of "
            "yield",
            PRELOAD, _SCREW,
            inputs=tightened(bolt),
        )  # fmt: skip
    outer, hole = bearing(bolt)
    steel = min((plate.material for plate in stack.plates), key=lambda m: m.tensile_strength)
    if outer > hole:
        yield Check(
            name, "pressure under nut or washer",
            force / (math.pi / 4 * (outer**2 - hole**2)),
            bolts.FACE_PRESSURE * steel.tensile_strength, "Pa",
            f"{bolts.FACE_PRESSURE:g} × tensile strength of {steel.grade} at its thickness",
            "F_V / (π/4·(d_w² − d_h²)) ≤ k·R_m",
            "below the limits of VDI 2230-1 Table A9, not verified against the standard",
            "steel held in by steel around it",
            (Input("F_V", force, "N"), Input("d_w", outer, "m"), Input("d_h", hole, "m"),
             Input("k", bolts.FACE_PRESSURE, "1"), Input("R_m", steel.tensile_strength, "Pa")),
        )  # fmt: skip


def _tightening(stack: Stack, bolt: ClampBoltEntry) -> Iterator[Fact]:
    thread, force = tables.thread(bolt.thread), preload(bolt)
    nut, (outer, hole) = tables.nut(thread.d), bearing(bolt)
    name = f"{stack.name} clamp bolt {bolt.thread}"
    scatter = bolts.SCATTER[bolt.tightening]
    strength = tables.property_class(bolt.property_class, thread.d)
    yield Fact(
        "bolts",
        name,
        "tightening torque",
        bolts.torque(thread, force, bolt.thread_friction, outer, hole),
        "N m",
        TORQUE,
        _SCREW,
        f"class {bolt.property_class}; wrench size {quantity(nut.across_flats, 'm', 6)}"
        + ("" if bolt.preload else "; preload: the most that the class allows")
        + f"; by scatter at the least {quantity(force / scatter, 'N')} (α_A = {scatter:g})",
        turned(bolt),
        (
            *(() if strength.listed else (_UNLISTED,)),
            "A bolt that breaks while it is tightened flies off. Stand beside it, never in line "
            "with it.",
        ),
    )
    length = stack.depth if stack.layout == "flat" else _across(stack)
    yield Fact(
        "bolts", name, "mass with head and nut",
        bolts.mass(thread, length, nut.across_flats, nut.height, tables.steel_constants().density),
        "kg", "",
        "geometry", "washers not included",
        method="volume × density",
    )  # fmt: skip
    if outer > hole:
        young = stack.plates[0].material.young
        own = bolts.bolt_resilience(thread, length, tables.steel_constants().youngs_modulus)
        plates = bolts.plate_resilience(outer, hole, length, young)
        yield Fact(
            "bolts", name, "part of an outer pull that the bolt feels",
            bolts.load_factor(own, plates), "1", "δ_P / (δ_P + δ_S)",
            "Rötscher's cones at 30°; VDI 2230-1 5.1, not verified against the standard",
            "pull taken as acting under the nuts",
            (Input("δ_S", own, "m/N"), Input("δ_P", plates, "m/N")),
        )  # fmt: skip


def _across(stack: Stack) -> float:
    ends = [(p.bounds[0][1], p.bounds[1][1]) for p in stack.main_plates if p.normal == "y"]
    return max(end[1] for end in ends) - min(end[0] for end in ends)


def _as_one(solution: Solution, stack: Stack) -> Iterator[Fact]:
    """Force between the plates of a flat stack if they acted as one, and what would hold it."""
    press = solution.press
    plates = section.bending_plates(stack.plates)
    if stack.layout != "flat" or len(plates) < 2:
        return
    try:
        force, height = composite_shear(press, stack)
    except NotABeam:
        return
    yield Fact(
        "joining",
        stack.name,
        "interface shear per half-span for full composite action",
        force,
        "N",
        "",
        "Jourawski's formula, beam theory, net section",
        f"greatest at the interface {fixed(abs(height - stack.load_face), 'm', 0)} from the "
        "loaded face",
        cautions=(
            "Bolts in clearance holes hold it by friction alone; what they cannot hold slips, and "
            "the stack is then between loose and welded.",
        ),
        method="∫ V S / I dx from the press axis to the end",
    )
    steel = min((p.material for p in plates), key=lambda m: m.tensile_strength)
    strength = connectors.weld_strength(steel.tensile_strength)
    reach = max(abs(rod.at[0]) for rod in press.rods)
    factor = press.yield_safety_factor
    yield Fact(
        "joining", stack.name,
        "throat of weld seams along both long edges for full composite action",
        factor * force / (2 * reach * strength), "m", "S·T / (2·l·f_vw)",
        "EN 1993-1-8 4.5.3.3, not verified against the standard",
        "l from the press axis to the outer rods; seams taken to yield before they break",
        (Input("S", factor, "1"), Input("T", force, "N"), Input("l", reach, "m"),
         Input("f_vw", strength, "Pa")),
        ("Seams that the case gives are checked in fatigue; residual stress by welding is not.",),
    )  # fmt: skip
    yield from _friction(solution, stack, force)


def _friction(solution: Solution, stack: Stack, force: float) -> Iterator[Fact]:
    """What the clamp bolts hold by friction, and how many would hold it all."""
    own = getattr(solution.case, stack.name)
    if not own.clamp_bolts:
        return
    friction = own.interface.friction
    held = _grips(own.clamp_bolts, friction, stack)
    each = min(
        bolts.slip_resistance(preload(b), friction, bolts.SCATTER[b.tightening])
        for b in own.clamp_bolts
    )
    yield Fact(
        "joining", stack.name, "shear force held by friction of the clamp bolts, one half",
        held, "N", "μ·F_V / (α_A·γ_M3)",
        "EN 1993-1-8 3.9.1, not verified against the standard",
        "weaker half; friction by the pressing force not counted",
        _slipping(own.clamp_bolts, friction, stack),
        method="F_V of all bolts of the weaker half",
    )  # fmt: skip
    if each > 0:
        yield Fact(
            "joining", stack.name, "clamp bolts needed in each half for full composite action",
            math.ceil(force / each * (1 - 1e-9)), "1", "ceil(T / F_s)",
            "EN 1993-1-8 3.9.1, not verified against the standard",
            f"of the weakest kind given; the case has {_fewest(own.clamp_bolts, stack)}",
            (Input("T", force, "N"), Input("F_s", each, "N")),
            method="rounded up; F_s = μ F_V / (α_A γ_M3) of one bolt",
        )  # fmt: skip


def composite_shear(press: Press, stack: Stack) -> tuple[float, float]:
    """Greatest force (N) across an interface of either half, and its height (m)."""
    plates = section.bending_plates(stack.plates)
    curve = bend(plates, (Load(stack.patch, press.capacity),), supports(press.rods), welded=True)
    x, v = shear.forces(curve)
    right = x > stack.patch.centre[0]
    heights = sorted(plate.top for plate in plates)[:-1]
    found = []
    for z in heights:
        flow = shear.flow(plates, x, v, z) * np.diff(curve.x)
        found.append((max(abs(flow[right].sum()), abs(flow[~right].sum())), z))
    force, height = max(found)
    return float(force), height
