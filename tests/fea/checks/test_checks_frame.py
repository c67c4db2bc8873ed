"""Joint diagrams of rods: Shigley's bolted joint, and what the checks make of it.

F_b = F_i + φ P, F_m = F_i − (1 − φ) P, separation at F_i / (1 − φ) (Shigley's Mechanical
Engineering Design, ch. 8, not verified against the standard).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.checks.frame import agreement, joint, joint_facts, rods_in_compression, seats
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.checks.tilt import rod_bending
from platestack.fea.results.summary.frame import frame
from platestack.fea.solid.model import Solution


@pytest.fixture(scope="module")
def seated(small_solution):
    """The small press with sleeves, and forces as the closed form has them for φ and preload."""

    def with_share(share: float, preload: float) -> Solution:
        press = small_solution.press
        rods = tuple(replace(rod, seat="sleeve", preload=preload) for rod in press.rods)
        stacks = {}
        for name, solved in small_solution.stacks.items():
            bears = {}
            for rod, one in solved.rods.items():
                seat = preload - (1 - share) * one.frame
                nut = preload + share * one.frame if seat > 0 else one.frame
                bears[rod] = replace(one, nut=nut, seat=seat if seat > 0 else None)
            stacks[name] = replace(solved, rods=bears)
        return replace(small_solution, press=replace(press, rods=rods), stacks=stacks)

    return with_share


def test_joint_diagram(seated):
    solution = seated(0.25, 200e3)
    part = solution.press.capacity / 2
    for rod in solution.press.rods:
        found = joint(solution, rod)
        assert found.share == pytest.approx(0.25, rel=1e-6)
        assert found.clamp == pytest.approx(200e3 - 0.75 * part, rel=1e-6)
        assert found.separation == pytest.approx(2 * 200e3 / 0.75, rel=1e-6)
    (check,) = seats(solution)
    assert check.utilisation == pytest.approx(0.75 * part / 200e3 / 0.9, rel=1e-6)
    assert [fact.unit for fact in joint_facts(solution)] == ["1", "N"]
    facts = [fact.value for fact in joint_facts(solution)]
    assert facts == pytest.approx([0.25, 2 * 200e3 / 0.75], rel=1e-6)
    record = frame(solution)
    assert len(record.rods) == 2
    assert record.rods[0].alternating_force.value == pytest.approx(0.25 * part, rel=1e-6)


def test_stacks_that_differ_about_a_rod(seated):
    """By 3 % of an even share at one rod, on purpose."""
    solution = seated(0.25, 200e3)
    (same,) = agreement(solution)
    assert same.value < 1e-6
    rods = dict(solution.stacks["bed"].rods)
    rod, one = next(iter(rods.items()))
    rods[rod] = replace(one, frame=1.03 * one.frame)
    stacks = solution.stacks | {"bed": replace(solution.stacks["bed"], rods=rods)}
    (other,) = agreement(replace(solution, stacks=stacks))
    assert other.value == pytest.approx(0.03, rel=1e-4)


def test_an_opened_seat_breaks_the_limit(seated):
    solution = seated(0.25, 90e3)
    (check,) = seats(solution)
    assert check.value == 1.0
    assert check.utilisation > 1
    assert "opened" in check.note
    assert joint(solution, solution.press.rods[0]).separation is None
    assert frame(solution).rods[0].separation_load.value is None


@settings(max_examples=20, deadline=None)
@given(share=st.floats(0.05, 0.95), preload=st.floats(1.5e5, 6e5))
def test_preload_relieves_the_thread_in_fatigue(seated, share, preload):
    """The range is φ of the working force, and bending; the limit stays as it is."""
    solution = seated(share, preload)
    (check,) = thread_fatigue(solution)
    rod = solution.press.rods[0]
    bending = max(rod_bending(solution, rod).stress for rod in solution.press.rods)
    felt = share * solution.press.capacity / 2 / rod.stress_area
    assert check.value == pytest.approx(felt + bending, rel=1e-3)


def test_without_seats_there_is_no_joint(small_solution):
    assert joint(small_solution, small_solution.press.rods[0]) is None
    assert seats(small_solution) == joint_facts(small_solution) == []
    assert frame(small_solution) is None
    assert rods_in_compression(small_solution) == []


def test_a_rod_that_would_push_is_reported(small_solution):
    stacks = {
        name: replace(
            solved,
            rods={rod: replace(one, nut=-0.1 * one.nut) for rod, one in solved.rods.items()},
        )
        for name, solved in small_solution.stacks.items()
    }
    checks = rods_in_compression(replace(small_solution, stacks=stacks))
    assert len(checks) == len(small_solution.press.rods)
    assert all(check.utilisation == pytest.approx(10, rel=1e-3) for check in checks)
