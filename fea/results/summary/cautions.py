"""The cautions of the summary: what its figures do not cover."""

from __future__ import annotations

from platestack.fea.checks.as_one import is_ideal
from platestack.fea.checks.unchecked import NOT_CHECKED
from platestack.geometry.parts import Press, Stack
from platestack.geometry.units import percent

COMMON_CAUTIONS = (
    "High oil pressure and stretched rods hold energy that kills when released. Stand clear, "
    "guard the press, and follow the local rules for presses and pressure equipment.",
    "These figures support the judgement of a licensed engineer and do not replace it.",
    f"Not checked here: {'; '.join(NOT_CHECKED)}.",
)
INTERFACE_CAUTIONS = {
    "welded": "The plates of the {name} are taken as welded into one, the stiffest they can be. "
    'Loose plates bend up to n² times more: run the case with interface.kind = "loose" too.',
    "loose": "The plates of the {name} press on each other without friction, the softest they can "
    "be.{gaps}",
    "clamped": "The plates of the {name} are held by friction. It is what preload, surfaces and "
    "vibration leave of it: compare with the loose stack before relying on it.",
}
EVEN_CAUTIONS = {
    "washer": "Nuts are taken to press evenly under their washers. Washers as bodies "
    f"(rods.washer_interface) change the deflection of the demo press by {percent(0.002, 1)}, but "
    "nearly double "
    "the stress at the rims of its rod holes.",
    "flange": "The cylinder is taken to press evenly on its area. As a body (ram.interface) its "
    f"bottom changes the deflection of the demo press by {percent(0.006, 1)}, and by "
    f"{percent(0.12)} "
    f"if it were rigid; a flange 1.2 times as wide as its wall makes it {percent(0.035, 1)} "
    "larger.",
}
PAD_CAUTION = (
    "Nut and cylinder press evenly on the far faces of washers and flange or bottom. The wall as a "
    "stiffener, and what of the bottom spans the bore of a ring, are left out."
)


def _gap_words(stack: Stack) -> str:
    """How the initial gaps of a stack are taken."""
    gap = stack.gap
    kinds = {"uniform": gap.uniform, "bowed": gap.bow, "wavy": gap.waviness}
    shapes = [name for name, size in kinds.items() if size]
    return f" Initial gaps are taken as {' and '.join(shapes)}." if shapes else ""


def cautions(press: Press) -> list[str]:
    """What the figures of a press do not cover, in general and between its bodies."""
    between = [
        INTERFACE_CAUTIONS[stack.interface].format(name=stack.name, gaps=_gap_words(stack))
        for stack in press.stacks
        if len(stack.plates) > 1 and not is_ideal(stack)
    ]
    bodies = {pad.body.role for stack in press.stacks for pad in stack.pads}
    even = [words for role, words in EVEN_CAUTIONS.items() if role not in bodies]
    return [*COMMON_CAUTIONS, *between, *even, *([PAD_CAUTION] if bodies else [])]
