"""Growth of cracks on the small press, by its own loads."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from platestack.fea.checks import cracks
from platestack.fea.checks.cracks import INSPECTIONS, crack_facts, crack_growth
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.hand import crack
from platestack.geometry import tables


def with_limits(solution, **update):
    limits = solution.case.limits.model_copy(update=update)
    return replace(solution, case=solution.case.model_copy(update={"limits": limits}))


def test_rod_by_hand(small_solution):
    """On the core of an M45 (39.5 mm), the range that its fatigue is checked for, K to fracture."""
    (check,) = (c for c in crack_growth(small_solution) if "thread" in c.name)
    (tired,) = thread_fatigue(small_solution)
    thread = tables.rod_thread("M45")
    core = math.pi / 4 * thread.d3**2
    stress = tired.value * small_solution.press.rods[0].stress_area / core
    (critical,) = (
        f for f in crack_facts(small_solution) if "critical" in f.name and "rod" in f.name
    )
    y = crack.thread_root(thread.d3)
    life = crack.cycles(tables.growth_stages(), stress, y, 0.5e-3, critical.value)
    assert check.value == pytest.approx(life, rel=1e-6)
    assert check.limit == small_solution.case.limits.cycles
    assert check.sense == "at least"
    # A quarter of the core, or where K at overload is the toughness: 42CrMo4 at -10 °C, 45 mm.
    tough = crack.toughness(-10, 20, 35, small_solution.press.rods[0].diameter)
    at = np.array([critical.value])
    over = 1.25 * stress
    assert critical.value == pytest.approx(thread.d3 / 4) or y(at) * over * math.sqrt(
        math.pi * critical.value
    ) == pytest.approx(tough, rel=0.05)


def test_what_no_range_opens_never_grows(small_solution):
    """A crack under a stress that pressing lowers."""
    flaw = cracks._grown(small_solution, "rod 1", "here", crack.thread_root(0.04), -1e6, 1e8, 50e6,
                         0.01, "no source")  # fmt: skip
    assert flaw.life == math.inf


def test_a_crack_at_an_edge_is_critical_at_half_the_plate_at_most(small_solution):
    """Hardly stressed: no size reaches the toughness, and half of 50 mm is left to carry."""
    plate = small_solution.press.bed.plates[0]
    flaw = cracks.edge_flaw(small_solution, "bed", plate, 1e3)
    assert flaw.critical <= 0.025 * (1 + 1e-9)


def test_inspections_are_thirds_of_the_life(small_solution):
    lives = {c.name.partition(":")[0]: c.value for c in crack_growth(small_solution)}
    rows = [f for f in crack_facts(small_solution) if "look for" in f.name]
    assert len(rows) == 3
    for fact in rows:
        assert fact.value == pytest.approx(lives[fact.name.partition(":")[0]] / INSPECTIONS)


def test_a_flaw_beyond_the_critical_size_breaks_at_once(small_solution):
    deep = with_limits(small_solution, flaw=0.06)
    for check in crack_growth(deep):
        assert check.value == 1
        assert check.utilisation > 1


def test_a_larger_flaw_and_the_cold_shorten_it(small_solution):
    plain = [c.value for c in crack_growth(small_solution)]
    flawed = [c.value for c in crack_growth(with_limits(small_solution, flaw=2e-3))]
    shop = small_solution.case.shop.model_copy(update={"lowest_temperature": -50.0})
    cold = replace(small_solution, case=small_solution.case.model_copy(update={"shop": shop}))
    assert all(a < b for a, b in zip(flawed, plain, strict=True))
    assert all(c.value <= b for c, b in zip(crack_growth(cold), plain, strict=True))
