"""Predictions of options against full solves of the same options, and what is verified.

There is no authority for a prediction but the full solve that it stands for.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platestack.fea.jobs.options import comparing, evaluation, prediction
from platestack.fea.jobs.options.comparing import beats, compared, front
from platestack.fea.jobs.options.evaluation import Row, StackFigures
from platestack.fea.jobs.options.prediction import Predictor
from platestack.fea.jobs.options.variation import Option, Other, combinations, numbers, varied
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, UsageError


@pytest.fixture(scope="module")
def solved(small_case, solve_coarse):
    """Solve options on coarse meshes, each once."""
    known: dict[str, Solution] = {}

    def solve(case, option, report=lambda step: None):
        if option.label not in known:
            changed = option.apply(case)
            stacks = solve_coarse(changed)
            known[option.label] = Solution(changed, layout.build(changed), stacks, 0.0)
        return known[option.label]

    return solve


def test_a_solved_option_is_predicted_as_it_is(small_case, solved):
    predictor = Predictor()
    base = solved(small_case, Option())
    assert predictor.predict(small_case) is None
    predictor.learn(base)
    again = predictor.predict(small_case)
    for name, stack in base.stacks.items():
        assert again.stacks[name].deflection == pytest.approx(stack.deflection)
        found = [(p.plate.name, p.von_mises) for p in again.stacks[name].peaks]
        wanted = [(p.plate.name, p.von_mises) for p in stack.peaks]
        assert [n for n, _ in found] == [n for n, _ in wanted]
        assert [v for _, v in found] == pytest.approx([v for _, v in wanted])


@pytest.mark.parametrize(("text", "miss"), [("45 mm", 0.08), ("56 mm", 0.08)])
def test_a_prediction_is_near_the_full_solve(small_case, solved, text, miss):
    """From one solved option; the spread says how far it missed."""
    predictor = Predictor()
    predictor.learn(solved(small_case, Option()))
    wanted = solved(small_case, combinations({"thickness": text})[0])
    found = predictor.predict(wanted.case)
    ratios = [found.stacks[n].deflection / s.deflection for n, s in wanted.stacks.items()]
    ratios += [found.stacks[n].worst.utilisation / s.worst.utilisation
               for n, s in wanted.stacks.items()]  # fmt: skip
    for rod in wanted.press.rods:  # stands at other heights than in the solved option
        tilts, true = found.tilts(rod), wanted.tilts(rod)
        assert [abs(t[0]) for t in tilts.values()] == pytest.approx(
            [abs(t[0]) for t in true.values()], rel=miss
        )
        assert all(abs(t[0]) > 1e-5 for t in true.values())
    predictor.learn(wanted)
    assert predictor.spread == pytest.approx(max(abs(r - 1) for r in ratios))
    assert predictor.spread < miss
    assert predictor.predict(wanted.case).stacks["bed"].deflection == pytest.approx(
        wanted.stacks["bed"].deflection, rel=0.25 * predictor.spread + 1e-3
    )


def test_stacks_are_as_far_from_each_other_either_way(small_press):
    """Nothing from itself; a further plate is farther than 10 % of thickness."""
    one = small_press.bed
    more = replace(one, plates=(*one.plates, replace(one.plates[0], name="plate 3")))
    thick = replace(one, plates=tuple(replace(p, thickness=0.055) for p in one.plates))
    assert prediction._distance(one, one) == 0
    for other in (more, thick):
        there, back = prediction._distance(one, other), prediction._distance(other, one)
        assert there == pytest.approx(back)
        assert there > 0
    assert prediction._distance(one, more) > prediction._distance(one, thick)
    # Two in place of one and a half of them: as many plates count as much as the depth.
    assert prediction._distance(one, more) == pytest.approx(2 * math.log(1.5))


def test_the_option_least_like_those_solved_is_solved_next(monkeypatch):
    """Of two that none beats: not the one beside the solved one, though its numbers are larger."""
    study = object.__new__(comparing._Study)
    near, far = row(95.0, 0.52, 0.50), row(40.0, 0.55, 0.49)
    rows = [row(100.0, 0.50, 0.50), *(replace(r, state="predicted") for r in (near, far))]
    monkeypatch.setattr(study, "rows", lambda: rows)
    assert study.next() == 2


def test_an_option_is_as_good_as_the_stack_that_uses_more():
    """Of two stacks the worse counts; of one, that one."""
    good, bad = figures(1e-4, 1e8), figures(3e-4, 2e8)
    good, bad = (
        replace(s, deflection_utilisation=d, stress_utilisation=p)
        for s, d, p in ((good, 0.4, 0.9), (bad, 0.8, 0.5))
    )
    both = Row("x", "predicted", "", good, bad)
    assert (both.deflection_utilisation, both.stress_utilisation) == (0.8, 0.9)
    assert Row("x", "predicted", "", good).deflection_utilisation == 0.4


def test_an_option_of_another_kind_is_not_predicted(small_case, solved):
    predictor = Predictor()
    predictor.learn(solved(small_case, Option()))
    for wish in ({"interface": "loose"}, {"rod-diameter": "42 mm"}):
        assert predictor.predict(combinations(wish)[0].apply(small_case)) is None


def test_only_solved_options_are_called_verified(small_case, solved, monkeypatch):
    calls = []

    def solve(case, option, report):
        calls.append(option.label)
        return solved(case, option)

    monkeypatch.setattr(comparing, "solve", solve)
    chosen = combinations({"thickness": "45 mm, 50 mm, 56 mm, 70 mm"})
    found = compared(small_case, chosen, lambda step: None, verify=2)
    assert len(found.rows) == 5
    assert {row.label for row in found.rows if row.state == "solved in full"} == set(calls)
    assert len(calls) == len(set(calls)) == 3
    assert found.spread > 0
    for row in found.rows:
        assert (row.crosshead.peak_error is None) == (row.state == "predicted")
    masses = [row.mass for row in found.rows[1:]]
    assert masses == sorted(masses)
    use = [row.deflection_utilisation for row in found.rows[1:]]
    assert use == sorted(use, reverse=True)


def test_another_case_is_an_option(small_case, solved, monkeypatch):
    monkeypatch.setattr(comparing, "solve", lambda case, one, report: solved(case, one))
    thick = combinations({"thickness": "56 mm"})[0].apply(small_case)
    found = compared(small_case, [Other(file="thick", case=thick)], lambda step: None)
    base, other = found.rows
    assert other.label == "thick"
    assert other.state == "solved in full"
    assert other.mass == pytest.approx(layout.build(thick).mass)
    assert other.bed.mid_span_deflection < base.bed.mid_span_deflection


def test_what_cannot_be_built_is_refused_before_any_is_solved(small_case):
    with pytest.raises(CaseError, match="900 mm"):
        compared(small_case, combinations({"thickness": "50 mm, 900 mm"}), lambda step: None)


def test_a_failure_is_a_row(small_case, monkeypatch):
    def solve(case, option, report):
        raise evaluation.PlatestackError("no mesh")

    monkeypatch.setattr(comparing, "solve", solve)
    found = compared(small_case, combinations({"thickness": "56 mm"}), lambda step: None)
    assert [row.state for row in found.rows] == ["failed", "failed"]
    assert found.rows[0].reason == "no mesh"


def figures(deflection: float, stress: float) -> StackFigures:
    return StackFigures(1e8, None, stress, 1e-4, None, deflection, 10.0, 1.0)


def row(mass: float, deflection: float, stress: float, worst: float = 0.9) -> Row:
    one = figures(deflection, stress)
    return Row("x", "solved in full", "", one, one, mass, worst_utilisation=worst)


def test_the_front_is_within_limits_and_beaten_by_none():
    rows = [
        row(3, 0.3, 0.5),
        row(2, 0.4, 0.5),
        row(3.1, 0.3, 0.5),
        row(1, 2, 2, 2.0),
        row(2, 0.4, 0.4),
    ]
    assert front(rows) == [0, 4]
    assert beats(rows[4], rows[1])
    assert not beats(rows[0], rows[1])
    priced = [replace(r, cost=1 / r.mass) for r in rows[:2]]
    assert front(priced) == [0]


def test_one_plate_of_one_stack(small_case):
    case = combinations({"bed plate 2": "60..70 mm step 10 mm"})[1].apply(small_case)
    press = layout.build(case)
    assert [p.thickness for p in press.bed.plates] == pytest.approx([0.05, 0.07])
    assert [p.thickness for p in press.crosshead.plates] == pytest.approx([0.05, 0.05])
    both = layout.build(combinations({"plate 1": "40 mm", "plates": "3"})[0].apply(small_case))
    for stack in both.stacks:
        assert [p.thickness for p in stack.plates] == pytest.approx([0.04, 0.05, 0.05])


@pytest.mark.parametrize("name", ["plate", "plate 0", "bed", "bed rods", "ram", "bed rod-diameter"])
def test_what_cannot_be_varied_is_told(name):
    with pytest.raises(UsageError, match="cannot be varied"):
        combinations({name: "60 mm"})


def test_a_plate_that_is_not_there_is_told(small_case):
    with pytest.raises(UsageError, match="allowed: 1 to 2"):
        combinations({"plate 3": "60 mm"})[0].apply(small_case)


def test_varied_and_numbers_read_words():
    assert varied(["bed plate 2 = 60 mm"]) == {"bed plate 2": "60 mm"}
    assert numbers("0, 4", 4) == (0, 4)
    for bad in (["60 mm"], ["=60 mm"], ["a = 1", "a = 2"]):
        with pytest.raises(UsageError, match="--vary"):
            varied(bad)
    for text in ("5", "-1", "1, 1", "x", "0,1,2,3,4"):
        with pytest.raises(UsageError, match="--draw"):
            numbers(text, 4)


def test_the_case_says_what_to_vary(small_text):
    text = small_text + '\n[compare]\nverify = 2\nvary = { "plate 1" = "40 mm, 45 mm" }\n'
    case = case_file.parse(text, "small.toml")
    assert [c.label for c in combinations(case.compare.vary)] == ["plate 1 40 mm", "plate 1 45 mm"]


def test_what_depth_does_is_continued(small_case, solved):
    """Two solved options say how the miss of the hand calculation changes with depth."""
    of = {t: solved(small_case, combinations({"thickness": f"{t} mm"})[0]) for t in (45, 50, 56)}
    misses = []
    for learnt in ((50,), (45, 50)):
        predictor = Predictor()
        for thickness in learnt:
            predictor.learn(of[thickness])
        found = predictor.predict(of[56].case)
        misses.append(max(
            abs(found.stacks[n].deflection / s.deflection - 1) for n, s in of[56].stacks.items()
        ))  # fmt: skip
    assert misses[1] < 0.75 * misses[0]
