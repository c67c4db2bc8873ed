"""Run a case into a results directory: solve, summarise, write, draw."""

from __future__ import annotations

import importlib.metadata
import json
import logging
import platform
from pathlib import Path

import meshio

from platestack.fea import pictures
from platestack.fea.jobs import changes
from platestack.fea.results import grids, run_directory
from platestack.fea.results.summary import Summary, summarise
from platestack.fea.solid import forecast
from platestack.fea.solid.model import Solution, analyse
from platestack.fea.solid.stack import MeshRefinement, Report, StackSolution, mesh_stack
from platestack.fea.support import logbook, machine
from platestack.geometry import case as case_file
from platestack.geometry import layout, units
from platestack.geometry.mesh import StackMesh
from platestack.geometry.units import quantity

log = logging.getLogger(__name__)

STEPS = 14
"""How many steps a run reports, pictures included."""


def run(path: Path, out: Path, report: Report, *, drawn: bool = True) -> Summary:
    """Do the whole job for a case file and put it into `out`.

    Raises
    ------
    PlatestackError
        If the case is bad, or a step fails; then nothing is left in `out`.
    """

    def step(name: str) -> None:
        log.info(name)
        report(name)

    text = case_file.text_of(path)
    case = case_file.parse(text, str(path))
    with (
        units.using(case.units),
        run_directory.directory(out) as folder,
        logbook.kept() as lines,
    ):
        # As it was read: an edit made while it runs is not what was solved.
        (folder / "case.toml").write_text(text, encoding="utf-8")
        if drawn:
            step("renderer: try")
            pictures.preflight()
        solution = analyse(case, step)
        step("results: write")
        # A name that is not UTF-8 is told as well as can be.
        name = path.name.encode("utf-8", "replace").decode("utf-8")
        text = case_file.text_of(folder / "case.toml")
        summary = digested(summarise(solution, name), text)
        if summary.exceeded:
            step("limits: what to change")
            summary = summary.model_copy(update={"changes": changes.recorded(solution)})
        _fill(folder, solution, summary, step, drawn)
        log.info("end")
        _write_log(folder / "run.log", lines, solution)
    return summary


def digested(summary: Summary, text: str) -> Summary:
    """Return the summary with the digest of its case's text."""
    return summary.model_copy(update={"case_digest": case_file.digest_of(text)})


def write(solution: Solution, summary: Summary, text: str, out: Path, *, drawn: bool) -> None:
    """Write the results directory of a solution; `text` is that of its case.

    Raises
    ------
    PlatestackError
        If it cannot be written; then nothing is left in `out`.
    """
    with run_directory.directory(out) as folder:
        (folder / "case.toml").write_text(text, encoding="utf-8")
        _fill(folder, solution, summary, lambda step: None, drawn)
        _write_log(folder / "run.log", [], solution)


def _fill(folder: Path, solution: Solution, summary: Summary, step: Report, drawn: bool) -> None:
    """Write summary, fields and pictures into a directory."""
    run_directory.write_json(summary, folder / "summary.json")
    grid = grids.grid(solution)
    meshio.write(folder / "fields.vtu", grid, binary=True)
    interfaces = grids.interface_grid(solution)
    if interfaces is not None:
        meshio.write(folder / "interfaces.vtu", interfaces, binary=True)
    if drawn:
        step("pictures: draw")
        scene = pictures.scene_info(summary.model_dump())
        pictures.all_pictures(grids.wrapped(grid), scene, folder)
        if interfaces is not None:
            pictures.interface_maps(interfaces, scene, folder)


def _write_log(path: Path, lines: list[str], solution: Solution) -> None:
    """Write the log: versions, what was decided when, mesh and solver reports."""
    parts = ("gmsh", "scikit-fem", "numpy", "scipy", "pyamg", "pyvista")
    text = [
        f"platestack {importlib.metadata.version('platestack')}, "
        f"Python {platform.python_version()}, {platform.system()} {platform.machine()}",
        *(f"{name} {importlib.metadata.version(name)}" for name in parts),
        "",
        *lines,
        "",
    ]
    for name, stack in solution.stacks.items():
        text += [
            *(
                f"{name}: mesh {i + 1}: {refinement_words(step)}"
                for i, step in enumerate(stack.passes)
            ),
            f"{name}: {mesh_words(stack.mesh)}",
            f"{name}: {stack.iterations} iterations, true relative residual "
            f"{stack.residual:.1e}, rod forces in balance to {stack.balance:.1e}"
            + contact_words(stack),
            f"{name}: seconds "
            + ", ".join(f"{step} {seconds:.2f}" for step, seconds in stack.seconds.items()),
        ]
    most = machine.peak()
    if most is not None:
        text.append(f"most memory {most / machine.MB:,.0f} MB")
    path.write_text("\n".join(text) + "\n", encoding="utf-8")


def refinement_words(step: MeshRefinement) -> str:
    """One line about one mesh of the refinement."""
    return (
        f"{step.unknowns:,} unknowns, mid-span deflection {quantity(step.deflection, 'm')} ± "
        f"{quantity(step.deflection_error, 'm', 2)}, peak stress {quantity(step.peak, 'Pa')} ± "
        f"{quantity(step.peak_error, 'Pa', 2)}, largest nodal stress "
        f"{quantity(step.raw_peak, 'Pa')}"
    )


def contact_words(stack: StackSolution) -> str:
    """How true the state between plates is, to follow the residual; nothing where all is welded."""
    if stack.complementarity is None:
        return ""
    return f", complementarity error of contact {stack.complementarity:.1e}"


def mesh_words(mesh: StackMesh) -> str:
    """One line about a mesh."""
    model = {0: "whole", 1: "half", 2: "quarter"}[len(mesh.symmetry)]
    return (
        f"{model} model, {len(mesh.tets):,} quadratic tetrahedra, {mesh.unknowns:,} unknowns, "
        f"shape quality worst {mesh.quality.worst:.2f}, mean {mesh.quality.mean:.2f} "
        f"(1 is regular), {mesh.seconds:.1f} s"
    )


def mesh(path: Path, out: Path, report: Report) -> dict[str, str]:
    """Mesh both stacks of a case, write ``.msh``, ``.vtu`` and a picture; a line on each."""
    case = case_file.read(path)
    with run_directory.directory(out, "mesh.json") as folder:
        pictures.preflight()
        press = layout.build(case)
        case = forecast.of(press, case).case
        made: dict[str, StackMesh] = {}
        for stack in press.stacks:
            report(f"{stack.name}: mesh")
            made[stack.name] = mesh_stack(press, stack, case)
            file = grids.mesh_file(made[stack.name])
            meshio.write(folder / f"{stack.name}.msh", file, file_format="gmsh22", binary=True)
        grid = grids.mesh_grid(list(made.values()))
        meshio.write(folder / "mesh.vtu", grid, binary=True)
        words = {name: mesh_words(mesh) for name, mesh in made.items()}
        (folder / "mesh.json").write_text(json.dumps(words, indent=2) + "\n", encoding="utf-8")
        report("picture: draw")
        symmetry = {name: mesh.symmetry for name, mesh in made.items()}
        scene = pictures.mesh_scene(press, symmetry)
        pictures.mesh_picture(grids.wrapped(grid), scene, folder / "mesh.png")
    return words
