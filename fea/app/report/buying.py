"""What must be bought and made, what it weighs and costs, and what to order first."""

from __future__ import annotations

from platestack.fea.app.console.buying import CAUTION, price, sum_words
from platestack.fea.app.report.blocks import Block, DossierSection, TableBlock, Text
from platestack.fea.jobs import buying
from platestack.fea.jobs.buying import Materials, OrderLine
from platestack.fea.results.run_directory import Run
from platestack.geometry.units import figure, plain, quantity


def section(run: Run) -> DossierSection:
    """The bill of materials of a run's press, with its mass."""
    made, summary = buying.make(run.press, run.case), run.summary
    blocks: list[Block] = [
        Text(f"Mass {figure(summary.mass)} ({summary.mass.note}); height {figure(summary.height)} "
             f"({summary.height.note})."),
        TableBlock("Everything to buy and make", (
            "part", "what", "designation", "material, as bought", "no.", "mass of one",
            "as bought, all", "price", "made or bought", "drawing"),
            tuple(_row(made, line) for line in made.lines), (4, 5, 6, 7)),
    ]  # fmt: skip
    if made.currency:
        blocks.append(Text(f"Cost by the prices of the case alone: {figure(summary.cost)} "
                           f"({summary.cost.note})."))  # fmt: skip
        blocks += _money(made)
    else:
        blocks.append(Text(f"Cost: not known; {summary.cost.note}."))
    blocks.append(TableBlock("What to order first", (
        "days before assembly", "part", "what", "lead time, usual", "waits for it"), tuple(
        (str(days), line.number, line.name, f"{line.lead} days", buying.STEPS[line.step][1])
        for days, line in made.in_time()), (0, 3)))  # fmt: skip
    blocks.append(Text("platestack buy writes the list as CSV and XLSX, with dates for a given "
                       "day of assembly, and a form for asking prices; platestack draw writes "
                       "the drawings that it names."))  # fmt: skip
    return DossierSection("What to buy and make", (*blocks, Text(CAUTION, "caution")))


def _row(made: Materials, line: OrderLine) -> tuple[str, ...]:
    size = line.order.words() or line.finished.words()
    return (
        line.number, line.name, line.standard, " ".join((line.material, size)).strip(),
        f"{line.quantity:g}", quantity(line.mass, "kg") if line.mass else "",
        quantity(line.order_mass * line.quantity, "kg") if line.order_mass else "",
        price(made.money(line)), line.way, line.drawing,
    )  # fmt: skip


def _money(made: Materials) -> list[Block]:
    """Sums by supplier, and by part and operation where the case has prices."""
    operations = list(made.by_operation())
    shown = tuple(
        (line.number, line.name, *(plain(found[name]) if name in found else ""
                                   for name in operations),
         plain(sum(found.values())))
        for line in made.lines if line.operations
        for found in ({step.name: step.amount for step in line.operations},)
    )  # fmt: skip
    sums = ("", "all", *(plain(v) for v in made.by_operation().values()),
            plain(sum(made.by_operation().values())))  # fmt: skip
    return [
        TableBlock(f"Cost as a range, by supplier ({made.currency})", ("supplier", "from where"),
                   tuple((name or "all", sum_words(made.total(name), made.currency))
                         for name in (*made.suppliers, None))),
        TableBlock(f"Cost by part and operation, by the prices of the case ({made.currency})",
                   ("part", "what", *operations, "sum"), (*shown, sums),
                   tuple(range(2, len(operations) + 3))),
    ]  # fmt: skip
