"""One option by beam theory and hand checks alone: an answer without a mesh.

For sweeps of thousands, to see where a full solve is worth its time. The row says "by beam". What
takes a mesh is missing: peak stress at holes and edges (the stress here is the nominal bending
stress of the net section), fatigue of the edges, and what the press gives under oil pressure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from platestack.fea.checks import KINDS, Check
from platestack.fea.checks.cracks import crack_growth
from platestack.fea.checks.frame import rods_in_compression, seats
from platestack.fea.checks.rods import rods
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.hand.beam import BeamResult, beam
from platestack.fea.hand.bending import NotABeam
from platestack.fea.hand.record import Input, worst_first
from platestack.fea.jobs.options.evaluation import Row, StackFigures, failed, row
from platestack.fea.jobs.options.variation import Option
from platestack.fea.solid.model import Solution
from platestack.fea.solid.statics import Statics
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Stack
from platestack.geometry.schema import Case


def _tension(solution: Solution) -> list[Check]:
    """Tension of the rods; what bends them is the tilt of their nuts, which takes a mesh."""
    return [check for check in rods(solution) if check.quantity == "tension in the thread"]


_NEED_A_MESH = (rods, seats, rods_in_compression, thread_fatigue, crack_growth)
"""Kinds that by beams would be guesses or upper bounds far off."""
_KINDS: tuple[Callable[[Solution], Iterable[Check]], ...] = (
    _tension,
    *(kind for kind in KINDS if kind not in _NEED_A_MESH),
)
"""Kinds of check that need no field: those that loop over solved stacks find none."""


def evaluate_by_hand(case: Case, option: Option) -> Row:
    """Judge one option by beam theory; a failure is a row with its reason.

    The deflection is the middle of the band that a full solve is expected in, its error half the
    band's width: for clamped stacks all between welded and loose. The peak stress is nominal, its
    error not known.
    """
    try:
        return _judged(option.apply(case), option.label)
    except PlatestackError as error:
        return failed(option, error)


def _judged(case: Case, label: str) -> Row:
    press = layout.build(case)
    for stack in press.stacks:
        if stack.patch.centre[1]:
            raise NotABeam(
                f"{stack.name}: the {stack.patch_name} stands off the axis across the press; beam "
                "theory shares its force evenly between the rods of a row; use the full method"
            )
    results: dict[str, tuple[BeamResult, ...]] = {
        stack.name: tuple(
            beam(stack, press.rods, press.capacity, welded=welded) for welded in _ideals(stack)
        )
        for stack in press.stacks
    }
    solution = Statics(case, press, {}, 0.0, results)
    factor = press.yield_safety_factor
    checks: list[Check] = []
    figures: dict[str, StackFigures] = {}
    for stack in press.stacks:
        found, own = _figures(stack, results[stack.name], factor)
        figures[stack.name] = found
        checks += own
    checks += [check for kind in _KINDS for check in kind(solution)]
    worst = worst_first(checks)[0]
    force = max(solution.rod_force(rod) for rod in press.rods)
    return row(label, "by beam", case, press, figures, force, worst)


def _ideals(stack: Stack) -> Iterator[bool]:
    """Welded, loose, or both for a clamped stack, whose truth lies between."""
    if stack.interface != "loose":
        yield True
    if stack.interface != "welded":
        yield False


def _figures(
    stack: Stack, ideals: tuple[BeamResult, ...], factor: float
) -> tuple[StackFigures, list[Check]]:
    """Headline numbers of a stack from its one or two ideals, and the checks they stand for."""
    low = min(ideal.expected - ideal.uncertainty for ideal in ideals)
    high = max(ideal.expected + ideal.uncertainty for ideal in ideals)
    stress = max(ideal.bending_stress for ideal in ideals)
    steel = min((p.material for p in stack.plates), key=lambda m: m.yield_strength)
    deflection = (low + high) / 2
    checks = [
        Check(
            stack.name, "nominal bending stress",
            stress, steel.yield_strength / factor, "Pa",
            f"yield of {steel.grade} at this thickness / {factor:g}",
            "σ ≤ R_eH / S", "Timoshenko beam on the rods",
            "net section; without stress concentration",
            (Input("σ", stress, "Pa"), Input("R_eH", steel.yield_strength, "Pa"),
             Input("S", factor, "1")),
            method="σ = M z / I",
        ),
        Check(
            stack.name, "mid-span deflection",
            deflection, stack.deflection_limit, "m", "limits.deflection × span between rods",
            "w ≤ w_allowed", "Timoshenko beam on the rods",
            inputs=(Input("w", deflection, "m"), Input("w_allowed", stack.deflection_limit, "m")),
        ),
    ]  # fmt: skip
    figures = StackFigures(
        stress,
        None,
        checks[0].utilisation,
        deflection,
        (high - low) / 2,
        checks[1].utilisation,
        stack.mass,
        {"welded": 1.0, "loose": 0.0}.get(stack.interface),
    )
    return figures, checks
