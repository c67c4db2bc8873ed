"""Surfaces that are drawn: of the whole stack, shaded rightly, closed where they are cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sample_run import REFERENCE, ROD, Box, X, Y, sample

from platestack.fea.pictures import scene_info
from platestack.fea.pictures.cut import cut_open
from platestack.fea.pictures.fields import mirror_signs
from platestack.fea.pictures.scene import Cut
from platestack.fea.pictures.surface import take_skin, whole

DEPTH = 0.40
HOLE = 0.05


def crosshead_cells(grid):
    return np.flatnonzero(grid.cell_data["stack"] == 0)


def enclosed(skin) -> float:
    """Volume inside a closed surface by the divergence theorem; positive if it looks outwards."""
    a, b, c = np.swapaxes(skin.points[skin.triangles], 0, 1)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


@pytest.mark.parametrize("box", [Box(), Box(y=-Y), Box(x=-X, y=-Y)], ids=["quarter", "half", "all"])
def test_mirrored_surface_is_the_whole_stack(box):
    grid, summary = sample(box, size=0.2)
    symmetry = scene_info(summary).stacks[0].symmetry
    skin = whole(take_skin(grid, crosshead_cells(grid), symmetry, ["displacement"]), symmetry)
    assert skin.points.min(axis=0) == pytest.approx([-X, -Y, 1.30], abs=1e-12)
    assert skin.points.max(axis=0) == pytest.approx([X, Y, 1.70], abs=1e-12)
    # A block with four holes. The drawn polygon is inscribed in each circle, so a little area of
    # the holes is missing: at most 1 - sin(t)/t of it with t = pi/28 (14 elements, halved).
    holes = 4 * np.pi * HOLE**2
    block = 4 * X * Y
    volume = (block - holes) * DEPTH
    assert volume < enclosed(skin) < volume + 0.01 * holes * DEPTH
    area = 2 * (block - holes) + 4 * (X + Y) * DEPTH + 4 * 2 * np.pi * HOLE * DEPTH
    assert skin.areas().sum() == pytest.approx(area, rel=2e-3)


def test_outer_surface_agrees_with_vtk(sampled):
    # VTK's own surface filter is the independent reference; its points are single precision.
    grid, _ = sampled
    cells = crosshead_cells(grid)
    ours = take_skin(grid, cells, (), [])
    vtk = grid.extract_cells(cells).extract_surface(algorithm="dataset_surface").triangulate()
    assert ours.areas().sum() == pytest.approx(vtk.area, rel=1e-6)
    assert len(ours.triangles) == vtk.n_cells


def test_fields_reflect_as_vectors_and_tensors():
    rng = np.random.default_rng(1)
    vector, (xx, yy, zz, xy, yz, xz) = rng.normal(size=3), rng.normal(size=6)
    tensor = np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
    for axis in (0, 1):
        mirror = np.eye(3)
        mirror[axis, axis] = -1
        assert vector * mirror_signs("displacement", axis) == pytest.approx(mirror @ vector)
        t = mirror @ tensor @ mirror.T
        expected = [t[0, 0], t[1, 1], t[2, 2], t[0, 1], t[1, 2], t[0, 2]]
        shown = np.array([xx, yy, zz, xy, yz, xz]) * mirror_signs("stress", axis)
        assert shown == pytest.approx(expected)


def test_normals_are_smooth_across_a_mirror_and_split_at_edges(sampled):
    grid, info = sampled
    symmetry = info.stacks[0].symmetry
    skin = take_skin(grid, crosshead_cells(grid), symmetry, ["displacement"])
    bent = skin.moved(200.0, REFERENCE["crosshead"])
    normals = skin.normals(bent)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0)
    assert normals[skin.points[:, 0] == 0][:, 0] == pytest.approx(0.0, abs=1e-12)
    corner = np.isclose(skin.points, [X, Y, 1.70]).all(axis=1)
    flat = skin.normals(skin.points)[corner]
    assert sorted(map(tuple, np.round(flat, 9) + 0.0)) == [(0, 0, 1), (0, 1, 0), (1, 0, 0)]


def test_contour_leaves_out_holes_and_plate_borders(sampled):
    grid, info = sampled
    skin = whole(take_skin(grid, crosshead_cells(grid), info.stacks[0].symmetry, []), ("x", "y"))
    a, b = np.swapaxes(skin.points[skin.outer_contour()], 0, 1)
    # The twelve edges of a block.
    assert np.linalg.norm(b - a, axis=1).sum() == pytest.approx(8 * (X + Y) + 4 * DEPTH)


HOLES = np.pi * HOLE**2


@pytest.mark.parametrize(
    ("cut", "volume", "section"),
    [
        (Cut(0, 0.0), (2 * X * Y - 2 * HOLES) * DEPTH, 2 * Y * DEPTH),
        (Cut(0, 0.2), ((X - 0.2) * 2 * Y - 2 * HOLES) * DEPTH, 2 * Y * DEPTH),
        (Cut(1, -0.15), ((Y + 0.15) * 2 * X - 2 * HOLES) * DEPTH, 2 * X * DEPTH),
        (Cut(2, 1.52), (4 * X * Y - 4 * HOLES) * 0.22, 4 * X * Y - 4 * HOLES),
    ],
)
def test_cut_closes_the_solid_with_its_section(sampled, cut, volume, section):
    grid, info = sampled
    cells, symmetry = crosshead_cells(grid), info.stacks[0].symmetry
    skin = take_skin(grid, cells, symmetry, ["displacement"])
    opened = cut_open(grid, cells, skin, symmetry, cut, 2 * X)
    side = 1.0 if cut.axis < 2 else -1.0
    assert (side * (opened.points[:, cut.axis] - cut.at)).min() == pytest.approx(0, abs=2e-6)
    on_plane = (np.abs(opened.points[opened.triangles][..., cut.axis] - cut.at) < 3e-6).all(axis=1)
    # Holes are drawn as inscribed polygons, which leaves them up to 1 % too small.
    assert opened.areas()[on_plane].sum() == pytest.approx(section, rel=5e-4)
    # The section's sense of turning is not fixed: with the plane moved through the origin it adds
    # nothing to the volume, and the rest of the surface gives all of it.
    at = np.where(np.arange(3) == cut.axis, cut.at, 0.0)
    rest = replace(opened, triangles=opened.triangles[~on_plane], points=opened.points - at)
    assert enclosed(rest) == pytest.approx(volume, rel=5e-4)
    # The invented deflection, interpolated along cut edges, is still that of the place.
    x, y = opened.points[:, 0], opened.points[:, 1]
    w = 0.32e-3 * (1 - (x / ROD[0]) ** 2 + 0.3 * (1 - (y / ROD[1]) ** 2))
    shown = opened.data["displacement"][:, 2] - REFERENCE["crosshead"]
    assert shown == pytest.approx(w, abs=8e-6)
