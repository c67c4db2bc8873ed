"""Tightening against closed forms of two- and four-bolt joints."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.jobs.tightening import Bench, Unreachable, equal_rounds, schedule, star_order
from platestack.fea.jobs.tightening import sheet as job
from platestack.fea.jobs.tightening.passes import _Way, least_limit, scatter
from platestack.fea.jobs.tightening.sheet import by_torque
from platestack.fea.solid.frame import Frame
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import UsageError


def bench(compliance: np.ndarray) -> Bench:
    """Bolts of unit compliance on a joint of given closure compliance."""
    return Bench(Frame.of_closures(compliance, np.ones(len(compliance))), len(compliance))


def square(own: float, adjacent: float, diagonal: float) -> np.ndarray:
    """Closure compliance of four bolts numbered round a square."""
    return np.array(
        [[(own, adjacent, diagonal, adjacent)[(j - i) % 4] for j in range(4)] for i in range(4)]
    )


TWO = np.array([[0.3, 0.12], [0.12, 0.3]])
PLATE = square(0.30, 0.10, 0.04)
CORNERS = np.array([[1.0, -1, -1], [1, 1, -1], [1, 1, 1], [1, -1, 1]])
"""Lift and two tilts of a rigid plate, read at its corners."""
RIGID = Bench(Frame(CORNERS.T @ CORNERS / 0.2, CORNERS, np.ones(4)), 4)
"""Rigid crosshead on four columns of compliance 0.2 that hold both ways, at the rods."""
CROSS = ((0,), (2,), (1,), (3,))

# Derived independently: the nut of every other bolt stays, so cb dFj + Σ Cjk dFk = 0 (bilateral).
ROUNDS = [
    (bench(TWO), ((0,), (1,)), [[0.907692, 1.0], [0.999213, 1.0]]),
    (
        bench(PLATE),
        CROSS,
        [[0.821433, 0.980488, 0.852202, 1.0], [0.992026, 0.999512, 0.994978, 1.0]],
    ),
    (RIGID, CROSS, [[0.950405, 1.047619, 0.906926, 1.0], [1.005858, 1.000411, 1.001538, 1.0]]),
]


@pytest.mark.parametrize(("tested", "order", "expected"), ROUNDS, ids=["two", "four", "rigid"])
def test_equal_rounds(tested, order, expected):
    done = equal_rounds(tested, np.ones(tested.count), order, 1e-12)
    for one, forces in zip(done, expected, strict=False):
        assert one.forces == pytest.approx(forces, abs=1.5e-6)


def test_two_bolts_in_closed_form():
    """Bolt 1 falls to 1 − c12/(cb + c11), and each further round multiplies what lacks."""
    done = equal_rounds(bench(TWO), np.ones(2), ((0,), (1,)), 1e-9)
    fall = 0.12 / 1.3
    assert done[0].forces[0] == pytest.approx(1 - fall, rel=1e-9)
    assert 1 - done[1].forces[0] == pytest.approx(fall * fall**2, rel=1e-6)


def test_influence_in_closed_form():
    """Two bolts: −c12/(cb + c11) off the diagonal, 1 on it; as flexibility symmetric."""
    tight = bench(TWO).advance_for(bench(TWO).loose, range(2), np.ones(2))
    assert bench(TWO).influence(tight) == pytest.approx(
        np.array([[1, -0.12 / 1.3], [-0.12 / 1.3, 1]]), rel=1e-9
    )
    slope = bench(PLATE).slope(np.full(4, True))
    assert np.linalg.inv(slope) == pytest.approx(np.eye(4) + PLATE, rel=1e-8)
    assert slope == pytest.approx(slope.T, rel=1e-9)


@pytest.mark.parametrize("tested", [bench(TWO), bench(PLATE), RIGID, bench(3 * PLATE)])
def test_one_pass_ends_at_the_targets(tested):
    """With room above the target a single pass does what equal rounds need several for."""
    # A rigid plate reaches equal forces only: its fourth is given by the other three.
    targets = np.full(tested.count, 1.1)
    order = star_order([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)][: tested.count])
    done = schedule(tested, targets, order, 3.0)
    assert len(done) == 1
    assert scatter(done[-1].forces, targets) < 1e-8
    assert len(equal_rounds(tested, targets, order, 0.01)) > 1


def test_a_schedule_keeps_below_the_limit():
    """Little room above the target takes more passes; none at all is refused."""
    tested, targets = bench(3 * PLATE), np.ones(4)
    free = schedule(tested, targets, CROSS, 3.0)[0].use(1.0)
    tight = 1 + 0.3 * (free - 1)
    done = schedule(tested, targets, CROSS, tight)
    assert 1 < len(done) <= 4
    assert max(one.use(tight) for one in done) <= 1 + 1e-9
    assert scatter(done[-1].forces, targets) < 1e-8
    with pytest.raises(Unreachable, match="passes"):
        schedule(tested, targets, CROSS, 0.9)


def on_spacers(places, softness: float) -> Bench:
    """A rigid crosshead on spacers that only press, so many times as compliant as the rods."""
    x, y = np.array(places).T
    lifts = np.column_stack([np.ones(len(places)), x, y])
    springs = np.concatenate([np.ones(len(places)), np.full(len(places), 1 / softness)])
    frame = Frame(np.zeros((3, 3)), np.vstack([lifts, -lifts]), springs)
    return Bench(frame, len(places), np.array([-0.005 * len(places), 0.0, 0.0]))


def beside(rods: int) -> list[tuple[float, float]]:
    """Places of rods in two lines."""
    return [(x, y) for y in (-2.0, 2.0) for x in np.linspace(-6, 6, rods // 2)]


@pytest.mark.parametrize(
    ("rods", "softness", "limit"), [(4, 8.0, 1.25), (6, 4.0, 1.25), (8, 4.0, 1.25), (8, 8.0, 1.55)]
)
def test_soft_spacers_take_many_rounds_and_three_passes(rods, softness, limit):
    """What equal rounds take grows with the spacers' compliance over the rods'; the passes do not.

    No rod may pass `limit` times its target on the way. Spacers as stiff as the rods need three
    rounds.
    """
    places = beside(rods)
    targets, order = np.ones(rods), star_order(places)
    tested = on_spacers(places, softness)
    rounds = equal_rounds(tested, targets, order, 0.05)
    done = schedule(tested, targets, order, limit)
    print(f"{rods} rods, {softness:g}: {len(rounds)} rounds, {len(done)} passes, "
          f"{max(one.use(1.0) for one in done):.2f} times the target on the way")  # fmt: skip
    assert len(rounds) >= 5
    assert len(done) <= 3
    assert max(one.use(limit) for one in done) <= 1 + 1e-9
    assert scatter(done[-1].forces, targets) < 1e-8
    assert len(equal_rounds(on_spacers(places, 1.0), targets, order, 0.05)) == 3


def test_what_a_limit_costs_in_passes():
    """Eight rods that may not pass 1.2 times the target take four passes; a little more, three."""
    places = beside(8)
    tested, targets, order = on_spacers(places, 4.0), np.ones(8), star_order(places)
    assert len(schedule(tested, targets, order, 1.2)) == 4
    part = least_limit(tested, targets, order, 1.2, 3)
    assert 1 < part < 1.05
    assert len(schedule(tested, targets, order, 1.2 * part * 1.005)) == 3


@pytest.mark.parametrize("by", [1.0, 3.0, 20.0])
def test_two_bolts_in_two_passes_in_closed_form(by):
    """What two bolts bear at least: (1 + r) / (1 + r − r³), where r = c12 / (cb + c11).

    Derived: three of the four steps bear alike, the last ends at the targets. With the same part
    of the way for both it is (1 + r) / (1 + r − r²), in one pass 1 + r.
    """
    fall = 0.12 * by / (1 + 0.3 * by)
    most = [least_limit(bench(by * TWO), np.ones(2), ((0,), (1,)), 1.0, n) for n in (1, 2)]
    assert most == pytest.approx([1 + fall, (1 + fall) / (1 + fall - fall**3)], rel=1e-5)


@pytest.mark.parametrize("passes", [2, pytest.param(3, marks=pytest.mark.slow)])
def test_no_way_found_at_random_bears_less(passes):
    """Four thousand ways near and far from the gentlest, none of them below it."""
    tested, targets = bench(5 * PLATE), np.ones(4)
    least = least_limit(tested, targets, CROSS, 1.0, passes)
    way = _Way(tested, tested.loose, tested.advance_for(tested.loose, range(4), targets), CROSS)
    gone = np.array([[step.advance[0] for step in one.steps]
                     for one in way.gentlest(1.0, passes)[1]])  # fmt: skip
    best = gone[:, np.argsort([rods[0] for rods in CROSS])] / gone[-1].max()
    random, found = np.random.default_rng(1), []
    for width in np.repeat([0.01, 0.03, 0.1, 1.0], 1000):
        parts = np.sort(np.clip(best + width * random.uniform(-1, 1, best.shape), 0, 1), axis=0)
        parts[-1] = 1.0
        found.append(max((state.forces).max() for _, state in way.states(parts)))
    assert min(found) >= least * (1 - 1e-3)
    assert min(found) <= least * 1.02


def test_a_given_number_of_passes_is_the_gentlest():
    """More passes bear less on the way; the limit is not used up for its own sake."""
    tested = bench(3 * PLATE)
    uses = [
        max(one.use(1.0) for one in schedule(tested, np.ones(4), CROSS, 3.0, passes=count))
        for count in (1, 2, 3)
    ]
    assert uses[0] > uses[1] + 0.01 > uses[2] + 0.02 > 1.02


def test_torque_alone_does_not_end_within_five_percent():
    """Chance of a round by torque, against drawing normal errors (19 of 20 within 30 %)."""
    drawn = np.random.default_rng(1).normal(0.0, 0.15, (400_000, 4))
    share = (np.abs(drawn) < 0.05).all(axis=1).mean()
    assert by_torque(0.05, 4) == pytest.approx(share, rel=0.08)
    assert by_torque(0.05, 4) < 0.005


def test_all_jacks_at_once_need_no_overshoot():
    tested = bench(PLATE)
    done = schedule(tested, np.ones(4), ((0, 1, 2, 3),), 1.0)
    assert len(done) == 1
    assert done[0].use(1.0) == pytest.approx(1.0, rel=1e-8)
    assert len(equal_rounds(tested, np.ones(4), ((0, 1, 2, 3),), 0.01)) == 1


def test_rods_that_do_not_touch_each_other_need_one_round():
    apart = bench(np.diag([0.3, 0.2, 0.4]))
    assert len(equal_rounds(apart, np.ones(3), ((0,), (1,), (2,)), 1e-6)) == 1


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 6), st.integers(1, 3))
def test_where_nuts_end_decides_not_the_order(seed, count, jacks):
    """Any joint, order and number of passes: the last pass ends at the targets."""
    random = np.random.default_rng(seed)
    root = random.normal(size=(count, count))
    tested = bench(0.2 * root @ root.T / count + 0.05 * np.eye(count))
    order = random.permutation(count)
    groups = [tuple(order[i : i + jacks].tolist()) for i in range(0, count, jacks)]
    targets = random.uniform(1, 2, count)
    done = schedule(tested, targets, groups, 100.0, passes=int(random.integers(1, 4)))
    assert scatter(done[-1].forces, targets) < 1e-7


def test_star_order_crosses():
    corners = [(-4.0, -2.0), (4.0, -2.0), (-4.0, 2.0), (4.0, 2.0)]
    assert star_order(corners) == ((0,), (3,), (1,), (2,))
    assert star_order(corners, 2) == ((0, 3), (1, 2))
    six = [(x, y) for y in (-2.0, 2.0) for x in (-4.0, 0.0, 4.0)]
    order = [i for group in star_order(six) for i in group]
    assert sorted(order) == list(range(6))
    for one, two in zip(order[::2], order[1::2], strict=True):
        assert np.allclose(np.add(six[one], six[two]), 0)


def test_a_sheet_is_read_back_as_it_was_kept(tmp_path):
    made = {f.name: 0.05 for f in fields(job.TighteningSheet)} | {
        "press": "p", "lines": (job.SheetLine(1, "rod 1", 1e5, 1e-3, 90.0, 1.5, 1.1e5, 2e3),),
        "moments": (job.Moment(1, ("rod 1",), (1e5, 0.0)),), "rounds": 2,
        "influence": ((1.0, -0.1), (-0.1, 1.0)), "rods": ("rod 1", "rod 2"), "measured": None,
    }  # fmt: skip
    file = tmp_path / job.MARK
    file.write_text(json.dumps(asdict(job.TighteningSheet(**made))), encoding="utf-8")
    assert job.read(file) == job.TighteningSheet(**made)
    assert "costs 1 passes; 3" in job.TighteningSheet(**made).price
    for text in ("", "[]", "{}", '{"press": "p"}'):
        file.write_text(text, encoding="utf-8")
        with pytest.raises(UsageError, match="not a tightening sheet"):
            job.read(file)


@pytest.mark.parametrize(("bore", "area"), [("50 mm", 2454.4e-6), ("68 mm", 786.2e-6)])
def test_a_thin_sleeve_limits_what_its_rod_may_bear(small_text, bore, area):
    """M45 has 1306 mm² (ISO 898-1); tubes of 75 mm outside by π/4 (D² − d²)."""
    seat = f'seat = "sleeve"\nseat_diameter = "75 mm"\nsleeve_bore = "{bore}"\npreload = "90 kN"\n'
    press = layout.build(case_file.parse(small_text.replace("[rods]", f"[rods]\n{seat}"), "a.toml"))
    rod = press.rods[0]
    found = job.may_bear(SimpleNamespace(press=press, ends=[SimpleNamespace(rod=rod)]))
    thread, sleeve = 1306e-6 / press.rod_safety_factor, area / press.yield_safety_factor
    assert found == pytest.approx([min(thread, sleeve) * rod.material.yield_strength], rel=2e-3)
    assert (sleeve < thread) == (bore == "68 mm")
