"""What the dossier says, as typed sections; made from a run's directory alone.

`fea.report.html` and `fea.report.pdf` set the same content, so that both show the same numbers.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from fea import results
from fea.console import figure, quantity
from fea.report import drawings
from fea.summary import CheckRecord, FactRecord, StackRecord, Summary
from geometry import case as case_file
from geometry import layout
from geometry.errors import CaseError, UsageError
from geometry.parts import Press


@dataclass(frozen=True)
class Text:
    """A paragraph; `kind` is plain, caution, within or exceeded."""

    words: str
    kind: str = "plain"


@dataclass(frozen=True)
class Table:
    """A table: heads of its columns, rows of text; numbers stand to the right."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A drawing (SVG) or a picture (PNG), with the words for who cannot see it."""

    name: str
    data: bytes
    caption: str
    alt: str


@dataclass(frozen=True)
class Calculation:
    """A check or a fact: formula, numbers put in, outcome, source; `use` is None for a fact."""

    name: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    outcome: str
    limit: str
    use: float | None
    source: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Scene:
    """The place of the three-dimensional scene; paper gets the words instead."""

    words: str


Block = Text | Table | Picture | Calculation | Scene


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Dossier:
    """All of it."""

    title: str
    subtitle: str
    sections: tuple[Section, ...]


def read(folder: Path) -> Dossier:
    """Make the content from a results directory.

    Raises
    ------
    UsageError
        If the directory does not hold a whole run.
    """
    summary = results.read(folder)
    try:
        press = layout.build(case_file.read(folder / "case.toml"))
    except CaseError as error:
        raise UsageError(str(error)) from None
    sections = (
        _glance(summary, press),
        _assumptions(summary),
        _loads(summary, press),
        _geometry(press),
        _mesh(summary, folder),
        _fields(summary, folder),
        Section("Scene in three dimensions", (Scene(
            "The scene of both stacks is in the HTML dossier: choose a field, exaggerate the bent "
            "shape, cut, pick a point and read its value."),)),
        _interfaces(summary),
        _beam(summary),
        Section("Checks, worst first", tuple(map(_check, summary.checks))),
        *_facts(summary.facts),
        _rods(summary),
        _mass(summary, press),
        _cautions(summary),
    )  # fmt: skip
    duty = f"{quantity(summary.capacity.value, 'N')} at {quantity(summary.working_pressure.value, 'Pa')}"  # noqa: E501
    return Dossier(summary.press, f"Design dossier: {duty}; case {summary.case}", sections)


def _both(summary: Summary, rows: dict[str, Iterable[str]], caption: str, head: str) -> Table:
    return Table(
        caption, (head, *summary.stacks), tuple((name, *cells) for name, cells in rows.items())
    )


def _glance(summary: Summary, press: Press) -> Section:
    stacks = list(summary.stacks.values())
    worst = summary.checks[0] if summary.checks else None
    if worst is None:
        verdict = Text("No limit was checked.", "exceeded")
    elif summary.exceeded:
        verdict = Text(
            f"{summary.exceeded} of {len(summary.checks)} limits exceeded. Worst: {worst.name}, "
            f"{worst.utilisation:.0%} of {worst.limit_name}.", "exceeded",
        )  # fmt: skip
    else:
        verdict = Text(
            f"All {len(summary.checks)} checks within their limits. Nearest: {worst.name}, "
            f"{worst.utilisation:.0%} of {worst.limit_name}.", "within",
        )  # fmt: skip
    key = _both(summary, {
        "peak von Mises stress": (figure(s.peak_von_mises) for s in stacks),
        "its place": (s.peak_von_mises.place for s in stacks),
        "how it was judged": (s.peak_von_mises.note for s in stacks),
        "mid-span deflection": (figure(s.mid_span_deflection) for s in stacks),
        "flatness of the loaded patch": (figure(s.flatness_patch) for s in stacks),
        "mass": (figure(s.mass) for s in stacks),
    }, "Key figures at capacity", "figure")  # fmt: skip
    limits = Table(
        "Demand over limit, worst first", ("check", "demand", "limit", "use", "limit named"),
        tuple(
            (c.name, quantity(c.value, c.unit), quantity(c.limit, c.unit), f"{c.utilisation:.0%}",
             c.limit_name)
            for c in summary.checks
        ), (1, 2, 3),
    )  # fmt: skip
    return Section("The design at a glance", (
        verdict, drawings.picture("elevation", drawings.elevation(press), Picture,
                                  "Elevation of the press, dimensions in mm"), key, limits,
    ))  # fmt: skip


def _assumptions(summary: Summary) -> Section:
    return Section("Assumptions and values taken by default", (
        Text("Linear elasticity, small displacements. The nuts press uniformly on their annuli; "
             "each rod is a spring between its two nut-bearing faces. Symmetry is used where "
             "parts and loads allow."),
        *(Text(f"{name}: modelled with mirror planes {', '.join(f'{a} = 0' for a in s.symmetry)}."
               if s.symmetry else f"{name}: modelled whole.")
          for name, s in summary.stacks.items()),
        Table("What the case left out", ("key", "value taken"), tuple(summary.defaults)),
    ))  # fmt: skip


def _loads(summary: Summary, press: Press) -> Section:
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
    return Section("Loads", (
        Text(f"Pressing force {quantity(summary.capacity.value, 'N')} at "
             f"{quantity(summary.working_pressure.value, 'Pa')}, spread evenly over a patch of "
             "each loaded face and balanced by the tie rods."),
        Table("Loaded patches", ("stack", "patch", "shape", "centre x, y", "mean pressure"),
              tuple(rows), (4,)),
    ))  # fmt: skip


def _geometry(press: Press) -> Section:
    blocks: list[Block] = []
    for stack in press.stacks:
        for alike in drawings.alike(stack.plates):
            plate = alike[0]
            names = ", ".join(p.name for p in alike)
            blocks.append(drawings.picture(
                f"{stack.name}-{plate.name}".replace(" ", "-"), drawings.plan(plate, press),
                Picture, f"{stack.name}, {names}: {len(alike)} off, {quantity(plate.thickness, 'm')} "  # noqa: E501
                f"thick, {plate.material.grade}, {quantity(plate.mass, 'kg')} each; "
                "dimensions in mm",
            ))  # fmt: skip
    return Section("Geometry", tuple(blocks))


def _png(folder: Path, name: str, caption: str) -> tuple[Picture, ...]:
    file = folder / f"{name}.png"
    if not file.is_file():
        return ()
    from PIL import Image

    buffer = io.BytesIO()
    picture = Image.open(file).convert("RGB").quantize(256, dither=Image.Dither.NONE)
    picture.save(buffer, "PNG", optimize=True)
    return (Picture(name, buffer.getvalue(), caption, caption),)


def _mesh(summary: Summary, folder: Path) -> Section:
    rows = [
        (f"{name}, mesh {i + 1}", f"{p.dofs:,}", quantity(p.deflection, "m"),
         quantity(p.deflection_error, "m", 2), quantity(p.peak, "Pa"),
         quantity(p.peak_error, "Pa", 2))
        for name, s in summary.stacks.items() for i, p in enumerate(s.mesh.passes)
    ]  # fmt: skip
    quality = _both(summary, {
        "elements": (f"{s.mesh.elements:,}" for s in summary.stacks.values()),
        "unknowns": (f"{s.mesh.dofs:,}" for s in summary.stacks.values()),
        "shape quality, worst / mean (1 is regular)": (
            f"{s.mesh.worst_quality:.2f} / {s.mesh.mean_quality:.2f}"
            for s in summary.stacks.values()),
        "accuracy asked for": ("reached" if s.mesh.accurate else "NOT reached"
                               for s in summary.stacks.values()),
        "rod forces against load, relative": (
            f"{s.mesh.balance:.1e}" for s in summary.stacks.values()),
    }, "Mesh and solution", "of")  # fmt: skip
    return Section("Mesh and its error", (
        *_png(folder, "mesh", "Mesh of the computed part, coloured by plate"), quality,
        Table("The way to the accuracy asked for", ("mesh", "unknowns", "mid-span deflection",
              "± error", "peak stress", "± error"), tuple(rows), (1, 2, 3, 4, 5)),
    ))  # fmt: skip


def _fields(summary: Summary, folder: Path) -> Section:
    words = {
        "stress": "Von Mises stress on the bent shape",
        "deflection": "Vertical displacement relative to the nuts on the bent shape",
        "crosshead_face": "Von Mises stress on the loaded face of the crosshead, from below",
        "bed_face": "Von Mises stress on the loaded face of the bed, from above",
    }
    found = [p for name, text in words.items() for p in _png(folder, name, text)]
    plates = [
        (f"{name} {p.name}", p.grade, quantity(p.thickness, "m"), quantity(p.yield_strength, "Pa"),
         figure(p.peak_von_mises) if p.peak_von_mises else "not read",
         f"{p.utilisation:.0%}" if p.utilisation is not None else "")
        for name, s in summary.stacks.items() for p in s.plates
    ]  # fmt: skip
    missing = () if found else (Text("The run was made without pictures."),)
    return Section("Stress and deflection", (*missing, *found, Table(
        "Peak von Mises stress of each plate",
        ("plate", "grade", "thickness", "yield strength", "peak", "use"), tuple(plates),
        (2, 3, 4, 5),
    )))  # fmt: skip


def _interfaces(summary: Summary) -> Section:
    rows = [
        (f"{name}: {pair}", r.kind,
         *("does not apply" if f.value is None else f"{f.value:.0%}" if f is r.closed else figure(f)
           for f in (r.closed, r.largest_pressure, r.largest_opening, r.largest_sliding)))
        for name, s in summary.stacks.items() for pair, r in s.interfaces.items()
    ]  # fmt: skip
    return Section("Interfaces", (Table(
        "Between neighbouring plates", ("interface", "kind", "part closed", "largest pressure",
        "largest opening", "largest sliding"), tuple(rows), (2, 3, 4, 5),
    ) if rows else Text("Each stack is a single plate: there is no interface."),))  # fmt: skip


def _beam(summary: Summary) -> Section:
    def ratio(s: StackRecord) -> str:
        return f"{s.beam.ratio:.2f}, expected {s.beam.band[0]:.2f} to {s.beam.band[1]:.2f}"

    stacks = list(summary.stacks.values())
    return Section("Cross-check by beam theory", (
        Text("The same stack as a Timoshenko beam on its rods, computed without the mesh."),
        _both(summary, {
            "mid-span deflection, elements": (figure(s.mid_span_deflection) for s in stacks),
            "mid-span deflection, beam": (figure(s.beam_deflection) for s in stacks),
            "beam, welded": (quantity(s.beam.welded_deflection, "m") for s in stacks),
            "beam, loose": (quantity(s.beam.loose_deflection, "m") for s in stacks),
            "bending stress, beam": (quantity(s.beam.bending_stress, "Pa") for s in stacks),
            "ratio": map(ratio, stacks),
        }, "Elements against beam", "figure"),
        *(Text(s.beam.verdict, "plain" if s.beam.band[0] <= s.beam.ratio <= s.beam.band[1]
               else "exceeded") for s in stacks),
    ))  # fmt: skip


def _check(c: CheckRecord) -> Calculation:
    return Calculation(
        c.name, c.formula, tuple((i.name, quantity(i.value, i.unit)) for i in c.inputs),
        quantity(c.value, c.unit),
        f"{'at least' if c.at_least else 'at most'} {quantity(c.limit, c.unit)}: {c.limit_name}",
        c.utilisation, c.source, tuple(n for n in (c.note, *c.cautions) if n),
    )  # fmt: skip


def _facts(facts: Sequence[FactRecord]) -> Iterable[Section]:
    ordered = sorted(facts, key=lambda f: f.topic)
    for topic, group in groupby(ordered, key=lambda f: f.topic):
        yield Section(f"Figures: {topic}", tuple(
            Calculation(f.name, f.formula, tuple((i.name, quantity(i.value, i.unit))
                        for i in f.inputs), quantity(f.value, f.unit), "", None, f.source,
                        tuple(n for n in (f.note, *f.cautions) if n))
            for f in group
        ))  # fmt: skip


def _rods(summary: Summary) -> Section:
    rows = tuple(
        (r.name, f"({quantity(r.at[0], 'm')}, {quantity(r.at[1], 'm')})", r.thread,
         figure(r.preload), figure(r.working_force), figure(r.stretch))
        for r in summary.rods
    )  # fmt: skip
    return Section("Rods and tightening", (Table(
        "Tie rods", ("rod", "place x, y", "thread", "preload", "working load", "stretch"), rows,
        (3, 4, 5)), Text("Working load and stretch are what pressing at capacity adds. Tighten "
        "evenly, crosswise, in steps, and measure the stretch; a torque alone says little about "
        "the force in a large rod.", "caution")))  # fmt: skip


def _mass(summary: Summary, press: Press) -> Section:
    parts = [
        (f"{s.name} {p.name}", quantity(p.mass, "kg"), f"z = {quantity((p.bounds[0][2] + p.bounds[1][2]) / 2, 'm')}")  # noqa: E501
        for s in press.stacks for p in s.plates
    ]  # fmt: skip
    cost = (
        Text(f"Cost: {figure(summary.cost)}")
        if summary.cost.value is not None
        else Text(f"Cost: not known; {summary.cost.note}.")
    )
    return Section("Mass, lifts and cost", (
        Text(f"Mass {figure(summary.mass)} ({summary.mass.note}); height {figure(summary.height)} "
             f"({summary.height.note})."), cost,
        Table("Lifts", ("part", "mass", "mid height in place"), tuple(parts), (1, 2)),
    ))  # fmt: skip


def _cautions(summary: Summary) -> Section:
    return Section(
        "Cautions, and what was not checked", tuple(Text(c, "caution") for c in summary.cautions)
    )
