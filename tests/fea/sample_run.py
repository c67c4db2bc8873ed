"""A made-up press run for tests of pictures: two stacks of plates with holes, smooth fields.

The shapes are meshed; the fields are invented (a parabola of deflection, the bending stress that
goes with it, a rise at the holes), so nothing here says anything about a real press.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import gmsh
import numpy as np
import pyvista

X, Y = 0.60, 0.40
ROD = (0.44, 0.27)
STACKS = {
    "crosshead": {"z": 1.30, "plates": (0.08,) * 5, "bore": 0.0},
    "bed": {"z": 0.0, "plates": (0.10, 0.10, 0.10, 0.10), "bore": 0.20},
}
REFERENCE = {"crosshead": 0.9e-3, "bed": -0.2e-3}


@dataclass(frozen=True)
class Box:
    """The modelled part: x and y from these to the far edge."""

    x: float = 0.0
    y: float = 0.0


def _mesh(name: str, box: Box, size: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points, quadratic tetrahedra in VTK's node order, plate of each."""
    data = STACKS[name]
    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.option.setNumber("General.NumThreads", 1)
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)
        gmsh.option.setNumber("Mesh.MeshSizeFromCurvature", 14)
        occ = gmsh.model.occ
        z, solids = data["z"], []
        for thickness in data["plates"]:
            solid = [(3, occ.addBox(box.x, box.y, z, X - box.x, Y - box.y, thickness))]
            tools = [
                (3, occ.addCylinder(sx * ROD[0], sy * ROD[1], z, 0, 0, thickness, 0.05))
                for sx in (1, -1) for sy in (1, -1)
            ]  # fmt: skip
            if data["bore"]:
                tools.append((3, occ.addCylinder(0, 0, z, 0, 0, thickness, data["bore"] / 2)))
            solids += occ.cut(solid, tools)[0]
            z += thickness
        occ.fragment(solids[:1], solids[1:])
        occ.synchronize()
        gmsh.model.mesh.generate(3)
        gmsh.model.mesh.setOrder(2)
        tags, coordinates, _ = gmsh.model.mesh.getNodes()
        place = np.zeros(int(tags.max()) + 1, dtype=int)
        place[tags] = np.arange(len(tags))
        cells = gmsh.model.mesh.getElements(3)[2][0].reshape(-1, 10)
        cells = place[cells][:, [0, 1, 2, 3, 4, 5, 6, 7, 9, 8]]
        points = coordinates.reshape(-1, 3)
    finally:
        gmsh.finalize()
    used, cells = np.unique(cells, return_inverse=True)
    points, cells = points[used], cells.reshape(-1, 10)
    faces = data["z"] + np.cumsum(data["plates"])
    return points, cells, np.searchsorted(faces, points[cells[:, :4]].mean(axis=1)[:, 2])


def _fields(name: str, points: np.ndarray) -> dict[str, np.ndarray]:
    """Invented displacement and stress."""
    x, y, z = points.T
    sign = 1.0 if name == "crosshead" else -1.0
    low, depth = STACKS[name]["z"], sum(STACKS[name]["plates"])
    height = (z - low - depth / 2) / (depth / 2)
    shape = 1 - (x / ROD[0]) ** 2 + 0.3 * (1 - (y / ROD[1]) ** 2)
    slope = -2 * x / ROD[0] ** 2
    w = sign * 0.32e-3
    displacement = np.stack([-w * slope * height * depth / 2, 0 * y, w * shape], axis=1)
    displacement[:, 2] += REFERENCE[name]
    bending = sign * 95e6 * height * np.clip(1 - (np.abs(x) / X) ** 1.5, 0, None)
    distance = np.hypot(np.abs(x) - ROD[0], np.abs(y) - ROD[1])
    rise = 70e6 * np.exp(-(((distance - 0.05) / 0.05) ** 2))
    if STACKS[name]["bore"]:
        bending = bending * (1 + 1.2 * np.exp(-(((np.hypot(x, y) - 0.1) / 0.06) ** 2)))
    shear = 22e6 * np.sign(x) * (1 - height**2) * np.clip(np.abs(x) / ROD[0], 0, 1)
    stress = np.stack([bending, 0.3 * bending, -rise, 0.2 * x * y * 1e8, 0 * x, shear], axis=1)
    xx, yy, zz, xy, yz, xz = stress.T
    tensor = np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]).transpose(2, 0, 1)
    principal = np.linalg.eigvalsh(tensor)[:, ::-1]
    a, b, c = principal.T
    von_mises = np.sqrt(((a - b) ** 2 + (b - c) ** 2 + (c - a) ** 2) / 2)
    return {
        "displacement": displacement,
        "stress": stress,
        "principal": principal,
        "von_mises": von_mises,
        "utilisation": von_mises / 190e6,
    }


def sample(box: Box | None = None, size: float = 0.09) -> tuple[pyvista.UnstructuredGrid, dict]:
    """Grid and summary of the made-up run; the quarter x > 0, y > 0 unless `box` says otherwise."""
    box = box or Box()
    symmetry = [axis for axis, low in (("x", box.x), ("y", box.y)) if low == 0.0]
    summary: dict = {"schema_version": 2, "press": "sample press 250 t", "rods": []}
    plates_before = 0
    blocks = []
    for index, name in enumerate(STACKS):
        points, cells, plate = _mesh(name, box, size)
        fields = _fields(name, points)
        start = sum(len(block[0]) for block in blocks)
        plate = plate + plates_before
        blocks.append((points, cells + start, plate, np.full(len(cells), index), fields))
        plates_before += len(STACKS[name]["plates"])
        summary[name] = _stack_summary(name, symmetry, points, fields) | {
            "plates": [
                {"name": f"plate {i + 1}", "role": "plate"}
                for i in range(len(STACKS[name]["plates"]))
            ]
        }
    cells = np.vstack([block[1] for block in blocks])
    grid = pyvista.UnstructuredGrid({24: cells}, np.vstack([block[0] for block in blocks]))
    for name in blocks[0][4]:
        grid.point_data[name] = np.concatenate([block[4][name] for block in blocks])
    grid.cell_data["plate"] = np.concatenate([block[2] for block in blocks])
    grid.cell_data["stack"] = np.concatenate([block[3] for block in blocks])
    for sx in (1, -1):
        for sy in (1, -1):
            summary["rods"].append(
                {
                    "at": [sx * ROD[0], sy * ROD[1]],
                    "ends": [-0.09, 1.79],
                    "diameter": 0.09,
                    "nut_height": 0.07,
                    "nut_across_flats": 0.13,
                }
            )
    return grid, summary


def _stack_summary(name: str, symmetry: list[str], points: np.ndarray, fields: dict) -> dict:
    peak = int(np.argmax(fields["von_mises"]))
    face = 1.30 if name == "crosshead" else 0.40
    at = [0.0 if name == "crosshead" else 0.10, 0.0, face]
    middle = int(np.argmin(np.linalg.norm(points - at, axis=1)))
    return {
        "symmetry": symmetry,
        "nut_displacement": {"value": REFERENCE[name], "unit": "m"},
        "peak_von_mises": {
            "value": float(fields["von_mises"][peak]), "unit": "Pa", "place": "at the rod hole",
            "at": points[peak].tolist(),
        },
        "mid_span_deflection": {
            "value": float(fields["displacement"][middle, 2] - REFERENCE[name]), "unit": "m",
            "at": points[middle].tolist(),
        },
    }  # fmt: skip


def write_run(folder: Path, box: Box | None = None, size: float = 0.09) -> Path:
    """Write the made-up run as a run directory."""
    grid, summary = sample(box, size)
    folder.mkdir(parents=True, exist_ok=True)
    grid.save(folder / "fields.vtu")
    (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    return folder
