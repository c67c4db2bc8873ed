"""Plates that a case calls welded: whether something makes them act as one."""

from __future__ import annotations

from collections.abc import Iterator

from platestack.fea.hand.joined import Joined
from platestack.fea.hand.record import Check, Input
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import Press, Stack

COMPOSITE = 0.9
"""Composite action from which plates may be taken as one (common practice, no source)."""


def as_one(solution: Solution) -> Iterator[Check]:
    """Composite action that connectors give, where the case calls the plates welded."""
    for stack in solution.press.stacks:
        joined = Joined.of(solution.press, stack) if stack.interface == "welded" else None
        if joined is None:
            continue
        own, loose, one = joined.softness
        yield Check(
            stack.name,
            f"composite action by its {joined.given.kind}",
            (1 / own - 1 / loose) / (1 / one - 1 / loose),
            COMPOSITE,
            "1",
            "composite action of plates called welded",
            f"(1/w − 1/w_loose) / (1/w_one − 1/w_loose) ≥ {COMPOSITE:g}",
            "Newmark, Siess and Viest 1951; the limit is common practice, no source",
            "by bending; 0 loose, 1 one piece",
            (
                Input("w", own, "m/N"),
                Input("w_loose", loose, "m/N"),
                Input("w_one", one, "m/N"),
            ),
            (
                f'The plates slide more than welded ones would: take them as "loose", and the '
                f"solution has the {joined.given.kind} as springs.",
            ),
            sense="at least",
        )


def ideal(press: Press) -> list[str]:
    """A sentence for each stack called welded although nothing in the case makes it so."""
    return [
        f"The {stack.name} is the ideal: its plates are taken as one piece, and the case has "
        f"nothing that makes them so ({_what(stack)}). Loose plates bend up to n² times more."
        for stack in press.stacks
        if is_ideal(stack)
    ]


def is_ideal(stack: Stack) -> bool:
    """Whether plates are called welded without anything that a check of flat stacks can judge."""
    held = stack.layout == "flat" and bool(stack.bolts or stack.connectors)
    return stack.interface == "welded" and len(stack.plates) > 1 and not held


def _what(stack: Stack) -> str:
    if stack.layout == "flat":
        return "no clamp bolts, no connectors"
    return "what joins plates on edge to platen and saddles is not checked"
