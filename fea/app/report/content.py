"""What the dossier says, as typed sections; made from a run's directory.

`report.html` and `report.pdf` set the same content, so that both show the same numbers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

from platestack.fea.app.console.summary import UTILISATION, bound, by_rods, use_of
from platestack.fea.app.report import buying, drawings, workshop
from platestack.fea.app.report.blocks import (
    Beside,
    Block,
    Calculation,
    Dossier,
    DossierSection,
    Head,
    Limit,
    LimitBars,
    Picture,
    Scene,
    TableBlock,
    Text,
)
from platestack.fea.app.report.pictures import kept
from platestack.fea.jobs.proof import ProofPlan
from platestack.fea.jobs.tightening.sheet import TighteningSheet
from platestack.fea.results.run_directory import Run
from platestack.fea.results.summary import CheckRecord, FactRecord, StackRecord, Summary
from platestack.geometry.cutting.work import alike
from platestack.geometry.cutting.work import plan as cutting_plan
from platestack.geometry.parts import Plate, Press
from platestack.geometry.units import figure, percent, quantity, shown_in, stock

NEAREST = 12
"""Limits shown at a glance; all of them stand in the section of the checks."""


def make(run: Run, sheet: TighteningSheet | None, test: ProofPlan) -> Dossier:
    """Make the content of a run, with the tightening sheet of its rods if there is one."""
    summary, press, folder = run.summary, run.press, run.folder
    sections = (
        _glance(summary, press),
        DossierSection("Cautions, and what was not checked",
                tuple(Text(c, "caution") for c in summary.cautions)),
        _assumptions(summary),
        _loads(summary, press),
        _geometry(run),
        _mesh(summary, folder),
        _fields(summary, folder),
        DossierSection("Scene in three dimensions", (Scene(
            "The scene of both stacks is in the HTML dossier: choose a field, exaggerate the bent "
            "shape, cut, pick a point and read its value."),)),
        _interfaces(summary, folder),
        _beam(summary),
        workshop.rods(summary, press, sheet),
        workshop.cutting(run),
        workshop.assembly(run),
        buying.section(run),
        workshop.proof(run, test),
        DossierSection("Checks, worst first", tuple(map(_check, summary.checks))),
        _facts(summary.facts),
        DossierSection("Values taken by default", (TableBlock(
            "What the case left out", ("key", "value taken") * 2, _halves(summary.defaults)),)),
    )  # fmt: skip
    duty = f"{quantity(summary.capacity.value, 'N')} at {quantity(summary.working_pressure.value, 'Pa')}"  # noqa: E501
    return Dossier(summary.press, f"Design dossier: {duty}; case {summary.case}", sections)


def _halves(rows: Sequence[tuple[str, str]]) -> tuple[tuple[str, ...], ...]:
    """Two columns of pairs instead of one, read down the first, then down the second."""
    half = -(-len(rows) // 2)
    right = [*rows[half:], ("", "")]
    return tuple((*a, *b) for a, b in zip(rows[:half], right, strict=False))


def _both(summary: Summary, rows: dict[str, Iterable[str]], caption: str, head: str) -> TableBlock:
    return TableBlock(
        caption, (head, *summary.stacks), tuple((name, *cells) for name, cells in rows.items())
    )


def _glance(summary: Summary, press: Press) -> DossierSection:
    stacks = list(summary.stacks.values())
    worst = summary.checks[0] if summary.checks else None
    if worst is None:
        verdict = Text("No limit was checked.", "exceeded")
    elif summary.exceeded:
        verdict = Text(
            f"{summary.exceeded} of {len(summary.checks)} limits exceeded. Worst: {worst.name}, "
            f"{use_of(worst)}.", "exceeded",
        )  # fmt: skip
    else:
        verdict = Text(
            f"All {len(summary.checks)} checks within their limits. Nearest: {worst.name}, "
            f"{use_of(worst)}.", "within",
        )  # fmt: skip
    key = _both(summary, {
        "peak von Mises stress": (figure(s.peak_von_mises) for s in stacks),
        "its place": (s.peak_von_mises.place for s in stacks),
        "mid-span deflection": (figure(s.mid_span_deflection) for s in stacks),
        "the same by beam theory": (figure(s.beam_deflection) for s in stacks),
        "mass": (figure(s.mass) for s in stacks),
    }, "Key figures at capacity", "")  # fmt: skip
    whole = TableBlock("The press", ("", ""), (
        ("pressing force", quantity(summary.capacity.value, "N")),
        ("oil pressure", quantity(summary.working_pressure.value, "Pa")),
        ("daylight, stroke", f"{quantity(press.daylight, 'm')}, {quantity(press.stroke, 'm')}"),
        ("stacks", "; ".join(f"{s.name} {_pile(s.plates)}, {s.interface}" for s in press.stacks)),
        ("rods", f"{len(press.rods)} of {press.rods[0].thread}, {press.rods[0].material.grade}"),
        ("height over the rods", figure(summary.height)),
        ("mass", figure(summary.mass)),
        ("cost", figure(summary.cost) if summary.cost.value is not None
         else f"not known; {summary.cost.note}"),
    ))  # fmt: skip
    rows = by_rods(summary.checks)
    caption = UTILISATION
    if len(rows) > NEAREST:
        caption += f": the first {NEAREST} rows, of {len(summary.checks)} limits"
    limits = LimitBars(caption, tuple(
        Limit(name, quantity(c.value, c.unit, beside=c.limit), bound(c), c.utilisation,
              percent(c.utilisation), c.limit_name)
        for name, c in rows[:NEAREST]
    ))  # fmt: skip
    words = f"Elevation of the press from the front, dimensions in {shown_in('m').name}"
    front = drawings.elevation(press).svg(words)
    drawing = drawings.picture("elevation", front, Picture, words)
    ideal = tuple(Text(words, "caution") for words in summary.ideal)
    changes = TableBlock(
        "What to change, one value each, by quick figures", ("exceeded", "change"),
        tuple((c.check, c.sentence()) for c in summary.changes),
    )  # fmt: skip
    head: list[Block] = [*ideal, verdict, *([changes] if summary.changes else [])]
    return DossierSection("The press at a glance", (*head, Beside(drawing, (whole, key)), limits))


def _pile(plates: Sequence[Plate]) -> str:
    """Plates of a stack in short: how many, how thick."""
    found = Counter((p.role, p.thickness) for p in plates)
    return " + ".join(
        f"{count} × {quantity(thickness, 'm')}" + ("" if role == "plate" else f" {role}")
        for (role, thickness), count in found.items()
    )


def _assumptions(summary: Summary) -> DossierSection:
    return DossierSection("Assumptions", (
        Text("Linear elasticity, small displacements. The nuts press uniformly on their annuli; "
             "each rod is a spring between its two nut-bearing faces. Symmetry is used where "
             "parts and loads allow."),
        *(Text(f"{name}: modelled with mirror planes {', '.join(f'{a} = 0' for a in s.symmetry)}."
               if s.symmetry else f"{name}: modelled whole.")
          for name, s in summary.stacks.items()),
        Text("Mid-span deflection is the displacement of the loaded face at the press axis "
             "relative to the mean of the nut-bearing annuli: what a dial indicator on a bridge "
             "between the nuts would read."),
        Text(f"{len(summary.defaults)} values were taken by default; the last section lists them."),
    ))  # fmt: skip


def _loads(summary: Summary, press: Press) -> DossierSection:
    rows = []
    for stack in press.stacks:
        p = stack.patch
        size = f"{p.shape}, {quantity(p.length, 'm')}"
        if p.shape == "rectangle":
            size += f" × {quantity(p.width, 'm')}"
        if p.inner:
            size += f", inner {quantity(p.inner, 'm')}"
        at = f"({quantity(p.centre[0], 'm')}, {quantity(p.centre[1], 'm')})"
        mean = quantity(press.capacity / p.area, "Pa")
        rows.append((stack.name, stack.patch_name, size, at, mean))
    return DossierSection("Loads", (
        Text(f"Pressing force {quantity(summary.capacity.value, 'N')} at "
             f"{quantity(summary.working_pressure.value, 'Pa')}, spread evenly over a patch of "
             "each loaded face and balanced by the tie rods."),
        TableBlock("Loaded patches", ("stack", "patch", "shape", "centre x, y", "mean pressure"),
              tuple(rows), (4,)),
    ))  # fmt: skip


def _geometry(run: Run) -> DossierSection:
    words = f"Elevation of the press from the side, dimensions in {shown_in('m').name}"
    side = drawings.elevation(run.press, 1).svg(words)
    blocks: list[Block] = [drawings.picture("side", side, Picture, words)]
    for works in alike(cutting_plan(run.press, run.case.cutting)):
        first, plate = works[0], works[0].plate
        names = ", ".join(w.plate.name for w in works[:6]) + (" …" if len(works) > 6 else "")
        blocks.append(drawings.picture(
            f"plate-{first.number}", drawings.plan(first), Picture,
            f"{first.number}: {first.stack}, {names}: {len(works)} pieces, "
            f"{stock(plate.thickness)} thick, {plate.material.grade}, "
            f"{quantity(plate.mass, 'kg')} each; dimensions in {shown_in('m').name}, "
            "coordinates from the middle",
        ))  # fmt: skip
    blocks.append(
        Text("platestack draw writes drawings of all parts, with notes and title blocks.")
    )
    return DossierSection("Geometry", tuple(blocks))


def _mesh(summary: Summary, folder: Path) -> DossierSection:
    rows = [
        (f"{name}, mesh {i + 1}", f"{p.unknowns:,}", quantity(p.deflection, "m"),
         quantity(p.deflection_error, "m", 2), quantity(p.peak, "Pa"),
         quantity(p.peak_error, "Pa", 2), quantity(p.raw_peak, "Pa"))
        for name, s in summary.stacks.items() for i, p in enumerate(s.mesh.passes)
    ]  # fmt: skip
    meshes = [s.mesh for s in summary.stacks.values()]
    quality = _both(summary, {
        "elements": (f"{m.elements:,}" for m in meshes),
        "unknowns": (f"{m.unknowns:,}" for m in meshes),
        "shape quality, worst / mean (1 is regular)": (
            f"{m.worst_quality:.2f} / {m.mean_quality:.2f}" for m in meshes),
        "accuracy asked for": ("reached" if m.accurate else "NOT reached" for m in meshes),
        "iterations of the solver": (str(m.iterations) for m in meshes),
        "relative residual": (f"{m.residual:.1e}" for m in meshes),
        "rod forces against load, relative": (f"{m.balance:.1e}" for m in meshes),
        "complementarity error of contact": (
            "" if m.complementarity is None else f"{m.complementarity:.1e}" for m in meshes),
    }, "Mesh and solution", "of")  # fmt: skip
    return DossierSection("Mesh and its error", (
        *kept(folder, "mesh", "Mesh of the computed part, coloured by plate"), quality,
        TableBlock("Mesh refinement", ("mesh", "unknowns", "mid-span deflection",
              "± error", "peak stress", "± error", "largest nodal stress"), tuple(rows),
              (1, 2, 3, 4, 5, 6)),
    ))  # fmt: skip


def _fields(summary: Summary, folder: Path) -> DossierSection:
    words = {
        "stress": "Von Mises stress on the bent shape",
        "deflection": "Vertical displacement relative to the nuts on the bent shape",
        "crosshead_face": "Von Mises stress on the loaded face of the crosshead, from below",
        "bed_face": "Von Mises stress on the loaded face of the bed, from above",
    }
    found = [p for name, text in words.items() for p in kept(folder, name, text)]
    plates = [
        (f"{name} {p.name}", p.grade, quantity(p.thickness, "m"), quantity(p.mass, "kg"),
         quantity(p.yield_strength, "Pa"),
         figure(p.peak_von_mises) if p.peak_von_mises else "not read",
         quantity(p.peak_von_mises.raw, "Pa") if p.peak_von_mises else "",
         percent(p.utilisation) if p.utilisation is not None else "")
        for name, s in summary.stacks.items() for p in (*s.plates, *s.pads)
    ]  # fmt: skip
    stacks = list(summary.stacks.values())
    missing = () if found else (Text("The run was made without pictures."),)
    return DossierSection("Stress and deflection", (*missing, *found, _both(summary, {
        "peak von Mises stress": (figure(s.peak_von_mises) for s in stacks),
        "its place": (s.peak_von_mises.place for s in stacks),
        "how determined": (s.peak_von_mises.note for s in stacks),
        "mid-span deflection": (figure(s.mid_span_deflection) for s in stacks),
        "residual deflection": (figure(s.residual_deflection) for s in stacks),
        "flatness of the loaded patch": (figure(s.flatness_patch) for s in stacks),
        "flatness of the loaded face": (figure(s.flatness_face) for s in stacks),
        "displacement of the nuts": (figure(s.nut_displacement) for s in stacks),
        "strain energy": (figure(s.strain_energy) for s in stacks),
    }, "Results at capacity", ""), TableBlock(
        "Peak von Mises stress of each plate, washer and flange in the model",
        ("plate", "grade", "thickness", "mass", "yield strength", "peak", "largest nodal", "use"),
        tuple(plates), (2, 3, 4, 5, 6, 7),
    )))  # fmt: skip


def _interfaces(summary: Summary, folder: Path) -> DossierSection:
    def cell(part: object, number: object) -> str:
        if number is None or number.value is None:  # type: ignore[attr-defined]
            return "does not apply"
        return percent(number.value) if part == "share" else figure(number)  # type: ignore[attr-defined,arg-type]

    rows = [
        (f"{name}: {pair}", r.kind,
         *(cell("share", f) for f in (r.closed, r.sticking, r.sliding)),
         *(cell("", f) for f in (r.largest_pressure, r.largest_opening, r.largest_sliding)))
        for name, s in summary.stacks.items() for pair, r in s.interfaces.items()
        if r.kind != "welded"
    ]  # fmt: skip
    welded = [
        Text(f"{name}: {len(s.interfaces)} "
             f"{'interface' if len(s.interfaces) == 1 else 'interfaces'} welded: nothing presses, "
             "opens or slides there.")
        for name, s in summary.stacks.items()
        if s.interfaces and all(r.kind == "welded" for r in s.interfaces.values())
    ]  # fmt: skip
    if not rows and welded:
        return DossierSection("Interfaces", tuple(welded))
    if not rows:
        return DossierSection("Interfaces", (
            Text("Each stack is a single plate: there is no interface."),))  # fmt: skip
    shares = [
        Text(f"{name}: its stiffness lies {percent(s.composite_action.value)} of the way from "
             "loose "
             "to welded plates.")
        for name, s in summary.stacks.items()
        if s.composite_action is not None and s.composite_action.value is not None
    ]  # fmt: skip
    maps = [
        picture for name in summary.stacks
        for picture in kept(folder, f"{name}_interfaces", f"Interfaces of the {name} at capacity: "
                            "pressure, gap and sliding, seen from above")
    ]  # fmt: skip
    return DossierSection("Interfaces", (*welded, *shares, *maps, TableBlock(
        "Between neighbouring plates, and under nuts and cylinder where they are bodies",
        ("interface", "kind", "closed fraction", "sticking fraction",
        "sliding fraction", "largest pressure", "largest gap", "largest sliding"), tuple(rows),
        (2, 3, 4, 5, 6, 7)),))  # fmt: skip


def _beam(summary: Summary) -> DossierSection:
    def ratio(s: StackRecord) -> str:
        return f"{s.beam.ratio:.2f}, expected {s.beam.band[0]:.2f} to {s.beam.band[1]:.2f}"

    stacks = list(summary.stacks.values())
    return DossierSection("Cross-check by beam theory", (
        Text("The same stack as a Timoshenko beam on its rods, computed without the mesh."),
        _both(summary, {
            "mid-span deflection, elements": (figure(s.mid_span_deflection) for s in stacks),
            "mid-span deflection, beam": (figure(s.beam_deflection) for s in stacks),
            "beam, welded": (quantity(s.beam.welded_deflection, "m") for s in stacks),
            "beam, loose": (quantity(s.beam.loose_deflection, "m") for s in stacks),
            "bending stress, beam": (quantity(s.beam.bending_stress, "Pa") for s in stacks),
            "ratio": map(ratio, stacks),
        }, "Elements against beam", ""),
        *(Text(s.beam.verdict, "plain" if s.beam.band[0] <= s.beam.ratio <= s.beam.band[1]
               else "exceeded") for s in stacks),
    ))  # fmt: skip


def _check(c: CheckRecord) -> Calculation:
    return Calculation(
        c.name, c.formula, c.method, tuple((i.name, quantity(i.value, i.unit)) for i in c.inputs),
        quantity(c.value, c.unit, beside=c.limit),
        f"{c.sense} {quantity(c.limit, c.unit, beside=c.value)}: {c.limit_name}",
        c.utilisation, percent(c.utilisation), c.source,
        tuple(n for n in (c.note, *c.cautions) if n),
    )  # fmt: skip


def _facts(facts: Sequence[FactRecord]) -> DossierSection:
    blocks: list[Block] = []
    for topic, group in groupby(sorted(facts, key=lambda f: f.topic), key=lambda f: f.topic):
        blocks.append(Head(topic[:1].upper() + topic[1:]))
        blocks += [
            Calculation(f.name, f.formula, f.method, tuple((i.name, quantity(i.value, i.unit))
                        for i in f.inputs), quantity(f.value, f.unit), "", None, "", f.source,
                        tuple(n for n in (f.note, *f.cautions) if n))
            for f in group
        ]  # fmt: skip
    return DossierSection("Further figures", tuple(blocks))
