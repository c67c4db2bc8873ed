"""What the workshop takes from a dossier: tightening, cutting, assembly, masses, proof test."""

from __future__ import annotations

from functools import partial

from platestack.fea import pictures
from platestack.fea.app.console import assembling as assembling_words
from platestack.fea.app.console import cutting as cutting_words
from platestack.fea.app.console import proof as proof_words
from platestack.fea.app.console import tightening as tightening_words
from platestack.fea.app.report.blocks import Block, DossierSection, TableBlock, Text
from platestack.fea.app.report.pictures import drawn
from platestack.fea.hand.erection import Erection, LiftStep
from platestack.fea.hand.erection import plan as plan_assembly
from platestack.fea.jobs import cutfiles
from platestack.fea.jobs import proof as proof_test
from platestack.fea.jobs.tightening import sheet as tightening
from platestack.fea.results.run_directory import Run
from platestack.fea.results.summary import Summary
from platestack.geometry.parts import Press
from platestack.geometry.units import (
    dimension,
    figure,
    fixed,
    percent,
    place,
    plain,
    quantity,
    shown_in,
)


def rods(
    summary: Summary, press: Press, sheet: tightening.TighteningSheet | None
) -> DossierSection:
    """The rods, their joints with the seats, and how to tighten them."""
    blocks: list[Block] = [
        TableBlock("Tie rods at capacity", ("rod", "place x, y", "thread", "preload",
              "working force", "stretch", "largest force", "clamping force left"), tuple(
            (r.name, f"({quantity(r.at[0], 'm')}, {quantity(r.at[1], 'm')})", r.thread,
             figure(r.preload), figure(r.working_force), figure(r.stretch),
             figure(r.largest_force), figure(r.clamping_force_left))
            for r in summary.rods
        ), (3, 4, 5, 6, 7)),
        Text("Working force and stretch are what pressing at capacity adds."),
    ]  # fmt: skip
    if summary.frame is not None:
        blocks.append(TableBlock("Joints of the rods with their seats", (
            "rod", "seat", "share the thread feels", "alternating force", "clamping force left",
            "pressing force at which a seat opens"), tuple(
            (j.name, j.seat, figure(j.load_share), figure(j.alternating_force),
             figure(j.clamping_force_left), figure(j.separation_load))
            for j in summary.frame.rods
        ), (2, 3, 4, 5)))  # fmt: skip
    if press.rods[0].seat == "none":
        blocks.append(Text(
            "These rods have nothing to be tightened against between the stacks: run the nuts to "
            "touch, evenly, and lock them. They carry no preload.", "caution"))  # fmt: skip
    elif sheet is None:
        blocks.append(Text("The tightening sheet was left out; platestack tighten makes it.",
                           "caution"))  # fmt: skip
    else:
        blocks += _tightening(sheet, press)
    return DossierSection("Rods and tightening", tuple(blocks))


def _tightening(sheet: tightening.TighteningSheet, press: Press) -> list[Block]:
    lines = tuple(
        (str(line.number), line.rod, quantity(line.force, "N"), quantity(line.stretch, "m", 3),
         f"{line.turn:.0f}°", f"{line.flats:.2f}", quantity(line.jack, "N"),
         f"{quantity(line.torque, 'N m', 3)} ± {percent(0.3)}", "")
        for line in sheet.lines
    )  # fmt: skip
    yields = tuple(
        (name, *(percent(value, 1, signed=True) for value in row))
        for name, row in zip(sheet.rods, sheet.influence, strict=True)
    )
    return [
        Text(f"Preload {quantity(sheet.preload, 'N')} and {quantity(sheet.settling_loss, 'N')} for "
             f"settling: every rod at {quantity(sheet.target, 'N')} after the last pass. Largest "
             f"force of a rod on the way {percent(sheet.highest)} of {tightening_words.MAY_BEAR}; "
             f"scatter at the end {percent(sheet.scatter, 1)}, as computed. "
             f"{sheet.price}{' ' if sheet.price else ''}The usual way, every "
             f"rod to the same value, takes {sheet.rounds} "
             f"{'round' if sheet.rounds == 1 else 'rounds'} to come within "
             f"{percent(sheet.wanted)}; its "
             f"first leaves {percent(sheet.first_round, 1)}. By torque alone all rods end within "
             f"{percent(sheet.wanted)} in {percent(sheet.by_torque, 2)} of rounds, however many: "
             "measure "
             "stretch or jack force."),
        TableBlock("Tightening sheet: set one nut after the other, in this order", (
            "pass", "rod", "force", "stretch", "nut turn", "flats", "jack force", "torque only",
            "read"), lines, (2, 3, 4, 5, 6, 7)),
        drawn("tightening", lambda file: tightening.draw(sheet, press, file),
              "Order of tightening, seen from above, and the force in each rod after each step"),
        TableBlock("Influence: change of force in each rod (row) for a force put into another "
              "(column)", ("", *sheet.rods), yields, tuple(range(1, len(sheet.rods) + 1))),
        *(Text(c, "caution") for c in tightening_words.CAUTIONS),
    ]  # fmt: skip


def cutting(run: Run) -> DossierSection:
    """The cut list, the stock sheets, and what tolerances ask for."""
    made = cutfiles.lay_out(run.press, run.case)
    rows = tuple(
        (w.number, f"{w.stack} {w.plate.name}", w.plate.material.grade,
         " × ".join(map(dimension, (w.plate.bought, w.blank.length, w.blank.width))),
         quantity(w.plate.mass, "kg"), fixed(w.cut_length, "run", 2), str(w.pierces),
         str(row.count("bored")), str(row.count("drilled")), fixed(w.machined_area, "m²", 2),
         "" if row.cost is None else f"{plain(row.cost)} {made.currency}")
        for row in made.rows for w in (row.work,)
    )  # fmt: skip
    pairs = [made.sheets[i : i + 2] for i in range(0, len(made.sheets), 2)]
    sheets = [
        drawn(f"sheets-{number}",
              partial(pictures.nesting_picture, pair, title=run.press.name),
              "Stock sheets with the blanks laid out on them; right of the dashed line the sheet "
              "stays whole")
        for number, pair in enumerate(pairs, 1)
    ]  # fmt: skip
    needs = tuple(dict.fromkeys(
        (", ".join(r.work.number for r in made.rows if _asked(r.work) == _asked(row.work)),
         *_asked(row.work))
        for row in made.rows
    ))  # fmt: skip
    return DossierSection("Cutting", (
        TableBlock(f"Cut list; blanks in {shown_in('m').name}: thickness × length × width", (
            "part", "plate", "grade", "blank", "mass", "cut", "pierces", "bored", "drilled",
            "machined", "cost"), rows, (4, 5, 6, 7, 8, 9, 10)),
        TableBlock("What the cut must hold and what is machined", (
            "parts", "square within", "flat to neighbours", "to machine"), needs, (1, 2)),
        *sheets,
        *(Text(words[:1].upper() + words[1:] + ".") for words in cutting_words.remarks(made)),
        Text(f"On all plates: {cutfiles.edges()}. platestack cut writes a DXF of each plate, the "
             "list as CSV and STEP files of the stacks."),
        Text(cutting_words.CAUTION, "caution"),
    ))  # fmt: skip


def _asked(work: cutfiles.PlateWork) -> tuple[str, str, str]:
    """Squareness, flatness and machining asked of a plate."""
    fit = work.fit
    return (
        "agree with the cutter" if fit.squareness is None else quantity(fit.squareness, "m", 2),
        "" if fit.flat is None else quantity(fit.flat, "m", 2),
        "; ".join(work.milled) or "nothing",
    )


def assembly(run: Run) -> DossierSection:
    """The steps of assembly, drawn and as a table."""
    made = plan_assembly(run.press, run.case)
    broken = [
        f"Step {step.number}: {assembling_words.exceeded(check)}."
        for step in made.steps for check in step.checks if check.utilisation > 1
    ]  # fmt: skip
    drawings = [
        drawn(
            f"assembly-{line[0].number}",
            partial(pictures.assembly_picture, made, only=line),
            f"Assembly, steps {line[0].number} to {line[-1].number}, from the front",
        )
        for line in pictures.assembly_lines(made)
    ]
    return DossierSection("Assembly", (
        Text(f"On feet {quantity(-made.floor, 'm')} high, tipping about "
             f"{'shop.feet' if made.given_base else 'the edges of the underside'}. Heights of the "
             "hook are above the floor; slings at 45°."),
        *(Text(words, "exceeded") for words in broken),
        TableBlock("Lifts and steps", ("step", "what", "mass", "centre x, y, above underside",
              "hook", "hoist", "tips at"), tuple(_step(made, step) for step in made.steps),
              (2, 4, 5, 6)),
        *drawings,
        TableBlock("Jacks, two at one end, to reach the lower nuts", (
            "load", "mass", "at x, y", "rise", "force of each", "tilt", "tips at"), tuple(
            (j.load.name, quantity(j.load.mass, "kg"),
             f"±{quantity(j.at[0], 'm')}, ±{quantity(j.at[1], 'm')}", quantity(j.rise, "m"),
             quantity(j.force / 2, "N"), f"{j.tilt:.1f}°", f"{j.tips:.0f}°")
            for j in made.jacking
        ), (1, 3, 4, 5, 6)),
        *(Text(c, "caution") for c in (*made.cautions, *assembling_words.CAUTIONS)),
    ))  # fmt: skip


def _step(made: Erection, step: LiftStep) -> tuple[str, ...]:
    number, _, mass, hook, hoist, tips = assembling_words.row(made, step)
    centre = ""
    if step.lifts:
        load = max((lift.load for lift in step.lifts), key=lambda p: p.mass)
        x, y, z = load.centre
        centre = f"{place(x, y, z - load.low[2])} {shown_in('m').name}"
        if len(step.lifts) > 1:  # each stands over its own place
            centre = f"{fixed(z - load.low[2], 'm', 0)} above"
    what = f"{step.title}: {'; '.join(step.words)}" if step.words else step.title
    return number, what, mass, centre, hook, hoist, tips


def proof(run: Run, plan: proof_test.ProofPlan) -> DossierSection:
    """The sheet of the proof test."""
    steps = tuple(
        (str(i), quantity(s.pressure, "Pa"), quantity(s.force, "N"), f"{s.hold / 60:g} min",
         s.words, "")
        for i, s in enumerate(plan.steps, 1)
    )  # fmt: skip
    places = tuple((str(i), r.name, place(*r.at), r.words) for i, r in enumerate(plan.readings, 1))
    expected = tuple(
        (f"{i}, {unit}", *(proof_words.banded(band, unit) for band in
                            (r.bands(plan.shares) / scale).tolist()))
        for i, r in enumerate(plan.readings, 1) for scale, unit in (proof_words.instrument(r.kind),)
    )  # fmt: skip
    return DossierSection("Proof test", (
        Text(f"To {plan.factor:g} times the capacity. Readings are changes from the "
             "tightened press without pressure. A reading outside its band stops the test."),
        *(Text(c, "caution") for c in plan.cautions),
        TableBlock("Steps", ("step", "pressure", "ram force", "hold", "", "done"), steps,
              (1, 2, 3)),
        TableBlock("Instruments", (
            "no.", "name", f"place x, y, z in {shown_in('m').name}", "where"), places),
        TableBlock("Readings to expect, and half of their band", ("no.", *(
            f"{i}: {quantity(s.pressure, 'Pa', 3)}" for i, s in enumerate(plan.steps, 1))),
            expected, tuple(range(1, len(plan.steps) + 1))),
        drawn("proof", lambda file: proof_test.draw(plan, run, file),
              "Where the instruments stand, and what they should show against pressure"),
        *(Text(f"Stop when {words}.") for words in plan.stop),
    ))  # fmt: skip
