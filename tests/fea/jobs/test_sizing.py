"""Sizing: duties from 20 to 2,000 tf give cases that hold by hand, or say what cannot be met.

Expected values: the duty itself, statics, and figures of built presses (common practice, no
source). The slow tests confirm by the full solution.
"""

from __future__ import annotations

import functools
import importlib
import math
import tomllib
from dataclasses import replace
from itertools import combinations
from types import SimpleNamespace

import pytest
from duties import DUTIES, duty_of
from hypothesis import example, given, settings
from hypothesis import strategies as st

from platestack.fea.checks.room import room_checks
from platestack.fea.hand.record import Check
from platestack.fea.jobs import sizing
from platestack.fea.jobs.sizing import by_hand, frame, search
from platestack.fea.jobs.sizing.headroom import why_no_room
from platestack.fea.jobs.sizing.proposal import shortfall
from platestack.fea.jobs.sizing.tried import Tried
from platestack.fea.solid.statics import Statics, single
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.units import percent

confirm = importlib.import_module("platestack.fea.jobs.sizing.confirm")


LONG = {
    "300 tf, six rods on edge", "800 tf on edge", "1000 tf, six rods", "2000 tf, eight rods"
}  # fmt: skip
"""Minutes each: `python -m tests.figures.sizes` solves these, and the others."""


@pytest.fixture(scope="module")
def proposed():
    """The proposal (made once) for a duty by its name."""

    @functools.cache
    def make(name: str) -> sizing.Proposal:
        return sizing.propose(duty_of(*DUTIES[name]), thorough=False)

    return make


HELD = [pytest.param(name, marks=pytest.mark.slow) if name in LONG else name for name in DUTIES]


@pytest.mark.parametrize("name", HELD)
def test_a_duty_gives_a_case_that_holds_by_hand(name, proposed):
    made = proposed(name)
    duty = made.plan.duty
    case = case_file.parse(made.text)
    assert case.press.capacity == pytest.approx(duty.capacity)
    assert case.press.daylight == pytest.approx(duty.daylight)
    assert case.press.working_pressure <= duty.allowed_pressure * (1 + 1e-9)
    asked = duty.rods, duty.layout, duty.interface
    assert (case.rods.count, case.bed.layout, case.bed.interface.kind) == asked
    # Statics: the piston gives the capacity.
    area = math.pi / 4 * case.ram.diameter**2
    assert area * case.press.working_pressure >= 0.999 * duty.capacity
    stock = set(tables.stock_thicknesses())
    for section in (case.crosshead, case.bed):
        assert {entry.blank or entry.thickness for entry in section.plates} <= stock
    # What the file says is what was checked, and it holds, or the file says what does not.
    checks = by_hand.checks(case, layout.build(case), duty, made.corrections)
    told = [c.name for c in made.checks if "brittle" not in c.name or c.name[:3] == "cyl"]
    assert [c.name for c in checks] == told
    for check in checks:
        if check.utilisation > 1:
            assert f"NOT MET: {check.name}" in made.text.replace("\n#  ", "")
    assert not made.exceeded, [(c.name, c.utilisation) for c in made.exceeded]


@pytest.mark.parametrize("name", ["500 tf", "160 tf on edge"])
def test_one_plate_less_does_not_hold(name, proposed):
    """The lightest: the next thinner or lower plates of the bed break a limit."""
    made = proposed(name)
    plan, plates = made.plan, made.plan.bed
    if plates.height is None:
        thinner = max(t for t in tables.stock_thicknesses() if t < plates.thickness)
        less = search.replace(plates, thickness=thinner)
    else:
        less = search.replace(plates, height=plates.height - 0.01)
    assert not Tried().holds(plan, "bed", less, made.corrections.stiffer(1.4))


def test_every_choice_is_explained(proposed):
    made = proposed("500 tf")
    text = made.text
    for table in ("press", "crosshead", "bed", "rods", "ram", "workpiece", "prices"):
        above = text.partition(f"\n[{table}]\n")[0].splitlines()[-1]
        assert above.startswith("#"), table
    assert max(map(len, text.splitlines())) <= 100
    assert tomllib.loads(text)["ram"]["diameter"] == "400 mm"
    assert "370 mm are needed" in made.reasons["ram"]


def test_what_cannot_be_met_is_told_with_by_how_much():
    made = sizing.propose(
        duty_of("250 tf", "32 MPa", "450 mm", {"ceiling": "1.5 m", "hoist": "300 kg",
                                               "budget": 2000.0}),
        thorough=False,
    )  # fmt: skip
    told = {check.name: check for check in made.exceeded}
    assert {"height standing on its feet", "heaviest lift with its slings",
            "cost of the press"} <= set(told)  # fmt: skip
    height = told["height standing on its feet"]
    assert shortfall(height) == f"{percent(height.value / 1.5 - 1)} over"
    # The cylinder is what is too heavy; the plates were chosen for the hoist.
    assert told["heaviest lift with its slings"].note.startswith("cylinder")
    case = case_file.parse(made.text)
    assert all(p.mass * 1.02 <= 300 for s in layout.build(case).stacks for p in s.plates)
    assert "NOT MET: height standing on its feet" in made.text


LOW_ROOM = ("150 tf", "28 MPa", "400 mm", {"ceiling": "2.6 m", "hoist": "1 t"})


def test_other_numbers_of_rods_are_tried_where_four_miss_a_limit(proposed, monkeypatch):
    """Thinner rods and nuts stand lower; a number that was asked for stays."""
    sought: list[int] = []
    base = proposed("50 tf").seats

    def lightest(duty, corrections, **how):
        sought.append(duty.rods)
        over = 1.0 if duty.rods == 6 else 1.2
        check = replace(base[0].checks[0], value=over * base[0].checks[0].limit)
        return [replace(base[0], checks=(check,))]

    monkeypatch.setattr(search, "lightest", lightest)
    made = sizing.propose(duty_of(*LOW_ROOM))
    assert sought == [4, 2, 6, 8]
    assert made.exceeded == ()
    assert "4 rods would miss a limit: " in made.reasons["rods"]
    sought.clear()
    made = sizing.propose(duty_of(*LOW_ROOM[:3], {**LOW_ROOM[3], "rods": 4}))
    assert sought == [4]
    assert made.exceeded


def test_a_lift_without_room_is_taken_apart(proposed):
    """The parts add up to the height needed, and with the daylight named the press fits."""
    made = proposed("50 tf")

    def under(ceiling: float) -> tuple[sizing.Duty, Check]:
        low = made.plan.duty.model_copy(update={"ceiling": ceiling})
        plan = replace(made.plan, duty=low)
        (found,) = (c for c in room_checks(plan.press, plan.case) if "highest lift" in c.name)
        return low, found

    low, missed = under(under(3.0)[1].value - 0.05)
    plan = replace(made.plan, duty=low)
    assert missed.utilisation > 1
    words = why_no_room(plan, missed)
    parts, _, remedies = words.partition("; it fits with ")
    lengths = [float(part.split()[0]) for part in parts.split(" + ")]
    assert sum(lengths) == pytest.approx(1e3 * missed.value, abs=1)
    daylight = float(remedies.removeprefix("a daylight of ").split()[0]) / 1e3

    def fits(daylight: float) -> bool:
        lower = replace(plan, duty=low.model_copy(update={"daylight": daylight}))
        return all(c.utilisation <= 1 for c in room_checks(lower.press, lower.case))

    assert fits(daylight)
    assert not fits(daylight + 0.01)
    assert why_no_room(plan, made.checks[0]) == ""


@pytest.mark.slow
def test_alternatives_turn_the_way_they_must(proposed):
    base = proposed("50 tf")
    found = {row.label: row for row in sizing.alternatives(base)}
    assert {"2 rods", "6 rods", "on edge", "welded plates"} <= set(found)
    higher = found["up to 35 MPa"].made
    assert higher.plan.bore < base.plan.bore
    assert found["6 rods"].made.plan.rod < base.plan.rod
    assert found["welded plates"].made.mass < base.mass  # up to n² stiffer
    thinner = next(found[name].made for name in found if name.startswith("plates up to"))
    assert thinner.plan.bed.count > base.plan.bed.count


@pytest.mark.slow
@settings(max_examples=8, deadline=None)
@given(st.floats(20, 200), st.floats(1.01, 1.5))
@example(116.0, 1.0625)  # the least rod holds only between plates that were made for it
def test_more_capacity_never_gives_a_lighter_press(capacity, more):
    light, heavy = (
        sizing.propose(duty_of(f"{c:.6g} tf", "25 MPa", "300 mm", {"rods": 2}))
        for c in (capacity, capacity * more)
    )
    assert not light.exceeded
    assert heavy.mass >= light.mass * (1 - 1e-9)


@pytest.mark.slow
def test_a_little_more_capacity_is_no_lighter():
    masses_of = [
        sizing.propose(duty_of(f"{c} tf", "25 MPa", "300 mm", {"rods": 2})).mass for c in (30, 33)
    ]
    assert masses_of[1] >= masses_of[0]


@pytest.mark.parametrize("name", ["30 tf, two rods on edge", "160 tf on edge"])
def test_platens_end_with_the_plates(name, proposed):
    """Not between the rods, where they would press on bent plates with a sharp end."""
    for stack in proposed(name).plan.press.stacks:
        assert "as long as its plates" in proposed(name).reasons[stack.name]
        (platen,) = (plate for plate in stack.plates if plate.role == "platen")
        for plate in stack.main_plates:
            assert [x for x, _, _ in plate.bounds] == pytest.approx(
                [x for x, _, _ in platen.bounds]
            )


def test_a_solution_thickens_the_part_that_it_names(proposed):
    made = proposed("30 tf, two rods on edge")
    press = made.plan.press

    def solved(over: dict[str, float]) -> Statics:
        """What beams say, and stresses as given over what is allowed."""
        stacks = {
            stack.name: SimpleNamespace(
                deflection=0.0,
                peaks=[
                    SimpleNamespace(plate=plate, von_mises=over.get(name, 0.5), allowed=1.0)
                    for plate in stack.plates
                    if (name := f"{stack.name} {plate.role}")
                ],
            )
            for stack in press.stacks
        }
        found = single(by_hand.beams(press))
        return Statics(made.plan.case, press, stacks, 0.0, found)

    assert confirm.corrected(made, solved({})) == made.corrections
    corrections = confirm.corrected(made, solved({"bed platen": 1.2, "crosshead saddle": 1.4}))
    assert corrections == sizing.CorrectionFactors(least=corrections.least)
    usual, again = made.plan.case, replace(made.plan, least=corrections.least).case
    assert again.bed.platen.thickness >= 1.2 * usual.bed.platen.thickness
    assert again.crosshead.saddle.thickness >= 1.4 * usual.crosshead.saddle.thickness
    assert again.crosshead.platen == usual.crosshead.platen
    assert again.bed.saddle == usual.bed.saddle


def room(count: int, a: float, b: float) -> float:
    """Least clearance (m) of rods of 80 mm about a cylinder of 1.6 m: outermost at a, b (m)."""
    columns = max(count // 2, 2)
    rows = (-b, b) if count > 2 else (0.0,)
    places = [(a * (2 * i / (columns - 1) - 1), y) for y in rows for i in range(columns)]
    assert len(places) == count
    washer = frame.bearing(0.08)
    apart = [math.dist(one, two) - washer - 0.01 for one, two in combinations(places, 2)]
    off = min(math.hypot(*place) for place in places) - 0.8
    return min(*apart, off - washer / 2 - 0.005, off - layout.rod_hole(0.08) / 2 - 0.02)


@pytest.mark.parametrize("count", [2, 4, 6, 8])
def test_rods_and_washers_have_room_and_no_more(count):
    """Rows 10 mm nearer, which is what two steps of pitch and plate may add, would crowd.

    Four rods are left out there: they have room beside the cylinder, whatever the plates' width.
    """
    made = frame.flat(duty_of("100 tf", "30 MPa", "300 mm", {"rods": count}), 1.6, 0.08)
    a, b = made.pitch[0] / 2, made.pitch[-1] / 2
    assert room(count, a, b) >= -1e-9
    assert count == 4 or room(count, a - 0.01, b) < 0
    assert count <= 4 or room(count, a, b - 0.01) < 0


def test_rods_between_plates_on_edge_have_room_and_no_more():
    """Gaps between the four plates inside grow by steps of 5 mm until eight rods have room."""
    duty = duty_of("100 tf", "30 MPa", "300 mm", {"rods": 8, "layout": "on edge"})
    made = frame.on_edge(duty, 1.6, 0.08, 8, 0.04)
    a, b = made.pitch[0] / 2, made.pitch[1] / 2
    assert room(8, a, b) >= -1e-9
    assert room(8, a, b - (3 * 0.005 + 0.01) / 2) < 0


# --- fatigue


def test_rods_grow_with_the_pressings_they_are_to_stand(proposed):
    """Fatigue of the thread governs, though the thread feels only what preload leaves to it."""
    many = sizing.propose(duty_of(*DUTIES["50 tf"][:3], {"cycles": 500_000}), thorough=False)
    assert "fatigue" in many.reasons["rods"]
    assert many.plan.rod > proposed("50 tf").plan.rod


# --- the full solution


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(set(DUTIES) - LONG))
def test_a_full_solution_confirms_the_proposal(name, proposed):
    made = sizing.confirm(proposed(name))
    assert not made.exceeded, made.confirmed
    assert made.confirmed and case_file.parse(made.text)  # noqa: PT018
