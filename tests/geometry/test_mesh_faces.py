"""Named faces of meshes: planes of symmetry, loaded areas, nuts, interfaces.

Expected values: closed forms of plane geometry on the parts.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from meshes import STACKS, areas, as_set, faces_of, outer_faces

from platestack.geometry.parts import Plate
from platestack.geometry.shapes import Groove, RoundHole

FLAT = [pair for pair in STACKS if "on_edge" not in pair]


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_symmetry_faces_are_all_that_lie_on_the_planes(coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    assert mesh.symmetry == {"x", "y"}
    outer = outer_faces(mesh.tets)
    for axis, plane in enumerate("xy"):
        faces = mesh.faces[f"symmetry {plane}"]
        assert np.abs(mesh.nodes[faces, axis]).max() < 1e-9
        on_plane = outer[(np.abs(mesh.nodes[outer, axis]) < 1e-9).all(axis=1)]
        assert as_set(faces) == set(map(tuple, on_plane.tolist()))


def test_symmetry_areas_by_hand(coarse_mesh):
    # Small bed: two plates of 50 mm; y = 0 cuts 230 mm less the rod hole of 48; x = 0 cuts 90 mm.
    mesh = coarse_mesh("small", "bed")
    along = areas(mesh.nodes, mesh.faces["symmetry y"]).sum()
    across = areas(mesh.nodes, mesh.faces["symmetry x"]).sum()
    assert along == pytest.approx(0.1 * (0.230 - 0.048), rel=1e-9)
    assert across == pytest.approx(0.1 * 0.090, rel=1e-9)


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_area_of_the_loaded_patch(press_of, coarse_mesh, case, stack):
    mesh, parts = coarse_mesh(case, stack), getattr(press_of(case), stack)
    faces = mesh.faces[parts.patch_name]
    area = areas(mesh.nodes, faces).sum() * mesh.share
    grooves = [h for p in parts.plates for h in p.holes if isinstance(h, Groove)]
    lost = sum(h.width * parts.patch.length for h in grooves if abs(h.at) < parts.patch.width / 2)
    assert area == pytest.approx(parts.patch.area - lost, rel=1e-3)
    assert np.abs(mesh.nodes[faces, 2] - parts.load_face).max() < 1e-9
    assert as_set(faces) <= as_set(outer_faces(mesh.tets))


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_area_of_the_nut_annuli(press_of, coarse_mesh, case, stack):
    press, mesh = press_of(case), coarse_mesh(case, stack)
    found = 0.0
    for rod in press.rods:
        faces = mesh.faces.get(f"nut of {rod.name}")
        if faces is not None:
            part = 0.5 ** sum(abs(c) < 1e-9 for c in rod.at)  # mirrors cut through its middle
            area = areas(mesh.nodes, faces).sum()
            assert area == pytest.approx(part * rod.annulus.area, rel=1e-3)
            height = getattr(press, stack).nut_face
            assert np.abs(mesh.nodes[faces, 2] - height).max() < 1e-9
            found += area * mesh.share
    assert found == pytest.approx(sum(rod.annulus.area for rod in press.rods), rel=1e-3)


@pytest.mark.parametrize(("case", "stack"), FLAT)
def test_area_of_interfaces_of_flat_stacks(press_of, coarse_mesh, case, stack):
    mesh, parts = coarse_mesh(case, stack), getattr(press_of(case), stack)
    pairs = list(pairwise(parts.plates))
    assert set(mesh.interfaces) == {f"{a.name} | {b.name}" for a, b in pairs}
    for lower, upper in pairs:
        smaller = min((lower, upper), key=lambda plate: plate.outline.area)
        inside = {
            (h.at, h.diameter)
            for plate in (lower, upper)
            for h in plate.holes
            if isinstance(h, RoundHole) and smaller.outline.clearance(h.at) > 0
        }
        overlap = smaller.outline.area - sum(math.pi / 4 * d**2 for _, d in inside)
        faces = mesh.faces[f"{lower.name} | {upper.name}"]
        area = areas(mesh.nodes, faces).sum() * mesh.share
        assert area == pytest.approx(overlap, rel=1e-4)
        assert np.abs(mesh.nodes[faces, 2] - lower.top).max() < 1e-9


def _edge_contact(one: Plate, two: Plate) -> float:
    """Area in which two plates of an on-edge stack touch, from their boxes and chamfers."""
    (low1, high1), (low2, high2) = np.array(one.bounds), np.array(two.bounds)
    overlap = np.minimum(high1, high2) - np.maximum(low1, low2)
    if one.normal == two.normal == "y":
        if abs(overlap[1]) > 1e-9:
            return 0.0
        return max(overlap[0], 0.0) * max(overlap[2], 0.0)
    if abs(overlap[2]) > 1e-9:
        return 0.0
    half = [
        plate.outline.length / 2 - (plate.outline.corner if plate.normal == "y" else 0.0)
        for plate in (one, two)
    ]
    middle = [plate.outline.centre[0] for plate in (one, two)]
    x = min(middle[0] + half[0], middle[1] + half[1]) - max(
        middle[0] - half[0], middle[1] - half[1]
    )
    return max(x, 0.0) * max(overlap[1], 0.0)


@pytest.mark.parametrize("stack", ["crosshead", "bed"])
def test_area_of_interfaces_of_an_on_edge_stack(press_of, coarse_mesh, stack):
    mesh, parts = coarse_mesh("on_edge", stack), getattr(press_of("on_edge"), stack)
    plates = parts.plates
    expected = sum(_edge_contact(a, b) for i, a in enumerate(plates) for b in plates[:i])
    found = sum(areas(mesh.nodes, mesh.faces[name]).sum() for name in mesh.interfaces)
    assert found * mesh.share == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_interfaces_match_face_to_face(coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    faces = faces_of(mesh.tets)
    plate = np.repeat(mesh.plate, 4)
    order = np.lexsort(faces.T)
    faces, plate = faces[order], plate[order]
    twins = (faces[1:] == faces[:-1]).all(axis=1) & (plate[1:] != plate[:-1])
    between: dict[str, set] = {}
    for at in np.flatnonzero(twins):
        one, two = sorted((plate[at], plate[at + 1]))
        name = f"{mesh.plate_names[one]} | {mesh.plate_names[two]}"
        between.setdefault(name, set()).add(tuple(faces[at].tolist()))
    assert between == {name: as_set(mesh.faces[name]) for name in mesh.interfaces}
