"""What instruments should show at working pressure, read from the fields and the summary of a run.

Instruments stand at nodes of the mesh, so that no interpolation comes between field and reading.
All readings are changes from the unloaded, tightened press, and grow in proportion to pressure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Literal

import meshio
import numpy as np

from fea import results
from fea.summary import Summary
from geometry import case as case_file
from geometry import layout
from geometry.errors import CaseError, UsageError
from geometry.parts import Press, Stack

Kind = Literal["dial", "gauge", "stretch"]
Point = tuple[float, float, float]

MODULUS = 0.03
"""Scatter of Young's modulus of structural steel, relative (common practice, no source)."""
THICKNESS = 0.3e-3
"""Permissible lower deviation of a plate's thickness, EN 10029 class B (from memory), m."""
FORCE = 0.02
"""Pressure gauge of class 1 and seal friction together, relative (common practice, no source)."""
RESOLUTION: dict[str, float] = {"dial": 0.01e-3, "gauge": 10e-6, "stretch": 0.01e-3}
"""What the instrument itself may be off: a dial of 0.01 mm, 10 µm/m of a gauge (common
practice, no source)."""
SHOWN: dict[str, tuple[float, str]] = {
    "dial": (1e-3, "mm"), "gauge": (1e-6, "um/m"), "stretch": (1e-3, "mm"),
}  # fmt: skip
"""Kind -> SI value of the unit shown, and its name as columns carry it."""


@dataclass(frozen=True)
class Reading:
    """One instrument: where it stands, what it should show at working pressure (SI).

    `relative` is the half band that grows with load, `fixed` that of the instrument.
    """

    name: str
    kind: Kind
    part: str
    at: Point
    value: float
    relative: float
    fixed: float
    words: str

    def band(self, share: float) -> tuple[float, float, float]:
        """Least, expected and largest reading at a share of the working pressure."""
        value = share * self.value
        half = math.hypot(self.relative * value, self.fixed)
        return value - half, value, value + half

    @property
    def column(self) -> str:
        """Name of its column in a CSV file, unit included."""
        return f"{self.name.replace(' ', '_')}_{SHOWN[self.kind][1]}"


def read(folder: Path) -> tuple[Summary, Press, tuple[Reading, ...]]:
    """Work out the readings of a run.

    Raises
    ------
    UsageError
        If the directory does not hold a whole run.
    """
    summary = results.read(folder)
    try:
        press = layout.build(case_file.read(folder / "case.toml"))
        grid = meshio.read(folder / "fields.vtu")
    except CaseError as error:
        raise UsageError(str(error)) from None
    except (OSError, meshio.ReadError) as error:
        raise UsageError(f"{folder / 'fields.vtu'}: cannot be read ({error})") from None
    owner = np.concatenate(grid.cell_data["stack"])
    cells = np.concatenate([block.data for block in grid.cells])
    found: list[Reading] = []
    # Spacers and saddles of a stack on edge carry next to nothing: no instrument stands on them.
    plates = [(stack, plate) for stack in press.stacks for plate in stack.plates]
    carries = np.array([plate in stack.main_plates for stack, plate in plates])
    carries = carries[np.concatenate(grid.cell_data["plate"])]
    for index, stack in enumerate(press.stacks):
        found += _of_stack(stack, summary, grid, np.unique(cells[(owner == index) & carries]))
    return summary, press, (*found, *_of_rods(summary, press))


def _of_stack(
    stack: Stack, summary: Summary, grid: meshio.Mesh, nodes: np.ndarray
) -> list[Reading]:
    record = summary.stacks[stack.name]
    reference = record.nut_displacement.value or 0.0
    deflection = record.mid_span_deflection
    computed = (deflection.error or 0.0) / abs(deflection.value or 1.0)
    # Bending goes with the third power of the depth: all plates at their thinnest.
    thin = 3 * THICKNESS * len(stack.main_plates) / stack.depth
    relative = math.hypot(computed, MODULUS, FORCE, thin)
    front = -max(p.bounds[1][1] for p in stack.plates)
    mirrors = record.symmetry
    found = []
    for label, wanted, words in (
        ("outer face", (0.0, 0.0, stack.nut_face), "outer face, mid-span, near the press axis"),
        ("front edge", (0.0, front, stack.load_face), "loaded face, mid-span, at the front edge"),
    ):
        node, at = nearest(grid.points, nodes, wanted, mirrors)
        moved = stack.direction * (grid.point_data["displacement"][node, 2] - reference)
        found.append(Reading(f"{stack.name} dial {label}", "dial", stack.name, at, float(moved),
                             relative, RESOLUTION["dial"],
                             f"{words}; along the load, on a bridge between the nuts"))  # fmt: skip
    node, at = nearest(grid.points, nodes, (0.0, 0.0, stack.nut_face), mirrors)
    plate = min(stack.main_plates, key=lambda p: abs((p.bounds[0][2] + p.bounds[1][2]) / 2 - at[2]))
    xx, yy, zz = grid.point_data["stress"][node, :3]
    # Hooke's law; the gauge lies along x.
    strain = (xx - plate.material.poisson * (yy + zz)) / plate.material.young
    found.append(Reading(f"{stack.name} gauge outer face", "gauge", stack.name, at, float(strain),
                         math.hypot(relative, 0.05), RESOLUTION["gauge"],
                         "outer face, mid-span, near the press axis; along x"))  # fmt: skip
    return found


def _of_rods(summary: Summary, press: Press) -> list[Reading]:
    found = []
    for record, rod in zip(summary.rods, press.rods, strict=True):
        middle = (rod.at[0], rod.at[1], sum(record.ends) / 2)
        relative = math.hypot(MODULUS, FORCE)
        force = record.working_force.value or 0.0
        found += [
            Reading(f"{rod.name} stretch", "stretch", "rods", middle, record.stretch.value or 0.0,
                    relative, RESOLUTION["stretch"], "between the nut-bearing faces"),
            Reading(f"{rod.name} gauge", "gauge", "rods", middle,
                    force / (rod.area * rod.material.young), relative, RESOLUTION["gauge"],
                    "mid-length, along the rod, mean of two on opposite sides"),
        ]  # fmt: skip
    return found


def nearest(
    points: np.ndarray, nodes: np.ndarray, wanted: Point, mirrors: Sequence[str]
) -> tuple[int, Point]:
    """Node nearest to a place or to one of its mirror images, and where that is, mirrored back."""
    best = (math.inf, 0, (1.0, 1.0))
    for a, b in product(*((1.0, -1.0) if axis in mirrors else (1.0,) for axis in "xy")):
        away = np.linalg.norm(points[nodes] - np.array(wanted) * (a, b, 1.0), axis=1)
        first = int(np.argmin(away))
        best = min(best, (float(away[first]), int(nodes[first]), (a, b)))
    _, node, (a, b) = best
    x, y, z = points[node]
    return node, (round(float(a * x), 12) + 0.0, round(float(b * y), 12) + 0.0, round(float(z), 12))
