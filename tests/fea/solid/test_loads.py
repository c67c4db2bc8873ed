"""Loads, supports and readings as vectors and rows.

Expected values: closed forms of integrals over triangles, discs and rings; statics of rigid bodies.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import vstack

from platestack.fea.solid import loads, readings
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.mesh import EDGES, Sizes, StackMesh
from platestack.geometry.parts import Stack
from platestack.geometry.symmetry import FORCED, symmetry_of
from tests.fea.sample_stacks import rod_compliance

COARSE = Sizes(0.1, round_divisions=10, ring_divisions=1, patch_divisions=5)
STACKS = [
    *((case, stack) for case in ("small", "demo", "on_edge") for stack in ("crosshead", "bed")),
    pytest.param("large", "crosshead", marks=pytest.mark.slow),
    ("large", "bed"),
]


def straight(mesh: StackMesh) -> StackMesh:
    """The mesh with every edge node in the middle of its edge."""
    nodes = mesh.nodes.copy()
    nodes[mesh.tets[:, 4:]] = nodes[mesh.tets[:, :4]][:, EDGES].mean(axis=2)
    return replace(mesh, nodes=nodes)


def vertical(mesh: StackMesh, uz: np.ndarray) -> np.ndarray:
    """Displacements (3n,) with the given vertical component."""
    u = np.zeros((len(mesh.nodes), 3))
    u[:, 2] = uz
    return u.ravel()


@pytest.fixture(scope="module")
def quarter(coarse_mesh) -> StackMesh:
    return coarse_mesh("small", "bed")


@pytest.fixture(scope="module")
def whole(four_rods):
    """Whole bed on four rods with a load off the centre, and its press."""
    text = four_rods(more='[workpiece]\ndiameter = "80 mm"\noffset = ["60 mm", "-40 mm"]')
    press = layout.build(case_file.parse(text))
    assert symmetry_of(press.bed, press.rods) == set()
    return press, mesher.make(press.bed, press.rods, FORCED["whole"], COARSE)


# --- integrals over faces

coordinate = st.floats(-1, 1)
corner = st.tuples(coordinate, coordinate, coordinate)


@settings(max_examples=100, deadline=None)
@given(st.lists(corner, min_size=3, max_size=3), st.lists(coordinate, min_size=6, max_size=6))
def test_quadratic_functions_are_integrated_exactly(corners, factors):
    a, b, c = np.array(corners)
    nodes = np.array([a, b, c, (a + b) / 2, (b + c) / 2, (c + a) / 2])
    area = np.linalg.norm(np.cross(b - a, c - a)) / 2
    weights = readings.face_weights(nodes, np.arange(6)[None])
    # ∫ L1^p L2^q L3^r dA = 2 A p! q! r! / (p + q + r + 2)! over a triangle.
    bary = np.vstack([np.eye(3), [[0.5, 0.5, 0], [0, 0.5, 0.5], [0.5, 0, 0.5]]])
    pairs = [(0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2)]
    values = sum(f * bary[:, i] * bary[:, j] for f, (i, j) in zip(factors, pairs, strict=True))
    exact = sum(
        f * 2 * area * (2 if i == j else 1) / 24 for f, (i, j) in zip(factors, pairs, strict=True)
    )
    assert weights @ values == pytest.approx(exact, rel=1e-9, abs=1e-12)


def test_moments_of_a_rectangle(quarter):
    # The symmetry face x = 0 of the small bed: 0 < y < 90 mm, 0 < z < 100 mm.
    weights = readings.face_weights(quarter.nodes, quarter.faces["symmetry x"])
    _, y, z = quarter.nodes.T
    b, h = 0.09, 0.1
    for power, exact in {
        (0, 0): b * h,
        (1, 0): b**2 / 2 * h,
        (2, 0): b**3 / 3 * h,
        (1, 1): b**2 / 2 * h**2 / 2,
        (0, 2): b * h**3 / 3,
    }.items():
        assert weights @ (y ** power[0] * z ** power[1]) == pytest.approx(exact, rel=1e-9)


# --- the load


@pytest.mark.parametrize(("case", "name"), STACKS)
def test_resultant_of_the_load(press_of, coarse_mesh, case, name):
    press, mesh = press_of(case), coarse_mesh(case, name)
    stack = getattr(press, name)
    load = loads.patch_load(mesh, stack, press.capacity).reshape(-1, 3)
    sign = 1 if name == "crosshead" else -1
    assert load[:, 2].sum() * mesh.share == pytest.approx(sign * press.capacity, rel=1e-12)
    assert not load[:, :2].any()
    loaded = np.abs(mesh.nodes[:, 2] - stack.load_face) < 1e-9
    assert not load[~loaded].any()


def test_load_off_the_centre_has_its_moment(whole):
    press, mesh = whole
    force = loads.patch_load(mesh, press.bed, 1e6).reshape(-1, 3)[:, 2]
    x, y, _ = mesh.nodes.T
    assert force @ x == pytest.approx(-1e6 * 0.060, rel=1e-4)
    assert force @ y == pytest.approx(1e6 * 0.040, rel=1e-4)


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_pressure_is_uniform(press_of, coarse_mesh, name):
    # Second moment of a uniform pressure of resultant F: F (R² + r²) / 2 about the axis.
    press, mesh = press_of("small"), coarse_mesh("small", name)
    patch = getattr(press, name).patch
    force = loads.patch_load(mesh, getattr(press, name), 1e6).reshape(-1, 3)[:, 2]
    x, y, _ = mesh.nodes.T
    moment = abs(force @ (x**2 + y**2)) * mesh.share
    exact = 1e6 * ((patch.length / 2) ** 2 + (patch.inner / 2) ** 2) / 2
    assert moment == pytest.approx(exact, rel=2e-3)


# --- rods and restraints


@pytest.mark.parametrize(("case", "name"), STACKS)
def test_rods_are_counted_right(press_of, coarse_mesh, case, name):
    press, mesh = press_of(case), coarse_mesh(case, name)
    held = loads.supports(mesh, press.rods)
    assert held.copies.sum() == len(press.rods)
    # All springs of the whole press: half of a rod is twice as stiff as the rod with its nuts.
    stiffness = held.ties.stiffness[: len(held.rods)].sum() * mesh.share
    by_hand = sum(2 / rod_compliance(r) for r in press.rods)
    assert stiffness == pytest.approx(by_hand, rel=1e-12)


def test_six_rods_two_of_them_on_a_mirror(press_of, coarse_mesh):
    held = loads.supports(coarse_mesh("large", "bed"), press_of("large").rods)
    # In the quarter x, y > 0: rod 5 in the middle of the long side, cut by x = 0; rod 6 whole.
    assert dict(zip(held.rods, held.copies, strict=True)) == {"rod 5": 2, "rod 6": 4}
    assert dict(zip(held.rods, held.shares, strict=True)) == {"rod 5": 0.5, "rod 6": 1.0}
    five, six = held.ties.stiffness[:2]
    assert five == pytest.approx(six / 2, rel=1e-12)


def test_ties_read_rigid_displacements(whole):
    press, mesh = whole
    held = loads.supports(mesh, press.rods)
    rows = held.outward * held.ties.rows[: len(press.rods)]
    x, y, _ = mesh.nodes.T
    assert rows @ vertical(mesh, np.ones(len(x))) == pytest.approx(np.ones(4), rel=1e-12)
    # Tilted about y and x: the mean of an annulus is the value at its centre.
    assert rows @ vertical(mesh, x) == pytest.approx([rod.at[0] for rod in press.rods], rel=1e-5)
    assert rows @ vertical(mesh, y) == pytest.approx([rod.at[1] for rod in press.rods], rel=1e-5)
    sideways = np.zeros((len(x), 3))
    sideways[:, :2] = 1.0
    assert np.abs(rows @ sideways.ravel()).max() == 0.0


def test_rows_of_sliding_read_each_their_own_rigid_motion(whole):
    """A turn by φ moves the nuts by φ times their root mean square radius (rings about a, b)."""
    press, mesh = whole
    weights = sum(
        loads.face_weights(mesh.nodes, mesh.faces[f"nut of {rod.name}"]) for rod in press.rods
    )
    rows = vstack(readings.sliding(mesh, weights))
    x, y, _ = mesh.nodes.T
    o, i = np.zeros(len(x)), np.ones(len(x))
    motions = [np.column_stack(m).ravel() for m in ((i, o, o), (o, i, o), (-y, x, o), (o, o, i))]
    rod = press.rods[0]
    ring = ((rod.bearing_outer / 2) ** 2 + (rod.hole / 2) ** 2) / 2
    reach = math.sqrt(0.260**2 + 0.125**2 + ring)
    read = rows @ np.stack(motions, axis=1)
    assert read == pytest.approx(np.diag([1.0, 1.0, reach, 0.0])[:3], rel=1e-4, abs=1e-5)


def test_tie_of_half_an_annulus(quarter, press_of):
    # Centroid of a half ring: 4 (R³ − r³) / (3 π (R² − r²)) from its diameter.
    press = press_of("small")
    held = loads.supports(quarter, press.rods)
    big, small = press.rods[0].bearing_outer / 2, press.rods[0].hole / 2
    centroid = 4 * (big**3 - small**3) / (3 * math.pi * (big**2 - small**2))
    read = held.outward * held.ties.rows[:1] @ vertical(quarter, quarter.nodes[:, 1])
    assert read == pytest.approx([centroid], rel=1e-3)


def rigid_motions(nodes: np.ndarray) -> np.ndarray:
    """Six rigid displacements, (3n, 6)."""
    x, y, z = nodes.T
    o, i = np.zeros(len(nodes)), np.ones(len(nodes))
    fields = [(i, o, o), (o, i, o), (o, o, i), (o, -z, y), (z, o, -x), (-y, x, o)]
    return np.stack([np.column_stack(field).ravel() for field in fields], axis=1)


@pytest.mark.parametrize("wish", FORCED)
@pytest.mark.parametrize("rods", ["four", "two", "diagonal"])
def test_no_rigid_motion_is_left_free(small_text, four_rods, wish, rods):
    text = four_rods()
    if rods == "two":
        text = small_text
    elif rods == "diagonal":
        text = small_text.replace(
            'pitch = "350 mm"', 'positions = [["-170 mm", "-20 mm"], ["170 mm", "20 mm"]]'
        )
        if wish != "whole":
            return  # a diagonal pair has no mirror
    press = layout.build(case_file.parse(text))
    mesh = mesher.make(press.bed, press.rods, FORCED[wish], COARSE)
    held = loads.supports(mesh, press.rods)
    motions = rigid_motions(mesh.nodes)
    seen = np.vstack([motions[held.fixed.ravel()], held.ties.rows @ motions])
    # Lengths differ between moves and turns (the press is under 1 m), so scale the columns.
    seen /= np.abs(motions).max(axis=0)
    least = np.linalg.svd(seen, compute_uv=False)
    assert len(least) == 6
    assert least[-1] > 1e-3 * least[0] / math.sqrt(len(seen))


@pytest.mark.parametrize(("case", "name"), STACKS)
def test_mirrors_hold_what_is_across_them(press_of, coarse_mesh, case, name):
    mesh = coarse_mesh(case, name)
    held = loads.supports(mesh, press_of(case).rods)
    for axis in (0, 1):
        on_plane = np.abs(mesh.nodes[:, axis]) < 1e-9
        assert np.array_equal(held.fixed[:, axis], on_plane)
    assert not held.fixed[:, 2].any()


# --- readings at points


@settings(max_examples=150, deadline=None)
@given(
    x=st.floats(-0.12, 0.12),
    y=st.floats(-0.089, 0.089),
    z=st.floats(0.0, 0.1),
    factors=st.lists(coordinate, min_size=10, max_size=10),
    component=st.sampled_from([0, 1, 2]),
)
def test_a_point_reads_a_quadratic_field_exactly(quarter, x, y, z, factors, component):
    mesh = straight(quarter)

    def field(p: np.ndarray) -> np.ndarray:
        a, b, c = p.T
        terms = [np.ones_like(a), a, b, c, a * a, b * b, c * c, a * b, b * c, c * a]
        return sum(f * term for f, term in zip(factors, terms, strict=True))

    u = np.zeros((len(mesh.nodes), 3))
    u[:, component] = field(mesh.nodes)
    read = (readings.point_row(mesh, (x, y, z), component) @ u.ravel())[0]
    # A mirror turns the component across it, and no other.
    sign = -1 if (component == 0 and x < 0) or (component == 1 and y < 0) else 1
    exact = field(np.array([[abs(x), abs(y), z]]))[0]
    assert read == pytest.approx(sign * exact, rel=1e-9, abs=1e-10)


@pytest.mark.parametrize(
    "point",
    [(0.3, 0.0, 0.05), (0.0, 0.0, 0.11), (0.0, 0.0, -0.01), (0.175, 0.0, 0.05), (0.0, 0.1, 0.05)],
    ids=["beside", "above", "below", "in the rod hole", "across"],
)
def test_a_point_off_the_steel_is_refused(quarter, point):
    with pytest.raises(LookupError, match="no element at"):
        readings.point_row(quarter, point, 2)


def test_whole_model_reads_points_where_they_are(whole):
    _, mesh = whole
    mesh = straight(mesh)
    u = vertical(mesh, mesh.nodes[:, 0] + 2 * mesh.nodes[:, 1])
    for point in ((-0.1, 0.05, 0.12), (0.1, -0.05, 0.12), (-0.1, -0.05, 0.06)):
        read = (readings.point_row(mesh, point, 2) @ u)[0]
        assert read == pytest.approx(point[0] + 2 * point[1], abs=1e-12)


# --- the deflection


def deflection(stack: Stack, mesh: StackMesh, rods, uz: np.ndarray) -> tuple[float, str]:
    row, place = loads.deflection_row(mesh, stack, loads.supports(mesh, rods))
    return float((row @ vertical(mesh, uz))[0]), place


@pytest.mark.parametrize(("name", "sign"), [("crosshead", 1), ("bed", -1)])
def test_deflection_is_relative_to_the_nuts(press_of, coarse_mesh, name, sign):
    press, mesh = press_of("demo"), coarse_mesh("demo", name)
    stack = getattr(press, name)
    assert deflection(stack, mesh, press.rods, np.ones(len(mesh.nodes)))[0] == pytest.approx(
        0, abs=1e-12
    )
    # u_z = x²: zero at the axis; the mean over a ring at a is a² + (R² + r²) / 4.
    rod = press.rods[0]
    ring = rod.at[0] ** 2 + ((rod.bearing_outer / 2) ** 2 + (rod.hole / 2) ** 2) / 4
    read, place = deflection(stack, mesh, press.rods, mesh.nodes[:, 0] ** 2)
    assert read == pytest.approx(-sign * ring, rel=1e-4)
    assert place == "at the press axis"


def test_nuts_count_alike_on_and_off_the_mirror(press_of, coarse_mesh):
    press, mesh = press_of("large"), coarse_mesh("large", "bed")
    held = loads.supports(mesh, press.rods)
    read = (loads.mean_of_nuts(held) @ vertical(mesh, mesh.nodes[:, 0] ** 2))[0]
    rod = press.rods[0]
    spread = ((rod.bearing_outer / 2) ** 2 + (rod.hole / 2) ** 2) / 4
    by_hand = np.mean([r.at[0] ** 2 + spread for r in press.rods])
    assert read == pytest.approx(by_hand, rel=1e-4)


def test_deflection_round_a_hole_on_the_axis(small_text):
    hole = '[[crosshead.openings]]\nshape = "round"\ndiameter = "125 mm"'
    text = small_text.replace('diameter = "125 mm"', 'diameter = "124 mm"') + hole
    text = text.replace("[workpiece]", 'inner_diameter = "130 mm"\n\n[workpiece]')
    press = layout.build(case_file.parse(text))
    mesh = mesher.make(press.crosshead, press.rods, FORCED["quarter"], COARSE)
    uz = mesh.nodes[:, 0] ** 2 + mesh.nodes[:, 1] ** 2
    nuts = deflection(press.crosshead, mesh, press.rods, uz)[0]
    rod = press.rods[0]
    ring = rod.at[0] ** 2 + ((rod.bearing_outer / 2) ** 2 + (rod.hole / 2) ** 2) / 2
    assert nuts == pytest.approx(0.065**2 - ring, rel=1e-3)
    place = deflection(press.crosshead, mesh, press.rods, uz)[1]
    assert "inner edge of the patch" in place
    assert "hole on the press axis" in place


@pytest.mark.parametrize("along", ["x", "y"])
@pytest.mark.parametrize("wish", ["quarter", "whole"])
def test_deflection_beside_a_groove_on_the_axis(four_rods, along, wish):
    slot = f'{{ shape = "groove", along = "{along}", width = "20 mm", depth = "30 mm" }}'
    platen = 'platen = { thickness = "60 mm", length = "400 mm", width = "300 mm", '
    press = layout.build(case_file.parse(four_rods(bed=f"{platen}openings = [{slot}] }}")))
    mesh = mesher.make(press.bed, press.rods, FORCED[wish], COARSE)
    across = mesh.nodes[:, 1 if along == "x" else 0]
    read, place = deflection(press.bed, mesh, press.rods, across**2)
    pitch = 0.125 if along == "x" else 0.260
    rod = press.rods[0]
    ring = pitch**2 + ((rod.bearing_outer / 2) ** 2 + (rod.hole / 2) ** 2) / 4
    assert read == pytest.approx(ring - 0.010**2, rel=1e-3)  # both lips are 10 mm off
    assert "opening" in place
