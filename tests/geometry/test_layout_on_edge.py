"""Stacks of plates on edge in place: upright plates, spacers, saddles.

Expected values: sums of lengths by hand.
"""

from __future__ import annotations

from itertools import pairwise

import pytest


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_on_edge_plates_stand_side_by_side(press_of, name):
    stack = getattr(press_of("on_edge"), name)
    upright = [p for p in stack.plates if p.normal == "y" and p.role == "plate"]
    # Four plates of 50 mm, gaps of 100, 60 and 100: from -230 to 230 mm.
    assert [p.base for p in upright] == pytest.approx([-0.230, -0.080, 0.030, 0.180])
    assert [p.top for p in upright] == pytest.approx([-0.180, -0.030, 0.080, 0.230])
    platen = next(p for p in stack.plates if p.role == "platen")
    saddles = [p for p in stack.plates if p.role == "saddle"]
    low, high = (platen, saddles[0]) if name == "crosshead" else (saddles[0], platen)
    for plate in upright:
        assert plate.bounds[0][2] == pytest.approx(low.top)
        assert plate.bounds[1][2] == pytest.approx(high.base)
    assert stack.depth == pytest.approx(platen.thickness + 0.380 + saddles[0].thickness)
    face = platen.base if name == "crosshead" else platen.top
    assert face == pytest.approx(stack.load_face)


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_on_edge_spacers_fill_the_gaps_and_clear_the_rods(press_of, name):
    press = press_of("on_edge")
    stack = getattr(press, name)
    upright = [p for p in stack.plates if p.role == "plate"]
    spacers = [p for p in stack.plates if p.role == "spacer"]
    gaps = {(round(a.top, 9), round(b.base, 9)) for a, b in pairwise(upright)}
    assert {(round(p.base, 9), round(p.top, 9)) for p in spacers} == gaps
    for rod in press.rods:
        for spacer in spacers:
            (x0, y0, _), (x1, y1, _) = spacer.bounds
            clear = max(x0 - rod.at[0], rod.at[0] - x1, y0 - rod.at[1], rod.at[1] - y1)
            assert clear > rod.hole / 2


@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_saddles_carry_every_nut(press_of, name):
    press = press_of("on_edge")
    saddles = [p for p in getattr(press, name).plates if p.role == "saddle"]
    for rod in press.rods:
        assert any(p.outline.clearance(rod.at, rod.bearing_outer / 2) > 0 for p in saddles)
    holes = [hole.at for p in saddles for hole in p.holes]
    assert sorted(holes) == sorted(rod.at for rod in press.rods)
