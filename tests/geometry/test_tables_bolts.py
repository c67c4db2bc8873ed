"""Bolts, trapezoidal threads, tolerances and detail categories against published tables.

Sources stand at each check; "secondary copy": a public reproduction of the table was read.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.fea.hand import fatigue
from platestack.geometry import tables

MM, MPA = 1e-3, 1e6

# Proof loads of ISO 898-1:2013 Table 5 (kN); secondary copy.
PROOF = [
    ("M20", "8.8", 147), ("M20", "10.9", 203), ("M20", "12.9", 238),
    ("M24", "8.8", 212), ("M24", "10.9", 293), ("M24", "12.9", 342),
    ("M27", "8.8", 275), ("M27", "10.9", 381), ("M27", "12.9", 445),
    ("M30", "8.8", 337), ("M36", "8.8", 490), ("M39", "10.9", 810),
]  # fmt: skip


@pytest.mark.parametrize(("thread", "name", "load"), PROOF)
def test_proof_loads_of_iso_898_1(thread, name, load):
    found = tables.thread(thread)
    strength = tables.property_class(name, found.d)
    # The standard multiplies the area rounded to three digits: half a unit and a part in 2000.
    assert found.stress_area * strength.proof_stress == pytest.approx(1e3 * load, rel=2.5e-3)
    assert strength.listed


def test_class_8_8_changes_over_16_mm():
    assert tables.property_class("8.8", 16 * MM).yield_strength == 640 * MPA
    assert tables.property_class("8.8", 16.01 * MM).yield_strength == 660 * MPA
    assert not tables.property_class("8.8", 42 * MM).listed


@pytest.mark.parametrize("name", tables.property_class_names())
def test_the_name_of_a_class_tells_its_strengths(name):
    # ISO 898-1 clause 5: first number Rm nom/100, second the ratio of yield to Rm nom times ten;
    # least values lie up to 6 % over the nominal ones.
    hundreds, tenths = (int(part) for part in name.split("."))
    found = tables.property_class(name, 12 * MM)
    assert 1 <= found.tensile_strength / (100 * hundreds * MPA) <= 1.06
    assert 1 <= found.yield_strength / (10 * hundreds * tenths * MPA) <= 1.06
    # Clause 9.6: proof stress is 0.88 to 0.94 of the yield strength.
    assert 0.88 <= found.proof_stress / found.yield_strength <= 0.941


def test_wrench_sizes():
    # ISO 272 normal series and EN 14399-4; not verified against the standard.
    normal = [tables.wrench_size(d * MM) / MM for d in (16, 24, 36, 64)]
    assert normal == pytest.approx([24, 36, 55, 95])
    assert tables.wrench_size(24 * MM, structural=True) == pytest.approx(41 * MM)
    with pytest.raises(tables.OutOfTable, match="M12, M16"):
        tables.wrench_size(42 * MM, structural=True)


# ISO 2904:1977 (mm), secondary copy at roymech.org: thread, d2, D4, d3, D1.
TRAPEZOIDAL = [
    ("Tr44x7", 40.5, 45, 36, 37),
    ("Tr48x8", 44, 49, 39, 40),
    ("Tr20x4", 18, 20.5, 15.5, 16),
]


@pytest.mark.parametrize(("name", "d2", "d4", "d3", "d1"), TRAPEZOIDAL)
def test_trapezoidal_threads(name, d2, d4, d3, d1):
    found = tables.trapezoidal_thread(name)
    sizes = (found.d2, found.d4, found.d3, found.d1)
    assert sizes == pytest.approx((d2 * MM, d4 * MM, d3 * MM, d1 * MM))


@given(st.sampled_from(tables.trapezoidal_thread_names()))
def test_trapezoidal_names_come_back(name):
    found = tables.trapezoidal_thread(name.lower().replace("x", " × "))
    assert found.designation == name
    assert found.d3 < found.d1 < found.d2 < found.d < found.d4


@given(st.text(max_size=12))
def test_garbage_is_told_in_one_line(text):
    for look in (tables.trapezoidal_thread, tables.detail):
        with pytest.raises(tables.UnknownName) as caught:
            look(text + "?")
        assert len(str(caught.value).splitlines()) == 1
    with pytest.raises(tables.UnknownName):
        tables.property_class("x" + text, 0.02)


def test_thickness_tolerances():
    # EN 10029:1991 Table 1; secondary copy.
    assert tables.thickness_tolerance(60 * MM) == pytest.approx((-1.0 * MM, 1.8 * MM))
    assert tables.thickness_tolerance(80 * MM) == pytest.approx((-1.0 * MM, 2.2 * MM))
    for thickness in (3, 7, 12, 20, 30, 60, 100, 200):
        a = tables.thickness_tolerance(thickness * MM)
        b = tables.thickness_tolerance(thickness * MM, "B")
        assert b[0] == pytest.approx(-0.3 * MM)
        # Both classes are equally wide.
        assert b[1] - b[0] == pytest.approx(a[1] - a[0])


def test_flatness():
    # EN 10029:1991 Table 4, not verified against the standard.
    assert tables.flatness_tolerance(60 * MM) == pytest.approx(5 * MM)
    assert tables.flatness_tolerance(30 * MM, 2) == pytest.approx(9 * MM)


@pytest.mark.parametrize("thickness", [0.0029, 0.25, math.nan, -1.0])
def test_tolerances_outside_the_table(thickness):
    for look in (tables.thickness_tolerance, tables.flatness_tolerance):
        with pytest.raises(tables.OutOfTable):
            look(thickness)


def test_categories_are_curves_of_en_1993_1_9():
    # Figure 7.1 of EN 1993-1-9:2005, not verified: the only categories there are.
    curves = {36, 40, 45, 50, 56, 63, 71, 80, 90, 100, 112, 125, 140, 160}
    names = ("rolled plate", "dressed cut", "machine cut", "hole", "thread")
    found = [tables.detail(name).category / MPA for name in names]
    assert set(found) <= curves
    assert found == sorted(found, reverse=True)
    assert tables.detail("thread").category == fatigue.THREAD_CATEGORY
