"""The block assembly against scikit-fem's generic forms and exact solutions."""

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from skfem import (
    Basis,
    BilinearForm,
    ElementTetP0,
    ElementTetP2,
    ElementVector,
    MeshTet,
    MeshTet2,
)
from skfem.helpers import ddot, eye, sym_grad, trace
from skfem.models.elasticity import linear_elasticity

from platestack.fea.numerics.aggregation import rigid_modes
from platestack.fea.numerics.elasticity import QuadraticSpace, lame

YOUNG, POISSON = 210e9, 0.3


def box() -> MeshTet:
    """An irregular mesh: a refined cube, sheared, its inner vertices moved."""
    mesh = MeshTet().refined(2)
    p = mesh.p.copy()
    inner = ((p > 0.01) & (p < 0.99)).all(axis=0)
    p[:, inner] += 0.05 * np.sin(17 * p[[1, 2, 0]][:, inner])
    shear = np.array([[1.0, 0.2, 0.0], [0.0, 0.7, 0.1], [0.0, 0.0, 1.3]])
    return MeshTet(shear @ p, mesh.t)


def bent() -> MeshTet2:
    """The same with some mid-edge nodes off the middle, so that some elements are curved."""
    mesh = MeshTet2.from_mesh(box())
    p = mesh.doflocs.copy()
    moved = np.arange(mesh.nvertices, p.shape[1])[:20]
    p[:, moved] += 0.02
    return MeshTet2(p, mesh.t)


def basis_of(mesh: MeshTet) -> Basis:
    """Scikit-fem's quadratic vector basis with its default rule."""
    return Basis(mesh, ElementVector(ElementTetP2()))


def relative(a: csr_matrix, b: csr_matrix) -> float:
    """Largest difference over the largest entry."""
    return float(abs(csr_matrix(a) - csr_matrix(b)).max() / abs(b).max())


@pytest.mark.parametrize(
    "mesh", [box(), bent(), MeshTet2.init_ball(1)], ids=["box", "bent", "ball"]
)
def test_stiffness_is_scikit_fems(mesh: MeshTet) -> None:
    reference = linear_elasticity(*lame(YOUNG, POISSON)).assemble(basis_of(mesh))
    assert relative(QuadraticSpace(mesh).stiffness(YOUNG, POISSON), reference) < 1e-12


@pytest.mark.parametrize("mesh", [box(), bent()], ids=["box", "bent"])
def test_material_may_differ_between_elements(mesh: MeshTet) -> None:
    rng = np.random.default_rng(3)
    young = rng.uniform(70e9, 210e9, mesh.nelements)
    poisson = rng.uniform(0.2, 0.35, mesh.nelements)
    basis = basis_of(mesh)
    constant = basis.with_element(ElementTetP0())
    fields = [constant.interpolate(value) for value in lame(young, poisson)]

    @BilinearForm
    def energy(u, v, w):  # type: ignore[no-untyped-def]
        strain = sym_grad(u)
        return ddot(2 * w.mu * strain + w.lam * eye(trace(strain), 3), sym_grad(v))

    reference = energy.assemble(basis, lam=fields[0], mu=fields[1])
    assert relative(QuadraticSpace(mesh).stiffness(young, poisson), reference) < 1e-12


def test_numbering_is_scikit_fems() -> None:
    mesh = box()
    space = QuadraticSpace(mesh)
    np.testing.assert_array_equal(space.edges.T, mesh.edges)
    np.testing.assert_array_equal(3 * space.cells.T, basis_of(mesh).element_dofs[::3])
    locations = basis_of(mesh).doflocs
    np.testing.assert_allclose(space.nodes.T, locations[:, ::3], atol=1e-14)


def test_curved_elements_are_found() -> None:
    assert len(QuadraticSpace(box()).curved) == 0
    assert len(QuadraticSpace(MeshTet2.from_mesh(box())).curved) == 0
    mesh = bent()
    edges = np.arange(20)
    expected = np.flatnonzero(np.isin(mesh.t2e, edges).any(axis=0))
    np.testing.assert_array_equal(QuadraticSpace(mesh).curved, expected)


@pytest.mark.parametrize("mesh", [box(), bent()], ids=["box", "bent"])
def test_rigid_motions_cost_no_force(mesh: MeshTet) -> None:
    space = QuadraticSpace(mesh)
    stiffness = space.stiffness(YOUNG, POISSON)
    forces = stiffness @ rigid_modes(space.nodes)
    assert np.abs(forces).max() < 1e-12 * np.abs(stiffness.data).max()


@pytest.mark.parametrize("mesh", [box(), bent()], ids=["box", "bent"])
def test_patch(mesh: MeshTet) -> None:
    """Uniform strain leaves inner nodes in balance (Irons' patch test)."""
    space = QuadraticSpace(mesh)
    strain = np.array([[1.0, 0.3, -0.2], [0.3, -0.5, 0.1], [-0.2, 0.1, 0.7]])
    stiffness = space.stiffness(YOUNG, POISSON)
    forces = (stiffness @ (space.nodes @ strain).ravel()).reshape(-1, 3)
    inner = np.setdiff1d(np.arange(len(space.nodes)), basis_of(mesh).get_dofs().all() // 3)
    assert len(inner) > 100
    assert np.abs(forces[inner]).max() < 1e-12 * np.abs(stiffness.data).max()
    assert np.abs(forces).max() > 1e-3 * np.abs(stiffness.data).max()


def test_moved_nodes_reuse_the_pattern() -> None:
    space = QuadraticSpace(box())
    pattern = space.pattern
    target = bent()
    moved = space.moved(QuadraticSpace(target).nodes)
    assert moved.pattern is pattern
    reference = linear_elasticity(*lame(YOUNG, POISSON)).assemble(basis_of(target))
    assert relative(moved.stiffness(YOUNG, POISSON), reference) < 1e-12
    with pytest.raises(ValueError, match="nodes must be"):
        space.moved(space.nodes[1:])


def test_displacement_gradients_of_a_quadratic_field() -> None:
    space = QuadraticSpace(box())
    x, y, z = space.nodes.T
    displacement = np.stack([x * y, z**2, x - y * z], axis=1)
    points = np.array([[0.1, 0.6], [0.2, 0.1], [0.3, 0.2]])
    gradients = space.displacement_gradients(displacement, points)
    corners = space.nodes[space.cells[:, :4]]
    weights = np.vstack((1 - points.sum(axis=0), points))
    x, y, z = np.einsum("cai,aq->icq", corners, weights)
    zero, one = np.zeros_like(x), np.ones_like(x)
    exact = np.stack([y, x, zero, zero, zero, 2 * z, one, -z, -y], axis=-1).reshape(*x.shape, 3, 3)
    np.testing.assert_allclose(gradients, exact, atol=1e-12)


def test_material_of_a_wrong_shape_is_refused() -> None:
    space = QuadraticSpace(MeshTet())
    with pytest.raises(ValueError, match="one for each of 5 elements"):
        space.stiffness(np.ones(4), 0.3)
