"""The optimum against brute force: every option of a grid solved in full.

In the fast tests a made-up solver stands in, whose answers are beam theory's: the search must find
what trying all finds. The slow one solves in full.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from platestack.fea.jobs import optimum
from platestack.fea.jobs.optimum import PlateOption, optimise
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import UsageError

COUNTS, SIZES = (1, 2, 3), (0.03, 0.04, 0.05, 0.06)


@pytest.fixture(scope="module")
def by_hand(small_case, solve_coarse):
    """Solve by the beam, a tenth and a depth-dependent part off, so that predictions miss."""
    stacks = solve_coarse(small_case)

    def solve(case, report=lambda step: None):
        press = layout.build(case)
        made = {}
        for stack in press.stacks:
            beam = optimum_beam(stack, press)
            off = 1.1 + 0.5 * (stack.depth - 0.1)
            peaks = tuple(
                replace(
                    stacks[stack.name].peaks[0], plate=plate, error=0.0, raw=0.0,
                    von_mises=off * (1.3 * beam.actual.bending_stress + 2e7),
                    allowed=plate.material.yield_strength / press.yield_safety_factor,
                )
                for plate in stack.plates
            )  # fmt: skip
            made[stack.name] = replace(
                stacks[stack.name], stack=stack, beam=beam, peaks=peaks,
                deflection=off * beam.actual.expected, deflection_error=0.0,
            )  # fmt: skip
        return Solution(case, press, made, 0.0)

    return solve


def optimum_beam(stack, press):
    from platestack.fea.hand.beam import beam_check

    return beam_check(stack, press.rods, press.capacity)


def brute(case, solve, goal, sizes=SIZES, counts=COUNTS):
    """The best of all options, each solved."""
    choices = list(product(counts, sizes))
    best = None
    for pair in product(choices, choices):
        solution = solve(PlateOption(*pair).apply(case))
        if optimum.all_checks(solution)[0].utilisation > 1:
            continue
        value = (
            solution.press.mass
            if goal == "mass"
            else max(s.deflection / s.stack.deflection_limit for s in solution.stacks.values())
        )
        if best is None or value < best[0]:
            best = value, PlateOption(*pair)
    return best


@pytest.mark.slow
@pytest.mark.parametrize("goal", ["mass", "stiffness"])
def test_the_search_finds_what_trying_all_finds(small_case, by_hand, goal):
    found = optimise(small_case, goal, lambda step: None, COUNTS[1:], SIZES[1:], by_hand)
    value, option = brute(small_case, by_hand, goal, SIZES[1:], COUNTS[1:])
    assert found.complete
    assert found.best.solved
    assert found.best.value == pytest.approx(value)
    if goal == "mass":
        assert found.best.option == option
    assert found.options == 36
    assert len(found.solved) < 12


def test_a_relaxed_limit_buys_a_lighter_press(small_case, by_hand):
    bed = by_hand(PlateOption((2, 0.05), (2, 0.05)).apply(small_case)).stacks["bed"]
    slope = small_case.limits.deflection * bed.deflection / bed.stack.deflection_limit / 1.05
    tight = small_case.model_copy(
        update={"limits": small_case.limits.model_copy(update={"deflection": slope})}
    )
    found = optimise(tight, "mass", lambda step: None, (2,), SIZES, by_hand)
    assert found.best.worst <= 1
    for kind, other in found.gains.items():
        assert other.value < found.best.value
        assert other.uses[kind] <= 1.1 + 1e-9
        assert all(use <= 1 for name, use in other.uses.items() if name != kind)
    assert optimum.DEFLECTION in found.gains


def test_where_nothing_fits_there_is_no_optimum(small_case, by_hand):
    tight = small_case.model_copy(
        update={"limits": small_case.limits.model_copy(update={"hoist": 1.0})}
    )
    found = optimise(tight, "mass", lambda step: None, (2,), (0.05, 0.06), by_hand)
    assert found.best is None
    assert found.gains == {}


def test_kinds_that_rest_on_predictions_are_named(small_case, small_solution):
    """What changes with the predicted figures is doubted as much as they are."""

    def uses(factor):
        stacks = {
            name: replace(
                solved,
                deflection=factor * solved.deflection,
                peaks=tuple(replace(p, von_mises=factor * p.von_mises) for p in solved.peaks),
                fields=replace(solved.fields, displacement=factor * solved.fields.displacement),
            )
            for name, solved in small_solution.stacks.items()
        }
        checks = optimum.all_checks(Solution(small_case, small_solution.press, stacks, 0.0))
        return {check.name: check.utilisation for check in checks}

    now, more = uses(1.0), uses(1.1)
    changed = {name.rpartition(": ")[2] for name in now if more[name] > now[name] * (1 + 1e-9)}
    assert changed == set(optimum.PREDICTED) & {name.rpartition(": ")[2] for name in now}
    assert {optimum.DEFLECTION, optimum.STRESS} < changed


def test_what_cannot_be_sought_is_told(small_case, press_of):
    with pytest.raises(UsageError, match="no prices"):
        optimise(small_case, "cost", lambda step: None)
    with pytest.raises(UsageError, match="allowed: cost, mass, stiffness"):
        optimise(small_case, "beauty", lambda step: None)


@pytest.mark.slow
def test_the_optimum_is_that_of_full_solves(welded_text, solve_coarse):
    """Brute force over a grid of full solves, meshes coarse."""
    case = case_file.parse(welded_text, "small.toml")
    known = {}

    def solve(case, report=lambda step: None):
        press = layout.build(case)
        name = (case.crosshead, case.bed)
        if name not in known:
            known[name] = Solution(case, press, solve_coarse(case), 0.0)
        return known[name]

    sizes, counts = (0.03, 0.04, 0.05), (1, 2)
    for goal in ("mass", "stiffness"):
        found = optimise(case, goal, lambda step: None, counts, sizes, solve)
        value, option = brute(case, solve, goal, sizes, counts)
        assert found.best.value == pytest.approx(value)
        assert found.best.option == option
