"""The return stroke: what draws the ram back against its weight and the friction of seals."""

from __future__ import annotations

from collections.abc import Iterator

from platestack.fea.checks.cylinder import PRACTICE
from platestack.fea.checks.hydraulics import plant
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.hand.springs import SHARE_OF_STRENGTH, SHEAR_MODULUS, CoilSpring
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import Cylinder
from platestack.geometry.schema import ReturnSpring
from platestack.geometry.units import quantity

GRAVITY = 9.80665
BREAKAWAY = 0.3e6
"""Pressure on the piston that moves an unloaded cylinder against its seals (Pa), practice."""
SLENDER = 5.26
"""Free length over coil diameter up to which a spring between flat faces does not buckle, Wahl."""
_RESISTANCE = "max(0, p_0·A + G)"
"""Friction of the seals, with or less the weight G of what moves."""
_SOURCE = "EN 13906-1, not verified against the standard"
_FLYING = (
    "A spring under load flies when it is let go or breaks: guide it, and release it by a screw.",
)


def returning(solution: Solution) -> list[Check]:
    """Force of annulus or springs against weight and friction; the springs themselves."""
    made, spring = solution.press.cylinder, solution.case.cylinder.return_spring
    if made is None:
        return []
    needed = resistance(solution, made)
    if spring is not None:
        return list(_sprung(spring, made, needed))
    pressure = plant(solution, made).stages[0].pressure
    return [
        Check(
            "return stroke",
            "retraction force at the pump's first stage",
            pressure * made.annulus_area,
            needed,
            "N",
            "friction of seals, and weight" if _hangs(solution) else "friction less weight",
            f"p_1·A_annulus ≥ {_RESISTANCE}",
            f"statics; p_0 = {quantity(BREAKAWAY, 'Pa', 6)}: {PRACTICE}",
            "back pressure of the oil that leaves, and a workpiece that sticks, are not included",
            _inputs(solution, made, Input("p_1", pressure, "Pa")),
            method="weight G positive where the ram hangs, negative where it stands",
            sense="at least",
        )
    ]


def returning_facts(solution: Solution) -> list[Fact]:
    """The pressure that returns the ram, or what springs take from the pressing force."""
    made, spring = solution.press.cylinder, solution.case.cylinder.return_spring
    if made is None:
        return []
    if spring is None:
        return [
            Fact("cylinder", "press", "pressure that returns the ram",
                 resistance(solution, made) / made.annulus_area, "Pa",
                 f"{_RESISTANCE} / A_annulus", f"statics; p_0: {PRACTICE}", "",
                 _inputs(solution, made))
        ]  # fmt: skip
    least = spring.fitted_length - made.stroke
    most = spring.count * of_case(spring).force(least)
    return [
        Fact("cylinder", "press", "force that the return springs take, stroke out", most, "N",
             "z·G·d⁴·(L_0 − L) / (8·D³·n)", _SOURCE,
             "so much less presses on the workpiece; capacity is the piston's force",
             _spring_inputs(spring, least))
    ]  # fmt: skip


def resistance(solution: Solution, made: Cylinder) -> float:
    """Force (N) that the return stroke takes; not below 0 where weight alone draws the ram back."""
    weight = _moved(solution, made) * GRAVITY * (1 if _hangs(solution) else -1)
    return max(0.0, BREAKAWAY * made.piston_area + weight)


def of_case(given: ReturnSpring) -> CoilSpring:
    """The spring that the case gives."""
    return CoilSpring(given.wire, given.coil, given.coils, given.free_length)


def _hangs(solution: Solution) -> bool:
    return solution.case.ram.mounted == "crosshead"


def _moved(solution: Solution, made: Cylinder) -> float:
    return made.ram_mass + (solution.case.cylinder.tooling or 0.0)


def _inputs(solution: Solution, made: Cylinder, *more: Input) -> tuple[Input, ...]:
    sign = 1 if _hangs(solution) else -1
    return (*more, Input("A_annulus", made.annulus_area, "m²"), Input("p_0", BREAKAWAY, "Pa"),
            Input("A", made.piston_area, "m²"),
            Input("G", sign * _moved(solution, made) * GRAVITY, "N"))  # fmt: skip


def _spring_inputs(given: ReturnSpring, length: float) -> tuple[Input, ...]:
    """What goes into the force of the springs at a length (m)."""
    return (
        Input("z", given.count, "1"), Input("G", SHEAR_MODULUS, "Pa"), Input("d", given.wire, "m"),
        Input("L_0", given.free_length, "m"), Input("L", length, "m"), Input("D", given.coil, "m"),
        Input("n", given.coils, "1"),
    )  # fmt: skip


def _sprung(given: ReturnSpring, made: Cylinder, needed: float) -> Iterator[Check]:
    spring, least = of_case(given), given.fitted_length - made.stroke
    weakest, most = spring.force(given.fitted_length), spring.force(least)
    yield Check(
        "return stroke", "force of the springs, ram in", given.count * weakest, needed, "N",
        "friction of seals, and weight", "z·G·d⁴·(L_0 − L) / (8·D³·n) ≥ F",
        f"{_SOURCE}; p_0 = {quantity(BREAKAWAY, 'Pa', 6)}: {PRACTICE}", f"{given.count} springs",
        (*_spring_inputs(given, given.fitted_length), Input("F", needed, "N")), _FLYING,
        method="F: friction of the seals, with or less the weight", sense="at least",
    )  # fmt: skip
    yield Check(
        "return springs", "shear stress, stroke out", spring.stress(most),
        SHARE_OF_STRENGTH * given.tensile_strength, "Pa",
        f"{SHARE_OF_STRENGTH:g} × cylinder.return_spring.tensile_strength",
        "(D/d + 0.5)/(D/d − 0.75)·8·F·D / (π·d³) ≤ k·R_m", _SOURCE,
        "fatigue and setting of the springs are not checked",
        (Input("D", given.coil, "m"), Input("d", given.wire, "m"), Input("F", most, "N"),
         Input("k", SHARE_OF_STRENGTH, "1"), Input("R_m", given.tensile_strength, "Pa")), _FLYING,
    )  # fmt: skip
    clear = given.coils * (0.0015 * given.coil**2 / given.wire + 0.1 * given.wire)
    yield Check(
        "return springs", "length, stroke out", least, spring.solid_length + clear, "m",
        "coils touching, and the clearance between them",
        "L_1 − s ≥ (n + 2)·d + n·(0.0015·D²/d + 0.1·d)", _SOURCE, "",
        (Input("L_1", given.fitted_length, "m"), Input("s", made.stroke, "m"),
         Input("n", given.coils, "1"), Input("d", given.wire, "m"), Input("D", given.coil, "m")),
        sense="at least",
    )  # fmt: skip
    yield Check(
        "return springs", "slenderness", given.free_length / given.coil, SLENDER, "1",
        f"largest slenderness {SLENDER:g}", f"L_0 / D ≤ {SLENDER:g}",
        "Wahl 1963, ends on flat parallel faces, not verified against the standard",
        "longer ones need a guide inside",
        (Input("L_0", given.free_length, "m"), Input("D", given.coil, "m")),
    )  # fmt: skip
