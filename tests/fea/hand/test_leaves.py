"""Uneven loose plates, bent one after the other, against springs in a chain.

Leaves of stiffness k each under a force F at mid-span: where a bow b parts neighbours in the
middle, the loaded one bends by b more than the next, so that it sags by F/nk + (n − 1) b/2 once all
press, and by F/k before. Between point supports and a point force only the middle touches: the bent
leaf lies above the parabola elsewhere.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from sample_stacks import POINT, crosshead, disc, flat, rod

from platestack.fea.hand.beam import beam, beam_check
from platestack.geometry.parts import Gap, Stack

F, SPAN = 2e5, 1.0
ENDS = (rod((-0.5, 0.0)), rod((0.5, 0.0)))
WASHERS = tuple(replace(one, bearing_outer=0.1) for one in ENDS)
SEATED = tuple(
    replace(one, seat="shoulder", seat_outer=0.05, between=0.5, preload=5 * F) for one in ENDS
)


def leaves(count: int, gap: Gap, interface: str = "loose", patch: float = POINT) -> Stack:
    plates = flat([(SPAN + 2 * POINT, 0.3, 0.06)] * count)
    return replace(crosshead(plates, disc(patch), interface), gap=gap)


def bowed(height: float) -> Gap:
    return Gap(bow=height, length=SPAN)


def closing(stack: Stack, rods=ENDS, force: float = F) -> float:
    found = {one.name: one for one in beam(stack, rods, force, welded=False).effects}
    return found["closing of gaps"].value


def alone() -> float:
    """Sag of one leaf under all of the force."""
    return beam(leaves(1, Gap()), ENDS, F, welded=True).mid_span_deflection


@pytest.mark.parametrize("count", [2, 3])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_bow_that_closes_adds_half_of_itself_at_each_interface(count, sign):
    bow = 0.1 * alone() / count
    assert closing(leaves(count, bowed(sign * bow))) == pytest.approx(
        (count - 1) * bow / 2, rel=0.2
    )
    if sign > 0:  # the middle alone touches, as in the chain
        expected = (count - 1) * bow / 2
        assert closing(leaves(count, bowed(bow))) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_bow_that_never_closes_leaves_one_plate_alone(sign):
    stack = leaves(3, bowed(sign * 2 * alone()))
    assert closing(stack) == pytest.approx(alone() * (1 - 1 / 3), rel=0.02)


def test_even_gaps_close_as_a_whole_unless_the_rods_squeeze_them_first():
    stack = leaves(4, Gap(uniform=1e-3))
    assert closing(stack) == pytest.approx(3e-3, rel=1e-3)
    assert closing(stack, SEATED) == pytest.approx(0.0, abs=1e-5)


def test_seats_that_are_squeezed_hold_the_ends_of_a_bow():
    """Once the rods hold both ends of bowed leaves together, a bow outwards closes less."""
    stack = leaves(2, bowed(-0.5 * alone()))
    assert abs(closing(stack, SEATED)) < 0.7 * closing(stack)


def test_without_gaps_or_welded_nothing_closes():
    for stack in (leaves(3, Gap()), leaves(3, bowed(1e-3), "welded")):
        check = beam_check(stack, ENDS, F)
        assert not any("closing" in words for words in check.reasons)


def test_the_band_goes_with_the_gaps():
    even, bent = (beam_check(leaves(3, gap, patch=0.2), WASHERS, F) for gap in (Gap(), bowed(5e-3)))
    assert bent.band[0] > 1.5 * even.band[1]


def test_connected_leaves_lie_between_welded_and_loose():
    stack = leaves(3, Gap())
    check = replace(beam_check(stack, ENDS, F), connected=True)
    assert check.band == (check.welded.lower, check.loose.upper)


def test_an_edge_counts_with_the_error_of_the_computation():
    check = beam_check(leaves(1, Gap(), "welded", 0.2), WASHERS, F)
    low, high = check.band
    beyond = high * (1 + 1e-4)
    assert not check.agrees(beyond, 0.0)
    assert check.agrees(beyond, 2e-4 * high)
    assert check.agrees(low * (1 - 1e-4), 2e-4 * high)
    words = check.verdict(beyond, 0.0)
    shown, rest = words.split(" times that by beam theory, above the ")
    edge = rest.partition(" expected")[0].split(" to ")[1]
    assert float(shown.split()[-1]) > float(edge)
