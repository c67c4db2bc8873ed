"""Meshes of stacks: shape, areas, volumes, symmetry, numbering.

Expected values: closed forms of plane geometry on the parts; scikit-fem for the numbering and for
Jacobians; for the quality measure its definition (Liu & Joe, BIT 34 (1994) 268).
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skfem import Basis, ElementTetP1, ElementTetP2, MeshTet, MeshTet2

from geometry import case as case_file
from geometry import layout, mesher
from geometry.errors import PlatestackError
from geometry.mesh import (
    EDGES,
    FORCED,
    Sizes,
    StackMesh,
    choose_symmetry,
    default_sizes,
    quality,
    scaled_jacobians,
    symmetry_of,
)
from geometry.parts import Groove, Outline, Plate, RectangleHole, RoundHole, Stack

STACKS = [
    *((case, stack) for case in ("small", "demo", "on_edge") for stack in ("crosshead", "bed")),
    pytest.param("large", "crosshead", marks=pytest.mark.slow),
    ("large", "bed"),
]
FLAT = [pair for pair in STACKS if "on_edge" not in pair]
COARSE = Sizes(0.08, round_divisions=10, ring_divisions=1, patch_divisions=5)


def areas(nodes: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Areas of plane triangles with parabolic edges, by the area of a parabola's segment."""
    a, b, c, ab, bc, ca = (nodes[faces[:, i]] for i in range(6))
    normal = np.cross(b - a, c - a)
    unit = normal / np.linalg.norm(normal, axis=1)[:, None]
    total = np.linalg.norm(normal, axis=1) / 2
    for start, end, middle in ((a, b, ab), (b, c, bc), (c, a, ca)):
        bulge = np.cross(end - start, middle - (start + end) / 2)
        total -= 2 / 3 * np.einsum("ij,ij->i", bulge, unit)
    return total


def volume(mesh: StackMesh) -> float:
    """Volume of the curved elements by scikit-fem's quadrature (exact for their Jacobian)."""
    basis = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementTetP1(), intorder=4)
    return float(basis.dx.sum())


def outer_faces(tets: np.ndarray) -> np.ndarray:
    """Corners (k, 3) of the faces that belong to one element only."""
    corners = [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]
    faces = np.sort(tets[:, corners].reshape(-1, 3), axis=1)
    unique, count = np.unique(faces, axis=0, return_counts=True)
    return unique[count == 1]


def as_set(faces: np.ndarray) -> set[tuple[int, ...]]:
    return set(map(tuple, np.sort(faces[:, :3], axis=1).tolist()))


def shifted(stack: Stack, hole) -> Stack:
    """The stack with a further opening in its last plate."""
    last = replace(stack.plates[-1], holes=(*stack.plates[-1].holes, hole))
    return replace(stack, plates=(*stack.plates[:-1], last))


# --- elements


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_volume_is_that_of_the_parts(press_of, coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    parts = sum(plate.volume for plate in getattr(press_of(case), stack).plates)
    # A parabola through an arc of 36° misses the circle's segment by 0.1 %, the plate by far less.
    assert volume(mesh) * mesh.share == pytest.approx(parts, rel=1e-4)


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_mass_by_plate(press_of, coarse_mesh, case, stack):
    mesh, parts = coarse_mesh(case, stack), getattr(press_of(case), stack)
    basis = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementTetP1(), intorder=4)
    density = np.array([plate.material.density for plate in parts.plates])
    mass = float((basis.dx.sum(axis=1) * density[mesh.plate]).sum()) * mesh.share
    assert mass == pytest.approx(parts.mass, rel=5e-3)
    assert mesh.plate_names == tuple(plate.name for plate in parts.plates)
    for index, plate in enumerate(parts.plates):  # elements lie within their plate
        own = mesh.nodes[mesh.tets[mesh.plate == index]].reshape(-1, 3)
        low, high = np.array(plate.bounds)
        assert (own > low - 1e-9).all()
        assert (own < high + 1e-9).all()


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_no_element_is_turned_inside_out(coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    mapping = MeshTet2(mesh.nodes.T, mesh.tets.T).mapping()
    corners = np.vstack([np.zeros(3), np.eye(3)])
    points = np.vstack([corners, corners[EDGES].mean(axis=1), corners.mean(axis=0)]).T
    jacobian = mapping.detDF(points)
    assert (jacobian > 0).all()
    assert mesh.quality.least_jacobian > 0
    straight = np.linalg.det(np.diff(mesh.nodes[mesh.tets[:, :4]], axis=1))
    own = scaled_jacobians(mesh.nodes, mesh.tets)
    assert own == pytest.approx(jacobian.min(axis=1) / straight, rel=1e-9)


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_each_plate_has_two_layers_of_elements(press_of, coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    for index, plate in enumerate(getattr(press_of(case), stack).plates):
        axis = 2 if plate.normal == "z" else 1
        own = mesh.tets[mesh.plate == index]
        ends = mesh.nodes[own[:, EDGES], axis]
        across = np.abs(ends[..., 1] - ends[..., 0])
        if len(own):
            assert across.max() < 0.75 * plate.thickness, plate.name


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_numbering_is_that_of_scikit_fem(coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    corners = int(mesh.tets[:, :4].max()) + 1
    straight = Basis(MeshTet(mesh.nodes[:corners].T, mesh.tets[:, :4].T), ElementTetP2())
    assert np.array_equal(straight.element_dofs, mesh.tets.T)
    curved = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementTetP2())
    assert np.array_equal(curved.element_dofs, mesh.tets.T)
    assert pytest.approx(mesh.nodes, abs=1e-12) == curved.doflocs.T


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_every_node_is_used_once(coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    assert np.array_equal(np.unique(mesh.tets), np.arange(len(mesh.nodes)))
    assert len(np.unique(np.round(mesh.nodes, 9), axis=0)) == len(mesh.nodes)


# --- named faces


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
    corners = [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]
    faces = np.sort(mesh.tets[:, corners].reshape(-1, 3), axis=1)
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


# --- symmetry


@pytest.fixture(scope="module")
def shares(small_press):
    """The small bed meshed as quarter, halves and whole."""
    return {
        wish: mesher.make(small_press.bed, small_press.rods, FORCED[wish], COARSE)
        for wish in FORCED
    }


@pytest.mark.parametrize(("wish", "part"), [("quarter", 4), ("half x", 2), ("half y", 2),
                                            ("whole", 1)])  # fmt: skip
def test_shares_of_the_volume(shares, small_press, wish, part):
    whole = sum(plate.volume for plate in small_press.bed.plates)
    assert volume(shares[wish]) == pytest.approx(whole / part, rel=1e-4)
    assert shares[wish].share == part
    planes = {name for name in shares[wish].faces if name.startswith("symmetry")}
    assert planes == {f"symmetry {plane}" for plane in FORCED[wish]}


@pytest.mark.parametrize("case", ["small", "demo", "on_edge", "large"])
def test_cases_are_symmetric_about_both_planes(press_of, case):
    press = press_of(case)
    for stack in press.stacks:
        assert choose_symmetry(stack, press.rods) == {"x", "y"}


@pytest.mark.parametrize(
    ("at", "left"),
    [((0.1, 0.05), set()), ((0.1, 0.0), {"y"}), ((0.0, 0.05), {"x"}), ((0.0, 0.0), {"x", "y"})],
)
def test_a_single_opening_breaks_the_planes_it_is_off(small_press, at, left):
    for hole in (RoundHole(at, 0.02), RectangleHole(at, 0.02, 0.01)):
        stack = shifted(small_press.crosshead, hole)
        assert symmetry_of(stack, small_press.rods) == left


@pytest.mark.parametrize(("along", "left"), [("x", {"x"}), ("y", {"y"})])
def test_a_groove_off_the_middle_breaks_one_plane(small_press, along, left):
    stack = shifted(small_press.bed, Groove(along, 0.05, 0.01, 0.02))
    assert symmetry_of(stack, small_press.rods) == left


def test_two_openings_may_mirror_each_other(small_press):
    stack = shifted(small_press.bed, RoundHole((0.1, 0.05), 0.02))
    stack = shifted(stack, RoundHole((-0.1, 0.05), 0.02))
    assert symmetry_of(stack, small_press.rods) == {"x"}
    other = shifted(small_press.bed, RoundHole((0.1, 0.05), 0.02))
    other = shifted(other, RoundHole((-0.1, 0.05), 0.021))
    assert symmetry_of(other, small_press.rods) == set()


@settings(max_examples=60, deadline=None)
@given(x=st.floats(-0.1, 0.1), y=st.floats(-0.1, 0.1))
def test_an_offset_patch_breaks_the_planes_it_is_off(small_press, x, y):
    stack = replace(small_press.bed, patch=replace(small_press.bed.patch, centre=(x, y)))
    planes = symmetry_of(stack, small_press.rods)
    assert ("x" in planes) == (round(x, 9) == 0)
    assert ("y" in planes) == (round(y, 9) == 0)


def test_rods_count_for_symmetry(small_press):
    one, two = small_press.rods
    moved = (replace(one, at=(-0.17, 0.0)), two)
    assert symmetry_of(small_press.bed, moved) == {"y"}


def test_plates_alike_but_for_their_steel_are_not_mirror_images(press_of):
    press = press_of("on_edge")
    plates = list(press.bed.plates)
    first = next(i for i, plate in enumerate(plates) if plate.role == "plate")
    soft = replace(plates[first].material, yield_strength=235e6)
    plates[first] = replace(plates[first], material=soft)
    assert symmetry_of(replace(press.bed, plates=tuple(plates)), press.rods) == {"x"}


@pytest.mark.parametrize("wish", ["quarter", "half x"])
def test_a_forced_plane_that_is_not_there_is_refused(small_press, wish):
    stack = shifted(small_press.crosshead, RoundHole((0.1, 0.0), 0.02))
    with pytest.raises(PlatestackError, match="crosshead is not symmetric about x = 0;") as caught:
        choose_symmetry(stack, small_press.rods, wish)
    assert "mesh.symmetry" in str(caught.value)
    assert choose_symmetry(stack, small_press.rods, "half y") == {"y"}
    assert choose_symmetry(stack, small_press.rods, "whole") == set()


# --- determinism, thin plates, grooves, sizes


def test_two_meshes_are_identical(shares, small_press):
    again = mesher.make(small_press.bed, small_press.rods, FORCED["quarter"], COARSE)
    first = shares["quarter"]
    assert np.array_equal(first.nodes, again.nodes)
    assert np.array_equal(first.tets, again.tets)
    assert first.faces.keys() == again.faces.keys()
    assert all(np.array_equal(first.faces[name], again.faces[name]) for name in first.faces)


def flat_press(plates: str, more: str = ""):
    text = f"""
[press]
name = "flat"
capacity = "60 tf"
working_pressure = "25 MPa"
daylight = "400 mm"
stroke = "200 mm"
[crosshead]
length = "700 mm"
width = "400 mm"
plates = "2 x 80 mm"
[bed]
length = "700 mm"
width = "400 mm"
plates = {plates}
{more}
[rods]
count = 4
pitch = ["520 mm", "250 mm"]
diameter = "50 mm"
"""
    return layout.build(case_file.parse(text))


def test_a_thin_plate_is_squeezed_and_stays_sound():
    press = flat_press('["80 mm", "10 mm", "80 mm"]')
    sizes = Sizes(0.08, round_divisions=10, ring_divisions=1, patch_divisions=5)
    mesh = mesher.make(press.bed, press.rods, FORCED["quarter"], sizes)
    assert mesh.quality.least_jacobian > 0
    assert volume(mesh) * 4 == pytest.approx(sum(p.volume for p in press.bed.plates), rel=1e-4)
    for plate, name in zip(press.bed.plates, mesh.plate_names, strict=True):
        z = mesh.nodes[mesh.tets[mesh.plate == mesh.plate_names.index(name)], 2]
        assert (z.min(), z.max()) == pytest.approx((plate.base, plate.top), abs=1e-12)
        ends = mesh.nodes[mesh.tets[mesh.plate == mesh.plate_names.index(name)][:, EDGES], 2]
        assert np.abs(ends[..., 1] - ends[..., 0]).max() < 0.75 * plate.thickness
    # The point of squeezing: not more elements than the plate of 80 mm beside it needs.
    count = np.bincount(mesh.plate)
    assert count[1] < 1.3 * max(count[0], count[2])


@pytest.mark.parametrize("along", ["x", "y"])
def test_volume_of_a_t_slot(along):
    slot = (
        f'{{ shape = "groove", along = "{along}", at = "90 mm", width = "28 mm", depth = "48 mm", '
        'head_width = "46 mm", head_depth = "20 mm" }'
    )
    press = flat_press(
        '"2 x 60 mm"',
        f'[bed.platen]\nthickness = "80 mm"\nlength = "420 mm"\nwidth = "380 mm"\n'
        f"openings = [{slot}]",
    )
    planes = symmetry_of(press.bed, press.rods)
    assert planes == ({"x"} if along == "x" else {"y"})
    mesh = mesher.make(press.bed, press.rods, planes, COARSE)
    basis = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementTetP1(), intorder=4)
    platen = float(basis.dx.sum(axis=1)[mesh.plate == 2].sum()) * mesh.share
    length = 0.42 if along == "x" else 0.38
    slot_volume = length * (0.028 * 0.028 + 0.046 * 0.020)
    assert platen == pytest.approx(0.42 * 0.38 * 0.08 - slot_volume, rel=1e-9)
    # The slot is open towards the work: its floor is 48 mm below the loaded face.
    outer = outer_faces(mesh.tets)
    z = mesh.nodes[outer, 2]
    floor = outer[(np.abs(z - (press.bed.load_face - 0.048)) < 1e-9).all(axis=1)]
    half = mesh.nodes[floor].reshape(-1, 3)[:, 1 if along == "x" else 0]
    assert (half.min(), half.max()) == pytest.approx((0.090 - 0.023, 0.090 + 0.023))


@pytest.mark.parametrize("outline", ["straight", "chamfered", "rounded"])
def test_outlines_with_every_corner(outline):
    size = "" if outline == "straight" else 'corner_size = "40 mm"'
    text = flat_press('"2 x 60 mm"').bed
    shaped = tuple(
        replace(p, outline=Outline(0.7, 0.4, outline, 0.04 if size else 0.0)) for p in text.plates
    )
    press = flat_press('"2 x 60 mm"')
    mesh = mesher.make(replace(press.bed, plates=shaped), press.rods, FORCED["quarter"], COARSE)
    assert volume(mesh) * 4 == pytest.approx(sum(p.volume for p in shaped), rel=1e-4)


def test_sizes_follow_the_thinnest_plate_and_the_span(small_press, press_of):
    # Small: 0.75 x 50 = 37.5 mm, more than a twelfth of the span of 350 mm.
    assert default_sizes(small_press.bed, small_press.rods).body == pytest.approx(0.350 / 12)
    # Large: 0.75 x 90 = 67.5 mm, between 1700 / 30 = 56.7 and 1700 / 12 = 141.7 mm.
    large = press_of("large")
    assert default_sizes(large.crosshead, large.rods).body == pytest.approx(0.0675)
    assert default_sizes(large.crosshead, large.rods, 0.1).body == 0.1


def test_a_finer_wish_gives_more_elements(shares, small_press):
    fine = mesher.make(small_press.bed, small_press.rods, FORCED["quarter"], Sizes(0.02))
    assert len(fine.tets) > 2 * len(shares["quarter"].tets)


# --- quality

REGULAR = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]], dtype=float)


def quadratic(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and element of a straight quadratic tetrahedron."""
    if np.linalg.det(corners[1:] - corners[0]) < 0:
        corners = corners[[0, 2, 1, 3]]
    return np.vstack([corners, corners[EDGES].mean(axis=1)]), np.arange(10)[None]


def test_quality_of_the_regular_tetrahedron_is_one():
    found = quality(*quadratic(REGULAR))
    assert found.worst == pytest.approx(1, rel=1e-12)
    assert found.least_jacobian == pytest.approx(1, rel=1e-12)


def test_quality_of_the_corner_tetrahedron():
    # Volume 1/6; squares of edges 3 x 1 + 3 x 2 = 9: 12 (1/2)^(2/3) / 9.
    corner = np.vstack([np.zeros(3), np.eye(3)])
    assert quality(*quadratic(corner)).worst == pytest.approx(12 * 0.5 ** (2 / 3) / 9, rel=1e-12)


unit = st.floats(-1, 1)
tetrahedra = st.lists(st.tuples(unit, unit, unit), min_size=4, max_size=4).map(np.array)


@settings(max_examples=150, deadline=None)
@given(tetrahedra, st.floats(0.01, 100), st.tuples(unit, unit, unit))
def test_quality_is_at_most_one_and_knows_no_size_or_place(corners, factor, move):
    six = abs(np.linalg.det(corners[1:] - corners[0]))
    if six < 1e-3:
        return
    nodes, tets = quadratic(corners)
    found = quality(nodes, tets).worst
    assert 0 < found <= 1 + 1e-12
    assert quality(factor * nodes + np.array(move), tets).worst == pytest.approx(found, rel=1e-6)
    assert quality(nodes[:, [1, 2, 0]], tets).worst == pytest.approx(found, rel=1e-9)


def test_a_turned_element_is_negative():
    nodes, tets = quadratic(REGULAR)
    nodes = nodes * [1, 1, -1]
    found = quality(nodes, tets)
    assert found.worst < 0
    assert found.least_jacobian < 0


def test_an_edge_bent_through_its_element_is_found():
    nodes, tets = quadratic(np.vstack([np.zeros(3), np.eye(3)]))
    for bend, sound in ((0.2, True), (0.3, False)):
        # N at corner 0: dx/dX = 4 x_mid - x_1 along that edge, so it turns at x_mid < 1/4.
        bent = nodes.copy()
        bent[4] = [0.5 - bend, 0, 0]
        expected = 4 * (0.5 - bend) - 1
        least = scaled_jacobians(bent, tets)[0]
        assert least == pytest.approx(min(expected, 1.0))
        assert (least > 0) == sound
