"""A case solved: balance, linearity, symmetry, energy, and what mirrors may not change.

Expected values: statics (sums of forces and moments), Hooke's law of the rods by hand, Clapeyron's
theorem; scikit-fem's generic elasticity as an independent energy; the beam of `fea.hand` for the
examples, which shares no code with the numerics.
"""

from __future__ import annotations

import tomllib
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tomlkit
from skfem import Basis, ElementTetP2, ElementVector, Functional, MeshTet2
from skfem.helpers import ddot, eye, sym_grad, trace
from skfem.models.elasticity import lame_parameters

from platestack.fea.numerics import solvers
from platestack.fea.solid import loads, model, pressing, readings, stack
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, PlatestackError
from tests.fea.sample_stacks import rod_compliance

STEEL = 210e9, 0.3


def vector(solved: stack.StackSolution) -> np.ndarray:
    """Nodal displacements (n, 3) of a solution."""
    u = np.empty((len(solved.mesh.nodes), 3))
    u[solved.fields.nodes.node] = solved.fields.displacement
    return u


def at(solved: stack.StackSolution, point: tuple[float, float, float]) -> np.ndarray:
    """Displacement at a point, m."""
    u = vector(solved).ravel()
    return np.array([(readings.point_row(solved.mesh, point, i) @ u)[0] for i in range(3)])


def rod_forces(solved):
    """Part of the pressing force that each modelled rod bears, N."""
    return {name: bears.frame for name, bears in solved.rods.items()}


def case_of(name: str):
    return case_file.read(Path(__file__).parents[3] / "cases" / name / f"{name}.toml")


def bed_of(text: str, wish: str = "auto"):
    return case_file.parse(text + f'\n[mesh]\nsymmetry = "{wish}"\n')


# --- the small press, solved once


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_rods_carry_the_capacity(small_solution, name):
    solved, capacity = small_solution.stacks[name], small_solution.press.capacity
    # The quarter holds one half of one rod; by symmetry each of the two carries half.
    assert list(rod_forces(solved)) == ["rod 2"]
    assert rod_forces(solved)["rod 2"] == pytest.approx(capacity / 2, rel=1e-6)
    assert solved.balance < 1e-6
    for rod in small_solution.press.rods:
        assert small_solution.rod_force(rod) == pytest.approx(capacity / 2, rel=1e-6)


@pytest.mark.parametrize(("name", "sign"), [("crosshead", 1), ("bed", -1)])
def test_nuts_move_by_the_stretch_of_half_a_rod(small_solution, name, sign):
    # F/2 in each rod; half of it, with one of its nuts, stretches by (F/2) δ / 2.
    press = small_solution.press
    stretch = press.capacity / 2 * rod_compliance(press.rods[0]) / 2
    assert small_solution.stacks[name].nut_mean == pytest.approx(sign * stretch, rel=1e-6)


@pytest.mark.parametrize(("name", "sign"), [("crosshead", 1), ("bed", -1)])
def test_deflection_is_what_an_indicator_would_read(small_solution, name, sign):
    solved = small_solution.stacks[name]
    axis = at(solved, (0.0, 0.0, solved.stack.load_face))[2]
    assert solved.deflection == pytest.approx(sign * (axis - solved.nut_mean), rel=1e-9)
    assert solved.deflection > 0


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_strain_energy_is_half_the_work(small_solution, name):
    solved = small_solution.stacks[name]
    mesh = solved.mesh
    basis = Basis(MeshTet2(mesh.nodes.T, mesh.tets.T), ElementVector(ElementTetP2()), intorder=4)
    lam, mu = lame_parameters(*STEEL)

    @Functional
    def density(w):
        strain = sym_grad(w["u"])
        stress = 2 * mu * strain + lam * eye(trace(strain), 3)
        return ddot(stress, strain) / 2

    # scikit-fem numbers vector unknowns node by node, vertices first, as the mesh does.
    u = np.empty(basis.N)
    u[basis.nodal_dofs.T] = vector(solved)[: basis.nodal_dofs.shape[1]]
    u[basis.edge_dofs.T] = vector(solved)[basis.nodal_dofs.shape[1] :]
    steel = density.assemble(basis, u=basis.interpolate(u)) * mesh.share
    press = small_solution.press
    rods = sum((press.capacity / 2) ** 2 / (2 * 2 * rod.stiffness) for rod in press.rods)
    load = loads.patch_load(mesh, solved.stack, press.capacity)
    work = float(load @ vector(solved).ravel()) / 2 * mesh.share
    assert solved.strain_energy == pytest.approx(steel + rods, rel=1e-6)
    assert solved.strain_energy == pytest.approx(work, rel=1e-9)


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_mirrors_hold_their_nodes(small_solution, name):
    solved = small_solution.stacks[name]
    u = vector(solved)
    for axis in (0, 1):
        assert not u[np.abs(solved.mesh.nodes[:, axis]) < 1e-9, axis].any()


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_flatness_is_the_range_over_the_face(small_solution, name):
    solved = small_solution.stacks[name]
    uz, nodes = vector(solved)[:, 2], solved.mesh.nodes
    face = np.abs(nodes[:, 2] - solved.stack.load_face) < 1e-9
    assert solved.flatness_face == pytest.approx(np.ptp(uz[face]), rel=1e-12)
    inside = face & (np.hypot(nodes[:, 0], nodes[:, 1]) < solved.stack.patch.length / 2 + 1e-6)
    if not solved.stack.patch.inner:
        assert solved.flatness_patch == pytest.approx(np.ptp(uz[inside]), rel=1e-12)
    assert 0 < solved.flatness_patch < solved.flatness_face


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_peaks_are_judged_for_each_plate(small_solution, name):
    solved = small_solution.stacks[name]
    assert [peak.plate.name for peak in solved.peaks] == ["plate 1", "plate 2"]
    for index, peak in enumerate(solved.peaks):
        own = solved.fields.nodes.plate == index
        assert peak.raw == pytest.approx(solved.fields.von_mises[own].max())
        low, high = np.array(peak.plate.bounds)
        assert (np.array(peak.at) > low - 1e-9).all()
        assert (np.array(peak.at) < high + 1e-9).all()
        # S355, 16 to 63 mm: 335 MPa (EN 10025-2), over the factor 1.5.
        assert peak.allowed == pytest.approx(335e6 / 1.5)
        assert peak.utilisation == pytest.approx(peak.von_mises / (335e6 / 1.5))
    assert solved.peak.von_mises == max(peak.von_mises for peak in solved.peaks)


def test_small_press_reaches_the_accuracy_asked_for(small_solution):
    for solved in small_solution.stacks.values():
        assert solved.accurate
        assert solved.deflection_error <= 0.02 * solved.deflection
        assert solved.peak.error <= 0.05 * solved.peak.von_mises


# --- linearity


def test_steps_are_told_in_order(welded_text, solve_coarse):
    steps: list[str] = []
    solve_coarse(case_file.parse(welded_text), "bed", steps.append)
    assert steps[:3] == ["bed: mesh", "bed: assemble", "bed: solve"]
    assert all(step.startswith("bed: ") for step in steps)


def test_twice_the_force_gives_twice_of_all(welded_text, solve_coarse):
    once = case_file.parse(welded_text)
    force = once.press.model_copy(update={"capacity": 2 * once.press.capacity})
    twice = once.model_copy(update={"press": force})
    one, two = (solve_coarse(case, "bed")["bed"] for case in (once, twice))
    assert two.deflection == pytest.approx(2 * one.deflection, rel=1e-5)
    assert two.peak.von_mises == pytest.approx(2 * one.peak.von_mises, rel=1e-5)
    assert two.strain_energy == pytest.approx(4 * one.strain_energy, rel=1e-5)
    assert rod_forces(two)["rod 2"] == pytest.approx(2 * rod_forces(one)["rod 2"], rel=1e-6)


# --- shares of one press


@pytest.fixture(scope="module")
def shares(welded_text, solve_coarse):
    """The small bed as quarter, halves and whole."""
    wishes = ("quarter", "half x", "half y", "whole")
    return {wish: solve_coarse(bed_of(welded_text, wish), "bed")["bed"] for wish in wishes}


def gauge(solved: stack.StackSolution) -> float:
    """Strain along x that a gauge of 120 mm shows under the middle of the bed."""
    right, left = (at(solved, (x, 0.0, 0.0))[0] for x in (0.06, -0.06))
    return float(right - left) / 0.12


@pytest.mark.parametrize("wish", ["half x", "half y", "whole"])
def test_any_share_gives_the_same_answers(shares, wish):
    quarter, other = shares["quarter"], shares[wish]
    assert other.mesh.share == {"half x": 2, "half y": 2, "whole": 1}[wish]
    assert other.deflection == pytest.approx(quarter.deflection, rel=2e-3)
    assert other.strain_energy == pytest.approx(quarter.strain_energy, rel=1e-3)
    assert other.nut_mean == pytest.approx(quarter.nut_mean, rel=1e-6)
    assert gauge(other) == pytest.approx(gauge(quarter), rel=0.01)
    doubt = other.peak.error + quarter.peak.error
    assert other.peak.von_mises == pytest.approx(quarter.peak.von_mises, abs=doubt)
    point = (0.1, 0.05, 0.1)
    assert at(other, point) == pytest.approx(at(quarter, point), rel=5e-3, abs=2e-7)


def test_whole_model_moves_symmetrically(shares):
    one = at(shares["whole"], (0.1, 0.05, 0.1))
    for x, y in ((-1, 1), (1, -1), (-1, -1)):
        image = at(shares["whole"], (0.1 * x, 0.05 * y, 0.1))
        assert image == pytest.approx(one * [x, y, 1], abs=2e-3 * np.abs(one).max())


def test_both_rods_of_the_whole_model_carry_half(shares, small_press):
    for wish in ("half y", "whole"):
        forces = list(rod_forces(shares[wish]).values())
        assert forces == pytest.approx([small_press.capacity / 2] * 2, rel=1e-4)


# --- six rods, two of them on a mirror plane

SIX = 'count = 6\npitch = ["520 mm", "290 mm"]'


@pytest.fixture(scope="module")
def six(four_rods, solve_coarse):
    """Bed on six rods, as a quarter and as a whole."""
    text = four_rods(rods=SIX)
    return {w: solve_coarse(bed_of(text, w), "bed")["bed"] for w in ("quarter", "whole")}


def test_rods_on_a_mirror_count_right(six):
    whole, quarter = rod_forces(six["whole"]), rod_forces(six["quarter"])
    capacity = 60 * 9806.65
    assert sum(whole.values()) == pytest.approx(capacity, rel=1e-6)
    # Rods 1 to 3 at −y, 4 to 6 at +y; the quarter has the middle one, halved, and a corner one.
    assert set(quarter) == {"rod 5", "rod 6"}
    assert 2 * quarter["rod 5"] + 4 * quarter["rod 6"] == pytest.approx(capacity, rel=1e-6)
    twins = {1: "rod 6", 2: "rod 5", 3: "rod 6", 4: "rod 6", 5: "rod 5", 6: "rod 6"}
    for number, twin in twins.items():
        assert whole[f"rod {number}"] == pytest.approx(quarter[twin], rel=5e-3)
    assert six["whole"].deflection == pytest.approx(six["quarter"].deflection, rel=0.01)


def test_middle_rods_carry_more_when_pressed_in_the_middle(six):
    # A bed that bends gives way at its ends: the middle rods stand nearer to the load.
    forces = rod_forces(six["quarter"])
    assert forces["rod 5"] > forces["rod 6"]


# --- a load off the centre


@pytest.fixture(scope="module")
def tilted(four_rods, solve_coarse):
    """Whole bed on four rods, the workpiece at (60, −40) mm."""
    text = four_rods(more='[workpiece]\ndiameter = "80 mm"\noffset = ["60 mm", "-40 mm"]')
    case = case_file.parse(text)
    return layout.build(case), solve_coarse(case, "bed")["bed"]


def test_rod_forces_balance_an_off_centre_load(tilted):
    press, solved = tilted
    assert solved.mesh.share == 1
    forces = np.array([rod_forces(solved)[rod.name] for rod in press.rods])
    x, y = np.array([rod.at for rod in press.rods]).T
    assert forces.sum() == pytest.approx(press.capacity, rel=1e-6)
    assert forces @ x == pytest.approx(press.capacity * 0.060, rel=1e-3)
    assert forces @ y == pytest.approx(press.capacity * -0.040, rel=1e-3)


def test_rod_forces_are_near_those_of_a_rigid_plate(tilted):
    # A rigid plate on four equal springs at (±a, ±b): F/4 (1 + x x0 / a² + y y0 / b²). A plate
    # that twists spreads the four forces a little differently, never their sums.
    press, solved = tilted
    for rod in press.rods:
        x, y = rod.at
        rigid = press.capacity / 4 * (1 + x * 0.060 / 0.260**2 + y * -0.040 / 0.125**2)
        assert rod_forces(solved)[rod.name] == pytest.approx(rigid, abs=0.03 * press.capacity)


def test_force_of_a_rod_is_that_of_its_image(tilted, small_solution):
    press, solved = tilted
    solution = model.Solution(case=None, press=press, stacks={"bed": solved}, seconds=0.0)
    for rod in press.rods:
        assert solution.rod_force(rod) == rod_forces(solved)[rod.name]
    stranger = replace(small_solution.press.rods[0], at=(0.1, 0.05))
    with pytest.raises(LookupError, match="no image"):
        small_solution.rod_force(stranger)


# --- failures are told


def test_a_solution_out_of_balance_is_thrown_away(welded_text, solve_coarse, monkeypatch):
    honest = solvers.solver

    class Forger:
        def __init__(self, *given):
            self._solver = honest(*given)

        def solve(self, *given, **more):
            answer = self._solver.solve(*given, **more)
            return replace(answer, displacement=1.001 * answer.displacement)

    monkeypatch.setattr(solvers, "solver", Forger)
    with pytest.raises(pressing.UnbalancedError, match="bed: the rods") as caught:
        solve_coarse(case_file.parse(welded_text), "bed")
    assert isinstance(caught.value, PlatestackError)
    assert caught.value.exit_code == 3
    assert "\n" not in str(caught.value)


def test_a_forced_mirror_that_is_not_there_is_a_bad_case(four_rods):
    text = four_rods(more='[workpiece]\ndiameter = "80 mm"\noffset = ["60 mm", "0 mm"]')
    with pytest.raises(CaseError, match="bed is not symmetric at x = 0") as caught:
        bed_of(text, "quarter")
    # The ram pushes in line with the workpiece, so that the crosshead has no mirror there either.
    assert [problem.key for problem in caught.value.problems] == ["mesh.symmetry"] * 2
    assert bed_of(text, "half y").mesh.symmetry == "half y"


# --- the examples, coarse


@pytest.mark.parametrize(
    "name", ["small", "demo", "on_edge", pytest.param("large", marks=pytest.mark.slow)]
)
def test_examples_balance_and_bend_like_a_beam(press_of, solve_coarse, small_solution, name):
    press = press_of(name)
    stacks = small_solution.stacks if name == "small" else solve_coarse(case_of(name))
    for solved in stacks.values():
        forces = np.array(list(rod_forces(solved).values()))
        held = loads.supports(solved.mesh, press.rods)
        assert forces @ held.copies == pytest.approx(press.capacity, rel=1e-6)
        agreed = solved.beam.agrees(solved.deflection, solved.deflection_error)
        assert agreed, (name, solved.stack.name)


@pytest.mark.parametrize(("capacity", "refused"), [("30 tf", True), ("15 tf", False)])
def test_what_bends_by_more_than_a_tenth_of_its_span_is_refused(welded_text, capacity, refused):
    """60 loose leaves of 3 mm: P L³ / (48 Σ E I) is 52 mm at 30 tf, 26 mm at 15 tf; L is 350 mm."""
    text = welded_text.replace('capacity = "30 tf"', f'capacity = "{capacity}"')
    tree = tomllib.loads(text)
    for name in ("crosshead", "bed"):
        tree[name] |= {"plates": ["60 x 3 mm"], "interface": {"kind": "loose"}}
    press = layout.build(case_file.parse(tomlkit.dumps(tree), "leaves.toml"))
    soft = pytest.raises(model.TooSoft, match=r"crosshead: .* up to 35 mm")
    with soft if refused else nullcontext():
        model.check_sag(press)
