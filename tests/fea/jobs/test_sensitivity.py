"""Sensitivities against powers known by theory, and the spread of a sample against its formula.

Beam theory: the deflection of a beam that bends goes with 1/h³, its stress with 1/h² (Euler and
Bernoulli); a made-up solver answers so exactly.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from platestack.fea.jobs import sensitivity, sensitivity_files
from platestack.fea.jobs.sensitivity import NUMBERS, tolerance
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables


@pytest.fixture(scope="module")
def thin_beams(small_case, solve_coarse):
    """A solver by the thin beam: w ~ 1/h³, σ ~ 1/h²; each millimetre off centre adds 1 %."""
    stacks = solve_coarse(small_case)

    def solve(case, report=lambda step: None):
        press = layout.build(case)
        off = 1 + 10 * case.workpiece.offset[0]
        made = {}
        for stack in press.stacks:
            like, depth = stacks[stack.name], stack.depth / 0.1
            peaks = (replace(like.worst, von_mises=2e8 / depth**2),)
            made[stack.name] = replace(like, deflection=1e-3 * off / depth**3, peaks=peaks)
        return Solution(case, press, made, 0.0)

    return solve


@pytest.fixture(scope="module")
def found(small_case, thin_beams):
    return sensitivity.sensitivity(small_case, lambda step: None, thin_beams)


def test_powers_of_the_thickness_are_those_of_a_beam(found):
    effects = {effect.name: effect for effect in found.effects}
    assert effects["bed thickness"].powers() == pytest.approx([0, 0, -3, -2], abs=1e-9)
    assert effects["crosshead thickness"].powers() == pytest.approx([-3, -2, 0, 0], abs=1e-9)
    assert effects["bed thickness"].at_low[2] == pytest.approx(1 / 0.95**3 - 1)
    assert effects["load offset along x"].at_high[0] == pytest.approx(10 * 0.02 * 0.35)


def test_the_largest_comes_first(found):
    swings = [effect.swing for effect in found.effects]
    assert swings == sorted(swings, reverse=True)
    assert found.effects[-1].name == "load offset along x"


def test_what_is_tried_follows_the_case(four_rods, thin_beams):
    text = four_rods(bed='interface = { kind = "clamped", friction = 0.2 }')
    text = text.replace("[rods]", '[rods]\nseat = "inner nuts"\npreload = "200 kN"')
    case = case_file.parse(text)
    names = {trial.name for trial in sensitivity._trials(case, 0.5)}
    assert names == {
        "crosshead thickness", "bed thickness", "bed friction", "bed gap", "rod preload",
        "load offset along x",
    }  # fmt: skip


def test_the_spread_is_that_of_evenly_spread_thicknesses(small_case, found):
    """Quantiles of t⁻³ for t even between the tolerances: those of t, mirrored."""
    low, high = tables.thickness_tolerance(0.05)
    spread = tolerance(small_case, found, 4096)
    assert set(spread.names) == {"crosshead thickness", "bed thickness"}
    at = 1 + (low + (high - low) * np.array([0.95, 0.5, 0.05])) / 0.05
    assert spread.quantiles()[:, NUMBERS.index("bed deflection")] == pytest.approx(
        at**-3.0, rel=1e-4
    )
    assert spread.quantiles()[:, NUMBERS.index("crosshead stress")] == pytest.approx(
        at**-2.0, rel=1e-4
    )


def test_the_study_is_written(small_case, found, tmp_path):
    sensitivity_files.write(
        found, tolerance(small_case, found, 64), tmp_path / "study", "Bench press"
    )
    data = json.loads((tmp_path / "study" / "sensitivity.json").read_text(encoding="utf-8"))
    assert data["numbers"]["bed deflection"] == pytest.approx(1e-3)
    assert data["tolerance"]["draws"] == 64
    assert (tmp_path / "study" / "sensitivity.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "study" / "tolerance.png").read_bytes().startswith(b"\x89PNG")
    sensitivity_files.write(found, None, tmp_path / "study", "Bench press")  # may be replaced
    assert not (tmp_path / "study" / "tolerance.png").exists()


@pytest.mark.slow
def test_full_solves_agree_with_the_shearing_beam(small_case):
    """Power of the thickness from full solves, against that of the beam with its effects."""
    from platestack.fea.hand.beam import beam_check

    found = sensitivity.sensitivity(small_case, lambda step: None)
    effects = {effect.name: effect for effect in found.effects}
    ends = []
    for factor in (0.95, 1.05):
        press = layout.build(sensitivity._thickened("bed", factor)(small_case))
        ends.append(beam_check(press.bed, press.rods, press.capacity).actual.expected)
    wanted = np.log(ends[1] / ends[0]) / np.log(1.05 / 0.95)
    assert effects["bed thickness"].powers()[2] == pytest.approx(wanted, rel=0.1)
