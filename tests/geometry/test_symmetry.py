"""Which planes of symmetry a stack has, and what of it is meshed for each wish.

Expected values: the places of openings, patches and rods; shares of the parts' volumes.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from meshes import volume

from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Stack
from platestack.geometry.shapes import Groove, RectangleHole, RoundHole
from platestack.geometry.symmetry import FORCED, choose_symmetry, symmetry_of


def shifted(stack: Stack, hole) -> Stack:
    """The stack with a further opening in its last plate."""
    last = replace(stack.plates[-1], holes=(*stack.plates[-1].holes, hole))
    return replace(stack, plates=(*stack.plates[:-1], last))


@pytest.mark.parametrize(("wish", "part"), [("quarter", 4), ("half x", 2), ("half y", 2),
                                            ("whole", 1)])  # fmt: skip
def test_shares_of_the_volume(shares, small_press, wish, part):
    whole = sum(plate.volume for plate in small_press.bed.plates)
    assert volume(shares[wish]) == pytest.approx(whole / part, rel=1e-4)
    assert shares[wish].share == part
    planes = {name for name in shares[wish].faces if name.startswith("symmetry")}
    assert planes == {f"symmetry {plane}" for plane in FORCED[wish]}


@pytest.mark.parametrize("case", ["small", "demo", "on_edge", "large"])
def test_cases_are_symmetric_about_both_planes(press_of, case):
    press = press_of(case)
    for stack in press.stacks:
        assert choose_symmetry(stack, press.rods) == {"x", "y"}


@pytest.mark.parametrize(
    ("at", "left"),
    [((0.1, 0.05), set()), ((0.1, 0.0), {"y"}), ((0.0, 0.05), {"x"}), ((0.0, 0.0), {"x", "y"})],
)
def test_a_single_opening_breaks_the_planes_it_is_off(small_press, at, left):
    for hole in (RoundHole(at, 0.02), RectangleHole(at, 0.02, 0.01)):
        stack = shifted(small_press.crosshead, hole)
        assert symmetry_of(stack, small_press.rods) == left


@pytest.mark.parametrize(("along", "left"), [("x", {"x"}), ("y", {"y"})])
def test_a_groove_off_the_middle_breaks_one_plane(small_press, along, left):
    stack = shifted(small_press.bed, Groove(along, 0.05, 0.01, 0.02))
    assert symmetry_of(stack, small_press.rods) == left


def test_two_openings_may_mirror_each_other(small_press):
    stack = shifted(small_press.bed, RoundHole((0.1, 0.05), 0.02))
    stack = shifted(stack, RoundHole((-0.1, 0.05), 0.02))
    assert symmetry_of(stack, small_press.rods) == {"x"}
    other = shifted(small_press.bed, RoundHole((0.1, 0.05), 0.02))
    other = shifted(other, RoundHole((-0.1, 0.05), 0.021))
    assert symmetry_of(other, small_press.rods) == set()


@settings(max_examples=60, deadline=None)
@given(x=st.floats(-0.1, 0.1), y=st.floats(-0.1, 0.1))
def test_an_offset_patch_breaks_the_planes_it_is_off(small_press, x, y):
    stack = replace(small_press.bed, patch=replace(small_press.bed.patch, centre=(x, y)))
    planes = symmetry_of(stack, small_press.rods)
    assert ("x" in planes) == (round(x, 9) == 0)
    assert ("y" in planes) == (round(y, 9) == 0)


def test_rods_count_for_symmetry(small_press):
    one, two = small_press.rods
    moved = (replace(one, at=(-0.17, 0.0)), two)
    assert symmetry_of(small_press.bed, moved) == {"y"}


def test_plates_alike_but_for_their_steel_are_not_mirror_images(press_of):
    press = press_of("on_edge")
    plates = list(press.bed.plates)
    first = next(i for i, plate in enumerate(plates) if plate.role == "plate")
    soft = replace(plates[first].material, yield_strength=235e6)
    plates[first] = replace(plates[first], material=soft)
    assert symmetry_of(replace(press.bed, plates=tuple(plates)), press.rods) == {"x"}


@pytest.mark.parametrize("wish", ["quarter", "half x"])
def test_a_forced_plane_that_is_not_there_is_refused(small_press, wish):
    stack = shifted(small_press.crosshead, RoundHole((0.1, 0.0), 0.02))
    with pytest.raises(PlatestackError, match="crosshead is not symmetric at x = 0;") as caught:
        choose_symmetry(stack, small_press.rods, wish)
    assert "mesh.symmetry" in str(caught.value)
    assert choose_symmetry(stack, small_press.rods, "half y") == {"y"}
    assert choose_symmetry(stack, small_press.rods, "whole") == set()
