"""The frame of one-way springs against closed forms and against trying every state."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.solid.frame import Frame, Unheld

BOLT, JOINT = 2.0e8, 1.0e9  # N/m


def joint(bolt: float = BOLT, plates: float = JOINT) -> Frame:
    """One bolt and the plates it clamps: textbook joint, loaded at the plates' faces."""
    return Frame(np.zeros((1, 1)), np.array([[1.0], [-1.0]]), np.array([bolt, plates]))


def preloaded(frame: Frame, force: float) -> np.ndarray:
    """Advance of a single bolt that gives it `force` with nothing else acting."""
    bolt, plates = frame.springs
    return np.array([force / bolt + force / plates, 0.0])


# Joint diagram: Shigley's Mechanical Engineering Design, 10th ed., 8-7, eqs. 8-24, 8-25 (from
# memory) with load factor C = kb / (kb + kc): Fb = F0 + C P, Fm = F0 − (1 − C) P, separation at
# P0 = F0 / (1 − C), and Fb = P beyond.
@pytest.mark.parametrize("part", [0.0, 0.4, 0.99])
def test_joint_diagram_below_separation(part):
    frame, preload = joint(), 1e5
    factor = BOLT / (BOLT + JOINT)
    load = part * preload / (1 - factor)
    state = frame.solve(preloaded(frame, preload), np.array([load]))
    expected = [preload + factor * load, preload - (1 - factor) * load]
    assert state.forces == pytest.approx(expected, rel=1e-9, abs=1e-4)


def test_joint_diagram_after_separation():
    frame, preload = joint(), 1e5
    load = 1.5 * preload * (BOLT + JOINT) / JOINT
    state = frame.solve(preloaded(frame, preload), np.array([load]))
    assert state.forces == pytest.approx([load, 0.0], rel=1e-9)
    gap = load / BOLT - preload / BOLT - preload / JOINT
    assert state.opening[1] == pytest.approx(gap, rel=1e-9)


def test_a_rod_that_loses_its_preload_opens():
    """A rod cannot push: the load presses the seat, the rod falls to nothing and says how far."""
    frame, preload = joint(), 1e5
    load = -1.5 * preload * (BOLT + JOINT) / BOLT
    state = frame.solve(preloaded(frame, preload), np.array([load]))
    assert state.forces == pytest.approx([0.0, -load], rel=1e-9)
    assert state.opening[0] > 0


def test_what_nothing_holds_is_refused():
    frame = Frame(np.zeros((1, 1)), np.array([[1.0]]), np.array([BOLT]))
    with pytest.raises(Unheld, match="hold"):
        frame.solve(np.zeros(1), np.array([-1e5]))


def test_two_bolts_off_centre():
    """Rigid beam on two springs at ±a, load at e: lever rule, and one opens beyond e = a."""
    half, force = 0.4, 1e6
    frame = Frame(np.zeros((2, 2)), np.array([[1.0, -half], [1.0, half]]), np.array([BOLT, BOLT]))
    for e in (0.0, 0.1, 0.399):
        state = frame.solve(np.zeros(2), np.array([force, force * e]))
        expected = [force / 2 * (1 - e / half), force / 2 * (1 + e / half)]
        assert state.forces == pytest.approx(expected, rel=1e-8)
    with pytest.raises(Unheld):
        frame.solve(np.zeros(2), np.array([force, force * 1.01 * half]))


def test_four_bolts_off_centre():
    """Rigid plate on four equal springs: F (1/4 ± e_x/4a ± e_y/4b), until one would push."""
    a, b, force = 0.4, 0.2, 1e6
    signs = np.array([(-1, -1), (1, -1), (-1, 1), (1, 1)])
    rows = np.column_stack([np.ones(4), a * signs[:, 0], b * signs[:, 1]])
    frame = Frame(np.zeros((3, 3)), rows, np.full(4, BOLT))
    state = frame.solve(np.zeros(4), force * np.array([1.0, 0.1, 0.05]))
    expected = force / 4 * (1 + signs @ [0.1 / a, 0.05 / b])
    assert state.forces == pytest.approx(expected, rel=1e-8, abs=1.0)
    # At a corner of the kern a rod is idle; beyond, three carry it and statics alone decides.
    state = frame.solve(np.zeros(4), force * np.array([1.0, 0.3, 0.1]))
    assert state.forces[0] == 0.0
    assert rows.T @ state.forces == pytest.approx(force * np.array([1.0, 0.3, 0.1]), rel=1e-8)


@st.composite
def frames(draw):
    """Small frames whose structure is firmly held, with loads and advances of either sign."""
    seed = draw(st.integers(0, 2**32 - 1))
    n, m = draw(st.integers(1, 5)), draw(st.integers(1, 7))
    random = np.random.default_rng(seed)
    root = random.normal(size=(n, n))
    frame = Frame(
        root @ root.T + 0.1 * np.eye(n), random.normal(size=(m, n)), 10 ** random.uniform(-2, 2, m)
    )
    return frame, random.normal(size=m), 3 * random.normal(size=n)


@settings(max_examples=60, deadline=None)
@given(frames())
def test_the_only_state_that_fits(problem):
    """Of all 2^m choices of springs at work, one agrees with itself: the one found."""
    frame, advance, load = problem
    state = frame.solve(advance, load)
    fitting = []
    for choice in itertools.product((False, True), repeat=len(frame.springs)):
        on = np.array(choice)
        rows, springs = frame.rows[on], frame.springs[on]
        matrix = frame.stiffness + rows.T @ (springs[:, None] * rows)
        d = np.linalg.solve(matrix, load - rows.T @ (springs * advance[on]))
        if ((frame.rows @ d + advance > 0) == on).all():
            fitting.append(d)
    assert len(fitting) == 1
    assert state.displacement == pytest.approx(fitting[0], rel=1e-6, abs=1e-8)
    left = frame.stiffness @ state.displacement + frame.rows.T @ state.forces - load
    assert np.abs(left).max() <= 1e-8 * max(1.0, np.abs(load).max())


def test_what_gaps_leave_of_the_forces_shifts_the_load():
    """K d + g + Bᵀ p = f: the forces g at no displacement count against the load."""
    plain, preload = joint(), 1e5
    biased = replace(plain, bias=np.array([-2e4]))
    found = biased.solve(preloaded(plain, preload), np.array([3e4]))
    expected = plain.solve(preloaded(plain, preload), np.array([5e4]))
    assert found.forces == pytest.approx(expected.forces, rel=1e-9)
    assert found.displacement == pytest.approx(expected.displacement, rel=1e-9)
