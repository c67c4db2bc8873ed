"""Re-entrant edges: found where they are, and judged by what settles."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import platen_stack as platen
import pytest
from shapely import Point, box
from skfem import MeshTet, MeshTet2

from platestack.fea.solid import stack
from platestack.fea.solid.stress import peaks, recover, singular
from platestack.fea.solid.stress.singular import FACTORS, FAR, NEAR, Surface
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import StackMesh, quality
from platestack.geometry.symmetry import Symmetry


def as_mesh(mesh: MeshTet, symmetry: Symmetry = frozenset()) -> StackMesh:
    """Dress a mesh as that of one plate."""
    curved = MeshTet2.from_mesh(mesh)
    nodes, cells = curved.doflocs.T, curved.dofs.element_dofs.T
    # Corners first, in their own order, then edge nodes: as the project numbers them.
    x = nodes[cells[:, :4]]
    flipped = np.linalg.det(x[:, 1:] - x[:, :1]) < 0
    cells[flipped] = cells[flipped][:, [1, 0, 2, 3, 4, 6, 5, 8, 7, 9]]
    plate = np.zeros(len(cells), dtype=int)
    return StackMesh(nodes, cells, plate, ("p",), {}, symmetry, quality(nodes, cells), 0.0)


def step(long: int = 8, high: int = 8, keep=lambda x, z: (x < 4) | (z < 4)) -> MeshTet:
    """An L in the x-z plane, unit bricks, two deep: re-entrant edge at x = z = 4 along y."""
    axes = [np.arange(n + 1.0) for n in (long, 2, high)]
    mesh = MeshTet.init_tensor(*axes)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    return mesh.restrict(np.flatnonzero(keep(middle[0], middle[2])))


def test_distance_from_an_edge_is_that_from_all_of_it():
    """Beside its ends, its middle and a quarter of it: 3, 4 and 5; nothing is near no edge."""
    nodes = np.array([[0.0, 0.0, 0.0], [8.0, 0.0, 0.0]])
    at = np.array([[0.0, 3.0, 0.0], [4.0, 0.0, 4.0], [2.0, 3.0, 4.0], [11.0, 0.0, 4.0]])
    far = singular.Distance(nodes, np.array([[0, 1]]))
    assert far(at) == pytest.approx([3.0, 4.0, 5.0, 5.0])
    assert np.isinf(singular.Distance(nodes, np.zeros((0, 2), dtype=int))(at)).all()


def test_the_inner_edge_of_a_step():
    surface = Surface.of(as_mesh(step()))
    ends = surface.nodes[surface.reentrant]
    assert len(ends) == 2
    assert ends[:, :, [0, 2]] == pytest.approx(np.full((2, 2, 2), 4.0))
    assert np.sort(ends[:, :, 1].mean(axis=1)) == pytest.approx([0.5, 1.5])


def test_none_on_a_block():
    assert len(Surface.of(as_mesh(step(keep=lambda x, z: x > -1))).reentrant) == 0


def test_a_seam_is_an_edge_without_a_finite_stress(small_text, solve_coarse):
    """Its springs have no width: nodal stresses along it grow as elements shrink, and are not read.

    So read, the peaks of these plates were 201 MPa on this mesh and 3,300 on a finer one.
    """
    surface = Surface.of(as_mesh(step(keep=lambda x, z: x > -1)))
    seamed = surface.with_seams([(2.0, 3.0)])
    assert len(surface.unbounded) == 0
    assert seamed.nodes[seamed.unbounded][:, :, 1:].reshape(-1, 2) == pytest.approx(
        np.tile([2.0, 3.0], (16, 1))
    )
    joined = small_text + '[bed.connectors]\nkind = "seams"\nthroat = "8 mm"\n'
    found = solve_coarse(case_file.parse(joined), only="bed")
    for peak in found["bed"].peaks:
        y, z = abs(peak.at[1]), peak.at[2]
        assert math.hypot(y - peak.plate.outline.width / 2, z - 0.05) > 0.4 * peak.plate.thickness
        assert 90e6 < peak.von_mises < 115e6 < 190e6 < peak.raw


def test_four_at_a_rectangular_hole():
    """Every inner corner of a square opening through y."""
    mesh = step(keep=lambda x, z: (np.abs(x - 4) > 2) | (np.abs(z - 4) > 2))
    surface = Surface.of(as_mesh(mesh))
    middle = surface.nodes[surface.reentrant].mean(axis=1)
    found = {(round(x), round(z)) for x, _, z in middle}
    assert found == {(2, 2), (2, 6), (6, 2), (6, 6)}
    assert len(middle) == 8


def test_a_mirror_plane_is_no_surface():
    """Half of a groove's bottom corner; cut through the groove's middle nothing else folds."""
    mesh = step(keep=lambda x, z: (x > 2) | (z < 4))
    whole, half = as_mesh(mesh), as_mesh(mesh, frozenset("x"))
    assert len(Surface.of(whole).reentrant) == len(Surface.of(half).reentrant) == 2
    assert len(Surface.of(half).faces) < len(Surface.of(whole).faces)


def test_none_at_rims_of_holes(coarse_mesh):
    """Even at ten elements round a hole."""
    assert len(Surface.of(coarse_mesh("small", "crosshead")).reentrant) == 0


def test_the_outline_of_a_platen():
    """A quarter of the platen's outline, on the face of the plate below it."""
    mesh = platen.mesh_of(platen.COARSE)
    surface = Surface.of(mesh)
    ends = surface.nodes[surface.reentrant]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum()
    assert length == pytest.approx((platen.LENGTH + platen.WIDTH) / 2)
    top = max(plate.top for plate in platen.press().bed.plates if plate.role == "plate")
    assert ends[:, :, 2] == pytest.approx(top)


def test_points_are_located_on_the_surface():
    surface = Surface.of(as_mesh(step()))
    rng = np.random.default_rng(0)
    points = np.column_stack([rng.uniform(4, 8, 20), rng.uniform(0, 2, 20), np.full(20, 4.0)])
    faces, weights = surface.locate(0, points)
    assert np.einsum("ki,kij->kj", weights, surface.nodes[faces]) == pytest.approx(points)
    off = np.array([[6.0, 1.0, 4.5], [9.0, 1.0, 4.0], [2.0, 1.0, 4.0]])
    assert np.isnan(surface.locate(0, off)[1]).all()


def uniaxial(value: np.ndarray) -> np.ndarray:
    return np.pad(value[:, None], ((0, 0), (0, 5)))


@pytest.mark.parametrize("thickness", [1.0, 2.0, 3.3])
def test_extrapolation_of_a_linear_stress_is_exact(thickness):
    """σ = 7 − s at the distance s along the lower face; the other face has less."""
    surface = Surface.of(as_mesh(step()))
    x, _, z = surface.nodes.T
    stress = uniaxial(np.where(z > 4.01, 1.0, 7.0 - (x - 4)))
    found = singular.hot_spot(surface, 0, thickness, stress)
    assert found.value == pytest.approx(7.0)
    assert found.at[[0, 2]] == pytest.approx([4.0, 4.0])
    assert list(FACTORS) == pytest.approx([5 / 3, -2 / 3])


def test_extrapolation_heeds_only_its_two_distances():
    """What the elements at the edge make of a stress without limit is not read."""
    surface = Surface.of(as_mesh(step()))
    x, _, z = surface.nodes.T
    stress = uniaxial(np.where(z > 4.01, 1.0, 7.0 - (x - 4)))
    thickness = 2.6  # readings at 1.04 and 2.6, beyond the first row of elements
    before = singular.hot_spot(surface, 0, thickness, stress)
    stress[np.hypot(x - 4, z - 4) < 0.9] *= 100
    assert singular.hot_spot(surface, 0, thickness, stress).value == pytest.approx(before.value)


def test_no_extrapolation_where_there_is_no_room():
    """A step four high has no place at 1.0 t for t = 5."""
    surface = Surface.of(as_mesh(step()))
    assert singular.hot_spot(surface, 0, 5.0, np.ones((len(surface.nodes), 6))) is None


def test_a_stress_that_falls_towards_the_edge_is_read_at_the_nearer_distance():
    surface = Surface.of(as_mesh(step()))
    x = surface.nodes[:, 0]
    found = singular.hot_spot(surface, 0, 2.0, uniaxial(1.0 + np.abs(x - 4)))
    assert found.value == pytest.approx(1 + NEAR * 2.0)
    assert found.factors == pytest.approx([1.0, 0.0])


def test_the_row_of_an_extrapolated_peak_reads_it():
    """To first order: von Mises' stress is of degree one, so its slope times it is itself."""
    solved = platen.solve(platen.COARSE)
    found = [peak for peak in solved.peaks if peak.singular]
    assert found
    assert NEAR < FAR
    for peak in solved.peaks:
        stress = solved.fields.stress[peak.read.nodes]
        assert np.einsum("kc,kc->", peak.read.slopes, stress) == pytest.approx(peak.von_mises)
        plates = {solved.stack.plates[i].name for i in solved.fields.nodes.plate[peak.read.nodes]}
        assert plates == {peak.plate.name}


def test_the_raw_peak_grows_and_the_judged_one_settles():
    """The stress at the edge goes as r^−0.456 for a step of 90° (Williams 1952)."""
    coarse, fine = (platen.solve(sizes) for sizes in (platen.COARSE, platen.FINE))
    refined = platen.solve(platen.COARSE, 0.003)
    name = next(peak.plate.name for peak in fine.peaks if peak.singular)
    judged = [next(p for p in s.peaks if p.plate.name == name) for s in (coarse, fine, refined)]
    raw = [peak.raw for peak in judged]
    assert raw[1] > 1.15 * raw[0]
    assert raw[2] > 1.3 * raw[1]
    assert judged[1].von_mises == pytest.approx(
        judged[0].von_mises, abs=judged[0].error + judged[1].error
    )
    assert judged[2].von_mises == pytest.approx(judged[1].von_mises, rel=0.08)
    assert judged[2].von_mises < 0.6 * raw[2]


def test_edges_of_a_loose_platen_are_told():
    """Welded they are re-entrant; loose no body folds back, but the platen presses with them."""
    text = platen.TEXT.replace('"welded"', '"loose"').replace('diameter = "80', 'diameter = "119')
    wish = platen.case().mesh.model_copy(
        update={"size": 0.02, "deflection_accuracy": 0.5, "stress_accuracy": 0.5}
    )
    case = case_file.parse(text, "platen.toml").model_copy(update={"mesh": wish})
    press = layout.build(case)
    solved = stack.solve_stack(press, press.bed, case, lambda step: None)
    assert not len(Surface.of(solved.mesh).reentrant)
    joined = Surface.of(solved.mesh, touching=True)
    at = abs(joined.nodes[joined.reentrant].reshape(-1, 3))
    assert at[:, 2] == pytest.approx(0.1)
    outside = np.maximum(at[:, 0] / platen.LENGTH, at[:, 1] / platen.WIDTH)
    assert outside == pytest.approx(0.5)
    outline = box(
        -platen.LENGTH / 2, -platen.WIDTH / 2, platen.LENGTH / 2, platen.WIDTH / 2
    ).exterior
    for peak in solved.peaks:
        x, y, z = peak.at
        off = math.hypot(outline.distance(Point(x, y)), z - 0.1)
        near = off < NEAR * peak.plate.thickness
        assert (peak.plate.name, peak.way.startswith(peaks.PRESSED)) == (peak.plate.name, near)
        assert not peak.singular
    assert any(peak.way.startswith(peaks.PRESSED) for peak in solved.peaks)


def test_a_peak_that_moves_out_of_its_error_is_not_settled():
    peak = platen.solve(platen.COARSE).peaks[0]
    before = replace(peak, von_mises=peak.von_mises - 3 * peak.error)
    found = peak.after(before, np.inf)
    assert not found.settled
    assert found.way.endswith(peaks.UNSETTLED)
    assert found.error == pytest.approx(3 * peak.error)
    assert found.singular == peak.singular


def test_a_peak_within_its_errors_is_settled():
    peak = platen.solve(platen.COARSE).peaks[0]
    before = replace(peak, von_mises=peak.von_mises + 1.9 * peak.error)
    assert peak.after(before, np.inf) == peak
    assert peak.settled


def test_a_peak_whose_error_does_not_narrow_is_not_settled():
    """Only where it is above the accuracy asked for."""
    peak = platen.solve(platen.COARSE).peaks[0]
    same = replace(peak)
    share = peak.error / peak.von_mises
    assert not peak.after(same, 0.5 * share).settled
    assert peak.after(same, 2 * share).settled
    assert peak.after(replace(peak, error=2 * peak.error), 0.5 * share).settled


def test_peaks_at_the_edge_of_a_pressure_stay_within_their_errors():
    """Finite there (Love 1929), though nodal values beside it scatter: refined on."""
    found = []
    for sizes in (platen.COARSE, platen.FINE):
        solved = platen.solve(sizes)
        found.append(next(p for p in solved.peaks if p.plate.name == "platen"))
    assert all("edge of the workpiece patch" in peak.place for peak in found)
    one, two = found
    assert abs(one.von_mises - two.von_mises) <= one.error + two.error
    assert all(peak.reach > 0 for peak in found)
    assert two.reach < one.reach


def test_von_mises_of_the_field_is_that_of_its_stress():
    fields = platen.solve(platen.COARSE).fields
    assert fields.von_mises == pytest.approx(recover.von_mises(fields.stress))
