"""Plates, cylinder and rods that are there: `size`, `compare` and `optimise` take no others."""

from __future__ import annotations

import pytest

from platestack.fea.hand import cost
from platestack.fea.jobs import sizing
from platestack.fea.jobs.optimum import PlateOption, _choices
from platestack.fea.jobs.options.variation import CHANGES
from platestack.geometry import case as case_file
from platestack.geometry import layout, rules, stock
from platestack.geometry.errors import CaseError, UsageError

WISH = {"capacity": "50 tf", "pressure": "25 MPa", "daylight": "300 mm"}
STOCK = """
[[stock]]
thickness = "60 mm"
price = "1.1 per kg"
[[stock]]
thickness = "80 mm"
count = 3
"""


def proposed(**more: object) -> sizing.Proposal:
    return sizing.propose(sizing.read(None, {**WISH, **more}), thorough=False)


def bought(made: sizing.Proposal) -> set[float]:
    press = layout.build(case_file.parse(made.text))
    return {round(p.bought, 6) for stack in press.stacks for p in stack.plates}


def test_only_these_thicknesses_are_taken():
    made = proposed(plates="60 mm, 80 mm")
    assert bought(made) <= {0.06, 0.08}
    assert not made.exceeded
    assert "of 60 mm, 80 mm that hold" in made.reasons["bed"].replace("\n", " ")
    assert [plate.thickness for plate in case_file.parse(made.text).stock] == [0.06, 0.08]


def test_plates_that_lie_there_are_not_taken_twice():
    made = proposed(stock=[{"thickness": "50 mm", "count": 3}, {"thickness": "80 mm"}])
    press = layout.build(case_file.parse(made.text))
    taken = [round(p.bought, 6) for stack in press.stacks for p in stack.plates]
    assert taken.count(0.05) <= 3
    assert not made.exceeded


@pytest.mark.parametrize(
    ("count", "finished"), [(1, [46]), (2, [48, 48]), (3, [48, 50, 48]), (4, [48, 50, 50, 48])]
)
def test_outer_faces_alone_are_machined(count, finished, small_case):
    """2 mm off each face that no other plate lies on; all are bought as 50 mm."""
    made = stock.stacked(small_case.bed.plates[0], count, 0.05, 0.002)
    found = [1e3 * entry.thickness for entry in made for _ in range(entry.count)]
    assert found == pytest.approx(finished)


def test_each_plate_has_the_price_of_its_stock(small_text):
    prices = '[prices]\ncurrency = "EUR"\nplate = "2 per kg"\n'
    plates = '[{ thickness = "58 mm", blank = "60 mm", count = 2 }]'
    text = small_text.replace('"2 x 50 mm"', plates, 1).replace(
        '"2 x 50 mm"', '[{ thickness = "78 mm", blank = "80 mm", count = 2 }]'
    )
    case = case_file.parse(text + prices + STOCK)
    made = cost.bill(layout.build(case), case, case.prices)
    steel = next(item for item in made.items if item.name == "plate steel")
    area = 0.46 * 0.18 * 7850
    assert steel.quantity == pytest.approx(2 * area * (0.06 + 0.08))
    assert steel.amount == pytest.approx(2 * area * 0.06 * 1.1)  # the others lie there
    thick = small_text.replace('"2 x 50 mm"', '"2 x 90 mm"')
    with pytest.raises(CaseError, match="given 95 mm as bought; allowed: a thickness of the stock"):
        case_file.parse(thick + STOCK)


def test_plates_too_few_or_too_small_are_refused(small_text):
    few = '\n[[stock]]\nthickness = "55 mm"\ncount = 3\n'
    with pytest.raises(CaseError, match="given 3 plates; the press needs 4"):
        case_file.parse(small_text + few)
    small = '\n[[stock]]\nthickness = "55 mm"\nlength = "450 mm"\nwidth = "200 mm"\n'
    with pytest.raises(CaseError, match="within a plate of the stock, 450 mm x 200 mm"):
        case_file.parse(small_text + small)
    holes = (
        '\n[[stock]]\nthickness = "55 mm"\n'
        'openings = [{ shape = "round", diameter = "20 mm", at = ["60 mm", "0 mm"] }]\n'
    )
    with pytest.raises(CaseError, match="list them under openings"):
        case_file.parse(small_text + holes)


def test_compare_and_optimise_pile_plates_as_bought(small_text):
    text = small_text.replace(
        '"2 x 50 mm"', '[{ thickness = "58 mm", blank = "60 mm", count = 2 }]'
    )
    case = case_file.parse(text + STOCK.replace("count = 3\n", ""))
    assert {size for _, size in _choices(case, "bed", None, None)} == {0.06, 0.08}
    changed = CHANGES["thickness"](case, 0.08, ("bed",))
    assert [(p.thickness, p.blank) for p in changed.bed.plates] == [(0.078, 0.08)]
    option = PlateOption((2, 0.06), (3, 0.06)).apply(case)
    assert [(p.count, p.thickness) for p in option.bed.plates] == [
        (1, pytest.approx(0.058)), (1, 0.06), (1, pytest.approx(0.058)),
    ]  # fmt: skip
    assert not list(rules.check(option))


def test_a_press_is_made_around_a_cylinder_that_is_there():
    own = {"bore": "180 mm", "outer_diameter": "240 mm",
           "flange": {"outer_diameter": "300 mm", "thickness": "40 mm"}}  # fmt: skip
    made = proposed(cylinder=own)
    case = case_file.parse(made.text)
    assert (case.ram.diameter, case.ram.outer_diameter) == (0.18, 0.24)
    assert case.ram.flange.outer_diameter == 0.3
    assert case.press.working_pressure == pytest.approx(19.3e6)  # 50 tf on 180 mm
    bill = cost.bill(layout.build(case), case, case.prices)
    assert next(item.amount for item in bill.items if item.name == "cylinder") == 0
    with pytest.raises(UsageError, match=r"cylinder\.bore: given 100 mm; allowed: at least"):
        proposed(cylinder={"bore": "100 mm", "outer_diameter": "140 mm"})


def test_rods_that_are_there_are_taken_or_told_too_short():
    made = proposed(own_rods={"count": 4, "diameter": "48 mm", "length": "2 m"})
    assert case_file.parse(made.text).rods.diameter == 0.048
    assert not made.exceeded
    short = proposed(own_rods={"count": 4, "diameter": "48 mm", "length": "600 mm"})
    told = {check.name for check in short.exceeded}
    assert told == {"length needed of the rods in stock"}
