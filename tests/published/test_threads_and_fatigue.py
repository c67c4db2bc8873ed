"""Threads in shear and fatigue by category, against published values.

J. H. Bickford, Introduction to the Design and Behavior of Bolted Joints, 4th ed.: M100x6 over
100 mm, least material of 6g/6H, 18856 mm² for the bolt and 24059 mm² for the nut; 0.3 % is what
rounding of the tolerances to R40 numbers moves. ISO 965-1 limits of M20, 6g/6H, not verified.
EN 1993-1-9:2005 7.1: Δσ_D = 0.737 Δσ_C; category 90 stands 432,000 cycles of 150 MPa.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.hand import fatigue, threads
from platestack.geometry import tables

MM, MPA = 1e-3, 1e6


def test_shear_areas_of_m100x6():
    rod = threads.rod_shear_area(tables.thread("M100x6"), 100 * MM)
    nut = threads.nut_shear_area(tables.thread("M100x6"), 100 * MM)
    assert rod == pytest.approx(18856e-6, rel=3e-3)
    assert nut == pytest.approx(24059e-6, rel=3e-3)


def test_limits_of_m20():
    # From memory: d min 19.623, d2 min 18.164, D1 max 17.744, D2 max 18.600 mm.
    found = threads.tolerance_limits(tables.thread("M20"))
    assert found.rod_major == pytest.approx(19.623 * MM, abs=0.015 * MM)
    assert found.rod_pitch == pytest.approx(18.164 * MM, abs=0.015 * MM)
    assert found.nut_minor == pytest.approx(17.744 * MM, abs=0.02 * MM)
    assert found.nut_pitch == pytest.approx(18.600 * MM, abs=0.015 * MM)


def test_dilation_factor_is_its_formula_inside_its_range():
    # s/d = 1.5: 5.7 − 2.25 − 2.61.
    assert threads.dilation_factor(0.150, 0.100) == pytest.approx(0.84)
    for flats in (0.139, 0.191):
        with pytest.raises(ValueError, match="allowed"):
            threads.dilation_factor(flats, 0.100)


def test_limits_of_tr40():
    # ISO 2903, not verified: d 40.000 to 39.575, D1 33.000 to 33.560 (grade 4: 425 and 560 µm).
    found = threads.tolerance_limits(tables.trapezoidal_thread("Tr40x7"))
    assert found.rod_major == pytest.approx(39.575 * MM, abs=0.025 * MM)
    assert found.nut_minor == pytest.approx(33.560 * MM, abs=0.025 * MM)
    assert 36.0 * MM < found.rod_pitch < 36.5 * MM < found.nut_pitch


def test_trapezoidal_teeth_by_geometry():
    """The basic profile: a trapezium P/2 thick at the pitch line, with sides at 15° (ISO 2901)."""
    thread, length = tables.trapezoidal_thread("Tr100x12"), 120 * MM
    root = thread.pitch / 2 * (1 + math.tan(math.radians(15)))
    for area, d in ((threads.rod_shear_area, thread.d1), (threads.nut_shear_area, thread.d)):
        basic = math.pi * d * length / thread.pitch * root
        assert 0.9 * basic < area(thread, length) < basic
    # Less clearance and thicker teeth than those of a metric thread: no weaker by its length.
    metric = threads.rod_shear_area(tables.thread("M100x6"), length)
    assert threads.rod_shear_area(thread, length) == pytest.approx(metric, rel=0.15)


@given(
    st.sampled_from((*tables.thread_names(), *tables.trapezoidal_thread_names())),
    st.floats(0.001, 0.3),
)
def test_more_engaged_length_never_weakens(name, length):
    thread = tables.rod_thread(name)
    for area in (threads.rod_shear_area, threads.nut_shear_area):
        assert 0 < area(thread, length) < area(thread, 1.1 * length)
    # Least material is less than the basic profile: 0.75 π D1 L and 0.875 π d L.
    if isinstance(thread, tables.Thread):
        assert threads.rod_shear_area(thread, length) < 0.75 * math.pi * thread.d1 * length
        assert threads.nut_shear_area(thread, length) < 0.875 * math.pi * thread.d * length


@pytest.mark.parametrize("given_", [(80.0, 6.0, 80.0), (0.08, 0.0005, 0.08), (0.08, 0.006, 0.0)])
def test_wrong_units_and_ranges_are_refused(given_):
    d, pitch, length = given_
    with pytest.raises(ValueError, match="allowed"):
        threads.rod_shear_area(tables.Thread(d, pitch, "M"), length)


def test_category_90():
    assert fatigue.allowed_range(90 * MPA, 432_000, 1) == pytest.approx(150 * MPA, rel=1e-4)
    assert fatigue.allowed_range(90 * MPA, 1e9, 1) == pytest.approx(0.7368 * 90 * MPA, rel=1e-4)


def test_thread_of_m80():
    reduced = fatigue.THREAD_CATEGORY * fatigue.size_factor(0.080)
    assert reduced == pytest.approx(39.13 * MPA, rel=1e-4)
    assert fatigue.allowed_range(reduced, 2e6, 1.35) == pytest.approx(28.98 * MPA, rel=2e-4)
    assert fatigue.allowed_range(reduced, 1e6, 1.35) == pytest.approx(36.52 * MPA, rel=2e-4)
    assert fatigue.size_factor(0.024) == 1


@given(st.floats(1, 1e10), st.floats(1, 1e10))
def test_more_cycles_never_allow_more(one, other):
    low, high = sorted((one, other))
    assert fatigue.allowed_range(5e7, high, 1.35) <= fatigue.allowed_range(5e7, low, 1.35)


@pytest.mark.parametrize("bad", [(0.0, 1e6, 1.0), (5e7, 0.5, 1.0), (5e7, 1e6, 0.9)])
def test_out_of_range_is_refused(bad):
    with pytest.raises(ValueError, match="allowed"):
        fatigue.allowed_range(*bad)
    with pytest.raises(ValueError, match="allowed"):
        fatigue.size_factor(-0.03)
