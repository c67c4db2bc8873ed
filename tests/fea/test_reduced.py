"""The reduced model against full solves on the same mesh: there is no other authority for it.

The split of the stiffness is compared with assembly on a stretched mesh, which knows nothing of it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fea import patches, recover, solvers
from fea.elasticity import shape_values
from fea.reduced import Parameters, Problem, coercivity, store, train
from fea.reduced.affine import NotAffineError
from fea.reduced.stress import StressBasis


@pytest.fixture(scope="module")
def problem(small_press, coarse_mesh) -> Problem:
    return Problem.of(small_press, small_press.crosshead, coarse_mesh("small", "crosshead"))


@pytest.fixture(scope="module")
def model(problem):
    return train(problem)


def random_points(count: int, seed: int) -> list[Parameters]:
    draws = np.random.default_rng(seed).random((count, 3))
    return [Parameters(tuple(0.5 * 4 ** d[:2]), float(0.8 * (1.25 / 0.8) ** d[2])) for d in draws]


def test_parts_add_up_to_the_stretched_stack(problem):
    at = Parameters((0.6, 1.7), 1.2)
    vector = np.random.default_rng(2).standard_normal(problem.mesh.dofs)
    vector *= ~problem.held.fixed.ravel()
    whole = problem.system(at)[0].apply(vector)
    parts = at.coefficients() @ problem.apply(vector)
    assert np.linalg.norm(parts - whole) < 1e-12 * np.linalg.norm(whole)


def test_stretched_plates_stand_on_each_other(problem):
    z = problem.nodes((0.5, 2.0))[:, 2]
    assert np.ptp(z) == pytest.approx(0.5 * 0.05 + 2 * 0.05)
    assert problem.nodes((1.0, 1.0)) == pytest.approx(problem.mesh.nodes)


@pytest.mark.slow
def test_the_bound_covers_the_true_error(problem, model):
    for at in random_points(12, 3):
        answer = model.answer(at)
        true = float(problem.reading @ problem.full(at, problem.load, tol=1e-10))
        assert abs(answer.deflection - true) <= answer.bound
        assert answer.bound <= 0.01 * true
        assert answer.inside


@pytest.mark.slow
def test_the_bound_is_not_idle(problem, model):
    """A model with fewer basis vectors is worse, and its bound says so and still covers."""
    count = 6
    q = len(model.parts)
    kept = np.concatenate(
        [[0, 1], 2 + np.arange(q * len(model.basis)).reshape(q, -1)[:, :count].ravel()]
    )
    poor = replace(
        model, basis=model.basis[:count], parts=model.parts[:, :count, :count],
        load=model.load[:count], reading=model.reading[:count], gram=model.gram[np.ix_(kept, kept)],
    )  # fmt: skip
    for at in random_points(6, 4):
        answer = poor.answer(at)
        true = float(problem.reading @ problem.full(at, problem.load))
        assert abs(answer.deflection - true) <= answer.bound
        assert answer.bound > 10 * model.answer(at).bound


@pytest.mark.slow
def test_training_keeps_its_budget(model):
    assert model.solves <= 24
    assert model.history[-1] <= 8e-3


@pytest.mark.slow
def test_coercivity_is_below_the_smallest_eigenvalue(problem, model):
    system, space = problem.system(problem.reference)
    solver = solvers.multigrid(system, space)
    random = np.random.default_rng(11)
    for at in random_points(2, 5):
        smallest, _ = coercivity._lowest(problem, solver, at, random)
        assert model.coercivity.bound(at) < smallest <= 1.05 * model.coercivity.ritz(at)


@pytest.mark.slow
def test_other_rods_are_answered(problem, model):
    """In balance the rods' stiffness only lifts the stack: the deflection does not change."""
    soft, stiff = (model.answer(Parameters((1.0, 1.0), rods)) for rods in (0.8, 1.25))
    assert soft.deflection == pytest.approx(stiff.deflection, rel=1e-4)


@pytest.mark.slow
def test_outside_its_range_it_says_so(model):
    assert not model.answer(Parameters((0.4, 1.0))).inside
    assert not model.answer(Parameters((1.0, 2.1))).inside
    with pytest.raises(ValueError, match="2 positive stretches"):
        model.answer(Parameters((1.0,)))


def test_stress_is_that_of_the_stretched_mesh(problem):
    """One displacement, its stress recovered on the stretched mesh and from the two parts."""
    at = Parameters((0.7, 1.6))
    u = problem.full(at, problem.load)
    parts = StressBasis.of(problem, u[None])
    found = parts.stress(np.ones(1), at)
    mesh = replace(problem.mesh, nodes=problem.nodes(at.stretch))
    space = problem.space.moved(mesh.nodes)
    nodes, samples = parts.nodes, patches.SAMPLES.T

    def stress(points):
        gradients = space.displacement_gradients(u, points)
        return recover.element_stress(gradients, problem.young, problem.poisson)

    averaged = recover.averaged(nodes, stress(recover.NODES_OF_REFERENCE), recover.volumes(mesh))
    where = np.einsum("qa,mad->mqd", shape_values(samples), mesh.nodes[mesh.tets])
    fitted = patches.recovered(mesh.nodes[nodes.node], nodes.cells, where, stress(samples))
    wanted = (averaged + fitted) / 2
    assert np.abs(found - wanted).max() < 0.02 * recover.von_mises(wanted).max()
    some = np.array([3, 50])
    assert parts.at(some).stress(np.ones(1), at) == pytest.approx(found[some])


@pytest.mark.slow
def test_a_model_is_kept_and_found_again(problem, model, tmp_path):
    file, name = tmp_path / "models" / "crosshead.npz", store.key(problem, 0.5, 2.0)
    assert store.load(file, name) is None
    store.save(model, file, name)
    again = store.load(file, name)
    at = Parameters((0.8, 1.5))
    assert again is not None
    assert again.answer(at).deflection == pytest.approx(model.answer(at).deflection, rel=1e-12)
    assert again.answer(at).bound == pytest.approx(model.answer(at).bound, rel=1e-6)
    assert [p.name for p in file.parent.iterdir()] == ["crosshead.npz"]


@pytest.mark.slow
def test_a_model_of_something_else_is_not_used(problem, model, tmp_path):
    file, name = tmp_path / "crosshead.npz", store.key(problem, 0.5, 2.0)
    store.save(model, file, name)
    assert store.load(file, store.key(problem, 0.5, 1.5)) is None
    heavier = replace(problem, load=2 * problem.load)
    assert store.load(file, store.key(heavier, 0.5, 2.0)) is None
    file.write_bytes(file.read_bytes()[:200])
    assert store.load(file, name) is None


def test_stacks_on_edge_are_refused(press_of, coarse_mesh):
    press = press_of("on_edge")
    with pytest.raises(NotAffineError, match="only flat stacks"):
        Problem.of(press, press.bed, coarse_mesh("on_edge", "bed"))
