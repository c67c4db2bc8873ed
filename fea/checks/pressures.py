"""The pressures of a press in one order: which is which, who sets it, and what must bear it."""

from __future__ import annotations

from collections.abc import Iterator

from platestack.fea.checks.cylinder import LAME, PRACTICE, relief
from platestack.fea.checks.hydraulics import plant
from platestack.fea.hand.cylinder import ThickCylinder
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry.parts import Cylinder

LARGEST_RELIEF = 1.25
"""Setting of the relief valve over working pressure, at most."""
_AGE = ("Hoses age; burst pressure, pulses and fittings are not checked.",)
_HAND_PUMP = (
    "A pump that does not reach the proof pressure needs another for the test: a hand pump with a "
    "gauge and a relief valve of its own.",
)


def proof(solution: Solution) -> float:
    """Oil pressure (Pa) of the proof test of the whole press: that of its proof force."""
    return solution.case.limits.proof_factor * solution.press.capacity_pressure


def pressures(solution: Solution) -> list[Check]:
    """Each pressure against what gives it, what limits it, and the parts that see it."""
    made = solution.press.cylinder
    return [] if made is None else list(_pressures(solution, made))


def _pressures(solution: Solution, made: Cylinder) -> Iterator[Check]:
    p, top, test = solution.press.working_pressure, relief(solution), proof(solution)
    working, proving = Input("p", p, "Pa"), Input("p_proof", test, "Pa")
    setting = Input("p_relief", top, "Pa")
    yield Check(
        "relief valve", "setting below the proof of the press",
        top, test, "Pa", "proof pressure of the press",
        "p_relief ≤ p_proof", PRACTICE, "what the valve lets through has been borne in the test",
        (setting, proving),
    )  # fmt: skip
    yield Check(
        "cylinder", "proof by itself, over that in the press",
        made.proof_factor * p, test, "Pa", "proof pressure of the press",
        "k·p ≥ p_proof", "statics", "its maker tests it first, on the bench",
        (Input("k", made.proof_factor, "1"), working, proving),
        sense="at least", by_design=True,
    )  # fmt: skip
    yield from _pump(solution, made)
    yield from _valve(solution)
    yield from _hoses(solution, made)


def _pump(solution: Solution, made: Cylinder) -> Iterator[Check]:
    """A pump that is derived reaches its pressures; one that is given may not."""
    if not solution.case.hydraulics.stages:
        return
    p, test, last = (
        solution.press.working_pressure,
        proof(solution),
        plant(solution, made).stages[-1],
    )
    working, proving = Input("p", p, "Pa"), Input("p_proof", test, "Pa")
    pump = Input("p_pump", last.pressure, "Pa")
    yield Check(
        "pump", "pressure of its last stage",
        last.pressure, p, "Pa", "working pressure",
        "p_pump ≥ p", "statics",
        inputs=(pump, working),
        sense="at least",
        by_design=True,
    )  # fmt: skip
    yield Check(
        "pump", "reaches the proof of the press",
        last.pressure, test, "Pa", "proof pressure of the press",
        "p_pump ≥ p_proof", "statics", "",
        (pump, proving),
        _HAND_PUMP, sense="at least", by_design=True,
    )  # fmt: skip


def _valve(solution: Solution) -> Iterator[Check]:
    """A setting that is derived fits the working pressure; one that is given may not."""
    if not solution.case.hydraulics.relief:
        return
    p, top = solution.press.working_pressure, relief(solution)
    working, setting = Input("p", p, "Pa"), Input("p_relief", top, "Pa")
    yield Check(
        "relief valve", "setting over working pressure",
        top / p, LARGEST_RELIEF, "1", f"largest factor {LARGEST_RELIEF:g}",
        f"p_relief / p ≤ {LARGEST_RELIEF:g}", PRACTICE,
        "frame and cylinder see the setting, not the working pressure",
        (setting, working),
    )  # fmt: skip
    yield Check(
        "relief valve", "setting reaches working pressure",
        top, p, "Pa", "working pressure",
        "p_relief ≥ p", "statics",
        inputs=(setting, working),
        sense="at least",
        by_design=True,
    )  # fmt: skip


def _hoses(solution: Solution, made: Cylinder) -> Iterator[Check]:
    """Hoses and valves whose class is derived bear the pressures; those given may not."""
    if not solution.case.hydraulics.hose_class:
        return
    plan, test, top = plant(solution, made), proof(solution), relief(solution)
    proving, setting = Input("p_proof", test, "Pa"), Input("p_relief", top, "Pa")
    hoses = Input("p_class", plan.hoses, "Pa")
    yield Check(
        "hoses and valves", "relief pressure",
        top, plan.hoses, "Pa", "hydraulics.hose_class",
        "p_relief ≤ p_class", "statics", "",
        (setting, hoses),
        _AGE,
    )  # fmt: skip
    yield Check(
        "hoses and valves", "proof of the press",
        test, plan.hoses, "Pa", "hydraulics.hose_class",
        "p_proof ≤ p_class", "statics", "",
        (proving, hoses),
        _AGE,
    )  # fmt: skip


def pressure_facts(solution: Solution) -> list[Fact]:
    """All pressures, rising, each with who sets it and where it is from."""
    made = solution.press.cylinder
    if made is None:
        return []
    press, limits, plan = solution.press, solution.case.limits, plant(solution, made)
    p, steel, test = press.working_pressure, made.material, proof(solution)
    tube = ThickCylinder(made.bore / 2, made.outer_diameter / 2)

    def fact(name: str, value: float, formula: str, inputs: tuple[Input, ...], source: str,
             *words: str) -> Fact:  # fmt: skip
        return Fact(
            "pressures", "press", name, value, "Pa", formula, source, times(value), inputs, words
        )

    def given(name: str, value: float, method: str, source: str, *words: str) -> Fact:
        return Fact(
            "pressures", "press", name, value, "Pa", "", source, times(value), (), words, method
        )

    def times(value: float) -> str:
        return f"{value / p:.3g} of working pressure"

    duty = (
        Input("F", press.capacity, "N"),
        Input("A", press.capacity / press.capacity_pressure, "m²"),
    )
    working = Input("p", p, "Pa")
    pump = "the case" if solution.case.hydraulics.stages else f"derived; {PRACTICE}"
    found = [
        fact("needed for the capacity", press.capacity_pressure, "F / A", duty,
             "statics; A = η π/4 D², efficiency included",
             "Pressure above it loads the frame beyond its capacity."),
        given("working pressure", p, "press.working_pressure", "the case"),
        given("relief setting", relief(solution), "given, or 1.1 times working pressure",
              f"the case, or {PRACTICE}", "Set it once, and seal it."),
        fact("proof of the press", test, "k·F / A",
             (Input("k", limits.proof_factor, "1"), *duty), f"limits.proof_factor: {PRACTICE}",
             "For the test the relief valve is set just above it, and back afterwards.",
             *(_HAND_PUMP if plan.stages[-1].pressure < test * (1 - 1e-9) else ())),
        given("pump, last stage", plan.stages[-1].pressure, "given, or what the proof needs", pump),
        given("pressure class of hoses and valves", plan.hoses,
              "given, or the next of the ISO 2944 series",
              "ISO 2944, not verified against the standard", _AGE[0]),
        fact("proof of the cylinder by itself", made.proof_factor * p, "k·p",
             (Input("k", made.proof_factor, "1"), working),
             "ISO 10100 (acceptance tests of cylinders), not verified against the standard",
             "On its maker's bench, held by no frame."),
        fact("first yield of the wall", tube.first_yield(steel.yield_strength),
             "R_e/√(3)·(1 − 1/K²)",
             (Input("R_e", steel.yield_strength, "Pa"), Input("K", tube.ratio, "1")), LAME),
    ]  # fmt: skip
    return sorted(found, key=lambda one: one.value)
