"""Seats and preload of a proposal: chosen, priced, explained, and taken by the other commands.

Expected values: the joint diagram (VDI 2230, not verified against the standard), and statics.
"""

from __future__ import annotations

import math

import pytest
from duties import DUTIES, duty_of

from platestack.fea.checks.frame import seat_strength
from platestack.fea.hand import cost, erection, joint
from platestack.fea.jobs import cutfiles, offcentre, sizing
from platestack.fea.jobs.tightening import sheet
from platestack.fea.solid import stack as stack_solver
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses
from tests.coarse import coarse_sizes

SMALL = ("20 tf, two rods", "30 tf, two rods on edge", "50 tf")


@pytest.fixture(scope="module")
def proposals():
    return {name: sizing.propose(duty_of(*DUTIES[name]), thorough=False) for name in SMALL}


@pytest.mark.parametrize("name", SMALL)
def test_rods_are_tightened_and_the_crosshead_rests_on_their_seats(name, proposals):
    made = proposals[name]
    case = case_file.parse(made.text)
    press = layout.build(case)
    rods = press.rods
    share = press.capacity / len(rods)
    assert case.rods.seat in ("sleeve", "shoulder", "inner nuts")
    # The seat stays closed with a tenth left; more than the rod ever bears is never needed.
    for rod in rods:
        least = (1 - joint.felt(rod).usual[0]) * share
        assert 0.9 * rod.preload > least
        assert rod.preload < 1.4 * share / 0.9
    sheet.tightenable(press)
    plan = erection.plan(press, case)
    assert not any("Nothing in this case carries the crosshead" in c for c in plan.cautions)
    assert not any("trestle" in support.name for step in plan.steps for support in step.supports)
    assert "how the crosshead is held up" not in made.text
    words = made.reasons["rods"]
    assert all(f"{other.plan.seat} " in words for other in made.seats)
    assert "Preload" in words


def test_the_seat_is_the_lightest_that_holds(proposals):
    for made in proposals.values():
        holding = [other for other in made.seats if other.checks[0].utilisation <= 1]
        assert made.plan == min(holding, key=lambda other: other.plan.press.mass).plan
        assert {other.plan.seat for other in made.seats} <= {"sleeve", "shoulder", "inner nuts"}


def test_a_seat_that_is_asked_for_is_taken():
    made = sizing.propose(duty_of("20 tf", "20 MPa", "250 mm", {"rods": 2, "seat": "shoulder"}),
                          thorough=False)  # fmt: skip
    assert made.plan.case.rods.seat == "shoulder"
    assert "as asked for" in made.reasons["rods"]
    assert not made.exceeded


def test_sleeves_are_priced_by_themselves(proposals):
    plan = proposals["20 tf, two rods"].plan
    assert plan.seat == "sleeve"
    bill = cost.bill(plan.press, plan.case, plan.case.prices)
    (item,) = (item for item in bill.items if item.name == "sleeves")
    rod = plan.press.rods[0]
    tube = math.pi / 4 * (rod.seat_outer**2 - rod.sleeve_inner**2) * rod.between
    assert item.quantity == pytest.approx(2 * tube * 7850)
    assert item.rate == 6.0
    # Rods bought by the piece are two, and sleeves without a price are missing from the total.
    pieces = plan.case.prices.model_copy(update={"rod": plan.case.prices.nut, "sleeve": None})
    bill = cost.bill(plan.press, plan.case, pieces)
    assert next(item.quantity for item in bill.items if item.name == "rods") == 2
    assert "sleeve" in bill.missing


def test_plates_bear_the_seats(proposals):
    """Preload over the annulus, against the yield of the plate over its factor."""
    plan = proposals["50 tf"].plan
    rod, press = plan.press.rods[0], plan.press
    checks = seat_strength(Statics(plan.case, press, {}, 0.0))
    under = next(c for c in checks if c.name.startswith("bed"))
    ring = math.pi / 4 * (rod.seat_outer**2 - rod.hole**2)
    assert under.value == pytest.approx(rod.preload / ring)
    assert under.limit == pytest.approx(335e6 / 1.5)  # S355 over 40 to 63 mm, EN 10025-2
    assert next(c for c in checks if "sleeve" in c.name).value == pytest.approx(under.value)


@pytest.mark.slow
def test_cut_tighten_and_offcentre_take_a_proposal(tmp_path, monkeypatch):
    """As one body each, on coarse meshes: which rods bear what is little changed by either."""
    wish = duty_of("20 tf", "20 MPa", "250 mm", {"rods": 2, "interface": "welded"})
    file = tmp_path / "press.toml"
    file.write_text(sizing.propose(wish, thorough=False).text, encoding="utf-8")
    press = layout.build(case_file.read(file))
    monkeypatch.setattr(stack_solver, "default_sizes", lambda *_: coarse_sizes(press))
    made = sheet.tighten(file, tmp_path / "tighten", lambda step: None, wanted=0.05, passes=None,
                         jacks=1)  # fmt: skip
    assert made.scatter <= 0.05
    assert made.highest <= 1
    assert made.preload == press.rods[0].preload
    outcome = offcentre.work_out(file, tmp_path / "off", lambda step: None, offset=None,
                                 tilt_limit=5e-4)  # fmt: skip
    on_axis = outcome.places[0]
    assert not on_axis.opened
    assert min(on_axis.clamp) > 0.1 * press.rods[0].preload
    assert sum(p.mass for p in masses.pieces(press)) == pytest.approx(press.mass, rel=1e-6)
    plates = sum(len(stack.plates) for stack in press.stacks)
    assert len(cutfiles.write(file, tmp_path / "cut", lambda step: None).rows) == plates
