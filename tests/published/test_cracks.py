"""Cracks: stress intensity, growth by Paris' law and toughness, against published values.

Sources: J. C. Newman and I. S. Raju, NASA TM-85793 (1984) and Eng. Fract. Mech. 15 (1981),
secondary copy read; Shigley's Mechanical Engineering Design, 9th ed., example 6-6, not verified;
JCSS Probabilistic Model Code, part 3 chapter 12, read.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.hand import crack
from platestack.geometry import tables

MPA, KSI, INCH = 1e6, 6.894757e6, 0.0254


def constant(y: float) -> crack.Shape:
    return lambda a: np.full_like(a, y)


def test_shallow_cracks():
    # Half circle in a face: 0.6625 at its depth (1.04 · 2/π) and 1.1 of that at the face; quarter
    # circle at a corner: 0.722 (1.05 · 1.08 · 2/π, Newman and Raju), all of σ√(πa).
    a = np.array([1e-9])
    assert crack.cut_edge(0.1)(a) == crack.face(a)
    assert crack.face(a) == pytest.approx(1.1 * 1.04 * 2 / math.pi, rel=2e-3)
    assert crack.corner(0.1)(a) == pytest.approx(1.05 * 1.08 * 2 / math.pi, rel=2e-3)


def test_deep_corner_crack():
    """a/t = 0.8, a = c: M = 1.05 + 0.3754·0.64 − 0.25·0.4096, g = 1.08 + 0.4·0.64, Q = 2.464."""
    assert crack.corner(0.1)(np.array([0.08])) == pytest.approx(1.1879 * 1.336 / 1.5697, rel=1e-3)


def test_thread_root_falls_to_a_smooth_bar():
    """James and Mills: about 2.7 at the root itself, 0.81 at a tenth of the diameter."""
    y = crack.thread_root(0.1)(np.array([0.0004, 0.01]))
    assert y == pytest.approx([2.45, 0.81], rel=0.01)


def test_nicked_bar_of_a_textbook():
    # C = 3.8e-11 in/cycle, ksi√in, m = 3, Δσ = 115.2 ksi, K_Ic = 73 ksi√in, β = 1.07, from
    # 0.004 in: 64.7e3 cycles to 0.112 in.
    law = [(3.8e-11 * INCH / (KSI * math.sqrt(INCH)) ** 3, 3.0)]
    stress, y = 115.2 * KSI, constant(1.07)
    last = crack.critical_size(stress, y, 73 * KSI * math.sqrt(INCH), INCH)
    assert last == pytest.approx(0.1116 * INCH, rel=5e-3)
    life = crack.cycles(law, stress, y, 0.004 * INCH, last)
    assert life == pytest.approx(64.7e3, rel=0.01)


@given(
    st.floats(2.1, 6.0), st.floats(20, 400), st.floats(0.4, 2.0), st.floats(1e-4, 2e-3),
    st.floats(1.01, 100.0),
)  # fmt: skip
def test_constant_shape_by_the_closed_form(m, stress, y, first, times):
    """N = 2 (a_1^(1−m/2) − a_2^(1−m/2)) / ((m − 2) A (Y Δσ √π)^m), any text on fracture."""
    factor, last = 1e-9 / (20e6) ** m, first * times
    known = 2 / ((m - 2) * factor * (y * stress * MPA * math.sqrt(math.pi)) ** m)
    known *= first ** (1 - m / 2) - last ** (1 - m / 2)
    found = crack.cycles([(factor, m)], stress * MPA, constant(y), first, last)
    assert found == pytest.approx(known, rel=1e-6)


def test_two_stages_meet_where_the_standard_says():
    """Mean law: both give one rate at 196 N/mm^1.5, mean plus two deviations at 144 (BS 7910)."""
    for name, knee in (("mean", 196), ("law", 144)):
        (a, m), (b, n) = tables.growth_stages(name)
        meet = (b / a) ** (1 / (m - n)) / (MPA * math.sqrt(1e-3))
        assert meet == pytest.approx(knee, rel=0.01)
    (c, q), *_ = tables.growth_stages("simplified")
    # In MPa √m and m/cycle the simplified law is 1.65e-11 (31.6³ · 5.21e-16).
    assert c * MPA**q == pytest.approx(1.6475e-11, rel=1e-3)


def test_toughness_of_the_model_code():
    """27 J at the temperature of service, 25 mm: 20 + (11 + 77 e^(18/52)) ln(1/0.95)^¼ MPa√m."""
    median_free = 20 + (11 + 77 * math.exp(18 / 52)) * math.log(1 / 0.95) ** 0.25
    assert crack.toughness(-20, -20, 1e3, 0.025) == pytest.approx(median_free * MPA, rel=1e-9)
    assert crack.toughness(60, -20, 27, 0.025) == pytest.approx((55 + 0.54 * 27) * MPA)
    assert crack.toughness(-10, None, 0, 0.025) < crack.toughness(-200, -20, 27, 0.025) * 1.01


def test_worse_never_lives_longer():
    stages, y = tables.growth_stages(), crack.corner(0.1)
    plain = crack.cycles(stages, 150e6, y, 5e-4, 0.03)
    assert crack.cycles(stages, 160e6, y, 5e-4, 0.03) < plain
    assert crack.cycles(stages, 150e6, y, 6e-4, 0.03) < plain
    assert crack.cycles(stages, 150e6, y, 5e-4, 0.02) < plain
    assert crack.cycles(stages, 150e6, y, 5e-4, 4e-4) == 0
    assert crack.cycles(stages, 0.0, y, 5e-4, 0.03) == math.inf
    with pytest.raises(ValueError, match="allowed"):
        crack.cycles(stages, 1e8, y, 0.0, 0.03)
