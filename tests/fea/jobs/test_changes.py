"""What to change: each line, applied, brings its check below the limit in the full solution."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from types import SimpleNamespace

import pytest

from platestack.fea.app.console.summary import print_summary
from platestack.fea.app.report import content
from platestack.fea.checks import all_checks
from platestack.fea.jobs.changes import _climb, _ladders, changes, recorded
from platestack.fea.jobs.quick import key, worst
from platestack.fea.results.summary import summarise
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import layout

CASES = Path(__file__).parents[3] / "cases"
PRICES = '\n[prices]\ncurrency = "EUR"\nplate = "2 per kg"\nrod = "4 per kg"\n'


def solved(case, solve_coarse) -> Solution:
    return Solution(case, layout.build(case), solve_coarse(case), 0.0)


@pytest.fixture(scope="module")
def failing(welded_text, solve_coarse) -> Solution:
    """The small press with plates half as thick, and five times the pressings."""
    text = welded_text.replace("2 x 50 mm", "2 x 25 mm").replace(
        "cycles = 10_000", "cycles = 50_000"
    )
    return solved(case_file.parse(text + PRICES, "thin.toml"), solve_coarse)


@pytest.fixture(scope="module")
def lines(failing):
    return changes(failing.case, failing.press, all_checks(failing))


def test_each_line_holds_when_it_is_applied(failing, lines, solve_coarse):
    exceeded = {key(check.name) for check in all_checks(failing) if check.utilisation > 1}
    assert lines
    assert {key(line.check) for line in lines} <= exceeded
    for words in {line.words for line in lines}:
        own = [line for line in lines if line.words == words]
        then = worst(all_checks(solved(own[0].case, solve_coarse)))
        for line in own:
            assert then[key(line.check)].utilisation <= 1, line.words
            assert line.use <= 1


def test_mass_and_cost_are_those_of_the_changed_press(failing, lines):
    for line in lines:
        more = layout.build(line.case).mass - failing.press.mass
        assert line.mass == pytest.approx(more, abs=1e-9)
        if line.words.startswith(("crosshead.plates", "bed.plates")):
            # Blanks of 460 × 180 mm at 2 EUR/kg, and two rods of 45 mm at 4 EUR/kg that grow too.
            deeper = sum(
                getattr(now, name).depth - getattr(failing.press, name).depth
                for now in (layout.build(line.case),)
                for name in ("crosshead", "bed")
            )
            each = 0.46 * 0.18 * 2 + 2 * math.pi / 4 * 0.045**2 * 4
            assert line.cost == pytest.approx(7850 * deeper * each, rel=1e-4)


def test_where_nothing_is_exceeded_nothing_is_changed(small_case, small_press, small_solution):
    assert changes(small_case, small_press, all_checks(small_solution)) == []


def test_a_value_is_changed_little_by_little(press_of):
    """Sizes and the pressure begin within 15 % of what they are, and go on one way."""
    case, press = case_file.read(CASES / "demo" / "demo.toml"), press_of("demo")
    made = press.cylinder
    sizes = {
        "outer_diameter": made.outer_diameter, "bottom_thickness": made.bottom,
        "piston_length": made.piston, "gland_length": made.gland,
        "thread_length": made.thread_length,
    }  # fmt: skip
    found: dict[str, list[float]] = {}
    for ladder in _ladders(case, press):
        for step in ladder:
            what = step.words.split(":")[0].removeprefix("cylinder.")
            if what in sizes:
                then = getattr(step.case.cylinder, what)
                found.setdefault(what, []).append(then / sizes[what])
            elif what == "press.working_pressure":
                now = step.case.press.working_pressure / case.press.working_pressure
                found.setdefault(f"{what} {'up' if now > 1 else 'down'}", []).append(now)
    assert len(found) == len(sizes) + 2
    for what, ratios in found.items():
        assert len(ratios) == 8, what
        away = [abs(ratio - 1) for ratio in ratios]
        assert 0 < away[0] <= 0.15, what
        assert away == sorted(away), what
        assert away[-1] < 1, what


def test_rods_between_plates_on_edge_ask_for_their_number(press_of):
    """One plate more or less would move the gaps in which the rods stand."""
    case = case_file.read(CASES / "on_edge" / "on_edge.toml")
    for step in itertools.chain(*_ladders(case, press_of("on_edge"))):
        for name in ("crosshead", "bed"):
            now, then = getattr(case, name), getattr(step.case, name)
            if then.layout == "on edge":
                assert sum(p.count for p in then.plates) == sum(p.count for p in now.plates)


class Judged:
    """Uses of limits by the step, in place of those of presses."""

    def __init__(self, now, then):
        self.now, self._then = now, then

    def uses(self, step):
        return self._then[step]

    def exact(self, about):
        return True


@pytest.mark.parametrize(
    ("then", "first"),
    [
        ([{"a": 1.1, "b": 0.9}, {"a": 0.9, "b": 0.9}, {"a": 0.8, "b": 0.9}], 1),
        ([{"a": 0.9, "b": 1.1}, {"a": 0.8, "b": 0.9}], 1),  # a limit that held is broken
        ([None, {"a": 1.0, "b": 1.0}], 1),  # cannot be built; just holds
        ([{"a": 1.2, "b": 0.9}, {"a": 1.2, "b": 0.9}, {"a": 0.5, "b": 0.9}], None),  # of no help
        ([{"a": 1.2, "b": 0.9}, {"a": 1.1, "b": 0.9}, {"a": 0.5, "b": 0.9}], 2),
    ],
)
def test_the_first_step_that_holds_is_taken(then, first):
    judge = Judged({"a": 1.2, "b": 0.95}, then)
    ladder = [SimpleNamespace(case=number) for number in range(len(then))]
    found = _climb(ladder, judge, {"a"})
    assert ({about: step.case for about, (step, _) in found.items()}) == (
        {} if first is None else {"a": first}
    )


def test_a_ladder_ends_where_what_is_left_is_not_helped():
    """The first step mends one limit, none the other: no further step is looked at."""
    then = [{"a": 0.9, "b": 1.2}, {"a": 0.8, "b": 1.2}, {"a": 0.7, "b": 0.9}]
    judge = Judged({"a": 1.2, "b": 1.2}, then)
    ladder = [SimpleNamespace(case=number) for number in range(len(then))]
    assert {a: step.case for a, (step, _) in _climb(ladder, judge, {"a", "b"}).items()} == {"a": 0}


def test_lines_stand_before_the_table_and_in_the_dossier(failing, capsys):
    summary = summarise(failing, "thin.toml").model_copy(update={"changes": recorded(failing)})
    print_summary(summary)
    printed = " ".join(capsys.readouterr().out.split())
    assert printed.index("What to change") < printed.index("Utilisation, worst first")
    for change in summary.changes:
        assert " ".join(change.sentence().split()) in printed
    tables = [b for b in content._glance(summary, failing.press).blocks if hasattr(b, "rows")]
    assert tables[0].rows == tuple((c.check, c.sentence()) for c in summary.changes)
