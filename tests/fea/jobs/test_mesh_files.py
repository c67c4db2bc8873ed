"""What the command `mesh` leaves: grids and mesh files that meshio, pyvista and gmsh open."""

from __future__ import annotations

import json

import gmsh
import meshio
import numpy as np
import pytest
import pyvista
from command_line import listing

from platestack.fea.jobs import run
from platestack.fea.results.run_directory import usable


@pytest.fixture(scope="module")
def meshed(small_text, tmp_path_factory):
    """What the mesh command leaves for the small case, but for its picture; and its words."""
    place = tmp_path_factory.mktemp("mesh")
    case = place / "small.toml"
    case.write_text(small_text)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run.pictures, "preflight", lambda: None)
        patch.setattr(run.pictures, "mesh_picture", lambda *_: None)
        words = run.mesh(case, place / "out", lambda step: None)
    return place / "out", words


def test_mesh_command_says_what_it_made(meshed):
    place, words = meshed
    assert set(words) == {"crosshead", "bed"}
    assert all(
        "quarter model" in line and "quadratic tetrahedra" in line for line in words.values()
    )
    assert listing(place) == ["bed.msh", "crosshead.msh", "mesh.json", "mesh.vtu"]
    assert json.loads((place / "mesh.json").read_text()) == words
    grid = meshio.read(place / "mesh.vtu")
    assert pyvista.read(place / "mesh.vtu").n_cells == len(grid.cells[0].data)
    assert set(np.unique(grid.cell_data["plate"][0])) == {0, 1, 2, 3}
    usable(place, "mesh.json")


@pytest.mark.parametrize("stack", ["crosshead", "bed"])
def test_mesh_file_holds_plates_and_named_faces(meshed, small_solution, stack):
    mesh = small_solution.stacks[stack].mesh  # nothing refined it: the mesh by default
    read = meshio.read(meshed[0] / f"{stack}.msh")
    names = {name: tuple(int(v) for v in data) for name, data in read.field_data.items()}
    assert {name for name, (_, dim) in names.items() if dim == 3} == {"plate 1", "plate 2"}
    patch = "ram" if stack == "crosshead" else "workpiece"
    faces = {patch, "nut of rod 2", "plate 1 | plate 2", "symmetry x", "symmetry y"}
    assert {name for name, (_, dim) in names.items() if dim == 2} == faces
    assert read.points == pytest.approx(mesh.nodes)
    for name, (tag, dim) in names.items():
        own = [
            block.data[tags == tag]
            for block, tags in zip(read.cells, read.cell_data["gmsh:physical"], strict=True)
            if block.type == ("tetra10" if dim == 3 else "triangle6")
        ]
        wanted = mesh.faces[name] if dim == 2 else mesh.tets[mesh.plate == int(name[-1]) - 1]
        assert np.array_equal(np.concatenate(own), wanted), name


def test_mesh_file_opens_with_gmsh(meshed, small_press):
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.open(str(meshed[0] / "bed.msh"))
        names = {gmsh.model.getPhysicalName(*tag) for tag in gmsh.model.getPhysicalGroups()}
        assert {"plate 1", "plate 2", "workpiece", "nut of rod 2", "symmetry y"} <= names
        tags = np.concatenate(gmsh.model.mesh.getElements(3)[1])
        # In the wrong order of nodes, edges would cross and Jacobians turn negative.
        assert min(gmsh.model.mesh.getElementQualities(tags, "minSJ")) > 0.1
        volume = sum(gmsh.model.mesh.getElementQualities(tags, "volume"))
        assert volume * 4 == pytest.approx(sum(p.volume for p in small_press.bed.plates), rel=1e-3)
    finally:
        gmsh.finalize()
