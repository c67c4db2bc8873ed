"""Pressures of a press: one order, one proof factor for the press, a pump that reaches it.

Expected values: statics, p = F / (π/4 D²), and the factors of the case.
"""

from __future__ import annotations

import math

import pytest
from duties import DUTIES, duty_of

from platestack.fea.checks.pressures import pressure_facts, pressures
from platestack.fea.jobs import sizing
from platestack.fea.jobs.proof import plan
from platestack.fea.results import run_directory
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout

PUMP = """[hydraulics]
stages = [{ flow = "10 L/min", pressure = "8 MPa" }, { flow = "2 L/min", pressure = "28 MPa" }]
"""


def statics(text: str) -> Statics:
    case = case_file.parse(text)
    return Statics(case, layout.build(case), {}, 0.0)


def test_pressures_rise_and_are_named(small_text):
    facts = pressure_facts(statics(small_text))
    values = [fact.value for fact in facts]
    assert values == sorted(values)
    needed = 30 * 9806.65 / (math.pi / 4 * 0.125**2)
    table = {fact.name: fact.value for fact in facts}
    assert table["needed for the capacity"] == pytest.approx(needed)
    assert table["working pressure"] == 25e6
    assert table["relief setting"] == pytest.approx(27.5e6)
    assert table["proof of the press"] == pytest.approx(1.25 * needed)
    assert table["proof of the cylinder by itself"] == pytest.approx(37.5e6)
    assert all(fact.source for fact in facts)
    # What is computed has a formula; what is given or chosen says how.
    assert all(bool(fact.formula) != bool(fact.method) for fact in facts)


def test_a_pump_that_does_not_reach_the_proof_is_told(small_text):
    checks = {check.name: check for check in pressures(statics(small_text + PUMP))}
    reach = checks["pump: reaches the proof of the press"]
    assert (reach.value, reach.limit) == pytest.approx((28e6, 1.25 * 23.974e6), rel=1e-4)
    assert reach.utilisation > 1
    assert checks["pump: pressure of its last stage"].utilisation < 1
    less = small_text.replace("[limits]", "[limits]\nproof_factor = 1.15")
    checks = {check.name: check for check in pressures(statics(less + PUMP))}
    assert checks["pump: reaches the proof of the press"].utilisation < 1


def test_the_proof_test_takes_its_factor_from_the_case(small_run):
    run = run_directory.reopen(small_run)
    made = plan.make(run)
    assert made.factor == run.case.limits.proof_factor == 1.25
    top = max(made.steps, key=lambda step: step.pressure)
    assert top.pressure == pytest.approx(1.25 * 23.974e6, rel=1e-4)
    assert top.force == pytest.approx(1.25 * run.press.capacity)
    assert "just above 29.97 MPa" in " ".join(made.cautions)
    assert not any("pump of the case" in words for words in made.cautions)
    weak = case_file.parse((small_run / "case.toml").read_text(encoding="utf-8") + PUMP)
    words = plan._valve_and_pump(run_directory.Run(run.folder, run.summary, weak, run.press), 1.25)
    assert "The pump of the case gives 28 MPa, the proof load needs 29.97 MPa" in words[-1]


def test_the_pump_of_a_duty_is_in_its_case_and_does_the_proof():
    made = sizing.propose(duty_of(*DUTIES["200 tf, pump"]), thorough=False)
    case = case_file.parse(made.text)
    assert case.hydraulics.stages is not None
    assert case.hydraulics.stages[-1].pressure == pytest.approx(70e6)
    checks = {check.name: check for check in made.checks}
    assert checks["pump: reaches the proof of the press"].utilisation <= 1
    assert 1.25 * made.plan.press.capacity_pressure <= 70e6
