"""Rods tightened against seats: joint diagram, separation, and what preload may not change.

Expected values: the bolted joint of textbooks (Shigley's Mechanical Engineering Design, ch. 8:
F_b = F_i + φ P with φ = k_b / (k_b + k_m), F_m = (1 − φ) P − F_i; not verified), with members made
rigid so that only rod and sleeve yield; statics; linearity.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse import csr_matrix

from platestack.fea.hand import joint
from platestack.geometry import case as case_file
from platestack.geometry import layout
from tests.fea.sample_stacks import rod_compliance

RIGID = """
[materials.rigid]
yield_strength = "300 MPa"
tensile_strength = "500 MPa"
young = "2000 GPa"
"""
SHARE = 60 * 9806.65 / 4


def seated(four_rods, seat: str, preload: str, *, kind: str = "welded", rigid: bool = False) -> str:
    text = four_rods(
        rods=f'count = 4\npitch = ["520 mm", "250 mm"]\nseat = "{seat}"\npreload = "{preload}"',
        bed=f'interface = {{ kind = "{kind}", friction = 0.5 }}',
        more=RIGID if rigid else "",
    )
    return text.replace("[bed]", '[bed]\ngrade = "rigid"') if rigid else text


def test_a_sleeve_and_its_rod_share_as_springs_do(four_rods, solve_coarse):
    case = case_file.parse(seated(four_rods, "sleeve", "200 kN", rigid=True))
    stiffer = case.materials["rigid"].model_copy(update={"young": 2e15})  # more than a case may say
    case = case.model_copy(update={"materials": {"rigid": stiffer}})
    solved = solve_coarse(case, "bed")["bed"]
    rod = layout.build(case).rods[0]
    bolt = 1 / rod_compliance(rod)
    member = 210e9 * rod.sleeve_area / rod.between
    share = bolt / (bolt + member)
    for bears in solved.rods.values():
        assert bears.frame == pytest.approx(SHARE, rel=1e-6)
        assert bears.nut == pytest.approx(200e3 + share * SHARE, rel=1e-3)
        assert bears.seat == pytest.approx(200e3 - (1 - share) * SHARE, rel=1e-3)


@pytest.mark.parametrize("seat", ["inner nuts", "shoulder", "sleeve"])
def test_a_seat_that_would_have_to_pull_opens(seat, four_rods, solve_coarse):
    case = case_file.parse(seated(four_rods, seat, "1 kN"))
    for bears in solve_coarse(case, "bed")["bed"].rods.values():
        assert bears.seat is None
        assert bears.nut == pytest.approx(SHARE, rel=1e-6)  # the rod bears all, preload or not


@pytest.mark.parametrize("seat", ["inner nuts", "shoulder"])
def test_a_seated_nut_hardly_feels_the_press(seat, four_rods, solve_coarse):
    case = case_file.parse(seated(four_rods, seat, "300 kN"))
    for bears in solve_coarse(case, "bed")["bed"].rods.values():
        # The stack under a nut is far stiffer than the rod through it: the seat unloads instead.
        assert 300e3 < bears.nut < 300e3 + 0.35 * SHARE
        assert bears.seat == pytest.approx(bears.nut - SHARE, rel=1e-6)
        assert bears.frame == pytest.approx(SHARE, rel=1e-6)


def test_preload_changes_nothing_that_pressing_adds(four_rods, solve_coarse):
    low, high = (
        solve_coarse(case_file.parse(seated(four_rods, "sleeve", force)), "bed")["bed"]
        for force in ("200 kN", "400 kN")
    )
    assert low.deflection == pytest.approx(high.deflection, rel=1e-5)
    assert low.strain_energy == pytest.approx(high.strain_energy, rel=1e-5)
    for name, bears in low.rods.items():
        assert high.rods[name].nut - bears.nut == pytest.approx(200e3, rel=1e-5)


@pytest.mark.slow
def test_friction_lies_between_loose_and_welded(four_rods, solve_coarse):
    of = {
        kind: solve_coarse(
            case_file.parse(seated(four_rods, "shoulder", "350 kN", kind=kind)), "bed"
        )["bed"]
        for kind in ("loose", "clamped", "welded")
    }
    assert of["welded"].deflection < of["clamped"].deflection < of["loose"].deflection
    assert 0 < of["clamped"].composite < 1
    assert 0 < of["clamped"].residual_deflection < of["clamped"].deflection
    assert of["loose"].composite is None


@pytest.mark.parametrize("seat", ["inner nuts", "shoulder"])
def test_a_rod_on_its_seat_is_three_springs_that_meet(seat, four_rods):
    """Nut, seat and half of the shank meet at a point, which is free: Schur's complement."""
    rod = layout.build(case_file.parse(seated(four_rods, seat, "200 kN"))).rods[0]
    depth, young = 0.12, 210e9
    nut, held = (csr_matrix(row) for row in np.eye(2))
    found = np.zeros((2, 2))
    at_rest = np.zeros(2)
    for row, stiffness, force, *_ in joint.springs_of(rod, nut, held, depth, opened=False):
        found += stiffness * (row.T @ row).toarray()
        at_rest += force * row.toarray()[0]
    through = 1 / (depth / (young * rod.area) + rod.end_compliance)
    shank = young * rod.area_between / (rod.between / 2)
    own, meeting = np.diag([through, rod.seat_stiffness]), -np.array([through, rod.seat_stiffness])
    total = through + rod.seat_stiffness + shank
    assert found == pytest.approx(own - np.outer(meeting, meeting) / total, rel=1e-9)
    assert at_rest == pytest.approx([200e3, -200e3])  # the stretch that is shut in is in balance
    # Pushed hard against its seat the rod moves with it: nut and shank act on one point.
    assert found.sum() == pytest.approx(shank * (total - shank) / total, rel=1e-9)
