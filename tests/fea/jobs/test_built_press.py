"""A press of 500 tf at 450 atm as `size` proposes it, beside what is told of those built.

All that is told is common practice, no source. No cycles are told: 5,000 is one pressing at
capacity a working day for 20 years. One row a figure; where it is missed, the row says why.
"""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import pytest
from duties import DUTIES, duty_of

from platestack.fea.checks.hydraulics import plant
from platestack.fea.checks.threads import thread_fatigue
from platestack.fea.hand import bolts, cost
from platestack.fea.hand.cylinder import ThickCylinder
from platestack.fea.jobs import sizing
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.jobs.sizing.plan import PressPlan, bores, rod_sizes, start
from platestack.fea.solid.statics import Statics
from platestack.geometry import layout, masses, tables

TF, ATM = 9806.65, 101325.0
DUTY = DUTIES["500 tf"]


@pytest.fixture(scope="module")
def proposed():
    """The proposal with loose or welded plates."""

    @functools.cache
    def make(interface: str = "loose") -> sizing.Proposal:
        more = {**DUTY[3], "interface": interface}
        return sizing.propose(duty_of(*DUTY[:3], more), thorough=False)

    return make


def mass_of(made: sizing.Proposal, *groups: str) -> float:
    return sum(p.mass for p in masses.pieces(made.plan.press) if p.group in groups)


def share_of_the_cylinder(made: sizing.Proposal, *without: str) -> float:
    bill = cost.bill(made.plan.press, made.plan.case, made.plan.case.prices)
    amounts = {item.name: item.amount for item in bill.items}
    return amounts["cylinder"] / (bill.total - sum(amounts[name] for name in without))


def without_preload(made: sizing.Proposal) -> PressPlan:
    """The proposal on the least rods whose threads bear the whole force in fatigue."""
    for rod in rod_sizes(made.plan.duty):
        if rod < made.plan.rod:
            continue
        plan = replace(made.plan, rod=rod)
        loose = tuple(replace(one, preload=0.0, seat="none") for one in plan.press.rods)
        press = replace(plan.press, rods=loose)
        found = by_hand.as_beams(
            plan.case, press, by_hand.beams(press), by_hand.CorrectionFactors()
        )
        if all(check.utilisation <= 1 for check in thread_fatigue(found)):
            return plan
    raise AssertionError("no rod of the tables endures the whole force")


def nut_without_preload(made: sizing.Proposal) -> float:
    nuts = [p.mass for p in masses.pieces(without_preload(made).press) if p.group == "nuts"]
    return nuts[0]


def fixing_bolt(made: sizing.Proposal) -> float:
    """An M33 through the bed, with head and nut (kg)."""
    nut = tables.nut(0.033)
    thread, depth = tables.thread("M33"), made.plan.press.bed.depth
    return bolts.mass(thread, depth, nut.across_flats, nut.height, 7850)


FIGURES = {
    # what: (told, how it is found, within)
    "bore that 450 atm need, m": (
        0.370, lambda m: math.sqrt(4 * 500 * TF / math.pi / (450 * ATM)), 0.005),
    "bore, the next of ISO 3320, m": (0.370, lambda m: m.plan.bore, 0.15),
    "wall of the cylinder, m": (0.050, lambda m: m.plan.press.cylinder.wall, 0.15),
    "a rod, kg": (130, lambda m: mass_of(m, "rods") / 4, 0.15),
    # Preload keeps the threads of the proposal from fatigue: its rods are thinner, so are its nuts.
    "a nut of a rod without preload, kg": (10, nut_without_preload, 0.25),
    "an M33 through much of the stack, kg": (5, fixing_bolt, 0.25),
    "cylinder, kg": (1000, lambda m: mass_of(m, "cylinder"), 0.15),
    # No sleeves are told; those that carry the crosshead here are a tenth of the whole.
    "cylinder of the cost, without sleeves and pump": (
        0.5, lambda m: share_of_the_cylinder(m, "sleeves", "pump"), 0.15),
    # A pump at 2,500, an eighth of the whole, is dear for such a press; prices are invented.
    "cylinder of the cost, without sleeves": (
        0.5, lambda m: share_of_the_cylinder(m, "sleeves"), 0.25),
    "the whole press, kg": (4000, lambda m: m.mass, 0.15),
    # Told to stand under 2 m.
    "height, m": (2.0, lambda m: m.height, 0.15),
}  # fmt: skip


@pytest.mark.parametrize("what", FIGURES)
def test_figure(what, proposed):
    told, found, within = FIGURES[what]
    assert found(proposed()) == pytest.approx(told, rel=within)


def test_bed_and_rods(proposed):
    """1.5 t are told. Welded plates come to a sixth less; loose ones, without friction, to more.

    Plates that slide bend n² times more and bear n times more stress, so bed and rods get a
    third too heavy. The built ones are squeezed by long M33 bolts: between the two. That is no
    margin of the sizing: the full solution of the loose proposal, whose outer plates lose 2 mm to
    machining, has its bed at 0.82 of what is allowed, where 0.89 are estimated, and two steps
    thinner it would not hold.
    """
    welded, loose = (mass_of(proposed(kind), "bed", "rods") for kind in ("welded", "loose"))
    assert 0.8 * 1500 < welded < 1500 < loose < 1.45 * 1500
    made = proposed()
    bent = next(c for c in made.checks if c.name.startswith("bed: peak stress estimated"))
    assert bent.utilisation == pytest.approx(0.89, abs=0.01)
    stock = tables.stock_thicknesses()
    thick = made.plan.bed.thickness
    thinner = stock[stock.index(thick) - 2]
    assert 0.82 * (thick / thinner) ** 2 > 1  # of one strength: 100 to 150 mm


def test_share_of_the_cylinder(proposed):
    """About half is told: of a press without sleeves and pump, between loose and welded plates.

    The loose press is heavier by a tonne of plates, which cost what the cylinder costs not.
    """
    loose, welded = (
        share_of_the_cylinder(proposed(kind), "sleeves", "pump") for kind in ("loose", "welded")
    )
    assert loose < 0.5 < welded
    assert welded == pytest.approx(loose, rel=0.15)


def test_sleeve_holds_more_than_1000_atm(proposed):
    """50 mm of wall on 370 mm, and the cylinder as proposed: burst, and yield of a drawn tube."""
    steel = tables.cylinder_grade("E355+N")
    yields, breaks = steel.yield_strength(0.05), steel.tensile_strength(0.05)
    told = ThickCylinder(0.185, 0.235)
    assert told.burst(yields, breaks) > 1000 * ATM
    made = proposed().plan.press.cylinder
    ours = ThickCylinder(made.bore / 2, made.outer_diameter / 2)
    assert ours.burst(made.material.yield_strength, made.material.tensile_strength) > 1000 * ATM
    # Cold drawing lifts the yield strength over 450 MPa (EN 10305-1, E355+C, not verified).
    assert told.collapse(450e6) > 1000 * ATM


def test_fixing_bolts_with_a_wrench_of_50_mm_are_m33():
    sizes = [name for name in tables.thread_names()
             if tables.wrench_size(tables.thread(name).d) == pytest.approx(0.050)]  # fmt: skip
    assert sizes == ["M33"]


def test_preload_is_what_makes_rods_and_nuts_lighter(proposed):
    made = proposed()
    loose = without_preload(made).press.rods[0].diameter
    assert made.plan.rod < loose
    # F/4 in M95x6, whose stress area is that of ISO 898-1 by ISO 724, against EN 1993-1-9.
    alone = 500 * TF / 4 / (math.pi / 4 * (0.095 - 0.9382 * 0.006) ** 2)
    allowed = 50e6 * (30 / 95) ** 0.25 * (2e6 / 5000) ** (1 / 3) / 1.35
    (check,) = (c for c in made.checks if c.name.endswith("fatigue of the thread"))
    bending = next(i.value for i in check.inputs if i.name == "σ_b")
    assert made.plan.rod == pytest.approx(0.095)
    assert check.utilisation < 1 < (alone + bending) / allowed


def test_pump_of_two_stages():
    """200 and 700 atm: a pump is derived with those stages, where the duty gives its last one.

    Its first stage goes to 200/700 of what the relief valve lets through, no more: with 700/200 of
    the flow it needs the power of the last stage, and no larger motor.
    """
    duty = duty_of("500 tf", None, "300 mm", {"pump": "700 atm", "stroke": "200 mm"})
    plan = start(duty, bores(duty)[0], 0.11)
    press = layout.build(plan.case)
    statics = Statics(plan.case, press, {}, 0.0)
    low, high = plant(statics, press.cylinder).stages
    assert high.pressure == pytest.approx(700 * ATM)
    # 1.1 times working pressure, common practice; the proof, 1.25 times, is within the pump's.
    valve = 1.1 * press.working_pressure
    assert valve < 1.25 * press.capacity_pressure <= high.pressure
    assert low.pressure == pytest.approx(200 / 700 * valve, rel=1e-4)  # five digits in the case
    assert low.pressure * low.flow == pytest.approx(valve * high.flow, rel=1e-4)
