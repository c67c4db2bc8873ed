"""Threads and washers of the small press: statics by hand, and what makes them stronger."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from platestack.fea.checks.threads import thread_fatigue, thread_shear, washer_bearing


def test_washer_pressure_is_force_over_annulus(small_solution):
    rod = small_solution.press.rods[0]
    force = max(small_solution.nut_force(rod), rod.preload)
    area = math.pi / 4 * (rod.bearing_outer**2 - rod.hole**2)
    for check in washer_bearing(small_solution):
        assert check.value == pytest.approx(force / area, rel=1e-3)
        # S355J2 from 40 to 63 mm, EN 10025-2, over the default factor.
        assert check.limit == pytest.approx(335e6 / 1.5)


def test_thread_shear_is_near_the_basic_profile(small_solution):
    # Shear areas at least material are 0.8 to 0.9 of those of the basic profile (Bickford: 0.856
    # and 0.875 for M100x6), M45 has P = 4.5 mm and D1 = 40.1286 mm (ISO 724); s/d = 70/45.
    rod = small_solution.press.rods[0]
    force = max(small_solution.nut_force(rod), rod.preload)
    length, left = rod.nut_height - 0.0045, 3.8 * 70 / 45 - (70 / 45) ** 2 - 2.61
    basic = {"rod": 0.75 * math.pi * 0.0401286, "nut": 0.875 * math.pi * 0.045}
    for check in thread_shear(small_solution):
        part = "rod" if "of the rod" in check.quantity else "nut"
        share = force / (left * length * basic[part]) / check.value
        assert 0.8 < share < 0.9


def test_more_preload_or_a_lower_nut_never_helps(small_solution):
    def worst(**change: float) -> list[float]:
        press = small_solution.press
        rods = tuple(replace(rod, **change) for rod in press.rods)
        changed = replace(small_solution, press=replace(press, rods=rods))
        return [c.utilisation for c in (*thread_shear(changed), *washer_bearing(changed))]

    rod = small_solution.press.rods[0]
    force = small_solution.nut_force(rod)
    plain = worst()
    assert all(a > b for a, b in zip(worst(preload=1.5 * force), plain, strict=True))
    assert all(
        a > b for a, b in zip(worst(nut_height=0.8 * rod.nut_height)[:2], plain[:2], strict=True)
    )


def test_thread_fatigue_by_hand(small_solution):
    # EN 1993-1-9: category 50, (30/45)^0.25, 10,000 cycles, 1.35; M45 has 1306.0 mm².
    (check,) = thread_fatigue(small_solution)
    force = max(map(small_solution.rod_force, small_solution.press.rods))
    bending = next(i.value for i in check.inputs if i.name == "σ_b")
    assert check.value == pytest.approx(force / 1306.0e-6 + bending, rel=1e-4)
    assert check.limit == pytest.approx(50e6 * (30 / 45) ** 0.25 * 200 ** (1 / 3) / 1.35)
