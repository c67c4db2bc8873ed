"""The solvers against exact solutions, each other, and their own promises."""

import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import numpy.typing as npt
import pytest
from body_force import body_force
from scipy.sparse import bsr_matrix, coo_array, csr_matrix, vstack
from scipy.sparse.linalg import eigsh, spsolve
from skfem import MeshTet

from platestack.fea.numerics import direct, solvers
from platestack.fea.numerics.aggregation import rigid_modes
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.multigrid import Settings, smoother_degree
from platestack.fea.numerics.system import System, Ties
from platestack.fea.support.errors import NotConverged, PlatestackError, Singular

FloatArray = npt.NDArray[np.float64]
YOUNG, POISSON = 210e9, 0.3
METHODS = ["multigrid", "direct"]


def plate(nx: int, ny: int, nz: int, size: tuple[float, float, float]) -> MeshTet:
    """A block of nx x ny x nz cells of six tetrahedra."""
    axes = [np.linspace(0, s, n + 1) for s, n in zip(size, (nx, ny, nz), strict=True)]
    return MeshTet.init_tensor(*axes)


def clamped(space: QuadraticSpace, poisson: float = POISSON) -> System:
    """All components held at x = 0."""
    fixed = np.repeat(np.abs(space.nodes[:, :1]) < 1e-9, 3, axis=1)
    return System(space.stiffness(YOUNG, poisson), fixed)


def hung(space: QuadraticSpace) -> System:
    """Symmetry at x = 0 and y = 0; vertically only a spring on the mean of the top face."""
    fixed = np.zeros((len(space.nodes), 3), dtype=bool)
    fixed[:, :2] = np.abs(space.nodes[:, :2]) < 1e-9
    top = np.flatnonzero(space.nodes[:, 2] > space.nodes[:, 2].max() - 1e-9)
    row = csr_matrix(
        (np.full(len(top), 1 / len(top)), (np.zeros_like(top), 3 * top + 2)),
        shape=(1, 3 * len(space.nodes)),
    )
    return System(space.stiffness(YOUNG, POISSON), fixed, Ties(row, np.array([1e9])))


def explicit(system: System) -> tuple[csr_matrix, npt.NDArray[np.intp]]:
    """Everything in one sparse matrix, by scipy alone; free unknowns only."""
    matrix = csr_matrix(system.matrix)
    if system.extra is not None:
        matrix = matrix + csr_matrix(system.extra)
    if system.ties is not None:
        rows = system.ties.rows
        matrix = matrix + rows.T @ rows.multiply(system.ties.stiffness[:, None])
    kept = np.flatnonzero(~system.fixed.ravel())
    return csr_matrix(matrix)[kept][:, kept], kept


def pull(space: QuadraticSpace) -> FloatArray:
    """Some smooth load."""
    return body_force(space, [3e6, -2e6, 5e6]).ravel()


@pytest.mark.parametrize("make", [clamped, hung])
@pytest.mark.parametrize("method", METHODS)
def test_solution_is_scipys(make, method) -> None:  # type: ignore[no-untyped-def]
    space = QuadraticSpace(plate(6, 5, 4, (0.6, 0.4, 0.3)))
    system = make(space)
    loads = pull(space)
    record = solvers.solve(system, space, loads, method, tol=1e-10)
    matrix, kept = explicit(system)
    exact = spsolve(matrix.tocsc(), loads[kept])
    np.testing.assert_allclose(record.displacement[kept], exact, atol=1e-8 * np.abs(exact).max())
    assert not record.displacement[system.fixed.ravel()].any()
    rest = np.linalg.norm(loads[kept] - matrix @ record.displacement[kept])
    assert record.residual == pytest.approx(rest / np.linalg.norm(loads[kept]), rel=0.05, abs=1e-11)


def test_superlu_is_used_without_pardiso(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(direct, "pardiso_installed", lambda: False)
    space = QuadraticSpace(plate(4, 3, 2, (0.6, 0.4, 0.3)))
    system, loads = hung(space), pull(space)
    record = solvers.direct(system).solve(loads, tol=1e-10)
    matrix, kept = explicit(system)
    exact = spsolve(matrix.tocsc(), loads[kept])
    np.testing.assert_allclose(record.displacement[kept], exact, atol=1e-8 * np.abs(exact).max())


@pytest.mark.parametrize("method", METHODS)
def test_bar_under_its_own_weight(method: str) -> None:
    """Elementary: a bar along x, E u'' = -b, u(0) = 0, u'(L) = 0: u = b (L x - x^2/2) / E.

    Quadratic, hence exact in the space; Poisson's ratio 0 makes it one-dimensional.
    """
    length, density = 2.0, 5e6
    space = QuadraticSpace(plate(8, 2, 2, (length, 0.2, 0.2)))
    system = clamped(space, poisson=0.0)
    loads = body_force(space, [density, 0, 0]).ravel()
    record = solvers.solve(system, space, loads, method, tol=1e-10)  # type: ignore[arg-type]
    x = space.nodes[:, 0]
    exact = density * (length * x - x**2 / 2) / YOUNG
    found = record.displacement.reshape(-1, 3)
    np.testing.assert_allclose(found[:, 0], exact, atol=1e-7 * exact.max())
    np.testing.assert_allclose(found[:, 1:], 0, atol=1e-7 * exact.max())


def test_a_spring_carries_the_whole_load() -> None:
    space = QuadraticSpace(plate(6, 4, 3, (0.6, 0.4, 0.3)))
    system = hung(space)
    loads = pull(space)
    record = solvers.solve(system, space, loads, "multigrid", tol=1e-10)
    assert system.ties is not None
    force = system.ties.stiffness * (system.ties.rows @ record.displacement)
    np.testing.assert_allclose(force.sum(), loads[2::3].sum(), rtol=1e-8)


def test_weak_restraints_of_a_floating_body() -> None:
    """Springs a million times softer than the body hold its rigid motions; loads in balance.

    How far it moves as a whole is known no better than rounding lets forces balance, over the
    softest stiffness: to eps times the condition number (Higham, Accuracy and Stability of
    Numerical Algorithms, 2002, theorem 7.2). Its own shape is known to the solver's tolerance.
    """
    space = QuadraticSpace(plate(8, 6, 3, (0.6, 0.4, 0.1)))
    count = len(space.nodes)
    spread = np.arange(0, count, 7)
    rows = [
        csr_matrix((np.full(len(spread), 1 / len(spread)), (np.zeros_like(spread), 3 * spread + i)),
                   shape=(1, 3 * count))
        for i in range(3)
    ]  # fmt: skip
    corners = [3 * np.abs(space.nodes - p).sum(axis=1).argmin() for p in np.eye(3)]
    rows += [
        csr_matrix(([1.0], ([0], [corners[i] + (i + 1) % 3])), (1, 3 * count)) for i in range(3)
    ]
    matrix = space.stiffness(YOUNG, POISSON)
    soft = 1e-6 * float(np.abs(matrix.diagonal()).mean())
    ties = Ties(csr_matrix(vstack(rows)), np.full(6, soft))
    system = System(matrix, np.zeros((count, 3), dtype=bool), ties)
    loads = pull(space) + 1e5 * np.sin(np.arange(3 * count))
    modes, _ = np.linalg.qr(rigid_modes(space.nodes))
    loads -= modes @ (modes.T @ loads)
    record = solvers.solve(system, space, loads, "multigrid")
    full, kept = explicit(system)
    exact = spsolve(full.tocsc(), loads[kept])
    largest = eigsh(full, k=1, return_eigenvectors=False)[0]
    softest = eigsh(full, k=1, sigma=0, return_eigenvectors=False)[0]
    error = record.displacement - exact
    rigid = modes @ (modes.T @ error)
    rounding = np.finfo(float).eps * largest / softest
    assert 1e-5 < rounding < 1e-4
    np.testing.assert_allclose(rigid, 0, atol=rounding * np.abs(exact).max())
    np.testing.assert_allclose(error - rigid, 0, atol=1e-7 * np.abs(exact).max())
    assert record.iterations <= 40


@pytest.mark.parametrize("method", METHODS)
def test_a_floating_body_is_refused(method: str) -> None:
    space = QuadraticSpace(plate(6, 4, 3, (0.6, 0.4, 0.3)))
    system = System(space.stiffness(YOUNG, POISSON), hung(space).fixed)
    with pytest.raises(PlatestackError):
        solvers.solve(system, space, pull(space), method)  # type: ignore[arg-type]


def test_multigrid_says_that_nothing_holds_the_body() -> None:
    space = QuadraticSpace(plate(6, 4, 3, (0.6, 0.4, 0.3)))
    with pytest.raises(Singular, match="supports"):
        solvers.multigrid(System(space.stiffness(YOUNG, POISSON), hung(space).fixed), space)


@pytest.mark.parametrize("method", METHODS)
def test_several_loads_at_once(method: str) -> None:
    space = QuadraticSpace(plate(5, 4, 3, (0.6, 0.4, 0.3)))
    system = hung(space)
    loads = np.stack([pull(space), body_force(space, [0, 0, 1e6]).ravel(), 0 * pull(space)], axis=1)
    ready = solvers.solver(system, space, method)  # type: ignore[arg-type]
    record = ready.solve(loads)
    assert record.displacement.shape == loads.shape
    for k in range(3):
        alone = ready.solve(loads[:, k]).displacement
        np.testing.assert_array_equal(record.displacement[:, k], alone)
    assert not record.displacement[:, 2].any()


def test_warm_start_and_kept_setup() -> None:
    space = QuadraticSpace(plate(10, 8, 6, (0.6, 0.4, 0.3)))
    system, loads = hung(space), pull(space)
    ready = solvers.multigrid(system, space)
    cold = ready.solve(loads)
    assert ready.solve(loads, guess=cold.displacement).iterations == 0
    near = ready.solve(1.001 * loads, guess=cold.displacement)
    assert near.iterations < 0.7 * cold.iterations
    stiffer = System(bsr_matrix(system.matrix * 1.2), system.fixed, system.ties)
    moved = ready.retarget(stiffer).solve(loads, guess=cold.displacement)
    fresh = solvers.multigrid(stiffer, space).solve(loads)
    scale = np.abs(fresh.displacement).max()
    np.testing.assert_allclose(moved.displacement, fresh.displacement, atol=1e-6 * scale)
    assert moved.iterations <= fresh.iterations + 10


def test_penalty_between_two_plates() -> None:
    """Two plates of their own nodes, glued by springs on facing nodes, act nearly as one."""
    lower = plate(8, 6, 2, (0.6, 0.4, 0.1))
    upper = lower.translated((0.0, 0.0, 0.1))
    mesh = MeshTet(np.hstack((lower.p, upper.p)), np.hstack((lower.t, upper.t + lower.nvertices)))
    space = QuadraticSpace(mesh)
    fixed = np.repeat(np.abs(space.nodes[:, :1]) < 1e-9, 3, axis=1)
    at = np.flatnonzero(np.abs(space.nodes[:, 2] - 0.1) < 1e-9)
    order = np.lexsort(np.round(space.nodes[at] / 1e-6).T)
    first, second = at[order].reshape(-1, 2).T
    np.testing.assert_allclose(space.nodes[first], space.nodes[second], atol=1e-12)
    count = len(space.nodes)
    ones = np.ones(len(first))
    link = coo_array(
        (
            np.concatenate((ones, ones, -ones, -ones)),
            (
                np.concatenate((first, second, first, second)),
                np.concatenate((first, second, second, first)),
            ),
        ),
        shape=(count, count),
    ).tocsr()
    penalty = 1e14 * 0.4 * 0.6 / len(first)
    blocks = penalty * link.data[:, None, None] * np.eye(3)
    extra = bsr_matrix((blocks, link.indices, link.indptr), shape=(3 * count, 3 * count))
    system = System(space.stiffness(YOUNG, POISSON), fixed, None, extra)
    loads = body_force(space, [0, 0, -1e6]).ravel()
    record = solvers.solve(system, space, loads, "multigrid", tol=1e-10)
    full, kept = explicit(system)
    exact = spsolve(full.tocsc(), loads[kept])
    np.testing.assert_allclose(record.displacement[kept], exact, atol=1e-7 * np.abs(exact).max())
    welded = QuadraticSpace(plate(8, 6, 4, (0.6, 0.4, 0.2)))
    one = solvers.solve(
        clamped(welded), welded, body_force(welded, [0, 0, -1e6]).ravel(), "multigrid"
    )
    glued, solid = record.displacement[2::3].min(), one.displacement[2::3].min()
    assert glued == pytest.approx(solid, rel=0.02)
    apart = solvers.solve(system.with_extra(None), space, loads, "multigrid", max_iterations=400)
    assert apart.displacement[2::3].min() < 3 * solid


def test_nonconvergence_is_an_error_with_advice() -> None:
    space = QuadraticSpace(plate(8, 6, 4, (0.6, 0.4, 0.3)))
    system, loads = hung(space), pull(space)
    with pytest.raises(NotConverged, match=r"Try another mesh\.size") as caught:
        solvers.solve(system, space, loads, "multigrid", max_iterations=3)
    assert caught.value.iterations == 3
    assert caught.value.residual > caught.value.tol


def test_progress_is_reported() -> None:
    space = QuadraticSpace(plate(8, 6, 4, (0.6, 0.4, 0.3)))
    seen: list[tuple[int, float]] = []
    record = solvers.solve(
        hung(space), space, pull(space), "multigrid", progress=lambda i, r: seen.append((i, r))
    )
    assert [i for i, _ in seen] == list(range(1, record.iterations + 1))
    assert seen[-1][1] <= 1e-8 < seen[-2][1]


@pytest.mark.parametrize("n", [4, 8, 14])
def test_iterations_do_not_grow_with_refinement(n: int) -> None:
    space = QuadraticSpace(plate(2 * n, n, n, (0.6, 0.3, 0.3)))
    record = solvers.solve(hung(space), space, pull(space), "multigrid")
    assert record.iterations <= 22


@pytest.mark.parametrize(("flat", "most"), [(1.0, 22), (4.0, 30), (10.0, 30)])
def test_flat_elements_in_a_thick_body(flat: float, most: int) -> None:
    """A block as tall as wide, of layers thinner than their cells are wide by `flat`."""
    layers = round(6 * flat)
    space = QuadraticSpace(plate(6, 6, layers, (0.4, 0.4, 0.4)))
    record = solvers.solve(hung(space), space, pull(space), "multigrid")
    assert record.iterations <= most


def test_degree_follows_flatness() -> None:
    cube = QuadraticSpace(plate(4, 4, 4, (1, 1, 1)))
    flat = QuadraticSpace(plate(4, 4, 4, (1, 1, 0.25)))
    assert smoother_degree(cube) <= 3
    assert smoother_degree(flat) > smoother_degree(cube)
    assert Settings().degree is None


def test_bad_shapes_are_refused() -> None:
    space = QuadraticSpace(plate(2, 2, 2, (1, 1, 1)))
    system = hung(space)
    with pytest.raises(ValueError, match="loads must be"):
        solvers.solve(system, space, np.ones(5))
    with pytest.raises(ValueError, match="finite"):
        solvers.solve(system, space, np.full(system.size, np.nan))
    with pytest.raises(ValueError, match="fixed must have shape"):
        System(system.matrix, system.fixed[1:])
    with pytest.raises(ValueError, match="positive"):
        Ties(csr_matrix((1, 3)), np.array([-1.0]))


def test_what_rounding_leaves_is_judged_by_the_loads_whatever_their_size():
    """Loads and answer a million million times smaller: the same residual counts as rounding."""
    free = np.array([True, True, False])
    system = SimpleNamespace(free=free, rounding=lambda x: 1e-3 * np.abs(x).max())
    for scale in (1.0, 1e-12):
        loads = scale * np.array([3.0, 4.0, 0.0])
        found = solvers.Iteration(scale * np.array([5e-3, 0.0, 0.0]), 7, 5e-7)
        kept = solvers._record(system, loads, [found], 1e-9, 0.0, 0.0, "no advice")
        assert kept.residual == 5e-7
        with pytest.raises(NotConverged):
            solvers._record(system, loads, [replace(found, residual=2e-6)], 1e-9, 0.0, 0.0, "")


@pytest.mark.parametrize(("definite", "kind"), [(True, 2), (False, -2)])
def test_pardiso_is_told_what_the_matrix_is(definite, kind, monkeypatch):
    """Of the manual's types of real symmetric matrices; of those only the upper part is given."""

    class Fake:
        def __init__(self, mtype):
            assert mtype == kind

        def factorize(self, upper):
            assert (upper.toarray() == [[2.0, 1.0], [0.0, 3.0]]).all()

        def solve(self, upper, right):
            return right / 2

        def free_memory(self, everything):
            pass

    monkeypatch.setitem(sys.modules, "pypardiso", SimpleNamespace(PyPardisoSolver=Fake))
    monkeypatch.setattr(direct, "pardiso_installed", lambda: True)
    solve = direct._pardiso(csr_matrix([[2.0, 1.0], [1.0, 3.0]]), definite, Fake(kind))
    assert solve(4.0) == 2.0
