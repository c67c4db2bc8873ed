"""Clamp bolts at work, by statics on forces that are given.

Sources: VDI 2230-1:2015 and EN 1993-1-9, Table 8.1 (quoted from memory, not verified).
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from platestack.fea.checks.clamping import bolts_at_work
from platestack.fea.checks.stability import upright_plates
from platestack.fea.solid.clamping import BoltForce, most_preload
from platestack.geometry import case as case_file
from platestack.geometry import layout

BOLT = '[[bed.clamp_bolts]]\nat = ["{} mm", "0 mm"]\nthread = "M36"\n'


@pytest.fixture(scope="module")
def made(small_text, small_solution):
    """The small press with two bolts of M36 in its bed, and the checks of forces (N) in them."""
    case = case_file.parse(small_text + BOLT.format(90) + BOLT.format(-90), "bolts.toml")
    press = layout.build(case)

    def checks(*forces: tuple[float, float]):
        bolts = [BoltForce(bolt, *own) for bolt, own in zip(press.bed.bolts, forces, strict=True)]
        bed = replace(small_solution.stacks["bed"], stack=press.bed, bolts=tuple(bolts))
        found = bolts_at_work(replace(small_solution, case=case, press=press, stacks={"bed": bed}))
        return press.bed.bolts, {check.name.partition(": ")[2]: check for check in found}

    return case, checks


def test_tension_is_that_of_the_bolt_to_which_pressing_adds_most(made):
    """A_s = 817 mm², class 8.8 of more than M16: 660 MPa (ISO 898-1)."""
    bolts, found = made[1]((300e3, 250e3), (300e3, 330e3))
    check = found["tension at capacity"]
    assert bolts[1].name in check.part
    assert check.value == pytest.approx(most_preload(bolts[1]) + 30e3)
    assert check.limit == pytest.approx(817e-6 * 660e6, rel=1e-3)


def test_a_thick_bolt_tires_sooner(made):
    """Category 50 times (30/36)^0.25 beyond 30 mm; the range is that of force over A_s."""
    case, checks = made
    bolts, found = checks((300e3, 250e3), (300e3, 330e3))
    check = found["fatigue of its thread"]
    assert bolts[0].name in check.part
    assert check.value == pytest.approx(50e3 / 817e-6, rel=1e-3)
    allowed = 50e6 * (30 / 36) ** 0.25 / 1.35 * (2e6 / case.limits.cycles) ** (1 / 3)
    assert check.limit == pytest.approx(allowed)


def test_spacers_bear_all_bolts_of_a_gap(press_of, small_case):
    """Four bolts of 50 kN, by statics, on what spacers stand in each of the three gaps."""
    press = press_of("on_edge")
    bolts = SimpleNamespace(clamp_bolts=[SimpleNamespace(preload=50e3)] * 4)
    made = SimpleNamespace(press=press, case=SimpleNamespace(crosshead=bolts, bed=bolts))
    for stack in press.stacks:
        spacers = [plate for plate in stack.plates if plate.role == "spacer"]
        gaps = sum(p.normal == "y" and p.role == "plate" for p in stack.plates) - 1
        area = sum(plate.outline.length * plate.outline.width for plate in spacers) / gaps
        found = [c for c in upright_plates(made) if c.part == f"{stack.name} spacers"]
        assert len(found) == bool(spacers)
        for check in found:
            assert check.value == pytest.approx(200e3 / area, rel=0.05)
            steel = spacers[0].material.yield_strength
            assert check.limit == pytest.approx(steel / press.yield_safety_factor)
