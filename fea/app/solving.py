"""Solve a case from a script: numbers with errors, fields as arrays, checks as records.

>>> import platestack
>>> result = platestack.solve(platestack.load("cases/small/small.toml"))
>>> deflection = result.summary.bed.mid_span_deflection
>>> deflection.error < 0.02 * deflection.value, deflection.unit
(True, 'm')
>>> [check.name for check in result.exceeded]
[]
>>> bed = result.fields("bed")
>>> bed.points.shape == bed.displacement.shape and bed.stress.shape[1] == 6
True
>>> sorted(result.grid().point_data)
['displacement', 'principal', 'stress', 'utilisation', 'von_mises']
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platestack.fea.app.scripting import PressCase
from platestack.fea.jobs import run
from platestack.fea.results import grids
from platestack.fea.results.summary import CheckRecord, Summary, summarise
from platestack.fea.solid.model import Solution, analyse
from platestack.geometry.schema import Case

if TYPE_CHECKING:
    import numpy as np

Report = Callable[[str], None]


@dataclass(frozen=True)
class StackFields:
    """Fields of one stack at capacity, on the part of it that is modelled; SI.

    Plates that may part have nodes of their own on their common faces.
    """

    points: np.ndarray
    """(n, 3) coordinates: x along the long side, y across, z up, origin on the press axis (m)."""
    cells: np.ndarray
    """(m, 10) nodes of quadratic tetrahedra, ordered as in VTK."""
    plate: np.ndarray
    """(n,) index of the plate that a node belongs to, in the order of `plates`."""
    plates: tuple[str, ...]
    displacement: np.ndarray
    """(n, 3) in m."""
    stress: np.ndarray
    """(n, 6) in Pa: xx, yy, zz, xy, yz, xz."""
    von_mises: np.ndarray
    """(n,) in Pa."""
    von_mises_error: np.ndarray
    """(n,) estimated error of `von_mises` (Pa)."""
    principal: np.ndarray
    """(n, 3) principal stresses (Pa)."""
    symmetry: tuple[str, ...]
    """Mirror planes of the model: ``"x"`` stands for the plane x = 0."""


@dataclass(frozen=True)
class PressResult:
    """A solved case. `summary` has the numbers that ``summary.json`` has, each with its error."""

    case: PressCase
    """What was solved: the case given, its mesh coarsened if it would not have fitted."""
    summary: Summary
    _solution: Solution = field(repr=False, compare=False)

    @property
    def checks(self) -> list[CheckRecord]:
        """Demands against named limits, each with its utilisation, formula and source."""
        return self.summary.checks

    @property
    def exceeded(self) -> list[CheckRecord]:
        """Checks whose limit is exceeded."""
        return [check for check in self.checks if check.utilisation > 1]

    def fields(self, stack: str) -> StackFields:
        """Fields of the ``"crosshead"`` or the ``"bed"`` as arrays. Raises `KeyError`."""
        solved = self._solution.stacks[stack]
        found, mesh = solved.fields, solved.mesh
        return StackFields(
            points=mesh.nodes[found.nodes.node],
            cells=found.nodes.cells,
            plate=found.nodes.plate,
            plates=tuple(body.name for body in solved.stack.bodies),
            displacement=found.displacement,
            stress=found.stress,
            von_mises=found.von_mises,
            von_mises_error=found.stress_error,
            principal=found.principal,
            symmetry=tuple(sorted(mesh.symmetry)),
        )

    def grid(self) -> Any:
        """Both stacks with all fields as a ``pyvista.UnstructuredGrid``, as in ``fields.vtu``."""
        return grids.wrapped(grids.grid(self._solution))

    def interface_grid(self) -> Any:
        """Faces between plates that may part, as a ``pyvista.UnstructuredGrid``; None if welded.

        Point data: ``pressure`` (Pa), ``gap`` and ``sliding`` (m), ``state`` (0 open, 1 sticking,
        2 sliding).
        """
        grid = grids.interface_grid(self._solution)
        return None if grid is None else grids.wrapped(grid)

    def write(self, directory: str | Path, *, pictures: bool = True) -> None:
        """Write a results directory, as ``platestack run`` does; later commands accept it.

        Raises
        ------
        UsageError
            If the directory holds something else.
        PlatestackError
            If it cannot be written.
        """
        run.write(self._solution, self.summary, self.case.text, Path(directory), drawn=pictures)


def solve(case: PressCase, report: Report = lambda step: None) -> PressResult:
    """Mesh and solve both stacks at capacity, and check everything; as ``platestack solve`` does.

    Parameters
    ----------
    case : PressCase
        From `load`, `build` or `PressCase.with_`.
    report : callable
        Called with the name of each step as it begins, such as ``print``.

    Raises
    ------
    PlatestackError
        If the case does not fit this machine, or cannot be meshed or solved.
    """
    solution = analyse(case.checked, report)
    solved = _as_solved(case, solution.case)
    summary = run.digested(summarise(solution, Path(case.file).name), solved.text)
    return PressResult(solved, summary, solution)


def _as_solved(case: PressCase, solved: Case) -> PressCase:
    """Return the case with the mesh that was taken."""
    given, taken = case.checked.mesh, solved.mesh
    differing = [n for n in type(taken).model_fields if getattr(taken, n) != getattr(given, n)]
    return case.with_({f"mesh.{name}": getattr(taken, name) for name in differing})
