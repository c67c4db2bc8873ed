"""The frame of both stacks against each stack alone, where plates that may part are mostly open."""

from __future__ import annotations

import pytest

from platestack.fea.jobs.offcentre import OffCentre
from platestack.fea.solid import stack
from platestack.fea.solid.frame.press import GRAVITY, tightened_and_pressed
from platestack.fea.solid.pressing import Pressing
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes
from tests.figures import frame_agreement

COARSE = Sizes(0.12, round_divisions=8, ring_divisions=1, patch_divisions=4)


@pytest.mark.slow
def test_rods_and_seats_bear_the_same_in_both(small_text, monkeypatch):
    """Bowed loose plates: the slope at capacity alone says 0.4 of what the seats lose.

    In the frame the crosshead's weight lies on the seats too, and rods bend.
    """
    loose = 'interface = { kind = "loose", bow = "0.2 mm" }\n'
    text = small_text.replace("[bed]\n", f"[bed]\n{loose}")
    text = text.replace("[crosshead]\n", f"[crosshead]\n{loose}")
    text = text.replace('diameter = "45 mm"', 'diameter = "45 mm"\nseat = "inner nuts"')
    case = case_file.parse(text, "bowed.toml")
    press = layout.build(case)
    monkeypatch.setattr(stack, "default_sizes", lambda *_: COARSE)
    tightened, pressed = tightened_and_pressed(press, case, lambda step: None)
    place = OffCentre(pressed, 1e-3, tightened).at((0.0, 0.0))
    weight = GRAVITY * press.crosshead.mass
    count = len(press.rods)
    for number, one in enumerate(press.stacks):
        mesh = stack.mesh_stack(press, one, case)
        alone = Pressing(press, one, mesh, lambda step: None).pressed.rods[0]
        assert place.forces[number * count] == pytest.approx(alone.nut, rel=0.02)
        assert place.clamp[number * count] == pytest.approx(alone.seat, rel=0.02, abs=weight)
        assert alone.nut > 1.1 * press.rods[0].preload


@pytest.mark.slow
@pytest.mark.parametrize("number", range(8))
def test_drawn_presses_bear_the_same_in_both(number):
    """Loose and clamped, with each seat; `tests.figures.frame_agreement` prints 24 of them."""
    name, case = frame_agreement.case_of(number)
    found = frame_agreement.compared(case)
    print(f"\n{name}: {found['nut']:.0f} N, alone {found['alone']:.0f} N, {found['off']:.2%} off")
    assert found["off"] <= frame_agreement.ALLOWED
