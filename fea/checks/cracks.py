"""Cracks: pressings in which a flaw at a cut edge or a thread's root grows till it breaks."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from platestack.fea.checks.brittle import taken_as
from platestack.fea.checks.cylinder import overload
from platestack.fea.checks.threads import thread_range
from platestack.fea.checks.use import GROWTH_SLOPE, Use
from platestack.fea.hand import crack
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import Plate
from platestack.geometry.schema import Case
from platestack.geometry.units import fixed, quantity

RESIDUAL = 100e6
"""Residual tension at a flame- or plasma-cut edge that a breaking crack sees (Pa), as of the whole
piece in EN 1993-1-10's background (not verified); growth is of high mean stress throughout."""
DEEPEST = 0.5
"""Of a plate's thickness: there a corner crack counts as through."""
DEEPEST_THREAD = 0.25
"""Of a thread's core."""
INSPECTIONS = 3
"""Within the growth of a crack from flaw to fracture (common practice, no source)."""
_SOURCE = "Paris and Erdogan 1963; BS 7910 (law, mean plus two standard deviations), not verified; "
_PLATE = "Newman and Raju, NASA TM-85793 (1984)"
_THREAD = "James and Mills, Eng. Fract. Mech. 30 (1988) 641, not verified"
_CAUTIONS = (
    "The flaw is assumed, not found: inspect edges and threads before first use. Corrosion, "
    "breaking through and plastic collapse of what is left are not included.",
)


@dataclass(frozen=True)
class Flaw:
    """A crack at one place: what drives it, where it ends, and how many pressings it takes."""

    part: str
    place: str
    size: float
    stress: float
    """Range of one pressing (Pa)."""
    critical: float
    """Size at which it breaks, or counts as through (m)."""
    toughness: float
    life: float
    source: str


def crack_growth(solution: Solution) -> list[Check]:
    """Pressings from flaw to fracture: the worst edge of each stack, the worst thread."""
    return [growth_check(flaw, solution.case) for flaw in _flaws(solution)]


def growth_check(flaw: Flaw, case: Case) -> Check:
    """Pressings at capacity in which a flaw grows to its end, against those of the press's life."""
    use = Use.of(case)
    cycles = use.equivalent(GROWTH_SLOPE)
    return Check(
        flaw.part, f"growth of a crack {flaw.place}",
        max(min(flaw.life, 1e12), 1.0), cycles, "1",
        f"{cycles:,}{' equivalent' if use.variable else ''} pressings",
        "", f"{_SOURCE}{flaw.source}",
        f"from {quantity(flaw.size, 'm', 6)} (limits.flaw) to {quantity(flaw.critical, 'm', 3)} "
        f"under {quantity(flaw.stress, 'Pa', 3)} a pressing",
        cautions=_CAUTIONS,
        sense="at least",
        method="∫ da / (A·ΔK^m), ΔK = Y·Δσ·√(π·a); at most 10¹² pressings are reported",
    )  # fmt: skip


def crack_facts(solution: Solution) -> list[Fact]:
    """The size at which a crack breaks, and how often to look for it."""
    facts, cycles = [], Use.of(solution.case).equivalent(GROWTH_SLOPE)
    for flaw in _flaws(solution):
        facts.append(
            Fact(
                "cracks", flaw.part, f"critical size of a crack {flaw.place}",
                flaw.critical, "m", "",
                f"{flaw.source}; transition curve of Wallin (JCSS Probabilistic Model Code)",
                f"toughness {fixed(flaw.toughness, 'Pa √m', 0)} at the lowest temperature",
                method="K = Y·σ·√(π·a) at overload reaches the toughness, or the crack is through",
            )
        )  # fmt: skip
        every = flaw.life / INSPECTIONS
        if 1 <= every < 1e12:
            facts.append(
                Fact(
                    "cracks",
                    flaw.part,
                    f"look for cracks {flaw.place} every so many pressings",
                    every,
                    "1",
                    "N / n",
                    "common practice, no source",
                    f"a flaw of {quantity(flaw.size, 'm', 6)} is met "
                    f"{INSPECTIONS} times in its growth"
                    + ("; past the pressings of its life" if every >= cycles else ""),
                    (Input("N", flaw.life, "1"), Input("n", INSPECTIONS, "1")),
                    ("Use dye penetrant or magnetic particles; the eye finds a crack late.",),
                )
            )
    return facts


def _flaws(solution: Solution) -> Iterable[Flaw]:
    yield from _edges(solution)
    yield _thread(solution)


def _edges(solution: Solution) -> Iterable[Flaw]:
    for name, solved in solution.stacks.items():
        found = [
            edge_flaw(solution, name, peak.plate, peak.von_mises)
            for peak in solved.peaks
            if peak.plate in solved.stack.plates and peak.plate.role != "spacer"
        ]
        yield min(found, key=lambda flaw: flaw.life)


def edge_flaw(solution: Solution, stack: str, plate: Plate, stress: float) -> Flaw:
    """The crack at a cut edge of a plate whose peak stress (Pa) at capacity is known."""
    grade = taken_as(solution.case, plate.material)[1]
    cold, t = solution.case.shop.lowest_temperature, plate.thickness
    tough = crack.toughness(cold, grade.transition, grade.energy, t)
    greatest = overload(solution) * stress + RESIDUAL
    return _grown(solution, f"{stack} {plate.name}", "at a cut edge", crack.cut_edge(t), stress,
                  greatest, tough, DEEPEST * t, _PLATE)  # fmt: skip


def _thread(solution: Solution) -> Flaw:
    rod, force, bending = thread_range(solution)
    thread = tables.rod_thread(rod.thread)
    core = thread.d3
    # A thread's root is stressed on its core, which is smaller than the stress area.
    ratio = rod.stress_area / (math.pi / 4 * core**2)
    stress = (force / rod.stress_area + bending) * ratio
    # Above capacity a seat may open: then the thread feels all that is added.
    over = overload(solution)
    held = solution.nut_force(rod) + (over - 1) * solution.rod_force(rod)
    greatest = (max(held, rod.preload) / rod.stress_area + over * bending) * ratio
    impact = tables.rod_impact(rod.material.grade)
    cold = solution.case.shop.lowest_temperature
    tough = crack.toughness(cold, impact and impact[1], impact[0] if impact else 0.0, rod.diameter)
    return _grown(solution, rod.name, "at the root of its thread", crack.thread_root(core), stress,
                  greatest, tough, DEEPEST_THREAD * core, _THREAD)  # fmt: skip


def _grown(solution: Solution, part: str, place: str, shape: crack.Shape, stress: float,
           greatest: float, tough: float, deepest: float, source: str) -> Flaw:  # fmt: skip
    first = solution.case.limits.flaw
    last = crack.critical_size(greatest, shape, tough, deepest)
    life = crack.cycles(tables.growth_stages(), max(stress, 0.0), shape, first, last)
    return Flaw(part, place, first, stress, last, tough, life, source)
