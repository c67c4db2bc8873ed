"""Maps of interfaces: what lies where, completed by mirror images, drawn on one sheet."""

from __future__ import annotations

from dataclasses import dataclass

import meshio
import numpy as np
import pytest

from platestack.fea.pictures.interface_maps import interface_figure, interface_maps, laid_flat
from platestack.fea.pictures.scene import Bar, InterfaceInfo, PatchInfo, SceneInfo, StackInfo
from platestack.fea.results import grids
from platestack.geometry import case as case_file


@dataclass(frozen=True)
class Solved:
    """As much of a solution as the grid asks for."""

    stacks: dict


@pytest.fixture(scope="module")
def loose(small_text, solve_coarse):
    """The crosshead of the small case, its plates loose."""
    head = '[crosshead]\ninterface = { kind = "loose" }'
    case = case_file.parse(small_text.replace("[crosshead]", head), "loose.toml")
    return solve_coarse(case, "crosshead")["crosshead"]


@pytest.fixture(scope="module")
def grid(loose) -> meshio.Mesh:
    return grids.interface_grid(Solved({"crosshead": loose}))


@pytest.fixture(scope="module")
def scene(loose) -> SceneInfo:
    result = loose.interfaces[0]
    name = InterfaceInfo(result.name, "loose", result.open, result.sticking, result.sliding)
    patch = PatchInfo("annulus", (0.0, 0.0), 0.15, 0.15, 0.1)
    stack = StackInfo("crosshead", ("x", "y"), interfaces=(name,), patch=patch)
    return SceneInfo("sample press", (stack,), rods=(Bar(0.175, 0.0, 0.0, 1.0, 0.045),))


def test_parts_of_the_area_add_up(loose):
    (result,) = loose.interfaces
    assert result.sticking == 0
    assert result.open + result.sticking + result.sliding == pytest.approx(1)
    assert 0.05 < result.open < 0.95


def test_map_agrees_with_the_rods(grid, loose):
    """The lower plate is lifted by the ram and carried by the upper one: pressure is its force.

    A linear interpolation of the map between its points misses some of it: 3 % are allowed.
    """
    flat = laid_flat(grid, 0, StackInfo("crosshead", ("x", "y"), interfaces=(None,)))[0]
    pressure = flat.data["pressure"][flat.triangles].mean(axis=1)
    assert flat.areas @ pressure == pytest.approx(30e3 * 9.80665, rel=0.03)
    closed = np.asarray(grid.point_data["state"]) > 0
    assert (np.asarray(grid.point_data["pressure"])[~closed] == 0).all()
    assert np.asarray(grid.point_data["gap"])[closed].max() < 0.02 * loose.deflection


def test_interface_is_completed_by_its_mirror_images(grid, scene):
    (flat,) = laid_flat(grid, 0, scene.stacks[0])
    hole = 0.048  # clearance hole of the rod
    assert np.ptp(flat.at, axis=0) == pytest.approx([0.46, 0.18])
    assert flat.areas.sum() == pytest.approx(0.46 * 0.18 - 2 * np.pi / 4 * hole**2, rel=2e-3)
    # The border is the outline and two holes, and nothing along the mirrors.
    length = np.linalg.norm(np.diff(flat.border, axis=1)[:, 0], axis=1).sum()
    assert length == pytest.approx(2 * (0.46 + 0.18) + 2 * np.pi * hole, rel=5e-3)


def test_sheet_has_a_map_of_each_quantity(grid, scene, tmp_path):
    flats = laid_flat(grid, 0, scene.stacks[0])
    figure = interface_figure(flats, scene, scene.stacks[0])
    words = [text.get_text() for text in figure.texts]
    assert {"Pressure (MPa)", "Gap (µm)", "Sliding (mm)"} <= set(words)
    assert any(word.startswith("plate 1 to plate 2\nopen ") for word in words)
    maps = figure.axes[::2]
    assert len(maps) == 3
    # Rod, outer and inner edge of the patch on each.
    assert [len(axes.patches) for axes in maps] == [3, 3, 3]
    made = interface_maps(grid, scene, tmp_path)
    assert made["crosshead_interfaces"].read_bytes().startswith(b"\x89PNG")


def test_welded_stacks_have_no_maps(small_solution):
    assert grids.interface_grid(small_solution) is None
