"""Gland, flange, return stroke and overload on a whole press; expected values by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platestack.fea.checks.cylinder import overload, relief
from platestack.fea.checks.fixing import fixing, stub
from platestack.fea.checks.flange import fixing_facts, flange
from platestack.fea.checks.gland import gland
from platestack.fea.checks.overload import overloaded
from platestack.fea.checks.returning import returning, returning_facts
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError

RAM = '[ram]\ndiameter = "125 mm"\n'
FLANGE = (
    RAM + 'outer_diameter = "176 mm"\nflange = { outer_diameter = "260 mm", thickness = "40 mm" }\n'
    '[ram.fixing]\nthread = "M20"\ncount = 8\npull = "80 kN"\n'
)
SPRING = (
    '[cylinder.return_spring]\ncount = {count}\nwire = "10 mm"\ncoil = "70 mm"\ncoils = 20\n'
    'free_length = "{free}"\nfitted_length = "370 mm"\n'
)


def named(records):
    return {record.name: record for record in records}


@pytest.fixture
def changed(small_text, small_solution):
    """The small press with other lines, its plates solved as they are."""

    def solved(more: str = "", ram: str = RAM):
        case = case_file.parse(small_text.replace(RAM, ram) + more, "small.toml")
        return replace(small_solution, case=case, press=layout.build(case))

    return solved


def test_screwed_gland_at_relief_pressure(changed):
    plain, higher = changed(), changed('[hydraulics]\nrelief = "30 MPa"\n')
    made = plain.press.cylinder
    force = 1.1 * 25e6 * math.pi / 4 * 0.125**2
    wall = named(gland(plain))["cylinder gland: wall behind the thread at full stroke"]
    area = math.pi / 4 * (made.outer_diameter**2 - (0.125 + 1.5 * 6e-3) ** 2)
    assert wall.value == pytest.approx(force / area)
    for low, high in zip(gland(plain), gland(higher), strict=True):
        assert high.value == pytest.approx(low.value * 30 / 27.5)


def test_bolted_gland_by_hand(changed):
    more = (
        '[cylinder]\nouter_diameter = "200 mm"\n'
        '[cylinder.gland_bolts]\nthread = "M16"\ncount = {}\n'
    )
    # The plates are 180 mm wide: the wall bears with less than its width.
    ram = RAM + 'outer_diameter = "170 mm"\n'
    few, many = (changed(more.format(count), ram) for count in (8, 16))
    assert not any("screwed" in check.name or "thread shear" in check.name for check in gland(few))
    checks = named(gland(few))
    # All of the push, 371 kN, on eight bolts of 156.7 mm² (ISO 898-1), of which they feel a part.
    parting = checks["cylinder gland bolts M16: least preload against parting at full stroke"]
    each = 1.1 * 25e6 * math.pi / 4 * 0.125**2 / 8
    assert 0.5 * each < parting.limit < each
    tension = checks["cylinder gland bolts M16: tension at full stroke"]
    feels = tension.value * 156.67e-6 - next(i.value for i in tension.inputs if i.name == "F_V")
    assert feels == pytest.approx(each - parting.limit, rel=0.01)
    for check in gland(many):
        assert check.utilisation <= checks[check.name].utilisation + 1e-12


def test_flange_by_hand(changed):
    made = changed(ram=FLANGE)
    checks = named(flange(made))
    outer = made.press.cylinder.outer_diameter
    # Pressing: 3 p (c/t)², p over the annulus from bore to 176 mm.
    p = 1.1 * 25e6 * 0.125**2 / (0.176**2 - 0.125**2)
    c = (0.176 - outer) / 2
    out = checks["cylinder flange: bending where it stands out of the wall"]
    assert out.value == pytest.approx(3 * p * (c / 0.04) ** 2)
    # The bolts in the middle of the overhang: m = n, so leverage is at most half.
    one = stub(made, made.case.ram.fixing)
    assert one.lever == pytest.approx((0.26 - outer) / 4)
    assert one.pried == pytest.approx(1.5)
    pulled = checks["cylinder flange: pull on a bolt with its leverage"]
    weight = made.press.cylinder.mass * 9.80665
    assert pulled.value == pytest.approx((80e3 + weight) / 8)
    plain = changed(ram=RAM + FLANGE[FLANGE.index("[ram.fixing]") :] + 'grip = "40 mm"\n')
    tight = named(fixing(made)), named(fixing(plain))
    name = "cylinder fixing bolts M20: least preload against parting"
    assert tight[0][name].limit == pytest.approx(1.5 * tight[1][name].limit)
    facts = named(fixing_facts(made))
    assert "wrench size 30 mm" in facts["cylinder fixing bolts M20: tightening torque"].note
    assert facts["cylinder fixing bolts M20: largest prying factor"].value == 1.5
    assert not flange(plain)


def test_annulus_returns_the_ram(changed):
    (check,) = returning(changed())
    (fact,) = returning_facts(changed())
    made = changed().press.cylinder
    annulus = math.pi / 4 * (0.125**2 - 0.1**2)
    assert check.value == pytest.approx(2 / 7 * 27.5e6 * annulus)
    friction = 0.3e6 * math.pi / 4 * 0.125**2
    assert check.limit == pytest.approx(friction + made.ram_mass * 9.80665)
    assert fact.value == pytest.approx(check.limit / annulus)
    (tooled,) = returning(changed('[cylinder]\ntooling = "100 kg"\n'))
    assert tooled.limit == pytest.approx(check.limit + 980.665)
    (standing,) = returning(changed(ram=RAM + 'mounted = "bed"\n'))
    assert standing.limit == pytest.approx(friction - made.ram_mass * 9.80665)


def test_springs_return_the_ram(changed):
    checks = named(returning(changed(SPRING.format(count=4, free="500 mm"))))
    # R = 81.5e9 · 10⁻⁸ / (8 · 0.07³ · 20) = 14.85 kN/m; 130 mm fitted, the stroke more when out.
    rate = 81.5e9 * 0.01**4 / (8 * 0.07**3 * 20)
    force = checks["return stroke: force of the springs, ram in"]
    assert force.value == pytest.approx(4 * rate * 0.13)
    stress = checks["return springs: shear stress, stroke out"]
    stroke = changed().press.cylinder.stroke
    inputs = {one.name: one.value for one in stress.inputs}
    assert inputs["F"] == pytest.approx(rate * (0.13 + stroke))
    weak = named(returning(changed(SPRING.format(count=1, free="400 mm"))))
    assert weak[force.name].utilisation > force.utilisation
    assert weak[stress.name].utilisation < stress.utilisation


def test_overload_is_what_the_valve_lets_through(changed, small_solution):
    # 27.5 MPa on the bore of 125 mm: 337.5 kN, 15 % over capacity; limits.overload asks for 25 %.
    assert relief(small_solution) == pytest.approx(27.5e6)
    assert overload(small_solution) == 1.25
    high = changed('[hydraulics]\nrelief = "31 MPa"\n')
    over = 31e6 * math.pi / 4 * 0.125**2 / high.press.capacity
    assert overload(high) == pytest.approx(over)
    for one, two in zip(overloaded(small_solution), overloaded(high), strict=True):
        assert two.value == pytest.approx(one.value * over / 1.25)
        # Peak stress at capacity is held to yield over 1.5.
        plain = max(p.von_mises / p.allowed for p in high.stacks[one.name.split()[0]].peaks)
        assert one.utilisation == pytest.approx(plain * 1.25 / 1.5)


@pytest.mark.parametrize(
    ("more", "ram", "words"),
    [
        (SPRING.format(count=4, free="5 kN"), RAM, "free_length"),
        (SPRING.format(count=4, free="300 mm"), RAM, "fitted_length: allowed"),
        (SPRING.format(count=0, free="500 mm"), RAM, "return_spring.count"),
        ('[cylinder.gland_bolts]\nthread = "M999"\ncount = 8\n', RAM, "gland_bolts.thread"),
        ('[cylinder.gland_bolts]\nthread = "M16"\ncount = 8\ncircle = "1 m"\n', RAM, "in the wall"),
        ("", FLANGE + 'circle = "300 mm"\n', "ram.fixing.circle"),
        ("", FLANGE.replace("260 mm", "150 mm").replace("176 mm", "145 mm"), "flange"),
        ('[cylinder]\ntooling = "3 mm"\n', RAM, "cylinder.tooling"),
    ],
)
def test_bad_tables(small_text, more, ram, words):
    with pytest.raises(CaseError, match=words):
        case_file.parse(small_text.replace(RAM, ram) + more, "small.toml")


def test_a_wall_wider_than_its_flange_is_refused(small_text):
    """It would bear beside the flange that is to carry it."""
    with pytest.raises(CaseError, match=r"ram\.outer_diameter.* up to ram\.flange"):
        case_file.parse(
            small_text.replace(
                '[ram]\ndiameter = "125 mm"',
                '[ram]\ndiameter = "125 mm"\nouter_diameter = "178 mm"\n'
                'flange = { outer_diameter = "170 mm", thickness = "40 mm" }',
            )
        )
