"""Meshes of stacks: volumes, layers, numbering, thin plates, slots, sizes.

Expected values: closed forms of plane geometry on the parts; scikit-fem for the numbering and for
Jacobians.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from meshes import COARSE, STACKS, outer_faces, volume, volumes
from skfem import Basis, ElementTetP2, MeshTet, MeshTet2

from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.mesh import EDGES, Sizes, default_sizes, scaled_jacobians
from platestack.geometry.mesher.sizes import rim_sizes
from platestack.geometry.shapes import Outline, RectangleHole, RoundHole
from platestack.geometry.symmetry import FORCED, symmetry_of

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_volume_is_that_of_the_parts(press_of, coarse_mesh, case, stack):
    mesh = coarse_mesh(case, stack)
    parts = sum(plate.volume for plate in getattr(press_of(case), stack).plates)
    # A parabola through an arc of 36° misses the circle's segment by 0.1 %, the plate by far less.
    assert volume(mesh) * mesh.share == pytest.approx(parts, rel=1e-4)


@pytest.mark.parametrize(("case", "stack"), STACKS)
def test_mass_by_plate(press_of, coarse_mesh, case, stack):
    mesh, parts = coarse_mesh(case, stack), getattr(press_of(case), stack)
    density = np.array([plate.material.density for plate in parts.plates])
    mass = float((volumes(mesh) * density[mesh.plate]).sum()) * mesh.share
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


def test_sides_of_a_rectangular_patch_are_meshed_alike(four_rods):
    """A fifth of 120 mm along each; a body of 100 mm would have none between the corners."""
    work = '[workpiece]\nshape = "rectangle"\nlength = "200 mm"\nwidth = "120 mm"\n'
    press = layout.build(case_file.parse(four_rods(more=work)))
    sizes = Sizes(0.1, round_divisions=10, ring_divisions=1, patch_divisions=5)
    mesh = mesher.make(press.bed, press.rods, FORCED["quarter"], sizes)
    ends = mesh.nodes[mesh.tets[:, :4]]
    at_face = np.abs(ends[..., 2] - press.bed.load_face) < 1e-9
    for axis, half, reach in ((0, 0.1, 0.06), (1, 0.06, 0.1)):
        along = np.abs(ends[..., axis] - half) < 1e-9
        on = ends[at_face & along & (ends[..., 1 - axis] < reach + 1e-9)]
        steps = np.diff(np.unique(on[:, 1 - axis].round(9)))
        assert steps.sum() == pytest.approx(reach)
        assert steps.mean() == pytest.approx(0.024, rel=0.5)


def test_rings_have_the_elements_that_are_asked_for(press_of):
    """Sizes of rims beside the width of their ring over its divisions: from one to two of them."""
    press = press_of("demo")
    sizes = Sizes(0.1, ring_divisions=3)
    found = rim_sizes(press.crosshead, press.rods, sizes)
    patch, rod = press.crosshead.patch, press.rods[0]
    rings = {(patch.length, patch.inner), (rod.bearing_outer, rod.hole)}
    for outer, inner in rings:
        assert 1 <= found[outer / 2] / ((outer - inner) / 2 / 3) <= 2
    assert found[patch.inner / 2] == pytest.approx((patch.length - patch.inner) / 2 / 3)


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
    platen = float(volumes(mesh)[mesh.plate == 2].sum()) * mesh.share
    length = 0.42 if along == "x" else 0.38
    slot_volume = length * (0.028 * 0.028 + 0.046 * 0.020)
    assert platen == pytest.approx(0.42 * 0.38 * 0.08 - slot_volume, rel=1e-9)
    # The slot is open towards the work: its floor is 48 mm below the loaded face.
    outer = outer_faces(mesh.tets)
    z = mesh.nodes[outer, 2]
    floor = outer[(np.abs(z - (press.bed.load_face - 0.048)) < 1e-9).all(axis=1)]
    half = mesh.nodes[floor].reshape(-1, 3)[:, 1 if along == "x" else 0]
    assert (half.min(), half.max()) == pytest.approx((0.090 - 0.023, 0.090 + 0.023))


@pytest.mark.parametrize(
    ("outline", "corner"),
    [
        ("straight", 0.0),
        ("chamfered", 0.04),
        ("rounded", 0.04),
        ("chamfered", 0.2),
        ("rounded", 0.2),
    ],
)  # the last two leave no edge at the ends: a point, a half-circle
def test_outlines_with_every_corner(outline, corner):
    press = flat_press('"2 x 60 mm"')
    shaped = tuple(replace(p, outline=Outline(1.0, 0.4, outline, corner)) for p in press.bed.plates)
    mesh = mesher.make(replace(press.bed, plates=shaped), press.rods, FORCED["quarter"], COARSE)
    assert volume(mesh) * 4 == pytest.approx(sum(p.volume for p in shaped), rel=1e-4)


@pytest.mark.parametrize("radius", [0.0, 0.004, 0.01])  # the last leaves no edge at the ends
@pytest.mark.parametrize("length", [0.02, 0.05])
def test_rectangular_holes_with_every_corner(small_press, length, radius):
    hole = RectangleHole((0.1, 0.06), length, 0.02, radius)
    plates = tuple(replace(p, holes=(*p.holes, hole)) for p in small_press.bed.plates)
    stack = replace(small_press.bed, plates=plates)
    mesh = mesher.make(stack, small_press.rods, FORCED["whole"], COARSE)
    assert volume(mesh) == pytest.approx(sum(p.volume for p in plates), rel=1e-4)


@pytest.mark.parametrize("diameter", [0.0005, 0.002])
def test_a_hole_much_narrower_than_its_plate_is_thick(small_press, diameter):
    hole = RoundHole((0.1, 0.06), diameter)
    plates = tuple(replace(p, holes=(*p.holes, hole)) for p in small_press.bed.plates)
    stack = replace(small_press.bed, plates=plates)
    mesh = mesher.make(stack, small_press.rods, FORCED["whole"], COARSE)
    outer = outer_faces(mesh.tets)
    away = np.hypot(*(mesh.nodes[outer, :2] - hole.at).transpose(2, 0, 1))
    wall = outer[(away < diameter).all(axis=1)]
    # Round the hole, through all plates: the side of a cylinder, of which facets miss some.
    sides = mesh.nodes[wall[:, :3]]
    area = np.linalg.norm(np.cross(sides[:, 1] - sides[:, 0], sides[:, 2] - sides[:, 0]), axis=1)
    whole = np.pi * diameter * small_press.bed.depth
    assert 0.8 * whole < area.sum() / 2 < whole


def test_sizes_follow_the_thinnest_plate_and_the_span(small_press, press_of):
    # Small: 0.75 x 50 = 37.5 mm, more than a twelfth of the span of 350 mm.
    assert default_sizes(small_press.bed, small_press.rods).body == pytest.approx(0.350 / 12)
    # Large: 0.75 x 180 = 135 mm, between 1700 / 30 = 56.7 and 1700 / 12 = 141.7 mm.
    large = press_of("large")
    assert default_sizes(large.crosshead, large.rods).body == pytest.approx(0.135)
    assert default_sizes(large.crosshead, large.rods, 0.1).body == 0.1


def test_a_finer_wish_gives_more_elements(shares, small_press):
    fine = mesher.make(small_press.bed, small_press.rods, FORCED["quarter"], Sizes(0.02))
    assert len(fine.tets) > 2 * len(shares["quarter"].tets)


def test_a_reader_that_went_is_an_error_and_not_the_end():
    """Python ignores SIGPIPE, so that writing fails and unwinds; gmsh takes that away."""
    write = (
        "import os, signal; from platestack.geometry import mesher\n"
        "signal.signal(signal.SIGTERM, lambda *_: os._exit(4))\n"
        "with mesher.session(): pass\n"
        "read, write = os.pipe(); os.close(read)\n"
        "try: os.write(write, b'x')\n"
        "except BrokenPipeError: os.kill(os.getpid(), signal.SIGTERM)\n"
    )
    assert subprocess.run([sys.executable, "-c", write], check=False).returncode == 4


def test_gmsh_leaves_the_handlers_of_signals_alone():
    """It puts the default in place of some: then a signal would end a run without a clean-up."""
    before = {n: signal.getsignal(n) for n in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    try:
        for number in before:
            signal.signal(number, print)
        with mesher.session():
            assert [signal.getsignal(number) for number in before] == [print] * 3
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def test_threads_that_mesh_wait_for_one_another(shares):
    """In a process of its own, which two gmsh at work in one would crash."""
    code = (
        "import threading; from platestack.geometry import case, layout, mesh, mesher, symmetry\n"
        "press = layout.build(case.read('cases/small/small.toml'))\n"
        "def make():\n"
        f"    args = press.bed, press.rods, symmetry.FORCED['quarter'], mesh.{COARSE}\n"
        "    counts.append(len(mesher.make(*args).tets))\n"
        "counts, threads = [], [threading.Thread(target=make) for _ in range(2)]\n"
        "for thread in threads: thread.start()\n"
        "for thread in threads: thread.join()\n"
        "print(*counts)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stdout.split() == 2 * [str(len(shares["quarter"].tets))], done.stderr[-300:]
