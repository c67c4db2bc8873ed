"""Stress at the nodes: Hooke's law, averaging, von Mises and principal stresses.

Expected values: textbook states of stress (closed forms); the solid patch test of MacNeal & Harder
(Finite Elem. Anal. Des. 1 (1985) 3).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from skfem import MeshTet2

from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.solid.stress import recover

XX, YY, ZZ, XY, YZ, XZ = np.eye(6)


# --- von Mises and principal stresses of textbook states


@pytest.mark.parametrize(
    ("stress", "mises", "principal"),
    [
        (100 * XX, 100, (100, 0, 0)),  # uniaxial
        (-100 * ZZ, 100, (0, 0, -100)),
        (60 * XY, math.sqrt(3) * 60, (60, 0, -60)),  # pure shear
        (60 * YZ, math.sqrt(3) * 60, (60, 0, -60)),
        (60 * XZ, math.sqrt(3) * 60, (60, 0, -60)),
        (80 * (XX + YY + ZZ), 0, (80, 80, 80)),  # hydrostatic
        (100 * XX + 100 * YY, 100, (100, 100, 0)),  # equibiaxial
        (100 * XX - 100 * YY, math.sqrt(3) * 100, (100, 0, -100)),
        # Bending with torsion of a shaft: sqrt(σ² + 3 τ²); σ/2 ± sqrt(σ²/4 + τ²).
        (80 * XX + 30 * XY, math.sqrt(80**2 + 3 * 30**2), (90, 0, -10)),
    ],
)
def test_textbook_states(stress, mises, principal):
    assert recover.von_mises(stress) == pytest.approx(mises, abs=1e-12)
    assert recover.principal(stress) == pytest.approx(principal, abs=1e-12)


def test_thick_cylinder_at_its_bore():
    # Lamé, closed ends, bore 320, outside 420 mm, 25 MPa: hoop 94.1892, radial −25, axial 34.5946.
    state = 94.1892 * XX - 25 * YY + 34.5946 * ZZ
    assert recover.von_mises(state) == pytest.approx(103.2209, rel=1e-5)


component = st.floats(-500, 500)
states = st.lists(component, min_size=6, max_size=6).map(np.array)
angle = st.floats(-math.pi, math.pi)


def tensor(stress: np.ndarray) -> np.ndarray:
    xx, yy, zz, xy, yz, xz = stress
    return np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])


def rotation(a: float, b: float, c: float) -> np.ndarray:
    def about(axis: int, turn: float) -> np.ndarray:
        made = np.eye(3)
        i, j = (k for k in range(3) if k != axis)
        made[[i, i, j, j], [i, j, i, j]] = [math.cos(turn), -math.sin(turn), math.sin(turn),
                                            math.cos(turn)]  # fmt: skip
        return made

    return about(2, a) @ about(0, b) @ about(2, c)


@given(states, angle, angle, angle)
def test_invariant_under_rotation(stress, a, b, c):
    turn = rotation(a, b, c)
    turned = turn @ tensor(stress) @ turn.T
    other = np.array([turned[i, j] for i, j in recover.VOIGT])
    assert recover.von_mises(other) == pytest.approx(recover.von_mises(stress), abs=1e-6)
    assert recover.principal(other) == pytest.approx(recover.principal(stress), abs=1e-6)


@given(states, component)
def test_pressure_adds_nothing_to_von_mises(stress, pressure):
    other = stress + pressure * (XX + YY + ZZ)
    assert recover.von_mises(other) == pytest.approx(recover.von_mises(stress), abs=1e-6)


@given(states)
def test_von_mises_from_principal_stresses(stress):
    one, two, three = recover.principal(stress)
    assert one >= two >= three
    by_hand = math.sqrt(((one - two) ** 2 + (two - three) ** 2 + (three - one) ** 2) / 2)
    assert recover.von_mises(stress) == pytest.approx(by_hand, abs=1e-6)
    assert one + two + three == pytest.approx(stress[:3].sum(), abs=1e-6)


def test_many_states_at_once():
    stress = np.stack([100 * XX, 60 * XY]).reshape(2, 1, 6)
    assert recover.von_mises(stress) == pytest.approx(
        np.array([[100], [60 * math.sqrt(3)]]), rel=1e-12
    )
    assert recover.principal(stress).shape == (2, 1, 3)


# --- Hooke's law


@settings(max_examples=60)
@given(states.map(lambda s: s * 1e6), st.floats(1e9, 3e11), st.floats(0.0, 0.48))
def test_hooke_backwards_and_forwards(stress, young, poisson):
    assume(np.abs(stress).max() > 1)
    # Strain by the compliance form: ε = ((1 + ν) σ − ν tr(σ) I) / E.
    sigma = tensor(stress)
    strain = ((1 + poisson) * sigma - poisson * np.trace(sigma) * np.eye(3)) / young
    got = recover.element_stress(strain[None, None], np.array([young]), np.array([poisson]))
    assert got[0, 0] == pytest.approx(stress, rel=1e-9, abs=1e-9 * np.abs(stress).max())


def test_rigid_rotation_gives_no_stress():
    spin = np.array([[0, 1e-3, -2e-3], [-1e-3, 0, 3e-3], [2e-3, -3e-3, 0]])
    got = recover.element_stress(spin[None, None], np.array([210e9]), np.array([0.3]))
    assert np.abs(got).max() == 0.0


# --- averaging at the nodes


def test_constant_stress_patch(coarse_mesh):
    # MacNeal & Harder: u = 1e-3 (x + y/2 + z/2, x/2 + y + z/2, x/2 + y/2 + z), E = 1e6, ν = 1/4
    # gives σ_ii = 2000 and τ_ij = 400 everywhere.
    mesh = coarse_mesh("small", "crosshead")
    gradient = 1e-3 * np.array([[1, 0.5, 0.5], [0.5, 1, 0.5], [0.5, 0.5, 1]])
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    gradients = space.displacement_gradients(mesh.nodes @ gradient, recover.NODES_OF_REFERENCE)
    m = len(mesh.tets)
    local = recover.element_stress(gradients, np.full(m, 1e6), np.full(m, 0.25))
    nodes = recover.PlateNodes.of(mesh)
    stress = recover.averaged(nodes, local, recover.volumes(mesh))
    exact = np.tile([2000.0] * 3 + [400.0] * 3, (len(nodes.node), 1))
    assert stress == pytest.approx(exact, rel=1e-8)
    assert recover.von_mises(stress) == pytest.approx(400 * 3, rel=1e-8)  # sqrt(3 · 3 · 400²)


def test_linear_stress_is_kept_by_averaging(coarse_mesh):
    mesh = coarse_mesh("small", "crosshead")
    nodes = recover.PlateNodes.of(mesh)
    field = mesh.nodes @ np.array([1.0, -2.0, 3.0])
    got = recover.averaged(nodes, field[mesh.tets][:, :, None], recover.volumes(mesh))
    assert got[:, 0] == pytest.approx(field[nodes.node], rel=1e-12, abs=1e-12)


def test_nodes_of_an_interface_have_a_stress_in_each_plate(coarse_mesh):
    mesh = coarse_mesh("demo", "bed")
    nodes = recover.PlateNodes.of(mesh)
    assert nodes.node[nodes.cells] == pytest.approx(mesh.tets)
    assert (nodes.plate[nodes.cells] == mesh.plate[:, None]).all()
    for name in mesh.interfaces:
        shared = np.unique(mesh.faces[name])
        pair = {mesh.plate_names.index(part) for part in name.split(" | ")}
        plates = [set(nodes.plate[nodes.node == node]) for node in shared[:20]]
        assert all(pair <= found for found in plates)
    # One plate in tension, the next in compression: each keeps its own.
    value = np.where(mesh.plate % 2 == 0, 1.0, -1.0)
    spread = np.repeat(value[:, None, None], 10, axis=1)
    got = recover.averaged(nodes, spread, recover.volumes(mesh))[:, 0]
    assert got == pytest.approx(np.where(nodes.plate % 2 == 0, 1.0, -1.0))


def test_average_is_weighted_by_volume(coarse_mesh):
    mesh = coarse_mesh("small", "bed")
    nodes = recover.PlateNodes.of(mesh)
    weight = recover.volumes(mesh)
    value = np.arange(len(mesh.tets), dtype=float)
    got = recover.averaged(nodes, np.repeat(value[:, None, None], 10, axis=1), weight)[:, 0]
    for slot in (0, len(got) // 2, len(got) - 1):
        around = np.flatnonzero((nodes.cells == slot).any(axis=1))
        assert got[slot] == pytest.approx(np.average(value[around], weights=weight[around]))


def test_volumes_of_the_small_bed(coarse_mesh, press_of):
    # Straight elements cut the arcs: 10 chords round a hole leave sin(36°) / 36° of its area.
    volume = recover.volumes(coarse_mesh("small", "bed")).sum() * 4
    bed = press_of("small").bed
    assert volume == pytest.approx(sum(plate.volume for plate in bed.plates), rel=5e-3)
