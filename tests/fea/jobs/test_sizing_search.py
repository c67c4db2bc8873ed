"""What no press can meet: refused after each plate was bent once, with the reason and its number.

Expected values: the search without a memory, which tries all anew; statics of uniform leaves.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from duties import duty_of

from platestack.fea.hand import section
from platestack.fea.jobs import sizing
from platestack.fea.jobs.sizing import plan, search, tried
from platestack.geometry import case as case_file
from platestack.geometry.errors import UsageError
from platestack.geometry.layout import rod_positions
from platestack.geometry.parts import Material, Plate
from platestack.geometry.shapes import Outline, RoundHole

HOPELESS = {
    "deflection": ({"deflection": "0.01 mm/m"}, "mid-span deflection"),
    "deflection, on edge": ({"deflection": "0.01 mm/m", "layout": "on edge"}, "mid-span"),
    "span": ({"length": "5 m", "thickest": "30 mm"}, "mid-span deflection"),
    "lifting": ({"hoist": "5 kg"}, "heaviest lift with its slings"),
    "room": ({"ceiling": "300 mm"}, "height standing on its feet"),
    "money": ({"budget": 10.0}, "cost of the press"),
    "pressings": ({"cycles": 1_000_000_000}, "fatigue of the thread"),
}


def test_plates_from_20_mm_on_are_tried():
    """The thinnest of plate that is sold as heavy; thinner is sheet (common practice)."""
    made = plan.start(duty_of("30 tf", "25 MPa", "250 mm", {"thickest": "30 mm"}), 0.125, 0.045)
    assert search._stocks(made) == [0.02, 0.025, 0.03]


HOIST = 40  # kg


def test_a_hoist_sorts_out_flat_plates_alone():
    """Plates and 2 % of slings, at least 2 kg; upright ones are cut to their height later."""
    for layout, wish in (("flat", True), ("on edge", False)):
        more = {"hoist": f"{HOIST} kg", "thickest": "60 mm", "layout": layout, "rods": 4}
        made = plan.start(duty_of("60 tf", "25 MPa", "250 mm", more), 0.2, 0.06)
        free = replace(made, duty=made.duty.model_copy(update={"hoist": None}))
        every, held = search._stocks(free), search._stocks(made)
        each = [t * made.frame.length * made.frame.width * 7850 for t in every]
        lifted = [
            t for t, mass in zip(every, each, strict=True) if max(1.02 * mass, mass + 2) <= HOIST
        ]
        assert held == (lifted if wish else every)
        assert 0 < len(lifted) < len(every)


def test_spacers_stand_midway_between_eight_rods():
    """Upright plates span from rod to rod: a third of the outer pitch each."""
    duty = duty_of("100 tf", "30 MPa", "300 mm", {"rods": 8, "layout": "on edge"})
    made = plan.start(duty, 0.25, 0.045)
    at = made.case.bed.spacers.at
    xs = sorted({x for x, _ in rod_positions(made.case)})
    assert at == pytest.approx([(a + b) / 2 for a, b in pairwise(xs)])


class Forgetful(tried.Tried):
    """Tries all anew each time."""

    def holds(self, *given):
        self._bent.clear()
        return super().holds(*given)

    def once(self, find, plan):
        return find(plan)


@pytest.fixture
def bent(monkeypatch):
    """How often the plates of each plan were bent."""
    times: Counter[tuple] = Counter()
    bend = tried._bend

    def counted(plan, name, plates, factors):
        times[name, plates, *plan.choices] += 1
        return bend(plan, name, plates, factors)

    monkeypatch.setattr(tried, "_bend", counted)
    return times


def thirty(more):
    return duty_of("30 tf", "25 MPa", "300 mm", {"rods": 2, **more})


@pytest.fixture
def fewer(monkeypatch):
    """A search of fewer plates and rods, which goes the same ways."""
    monkeypatch.setattr(search, "MOST", 3)
    monkeypatch.setattr(search, "MOST_RODS", 2)
    monkeypatch.setattr(search, "UPRIGHT", (4,))


@pytest.mark.parametrize("name", HOPELESS)
def test_hopeless_duties_are_refused_after_each_plate_was_bent_once(name, bent, fewer):
    more, stands_in_the_way = HOPELESS[name]
    made = sizing.propose(thirty(more))
    told = [check for check in made.exceeded if stands_in_the_way in check.name]
    assert told, [check.name for check in made.exceeded]
    assert told[0].value > told[0].limit > 0
    assert set(bent.values()) == {1}


@pytest.mark.parametrize("more", [{}, {"deflection": "0.01 mm/m"}, {"hoist": "5 kg"}])
def test_what_is_remembered_changes_no_proposal(more, bent, fewer, monkeypatch):
    made = sizing.propose(thirty(more))
    once = bent.total()
    monkeypatch.setattr(search, "Tried", Forgetful)
    again = sizing.propose(thirty(more))
    assert again.text == made.text
    assert again.checks == made.checks
    assert bent.total() - once > 1.5 * once


def test_a_stricter_reserve_is_answered_without_bending(bent):
    plan = sizing.propose(thirty({}), thorough=False).plan
    bent.clear()
    memory, corrections = tried.Tried(), sizing.CorrectionFactors()
    assert memory.holds(plan, "bed", plan.bed, corrections)
    assert not memory.holds(plan, "bed", plan.bed, corrections.stiffer(100.0))
    assert memory.holds(plan, "bed", plan.bed, corrections)
    assert bent.total() == 1
    # Refused by bending alone: laxer corrections need what the beam leaves out as well.
    memory = tried.Tried()
    assert not memory.holds(plan, "bed", plan.bed, corrections.stiffer(100.0))
    assert memory.holds(plan, "bed", plan.bed, corrections)


def test_a_bed_on_edge_that_is_too_narrow_is_told_the_least_that_would_do():
    wish = {"layout": "on edge", "rods": 4}
    with pytest.raises(UsageError, match="allowed: at least") as caught:
        sizing.propose(thirty({**wish, "width": "100 mm"}))
    least = re.search(r"at least ([\d.]+) mm", str(caught.value)).group(1)
    short = f"{float(least) - 1:.7g} mm"
    with pytest.raises(UsageError, match=f"at least {least} mm"):
        sizing.propose(thirty({**wish, "width": short}))
    made = sizing.propose(thirty({**wish, "width": f"{least} mm"}), thorough=False)
    assert made.plan.frame.width == pytest.approx(float(least) / 1e3)


def test_rods_too_thick_for_thin_plates_on_edge_stand_between_thick_ones():
    """Their washers bear on the plates beside the gap, which plates of 20 or 50 mm cannot offer."""
    wish = {"rods": 6, "layout": "on edge", "cycles": 1_000_000_000}
    made = sizing.propose(duty_of("300 tf", "32 MPa", "500 mm", wish), thorough=False)
    assert made.plan.bed.thickness > 0.02  # preloaded rods, and so their washers, are thinner
    case_file.parse(made.text)  # it refuses washers that do not lie on plates


def test_soft_plates_under_eight_rods_load_the_inner_ones_most():
    """Outer rods would push if they were loose; the inner ones bear more than their limit."""
    wish = {"rods": 8, "layout": "on edge", "thickest": "25 mm", "length": "3 m"}
    made = sizing.propose(duty_of("300 tf", "32 MPa", "500 mm", wish), thorough=False)
    use = {c.name: c.utilisation for c in made.exceeded}
    assert {f"rod {n}: tension in the thread" for n in (2, 3, 6, 7)} <= set(use)
    assert not {f"rod {n}: tension in the thread" for n in (1, 4, 5, 8)} & set(use)


def test_leaves_that_are_alike_are_as_stiff_as_each_cut_by_itself():
    """EI of n uniform leaves is n E b t³ / 12, κGA n 5/6 G b t; b without the hole's chord."""
    steel = Material("steel", 210e9, 0.3, 7850.0, 355e6, 470e6, "")
    holes = (RoundHole((0.1, 0.0), 0.08, "rod"),)
    plates = tuple(
        Plate(f"plate {i}", "plate", Outline(1.0, 0.4), 0.06, 0.06 * i, steel, "z", holes)
        for i in range(5)
    )
    found = section.stiffness(plates, np.array([-0.3, 0.1]), welded=False)
    width = np.array([0.4, 0.32])
    assert found.bending == pytest.approx(5 * 210e9 * width * 0.06**3 / 12)
    assert found.shear == pytest.approx(5 * 5 / 6 * 210e9 / 2.6 * width * 0.06)
    assert found.fibre == pytest.approx(6 / (width * 0.06**2) / 5)
    one = section.stiffness(plates, np.array([-0.3, 0.1]), welded=True)
    assert one.bending == pytest.approx(210e9 * width * 0.3**3 / 12)
