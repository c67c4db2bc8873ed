"""Mass, lifts, standing and cost.

Expected values are closed forms of statics and plane geometry, or the mesh; densities as
EN 1991-1-1 Table A.4. Figures of a trade are marked as common practice, no source.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.checks.cost import cost_facts_of, priced
from platestack.fea.checks.room import room_checks, room_facts_of
from platestack.fea.hand import lifting
from platestack.fea.hand.cost import bill, plate_cost, with_steel_at
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses
from platestack.geometry.cutting.work import plan
from platestack.geometry.errors import CaseError
from platestack.geometry.masses import Piece
from platestack.geometry.shapes import Groove

CASES = Path(__file__).parents[3] / "cases"
PRICES = """
[prices]
currency = "crowns"
plate = "2 per kg"
cutting = "10 per m"
pierce = 3.0
machining = "100 per m2"
rod = "5 per kg"
nut = "30 per piece"
pump = "1000 per piece"
extra = { hoses = 200.0 }
"""


def block(mass, name="block", at=(0.0, 0.0, 0.0), half=0.5):
    low, high = (tuple(c + s * half for c in at) for s in (-1, 1))
    return Piece(name, "any", mass, at, low, high)


@pytest.mark.parametrize("name", ["small", "demo", "on_edge", "large", "off_centre"])
@pytest.mark.parametrize("which", ["bed", "crosshead"])
def test_mass_and_centre_equal_those_of_the_mesh(press_of, coarse_mesh, name, which):
    # Straight-sided volume of the corner tetrahedra: a chord of 36° loses 6 % of a hole's area,
    # which is below 0.5 % of the stack.
    press, mesh = press_of(name), coarse_mesh(name, which)
    p = mesh.nodes[mesh.tets[:, :4]]
    volume = np.abs(np.linalg.det(p[:, 1:] - p[:, :1])) / 6
    share = 2 ** len(mesh.symmetry)
    whole = masses.together("", [q for q in masses.pieces(press) if q.group == which])
    assert whole.mass == pytest.approx(share * 7850 * volume.sum(), rel=5e-3)
    z = (volume * p[:, :, 2].mean(axis=1)).sum() / volume.sum()
    assert whole.centre[2] == pytest.approx(z, abs=1e-3)


def test_masses_add_up(press_of):
    press = press_of("demo")
    parts = masses.pieces(press)
    by = {g: sum(p.mass for p in parts if p.group == g) for g in {p.group for p in parts}}
    assert sum(by.values()) == pytest.approx(press.mass)
    assert set(by) == {"bed", "crosshead", "rods", "sleeves", "nuts", "washers", "cylinder"}
    # Eight rings 160/95 mm, 20 mm thick or as given: π/4 (D² − d²) t ρ.
    rod = press.rods[0]
    ring = math.pi / 4 * (0.16**2 - rod.hole**2) * rod.washer_thickness * 7850
    assert by["washers"] == pytest.approx(8 * ring)


def test_heights_add_up(press_of):
    press = press_of("demo")
    parts = {p.name: p for p in masses.pieces(press)}
    order = ["lower nut of rod 1", "lower washer of rod 1", "bed plate 1", "bed plate 2"]
    for below, above in itertools.pairwise(order):
        assert parts[below].high[2] == pytest.approx(parts[above].low[2])
    rod = parts["rod 1"]
    out = press.rods[0].projection
    assert rod.high[2] == pytest.approx(parts["upper nut of rod 1"].high[2] + out)
    assert rod.height == pytest.approx(press.height)


def test_slings_weigh_a_fiftieth_or_two_kilograms():
    # Common practice, no source; what is given counts.
    assert [lifting.sling_mass(load, None) for load in (50, 100, 1000)] == [2, 2, 20]
    assert lifting.sling_mass(1000, 35) == 35


def test_tipping_and_jacks_by_statics():
    # A cube tips at 45°.
    assert lifting.tipping_angle(0.5, 0.5) == pytest.approx(math.pi / 4)
    # A uniform beam lifted at one end: half its weight.
    assert lifting.jack_force(10, 0.5, 1.0) == pytest.approx(5 * 9.80665)


def test_hook_height_of_a_plate_over_the_rods():
    # 2.0 m rods on 0.3 m feet, a cube of 1 m, slings at 45° (rise 0.5 m), 50 mm clear: 3.85 m.
    assert lifting.Lift(block(1.0), 2.0).hook_height(-0.3) == pytest.approx(3.85)


@given(st.lists(st.floats(1, 100), min_size=1, max_size=30), st.floats(50, 300))
def test_trips_hold_everything_once_and_never_too_much(weights, most):
    parts = [block(w, str(i)) for i, w in enumerate(weights)]
    made = lifting.trips(parts, most)
    assert sorted(p.name for trip in made for p in trip) == sorted(p.name for p in parts)
    assert all(sum(p.mass for p in t) <= most or len(t) == 1 for t in made)


def test_lifts_carry_the_whole_press_but_nuts_and_washers(press_of):
    for name in ("demo", "on_edge"):
        press = press_of(name)
        case = case_file.read(CASES / name / f"{name}.toml")
        parts = masses.pieces(press)
        lifted = sum(lift.load.mass for lift in lifting.lifts(press, case))
        small = sum(p.mass for p in parts if p.group in ("nuts", "washers"))
        assert lifted + small == pytest.approx(sum(p.mass for p in parts))
        for lift in lifting.lifts(press, case):  # no load stands higher than it was lifted
            assert lift.over >= lift.load.low[2] - 1e-9


def test_pieces_are_as_wide_as_their_parts(press_of):
    """What a lift must pass: a rod and its nuts about its axis, whatever its height."""
    press = press_of("demo")
    parts = {piece.name: piece for piece in masses.pieces(press)}
    across = press.rods[0].nut_across_flats * 2 / math.sqrt(3)  # corners of a hexagon
    for name, width in (("rod 1", 0.090), ("lower nut of rod 1", across),
                        ("upper washer of rod 1", 0.160), ("sleeve of rod 1", 0.140)):  # fmt: skip
        piece = parts[name]
        for axis in (0, 1):
            assert piece.high[axis] - piece.low[axis] == pytest.approx(width), name
            middle = (piece.high[axis] + piece.low[axis]) / 2
            assert middle == pytest.approx(press.rods[0].at[axis]), name


@pytest.mark.parametrize("along", ["x", "y"])
def test_a_groove_moves_the_centre_of_a_plate_away(along, small_press):
    """A slot of 20 × 30 mm, 50 mm off the middle of 460 × 180 × 50 mm, open above: statics."""
    groove = Groove(along, 0.05, 0.02, 0.03)
    plate = replace(small_press.bed.plates[0], holes=(groove,), grooved="+")
    lost = (0.46 if along == "x" else 0.18) * 0.02 * 0.03
    whole = 0.46 * 0.18 * 0.05
    off = -lost * 0.05 / (whole - lost)
    centre = masses.plate_centre(plate)
    assert centre[:2] == pytest.approx((0.0, off) if along == "x" else (off, 0.0))
    up = (whole * 0.025 - lost * 0.035) / (whole - lost)
    assert centre[2] - plate.base == pytest.approx(up)


def test_a_jack_bears_half_of_what_lies_on_the_other_edge(press_of, small_case):
    """The bed with its rods, tipped about one long side: half of its weight, by statics."""
    press = press_of("small")
    facts = room_facts_of(press, small_case)
    (jack,) = (fact for fact in facts if "jack force" in fact.name)
    weight = (press.bed.mass + sum(rod.mass for rod in press.rods)) * 9.80665
    assert jack.value == pytest.approx(weight / 2, rel=1e-3)


def test_shop_limits_become_checks(small_text):
    more = """[shop]
hook_height = "1.5 m"
floor_pressure = "1 MPa"
transport = "100 kg"
door = ["900 mm", "2 m"]
"""
    case = case_file.parse(small_text.replace("[shop]\n", more))
    press = layout.build(case)
    checks = {c.name: c for c in room_checks(press, case)}
    assert len(checks) == 8
    whole = masses.together("", masses.pieces(press))
    foot = checks["pressure under a foot"]
    assert foot.value == pytest.approx(whole.mass * 9.80665 / 4 / 0.15**2)
    tilt = checks["tilt at which the press tips"]
    feet = masses.feet_height(press, None)
    assert math.tan(math.radians(tilt.value)) == pytest.approx(0.14 / (whole.centre[2] + feet))
    assert tilt.sense == "at least"
    trips = [f for f in room_facts_of(press, case) if f.topic == "transport"]
    lifted = sum(lift.load.mass for lift in lifting.lifts(press, case))
    assert sum(t.value for t in trips) == pytest.approx(lifted)


def test_bill_by_hand(small_text):
    # Two rods, four plates 460 x 180 x 50 mm, four rod holes of 48 mm (under one thickness by
    # oxyfuel: cut undersize and bored), blanks of 55 mm cut along their outlines.
    case = case_file.parse(small_text + PRICES)
    press = layout.build(case)
    made = bill(press, case, case.prices)
    amounts = {item.name: item.amount for item in made.items}
    assert amounts["plate steel"] == pytest.approx(4 * 0.46 * 0.18 * 0.055 * 7850 * 2)
    hole = press.rods[0].hole
    run = 4 * (2 * (0.46 + 0.18) + 2 * math.pi * (hole - 0.008))
    assert amounts["cutting"] == pytest.approx(10 * run)
    assert amounts["pierces"] == 3 * 4 * 3
    # The loaded and the nut face of each stack are milled, and the walls of eight holes.
    net = 0.46 * 0.18
    assert amounts["machining"] == pytest.approx(100 * (4 * net + 8 * math.pi * hole * 0.05))
    assert amounts["nuts"] == 4 * 30
    assert amounts["rods"] == pytest.approx(5 * sum(r.mass for r in press.rods))
    assert made.total == pytest.approx(sum(amounts.values()))
    assert sum(made.share(i) for i in made.items) == pytest.approx(1)
    assert set(made.missing) == {"washer", "cylinder"}
    # Of four plates alike but for milling: the sum is that of the bill.
    plates = sum(plate_cost(work, case.prices) for work in plan(press, case.cutting))
    parts = ("plate steel", "cutting", "pierces", "machining")
    assert plates == pytest.approx(sum(amounts[part] for part in parts))


@given(st.floats(0.1, 10))
def test_total_is_linear_in_the_price_of_steel(factor):
    case, press = _priced()
    base = bill(press, case, case.prices)
    steel = next(i.amount for i in base.items if i.name == "plate steel")
    other = bill(press, case, with_steel_at(factor, case.prices))
    assert other.total == pytest.approx(base.total + (factor - 1) * steel)


@functools.cache
def _priced():
    """Case and press, made once: hypothesis takes no fixtures of a test."""
    text = (CASES / "small" / "small.toml").read_text(encoding="utf-8")
    case = case_file.parse(text + PRICES)
    return case, layout.build(case)


def test_summary_carries_total_and_breakdown(small_solution, small_text):
    from platestack.fea.results.summary import summarise

    assert summarise(small_solution, "small.toml").cost.value is None
    case = case_file.parse(small_text + PRICES)
    made = summarise(replace(small_solution, case=case), "small.toml")
    assert made.cost.unit == "crowns"
    assert made.cost.value == pytest.approx(priced(small_solution.press, case).total)
    facts = [f for f in made.facts if f.topic == "cost" and not f.name.startswith("total")]
    assert sum(f.value for f in facts) == pytest.approx(made.cost.value)
    assert "washer" in made.cost.note
    assert made.mass.value == pytest.approx(
        sum(p.mass for p in masses.pieces(small_solution.press))
    )


def test_no_prices_no_facts(small_press, small_case):
    assert cost_facts_of(small_press, small_case) == []


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('"2 per kg"', '"2 per m"', "prices.plate"),
        ('"2 per kg"', "2.0", "prices.plate"),
        ('"2 per kg"', '"-2 per kg"', "prices.plate"),
        ('"1000 per piece"', '"7 per kg"', "prices.pump"),
        ("pierce = 3.0", 'pierce = "3"', "prices.pierce"),
        ("pierce = 3.0", "pierce = -1.0", "prices.pierce"),
        ('currency = "crowns"\n', "", "prices.currency"),
    ],
)
def test_bad_prices_are_told(small_text, old, new, key):
    assert old in PRICES
    with pytest.raises(CaseError, match=key.replace(".", r"\.")):
        case_file.parse(small_text + PRICES.replace(old, new))
