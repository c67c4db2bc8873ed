"""The plan of assembly in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.markup import escape
from rich.table import Table

from platestack.fea.app.console.terminal import out
from platestack.geometry.units import fixed, percent, plain, quantity

if TYPE_CHECKING:
    from platestack.fea.hand.erection import Erection, LiftStep
    from platestack.fea.hand.record import Check

CAUTIONS = (
    "Nobody stands under a hanging load or between crosshead and bed while only supports carry it.",
    "Lifting points, slings, trestles, packing and jacks are not designed here; they are to be "
    "rated for the forces above with the margin of the local rules.",
    "A lift plan is the work of a competent person; this one supports it and does not replace it.",
)


def print_plan(made: Erection) -> None:
    """Print the steps, the jacks, the broken limits and the cautions."""
    out.print()
    out.print(
        f"[bold]{escape(made.press.name)}[/]  assembly on feet {quantity(-made.floor, 'm')} high, "
        f"tipping about {'shop.feet' if made.given_base else 'the edges of the underside'}"
    )
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    table.add_column("step", justify="right")
    table.add_column("what", max_width=58)
    for name in ("mass", "hook", "hoist", "tips at"):
        table.add_column(name, justify="right", no_wrap=True)
    for step in made.steps:
        number, title, *figures = row(made, step)
        words = "\n".join([f"[bold]{escape(title)}[/]", *map(escape, step.words)])
        table.add_row(number, words, *figures)
    out.print(table)
    for jack in made.jacking:
        out.print(
            f"jacks, {jack.load.name}: {quantity(jack.force / 2, 'N')} each of two at one end, "
            f"at x = ±{quantity(jack.at[0], 'm')}; rise {quantity(jack.rise, 'm')}"
        )
    for step in made.steps:
        for check in step.checks:
            if check.utilisation > 1:
                out.print(f"[bold red]exceeded[/] step {step.number}: {escape(exceeded(check))}")
    for caution in (*made.cautions, *CAUTIONS):
        out.print(f"[yellow]Caution:[/] {escape(caution)}")


def exceeded(check: Check) -> str:
    """A broken limit in words."""
    note = f"; {check.note}" if check.note else ""
    return (
        f"{check.name} {_show(check.value, check.unit)}; {check.sense} "
        f"{_show(check.limit, check.unit)} "
        f"({check.limit_name}){note}"
    )


def row(made: Erection, step: LiftStep) -> tuple[str, ...]:
    """Number, title, mass and the worst figures of a step: hook, use of the hoist, tipping."""
    worst = {check.name: check for check in step.checks}
    hoist, tips = worst.get("load and slings"), worst.get("tilt at which it tips")
    hook = max((lift.hook_height(made.floor) for lift in step.lifts), default=None)
    count = f"{len(step.lifts)} × " if len(step.lifts) > 1 else ""
    return (
        str(step.number),
        step.title,
        f"{count}{quantity(step.mass, 'kg', 3)}" if step.mass else "",
        "" if hook is None else fixed(hook, "run", 2),
        "" if hoist is None else percent(hoist.utilisation),
        "" if tips is None else f"{tips.value:.0f}°",
    )


def _show(value: float, unit: str) -> str:
    return f"{plain(value, 3)}°" if unit == "°" else quantity(value, unit)
