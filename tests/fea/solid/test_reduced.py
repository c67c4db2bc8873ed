"""The reduced model against full solves on the same mesh: there is no other authority for it.

The split of the stiffness is compared with assembly on a stretched mesh, which knows nothing of it.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from platestack.fea.hand.support import TURNS
from platestack.fea.jobs.options import models
from platestack.fea.jobs.options.variation import Option
from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import shape_values
from platestack.fea.solid.reduced import (
    AffineProblem,
    NotAffineError,
    Parameters,
    ReducedModel,
    ReducedStack,
    answer,
    coercivity,
    store,
    training,
)
from platestack.fea.solid.reduced.affine import factors
from platestack.fea.solid.reduced.stress import StressBasis
from platestack.fea.solid.stress import patches, recover
from platestack.geometry import layout


@pytest.fixture(scope="module")
def problem(small_press, coarse_mesh) -> AffineProblem:
    return AffineProblem.of(small_press, small_press.crosshead, coarse_mesh("small", "crosshead"))


@pytest.fixture(scope="module")
def instant(problem) -> ReducedModel:
    return ReducedModel.of(problem)


@pytest.fixture(scope="module")
def model(instant):
    return instant.model


def random_points(count: int, seed: int) -> list[Parameters]:
    draws = np.random.default_rng(seed).random((count, 3))
    return [Parameters(tuple(0.5 * 4 ** d[:2]), (0.8 * (1.25 / 0.8) ** d[2],)) for d in draws]


def test_parts_add_up_to_the_stretched_stack(problem):
    at = Parameters((0.6, 1.7), (1.2,))
    vector = np.random.default_rng(2).standard_normal(problem.mesh.unknowns)
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
        relieved=model.relieved[:, :, :count],
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
    soft, stiff = (model.answer(Parameters((1.0, 1.0), (rods,))) for rods in (0.8, 1.25))
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
def test_peaks_are_those_of_a_full_solve(problem, instant):
    """The largest nodal stress of each plate; there is no re-entrant edge to keep away from."""
    for at in random_points(2, 7):
        u = problem.full(at, problem.load)
        wanted = StressBasis.of(problem, u[None]).von_mises(np.ones(1), at)
        found = instant.field.von_mises(instant.model.answer(at).weights, at)
        assert np.abs(found - wanted).max() < 0.02 * wanted.max()
        peaks = [wanted[instant.field.nodes.plate == plate].max() for plate in (0, 1)]
        assert instant.answer(at).peaks == pytest.approx(peaks, rel=0.02)


@pytest.mark.slow
def test_thicknesses_are_asked_in_metres(problem, instant):
    told = answer(instant, [0.04, 0.075])
    at = Parameters((0.8, 1.5))
    assert told.deflection == pytest.approx(instant.model.answer(at).deflection, rel=1e-12)
    assert told.inside
    assert 0 < told.bound < 0.01 * told.deflection
    assert answer(instant, [0.02, 0.05]).bound == np.inf
    with pytest.raises(ValueError, match="2 thicknesses"):
        answer(instant, [0.05])


@pytest.mark.slow
def test_a_model_is_kept_and_found_again(instant, tmp_path):
    file = tmp_path / "models" / "crosshead.npz"
    assert store.load(file, "its key") is None
    store.save(instant, file, "its key")
    again = store.load(file, "its key")
    assert again is not None
    told, wanted = (answer(one, [0.04, 0.075]) for one in (again, instant))
    assert told.deflection == pytest.approx(wanted.deflection, rel=1e-12)
    assert told.bound == pytest.approx(wanted.bound, rel=1e-6)
    assert told.peaks == pytest.approx(wanted.peaks, rel=1e-6)
    assert [p.name for p in file.parent.iterdir()] == ["crosshead.npz"]
    assert store.load(file, "another key") is None
    with np.load(file) as data:
        np.savez_compressed(tmp_path / "packed.npz", **data)
    assert store.load(tmp_path / "packed.npz", "its key") is None  # it may unpack to any size
    file.write_bytes(file.read_bytes()[:200])
    assert store.load(file, "its key") is None


def test_whatever_changes_a_model_changes_its_key(small_case, monkeypatch, tmp_path):
    def key(case):
        press = layout.build(case)
        return models._place(case, press, press.crosshead, tmp_path)[1]

    def with_(table, **changes):
        part = getattr(small_case, table)
        return small_case.model_copy(update={table: part.model_copy(update=changes)})

    plate = small_case.crosshead.plates[0]
    thicker = (plate.model_copy(update={"thickness": 1.01 * plate.thickness}),)
    changed = [
        with_("press", capacity=1.01 * small_case.press.capacity),
        with_("mesh", size=0.03),
        with_("rods", diameter=0.9 * small_case.rods.diameter, thread=None),
        with_("crosshead", plates=thicker),
        with_("crosshead", length=1.01 * small_case.crosshead.length),
        with_("ram", diameter=0.9 * small_case.ram.diameter),
    ]
    keys = [key(small_case), *map(key, changed)]
    assert len(set(keys)) == len(keys)
    assert key(small_case.model_copy()) == keys[0]
    monkeypatch.setattr(store, "code", lambda: "another code")
    assert key(small_case) not in keys


def test_only_thicknesses_may_differ(small_case):
    press = layout.build(small_case)
    thick, grade, other = (
        layout.build(Option(changes).apply(small_case))
        for changes in (
            (("thickness", 0.06),), (("grade", "S235JR"),), (("interface", "loose"),),
        )
    )  # fmt: skip
    alike = [models._alike(p, p.bed, press, press.bed) for p in (press, thick, grade, other)]
    assert alike == [True, True, True, False]


def test_stacks_without_a_model_say_why(small_case, tmp_path):
    loose = Option((("interface", "loose"),)).apply(small_case)
    found = models.made(loose, tmp_path, lambda step: None)
    assert not found.models
    assert "predicted from solved options" in found.without["bed"]
    press = layout.build(loose)
    assert found(press, press.bed) is None


def test_springs_follow_length_and_depth(press_of):
    """A rod's nuts and threads do not grow with it, so that it softens by less than EA/L."""
    rod = press_of("off_centre").rods[0]
    assert rod.seat == "shoulder"
    assert factors(rod, 0.2, rod, 0.2) == (1.0, 1.0, 1.0, 1.0)
    through = factors(rod, 0.4, rod, 0.2)[0]
    assert 0.5 < through < 1.0
    sleeved = press_of("demo").rods[0]
    longer = replace(sleeved, free_length=1.1 * sleeved.free_length)
    pulled, sleeve, tilting = factors(longer, 0.2, sleeved, 0.4)
    assert 1 / 1.1 <= pulled < 1.0
    assert sleeve == 1.0
    assert 1 / 1.1 < tilting < 1.0  # the sleeve's part of it stays


@pytest.mark.slow
@pytest.mark.parametrize("name", ["off_centre", "demo"])
def test_seats_are_felt_as_by_the_springs(press_of, coarse_mesh, name):
    """Forces on the seats, against the reading of `loads.Held` at the same displacements."""
    press = press_of(name)
    stack = replace(press.crosshead, bolts=())
    problem = AffineProblem.of(press, stack, coarse_mesh(name, "crosshead"))
    u = problem.full(problem.reference, problem.load)
    rest, relieved = problem.seats(u[None])
    pairs = zip(problem.held.forces(u), problem.held.shares, strict=True)
    wanted = [found.seat * share for found, share in pairs]
    rims = (rest + relieved[:, :, 0].sum(axis=0)).reshape(len(wanted), TURNS)
    assert rims.mean(axis=1) == pytest.approx(wanted)
    for end, at, rim in zip(
        problem.held.ends, (problem.held.stations @ u).reshape(-1, 4), rims, strict=True
    ):
        struts = end.support.forces(at, end.at_work)[-TURNS:] / end.support.ring[-TURNS:]
        assert rim == pytest.approx(end.share * struts)


def test_stacks_on_edge_are_refused(press_of, coarse_mesh):
    press = press_of("on_edge")
    with pytest.raises(NotAffineError, match="only flat stacks"):
        AffineProblem.of(press, press.bed, coarse_mesh("on_edge", "bed"))


def test_many_plates_are_refused(press_of):
    press = press_of("large")
    eight = replace(press.crosshead, interface="welded", plates=2 * press.crosshead.plates)
    with pytest.raises(NotAffineError, match="of up to 6 "):
        AffineProblem.of(press, eight, None)  # type: ignore[arg-type]


def test_the_bound_grows_as_a_stack_gets_softer_than_its_reference():
    """K(s) = s K: an error measured in K's own norm is 1/s of it, over what is kept for safety."""
    random = np.random.default_rng(3)
    root = random.standard_normal((8, 8))
    whole = root @ root.T + np.eye(8)
    parts = np.stack([np.zeros((8, 8)), whole, np.zeros((8, 8)), np.zeros((8, 8))])
    load, basis = random.standard_normal(8), random.standard_normal((3, 8))
    sides = np.vstack([load, load, *(np.einsum("qmn,bn->qbm", parts, basis).reshape(-1, 8))])
    model = ReducedStack(
        basis, np.einsum("am,qmn,bn->qab", basis, parts, basis), basis @ load, basis @ load,
        sides @ np.linalg.solve(whole, sides.T), np.zeros(0), np.zeros((1, 0, 3)),
        coercivity.Coercivity(parts, whole), np.full(2, 0.01), np.full(2, 10.0), 3, (),
    )  # fmt: skip
    for s in (0.05, 1.0, 4.0):
        told = model.answer(Parameters((s,)))
        error = load @ np.linalg.solve(s * whole, load) - told.deflection
        assert told.bound == pytest.approx(error / 0.7, rel=1e-6)
        energy = load @ basis.T @ told.weights
        assert told.energy_error == pytest.approx(np.sqrt(error / 0.7 / energy), rel=1e-6)


@pytest.mark.parametrize("count", [1, 3])
def test_directions_are_orthonormal_and_none_is_given_twice(count):
    """Of one vector, and of three that span a plane: across^T K across = 1 in the reference."""
    vectors = np.array([[2.0, 0.0, 0.0], [1.0, 3.0, 0.0], [4.0, 6.0, 0.0]])[:count]
    stiffness = np.diag([2.0, 1.0, 5.0])
    parts = np.stack([np.zeros((count, count)), vectors @ stiffness @ vectors.T])
    wide = SimpleNamespace(_parts=parts)
    across = training._Wide.directions(wide, np.array([7.0, 0.5]))
    rank = min(count, 2)
    assert across.shape == (count, rank)
    assert across.T @ (0.5 * parts[1]) @ across == pytest.approx(np.eye(rank), abs=1e-9)
