"""Meshes and fields as grids that meshio writes and other programs open."""

from __future__ import annotations

from typing import Any

import meshio
import numpy as np

from platestack.fea.solid.model import Solution
from platestack.fea.support.signals import load_pyvista
from platestack.geometry.mesh import StackMesh


def grid(solution: Solution) -> meshio.Mesh:
    """Both stacks in one grid, with all fields; plates have nodes of their own."""
    points, cells, stack_of, plate_of = [], [], [], []
    data: dict[str, list[np.ndarray]] = {}
    nodes = plates = 0
    for index, solved in enumerate(solution.stacks.values()):
        fields, mesh = solved.fields, solved.mesh
        points.append(mesh.nodes[fields.nodes.node])
        cells.append(fields.nodes.cells + nodes)
        stack_of.append(np.full(len(mesh.tets), index))
        plate_of.append(mesh.plate + plates)
        allowed = np.array([body.material.yield_strength for body in solved.stack.bodies])
        allowed = allowed[fields.nodes.plate] / solution.press.yield_safety_factor
        for name, values in {
            "displacement": fields.displacement,
            "von_mises": fields.von_mises,
            "utilisation": fields.von_mises / allowed,
            "stress": fields.stress,
            "principal": fields.principal,
        }.items():
            data.setdefault(name, []).append(values)
        nodes += len(fields.nodes.node)
        plates += len(solved.stack.bodies)
    return meshio.Mesh(
        np.concatenate(points),
        [("tetra10", np.concatenate(cells))],
        point_data={name: np.concatenate(values) for name, values in data.items()},
        cell_data={"stack": [np.concatenate(stack_of)], "plate": [np.concatenate(plate_of)]},
    )


def interface_grid(solution: Solution) -> meshio.Mesh | None:
    """All interfaces that may part in one grid of triangles in their places, or None.

    The cell data ``stack`` and ``interface`` are indices into the stacks and into the names of
    the stack's interfaces. Point data: ``pressure`` (Pa), ``gap`` and ``sliding`` (m), ``state``
    (0 open, 1 sticking, 2 sliding).
    """
    maps = [
        (s, i, result.map)
        for s, solved in enumerate(solution.stacks.values())
        for i, result in enumerate(solved.interfaces)
        if result.map is not None
    ]
    if not maps:
        return None
    starts = np.cumsum([0, *(len(found.points) for _, _, found in maps)])
    count = [len(found.triangles) for _, _, found in maps]
    cells = [found.triangles + n for (_, _, found), n in zip(maps, starts, strict=False)]
    return meshio.Mesh(
        np.concatenate([found.points for _, _, found in maps]),
        [("triangle6", np.concatenate(cells))],
        point_data={
            name: np.concatenate([getattr(found, name) for _, _, found in maps])
            for name in ("pressure", "gap", "sliding", "state")
        },
        cell_data={
            "stack": [np.repeat([s for s, _, _ in maps], count)],
            "interface": [np.repeat([i for _, i, _ in maps], count)],
        },
    )


def mesh_file(mesh: StackMesh) -> meshio.Mesh:
    """A mesh with its plates and named faces as physical groups, for gmsh's file format."""
    volumes = [
        (name, 3, np.flatnonzero(mesh.plate == i)) for i, name in enumerate(mesh.plate_names)
    ]
    groups = {
        name: np.array([tag + 1, dim])
        for tag, (name, dim) in enumerate(
            [(name, dim) for name, dim, _ in volumes] + [(name, 2) for name in mesh.faces]
        )
    }
    cells = [("tetra10", mesh.tets[own]) for _, _, own in volumes if len(own)]
    tags = [np.full(len(own), groups[name][0]) for name, _, own in volumes if len(own)]
    cells += [("triangle6", faces) for faces in mesh.faces.values()]
    tags += [np.full(len(faces), groups[name][0]) for name, faces in mesh.faces.items()]
    return meshio.Mesh(
        mesh.nodes,
        cells,
        field_data=groups,
        cell_data={"gmsh:physical": tags, "gmsh:geometrical": tags},
    )


def mesh_grid(meshes: list[StackMesh]) -> meshio.Mesh:
    """Meshes of several stacks in one grid with the cell data ``stack`` and ``plate``."""
    starts = np.cumsum([0, *(len(mesh.nodes) for mesh in meshes)])
    plates = np.cumsum([0, *(len(mesh.plate_names) for mesh in meshes)])
    cells = [mesh.tets + start for mesh, start in zip(meshes, starts, strict=False)]
    plate = [mesh.plate + first for mesh, first in zip(meshes, plates, strict=False)]
    stack = [np.full(len(mesh.tets), index) for index, mesh in enumerate(meshes)]
    return meshio.Mesh(
        np.concatenate([mesh.nodes for mesh in meshes]),
        [("tetra10", np.concatenate(cells))],
        cell_data={"stack": [np.concatenate(stack)], "plate": [np.concatenate(plate)]},
    )


def wrapped(grid: meshio.Mesh) -> Any:
    """Return the same grid for pyvista."""
    return load_pyvista().wrap(grid)
