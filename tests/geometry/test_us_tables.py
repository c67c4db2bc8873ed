"""Inch threads, heavy nuts, American steels and stock.

Stress areas and nuts: as printed in handbooks' tables of ASME B1.1 and B18.2.2 (quoted from memory,
not verified against the standards); steels: ASTM, likewise.
"""

from __future__ import annotations

import pytest

from platestack.geometry import tables

INCH, PSI = 0.0254, 6894.757293168


@pytest.mark.parametrize(
    ("name", "d", "pitch", "area"),
    [
        ("1-8 UNC", 1.0, 1 / 8, 0.606),
        ("1 1/8-7 UNC", 1.125, 1 / 7, 0.763),
        ("1 1/2-6 UNC", 1.5, 1 / 6, 1.405),
        ("1 3/4-5 UNC", 1.75, 1 / 5, 1.90),
        ("2-4.5 UNC", 2.0, 1 / 4.5, 2.50),
        ("2 1/2-4 UNC", 2.5, 1 / 4, 4.00),
        ("3-4 UNC", 3.0, 1 / 4, 5.97),
        ("1 1/2-8 UN", 1.5, 1 / 8, 1.492),
        ("2-8 UN", 2.0, 1 / 8, 2.77),
        ("3-8UN", 3.0, 1 / 8, 6.51),
        ("3/4-20 UNEF", 0.75, 1 / 20, 0.386),
    ],
)
def test_inch_threads(name, d, pitch, area):
    thread = tables.thread(name)
    assert thread.d == pytest.approx(d * INCH, rel=1e-12)
    assert thread.pitch == pytest.approx(pitch * INCH, rel=1e-12)
    assert thread.stress_area / INCH**2 == pytest.approx(area, rel=2e-3)
    assert tables.thread(thread.designation) == thread


def test_a_bar_of_an_inch_size_carries_an_inch_thread():
    assert tables.largest_thread(3 * INCH).designation == "3-8 UN"
    assert tables.largest_thread(0.076).designation == "M76x6"


@pytest.mark.parametrize("name", ["2-7 UN", "9-8 UN", "1 1/16-8 UN"])
def test_unlisted_inch_threads_are_refused(name):
    with pytest.raises(tables.UnknownName):
        tables.thread(name)


@pytest.mark.parametrize(
    ("d", "flats", "height"), [(1, 1.625, 63 / 64), (2, 3.125, 1.96875), (4, 6.125, 3.9375)]
)
def test_heavy_hex_nuts(d, flats, height):
    nut = tables.nut(d * INCH)
    assert nut.across_flats == pytest.approx(flats * INCH)
    assert nut.height == pytest.approx(height * INCH)
    assert nut.across_flats == pytest.approx((1.5 * d + 0.125) * INCH)  # the series' own rule


@pytest.mark.parametrize(
    ("name", "inches", "ksi"),
    [
        ("A36", 2, 36), ("A36", 9, 32), ("A572 Gr 50", 4, 50), ("A572-50", 1, 50),
        ("A514", 2.5, 100), ("A514", 3, 90),
    ],
)  # fmt: skip
def test_american_plate(name, inches, ksi):
    grade = tables.structural_grade(name)
    assert grade.yield_strength(inches * INCH) == pytest.approx(1e3 * ksi * PSI, rel=3e-4)
    assert grade.system == "US"


def test_a572_ends_at_four_inches():
    with pytest.raises(tables.OutOfTable):
        tables.structural_grade("A572 Gr 50").yield_strength(4.5 * INCH)


@pytest.mark.parametrize(
    ("name", "inches", "ksi"),
    [("A193 B7", 2.5, 105), ("A193 B7", 3, 95), ("4140", 2, 105), ("4140 HT", 3, 95)],
)
def test_american_bar(name, inches, ksi):
    assert tables.rod_grade(name).yield_strength(inches * INCH) == pytest.approx(
        1e3 * ksi * PSI, rel=3e-4
    )


def test_each_market_has_its_plates_and_bores():
    inch, metric = tables.stock_thicknesses("US"), tables.stock_thicknesses("SI")
    assert 0.0254 in [round(t, 9) for t in inch]
    assert 0.0254 not in [round(t, 9) for t in metric]
    assert {round(b / INCH, 6) for b in tables.cylinder_bores("US")} >= {2.0, 3.25, 6.0, 10.0}
    assert all(round(rod / INCH * 8, 6).is_integer() for rod in tables.cylinder_rods(6 * INCH))
