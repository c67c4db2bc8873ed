"""Numbers in a picture: how much is magnified, which colours stand for what."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.pictures import sheet
from platestack.fea.pictures.fields import magnification, round_up, scale_for


@given(st.floats(1e-9, 1.0), st.floats(0.1, 20.0))
def test_magnification_is_round_and_near_what_is_wanted(largest, size):
    factor = magnification(largest, size)
    mantissa = float(f"{factor:e}".split("e")[0])
    assert mantissa in (1.0, 2.0, 5.0)
    # Neighbours among 1, 2, 5 are at most 2.5 apart, so half that, as a ratio, is missed at most.
    assert 0.06 / 2.5**0.5 - 1e-9 <= factor * largest / size <= 0.06 * 2.5**0.5 + 1e-9


def test_nothing_moves_nothing_is_magnified():
    assert magnification(0.0, 1.0) == 1.0


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.booleans())
def test_scale_has_round_ticks_over_the_values(values, signed):
    values = np.array(values) if signed else np.abs(values)
    scale = scale_for(values, np.ones(len(values)), signed)
    assert 1 <= len(scale.ticks) - 1 <= 12
    assert scale.low == (-scale.high if signed else 0.0)
    assert scale.high >= np.abs(values).max() * (1 - 1e-9) or scale.clipped


def test_one_singular_spot_does_not_take_the_colours():
    values = np.append(np.linspace(0, 80.0, 2000), 900.0)
    scale = scale_for(values, np.append(np.full(2000, 1.0), 1e-3), signed=False)
    assert scale.clipped
    assert scale.high == 80.0
    assert scale.text(scale.ticks[-1]) == "≥ 80"


@given(st.floats(1e-8, 1e8))
def test_round_up(value):
    result = round_up(value)
    assert value * (1 - 1e-8) <= result <= 2.5 * value
    assert float(f"{result:.6e}".split("e")[0]) in (1.0, 2.0, 2.5, 5.0)


@pytest.mark.parametrize("signed", [False, True])
def test_colours_change_evenly_and_read_in_grey(signed):
    # Lightness L* from sRGB: IEC 61966-2-1 and CIE 15 (not verified against the standard).
    scale = scale_for(np.array([-1.0, 1.0]), np.ones(2), signed)
    rgb = sheet.colours(scale)(np.linspace(0, 1, 65))[:, :3]
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    light = 116 * np.cbrt(luminance) - 16
    steps = np.diff(light)
    if signed:
        assert (steps[:31] > 0).all()
        assert (steps[33:] < 0).all()
    else:
        assert (steps < 0).all()
        assert steps.min() > 2 * steps.mean()
        assert light[0] - light[-1] > 75
