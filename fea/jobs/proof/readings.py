"""What instruments should show at working pressure, read from the fields and the summary of a run.

Instruments stand at nodes of the mesh, so that no interpolation comes between field and reading.
All readings are changes from the unloaded, tightened press. They grow in proportion to pressure but
where plates part or slip: there they follow a path (`fea.jobs.proof.path`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import meshio
import numpy as np
from numpy.typing import ArrayLike

from platestack.fea.results.run_directory import Run, read_fields
from platestack.fea.results.summary import Summary
from platestack.geometry import units
from platestack.geometry.parts import Press, Stack

Kind = Literal["dial", "gauge", "stretch"]
Point = tuple[float, float, float]

MODULUS = 0.03
"""Scatter of Young's modulus of structural steel, relative (common practice, no source)."""
THICKNESS = 0.3e-3
"""Permissible lower deviation of a plate's thickness, EN 10029 class B (not verified), m."""
FORCE = 0.02
"""Pressure gauge of class 1 and seal friction together, relative (common practice, no source)."""
FRICTION = 0.3
"""Scatter of the coefficient of friction between plates, relative (common practice, no source)."""
RESOLUTION: dict[str, float] = {"dial": 0.01e-3, "gauge": 10e-6, "stretch": 0.01e-3}
"""What the instrument itself may be off: a dial of 0.01 mm, 10 µm/m of a gauge (common
practice, no source)."""
SHOWN: dict[str, tuple[float, str]] = {
    "dial": (1e-3, "mm"), "gauge": (1e-6, "um/m"), "stretch": (1e-3, "mm"),
}  # fmt: skip
"""Kind -> SI value of the unit shown, and its name as columns carry it."""
_US = {"dial": (0.0254, "in"), "gauge": (1e-6, "uin/in"), "stretch": (0.0254, "in")}


def shown_as(kind: Kind, system: str = "") -> tuple[float, str]:
    """SI value and name of the unit of an instrument, in the system chosen or in another."""
    return (_US if (system or units.system()) == "US" else SHOWN)[kind]


def pressure_shown(system: str = "") -> tuple[float, str]:
    """SI value of the unit of oil pressure in a sheet, and the name of its column."""
    shown = units.SYSTEMS[system or units.system()]["Pa"][-1]
    return shown.scale, f"pressure_{shown.name}"


@dataclass(frozen=True)
class Turn:
    """A point of a reading's path: share of the working pressure, and the reading there.

    Both readings are parts of that at working pressure; `free` is without friction.
    """

    share: float
    part: float
    free: float


@dataclass(frozen=True)
class Reading:
    """One instrument: where it stands, what it should show at working pressure (SI).

    `relative` is the half band that grows with load, `fixed` that of the instrument. `path` holds
    the points that a test passes in turn; without one, the reading is in proportion to pressure.
    """

    name: str
    kind: Kind
    part: str
    at: Point
    value: float
    relative: float
    fixed: float
    words: str
    path: tuple[Turn, ...] = ()

    def expected(self, shares: ArrayLike, *, free: bool = False) -> np.ndarray:
        """Readings at shares of the working pressure that follow each other: up, then back.

        `free` asks for what the same stack would show without friction.
        """
        given = np.asarray(shares, float)
        if not self.path:
            return given * self.value
        turns = np.array([(0.0, 0.0, 0.0), *((t.share, t.part, t.free) for t in self.path)])
        column, found = (2 if free else 1), np.empty_like(given)
        top, peak = int(turns[:, 0].argmax()), int(given.argmax()) if len(given) else 0
        for mine, on in ((slice(0, peak + 1), turns[: top + 1]),
                         (slice(peak + 1, None), turns[top:][::-1])):  # fmt: skip
            # Past the last point of the path the reading goes on in proportion.
            beyond = np.maximum(given[mine] / turns[top, 0], 1.0)
            found[mine] = beyond * np.interp(given[mine], on[:, 0], on[:, column])
        return found * self.value

    def bands(self, shares: ArrayLike) -> np.ndarray:
        """Least, expected and largest reading at shares that follow each other, (n, 3)."""
        value = self.expected(shares)
        slipped = FRICTION * (value - self.expected(shares, free=True))
        half = np.sqrt((self.relative * value) ** 2 + slipped**2 + self.fixed**2)
        return np.column_stack([value - half, value, value + half])

    @property
    def column(self) -> str:
        """Name of its column in a CSV file, unit included."""
        return self.column_in(units.system())

    def column_in(self, system: str) -> str:
        """Name of its column in the files of a system of units."""
        return f"{self.name.replace(' ', '_')}_{shown_as(self.kind, system)[1]}"


def read(run: Run) -> tuple[Reading, ...]:
    """Work out the readings of a run.

    Raises
    ------
    UsageError
        If its fields cannot be read.
    """
    summary, press = run.summary, run.press
    bodies = [(stack, body) for stack in press.stacks for body in stack.bodies]
    grid = read_fields(run.folder, len(bodies))
    owner = np.concatenate(grid.cell_data["stack"])
    cells = np.concatenate([block.data for block in grid.cells])
    found: list[Reading] = []
    # Spacers and saddles of a stack on edge carry next to nothing: no instrument stands on them.
    carries = np.array([body in stack.main_plates for stack, body in bodies])
    carries = carries[np.concatenate(grid.cell_data["plate"])]
    for index, stack in enumerate(press.stacks):
        found += _of_stack(stack, summary, grid, cells[(owner == index) & carries])
    return (*found, *_of_rods(summary, press))


def _of_stack(
    stack: Stack, summary: Summary, grid: meshio.Mesh, cells: np.ndarray
) -> list[Reading]:
    record = summary.stacks[stack.name]
    deflection = record.mid_span_deflection
    computed = (deflection.error or 0.0) / abs(deflection.value or 1.0)
    # Bending goes with the third power of the depth: all plates at their thinnest.
    thin = 3 * THICKNESS * len(stack.main_plates) / stack.depth
    relative = math.hypot(computed, MODULUS, FORCE, thin)
    moved = grid.point_data["displacement"]
    places = Places(stack, grid.points, cells, record.symmetry)
    values = places.read(moved, record.nut_displacement.value or 0.0)
    return [
        Reading(f"{stack.name} {spot.name}", spot.kind, stack.name, spot.at, value,
                math.hypot(relative, 0.05) if spot.kind == "gauge" else relative,
                RESOLUTION[spot.kind], spot.words)
        for spot, value in zip(places.spots, values, strict=True)
    ]  # fmt: skip


@dataclass(frozen=True)
class Spot:
    """Where an instrument of a stack stands: the node that is read, and its place mirrored back."""

    name: str
    kind: Kind
    node: int
    at: Point
    words: str


class Places:
    """The instruments of a stack on a mesh: `cells` are those that carry, (m, 10) into `points`."""

    def __init__(
        self, stack: Stack, points: np.ndarray, cells: np.ndarray, mirrors: Sequence[str]
    ) -> None:
        self._stack, self._points, self._cells = stack, points, cells
        nodes = np.unique(cells)
        front = -max(p.bounds[1][1] for p in stack.plates)
        bridge = "along the load, on a bridge between the nuts"
        wanted: tuple[tuple[str, Kind, Point, str], ...] = (
            ("dial outer face", "dial", (0.0, 0.0, stack.nut_face),
             f"outer face, mid-span, near the press axis; {bridge}"),
            ("dial front edge", "dial", (0.0, front, stack.load_face),
             f"loaded face, mid-span, at the front edge; {bridge}"),
            ("gauge outer face", "gauge", (0.0, 0.0, stack.nut_face),
             "outer face, mid-span, near the press axis; along x"),
        )  # fmt: skip
        self.spots = tuple(
            Spot(name, kind, *nearest(points, nodes, place, mirrors), words)
            for name, kind, place, words in wanted
        )

    def read(self, moved: np.ndarray, nuts: float) -> list[float]:
        """What the instruments show of displacements (n, 3) in m; `nuts` is that of the nuts."""
        found = []
        for spot in self.spots:
            if spot.kind == "gauge":
                found.append(self._strain(spot.node, moved[:, 0]))
            else:
                found.append(float(self._stack.direction * (moved[spot.node, 2] - nuts)))
        return found

    def _strain(self, node: int, along_x: np.ndarray) -> float:
        """∂u/∂x at a node: the slope of the quadratic that fits the elements round it best.

        Stress is no use here: it holds what the preload has left in the plate.
        """
        near = np.unique(self._cells[(self._cells == node).any(axis=1)])
        away = self._points[near] - self._points[node]
        x, y, z = (away / np.abs(away).max()).T
        terms = np.column_stack(
            [x, np.ones_like(x), y, z, x * x, y * y, z * z, x * y, y * z, z * x]
        )
        slope = np.linalg.lstsq(terms, along_x[near], rcond=None)[0][0]
        return float(slope / np.abs(away).max())


def _of_rods(summary: Summary, press: Press) -> list[Reading]:
    found = []
    for record, rod in zip(summary.rods, press.rods, strict=True):
        middle = (rod.at[0], rod.at[1], sum(record.ends) / 2)
        relative = math.hypot(MODULUS, FORCE)
        working = record.working_force.value or 0.0
        # What pressing adds under the nut; a seat gives back the rest of the working force.
        largest = record.largest_force
        nut = working if largest is None else (largest.value or 0.0) - rod.preload
        found += [
            Reading(f"{rod.name} stretch", "stretch", "rods", middle, record.stretch.value or 0.0,
                    relative, RESOLUTION["stretch"], "between the nut-bearing faces"),
            Reading(f"{rod.name} gauge", "gauge", "rods", middle,
                    rod.strain(nut, working), relative,
                    RESOLUTION["gauge"], "mid-length, along the rod, mean of two opposite"),
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
