"""Pump, oil, relief valve and hoses; time to capacity, and the energy stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from platestack.fea.checks.cylinder import PRACTICE, relief, relief_of
from platestack.fea.hand.cylinder import ThickCylinder
from platestack.fea.hand.hydraulics import Compliance, PumpFlow, compression, drop_height, heating
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import Cylinder, Press
from platestack.geometry.schema import Case
from platestack.geometry.units import fixed, percent, quantity

PRESS_SPEED = 2e-3
"""Of the ram under full pressure (m/s) for a pump that is derived; common practice, no source."""
RESERVE = 0.02
"""Oil in the tank besides twice the stroke's (m³); common practice, no source."""
LOW_STAGE = 2 / 7
"""Of the relief valve's setting: where the first stage of a pump that is derived ends; its flow is
as many times more, so that both stages take the same power."""
WARMING = 30.0
"""Rise of the oil's temperature in one hold (K), common practice."""


@dataclass(frozen=True)
class Plant:
    """What drives the cylinder, with what the case left out."""

    stages: tuple[PumpFlow, ...]
    shaft: float
    motor: float
    hoses: float
    tank: float


def plant(solution: Solution, made: Cylinder) -> Plant:
    """Pump, motor, hoses and tank: given, or derived by the rules named here."""
    return plant_of(solution.press, solution.case, made)


def plant_of(press: Press, case: Case, made: Cylinder) -> Plant:
    """The same without a solution."""
    wish, top = case.hydraulics, relief_of(press, case)
    proof = case.limits.proof_factor * press.capacity_pressure
    if wish.stages is not None:
        stages = tuple(PumpFlow(s.flow, s.pressure) for s in wish.stages)
    else:
        stages = derived_stages(made.piston_area, top, max(top, proof))
    served = (PumpFlow(stage.flow, min(stage.pressure, top)) for stage in stages)
    shaft = max(stage.power(wish.pump_efficiency) for stage in served)
    motor = wish.motor or next((m for m in tables.motor_outputs() if m >= shaft), shaft)
    most = max(top, proof)
    hoses = wish.hose_class or next((c for c in tables.pressure_classes() if c >= most), most)
    tank = wish.tank or 2 * made.oil_volume + RESERVE
    return Plant(stages, shaft, motor, hoses, tank)


def derived_stages(area: float, low: float, high: float) -> tuple[PumpFlow, PumpFlow]:
    """Two stages for a piston (m²): the last up to `high` (Pa), the first to 2/7 of `low` (Pa)."""
    flow = PRESS_SPEED * area
    return PumpFlow(flow / LOW_STAGE, LOW_STAGE * low), PumpFlow(flow, high)


def compliance(solution: Solution, made: Cylinder) -> Compliance:
    """What takes up oil from touch to capacity, the stroke all out."""
    press, wish = solution.press, solution.case.hydraulics
    p = press.capacity / made.piston_area
    volume = made.oil_volume + wish.dead_volume
    tube = ThickCylinder(made.bore / 2, made.outer_diameter / 2)
    growth = tube.growth(p, made.material.young, made.material.poisson)
    stretch = 2 * frame_energy(solution) / press.capacity
    return Compliance(
        p,
        compression(p, volume, wish.bulk_modulus),
        made.oil_volume * 2 * growth / (made.bore / 2),
        made.piston_area * stretch,
    )


def frame_energy(solution: Solution) -> float:
    """Strain energy of both stacks and the rods at capacity (J)."""
    return sum(stack.strain_energy for stack in solution.stacks.values())


def hydraulics(solution: Solution) -> list[Check]:
    """Every check of the hydraulics."""
    made = solution.press.cylinder
    if made is None:
        return []
    wish, plan, top = solution.case.hydraulics, plant(solution, made), relief(solution)
    power = top * plan.stages[-1].flow if wish.pump_at_hold == "running" else 0.0
    rise = heating(power, wish.hold, plan.tank, wish.oil_density, wish.oil_heat)
    checks = [
        Check("oil", "rise of temperature in one hold", rise, WARMING, "K",
              f"largest rise {WARMING:g} K",
              "P·t / (V·ρ·c)", PRACTICE,
              f"pump {wish.pump_at_hold} for {wish.hold:g} s; no heat given off",
              (Input("P", power, "W"), Input("t", wish.hold, "s"), Input("V", plan.tank, "m³"),
               Input("ρ", wish.oil_density, "kg/m³"), Input("c", wish.oil_heat, "J/(kg K)")),
              method="P: pressure times flow of the pump's last stage"),
    ]  # fmt: skip
    if wish.motor:
        checks.append(
            Check("motor", "power at the pump's shaft", plan.shaft, plan.motor, "W",
                  "hydraulics.motor", f"{_shaft(plan)} ≤ P", "statics", "",
                  (*_shaft_inputs(plan, wish.pump_efficiency, top), Input("P", plan.motor, "W")))
        )  # fmt: skip
    if wish.tank:
        checks.append(
            Check("tank", "oil that the stroke draws", made.oil_volume, 0.8 * plan.tank, "m³",
                  f"{percent(0.8)} of hydraulics.tank", "A·s ≤ 0.8·V", PRACTICE, "",
                  (Input("A", made.piston_area, "m²"), Input("s", made.stroke, "m"),
                   Input("V", plan.tank, "m³"))))  # fmt: skip
    return checks


def _shaft(plan: Plant) -> str:
    """Power at the shaft as a formula: the largest of the stages'."""
    terms = [f"min(p_{i}, p_relief)·Q_{i}" for i in range(1, len(plan.stages) + 1)]
    return f"max({', '.join(terms)}) / η" if len(terms) > 1 else f"{terms[0]} / η"


def _shaft_inputs(plan: Plant, efficiency: float, top: float) -> tuple[Input, ...]:
    """What goes into `_shaft`."""
    stages = [
        (Input(f"p_{i}", stage.pressure, "Pa"), Input(f"Q_{i}", stage.flow, "m³/s"))
        for i, stage in enumerate(plan.stages, 1)
    ]
    rest = (Input("p_relief", top, "Pa"), Input("η", efficiency, "1"))
    return (*(one for pair in stages for one in pair), *rest)


def hydraulic_facts(solution: Solution) -> list[Fact]:
    """Speeds, powers, time to capacity and stored energy."""
    made = solution.press.cylinder
    if made is None:
        return []
    press, plan, give = solution.press, plant(solution, made), compliance(solution, made)
    frame, oil = frame_energy(solution), give.pressure * give.oil / 2
    total = frame + oil
    mass = press.mass

    wish, first, last = solution.case.hydraulics, plan.stages[0], plan.stages[-1]
    area = Input("A", made.piston_area, "m²")
    bulk = Input("K", wish.bulk_modulus, "Pa")
    pressure, force = Input("p", give.pressure, "Pa"), Input("F", press.capacity, "N")
    swept = Input("V", made.oil_volume + wish.dead_volume, "m³")
    strain = Input("U", frame, "J")

    def fact(
        name: str, value: float, unit: str, formula: str, inputs: Sequence[Input], *words: str
    ) -> Fact:
        return Fact(
            "hydraulics", "press", name, value, unit, formula, "statics", "", tuple(inputs), words
        )

    def chosen(name: str, value: float, unit: str, method: str, *words: str) -> Fact:
        return Fact("hydraulics", "press", name, value, unit, "", "statics", "", (), words, method)

    facts = [
        fact("speed of approach", first.flow / made.piston_area, "m/s", "Q_1 / A",
             (Input("Q_1", first.flow, "m³/s"), area),
             f"Above {quantity(0.01, 'm/s')} closing tools need guarding (ISO 16092-1, not "
             "verified)."),
        fact("speed of pressing", last.flow / made.piston_area, "m/s", "Q_2 / A",
             (Input("Q_2", last.flow, "m³/s"), area)),
        fact("speed of return", first.flow / made.annulus_area, "m/s", "Q_1 / A_annulus",
             (Input("Q_1", first.flow, "m³/s"), Input("A_annulus", made.annulus_area, "m²"))),
        fact("power at the pump's shaft", plan.shaft, "W", _shaft(plan),
             _shaft_inputs(plan, wish.pump_efficiency, relief(solution))),
        chosen("rated power of the motor", plan.motor, "W",
               "given, or the next of the IEC 60072-1 series", "The series is not verified."),
        chosen("tank", plan.tank, "m³",
               f"given, or twice the stroke's oil and {quantity(RESERVE, 'm³', 3)}"),
        fact("oil in the cylinder, stroke out", made.oil_volume, "m³", "A·s",
             (area, Input("s", made.stroke, "m"))),
        fact("oil taken up from touch to capacity", give.volume, "m³",
             "p·V/K + V_wall + 2·A·U/F",
             (pressure, swept, bulk, Input("V_wall", give.wall, "m³"), area, strain, force)),
        fact("frame and cylinder: stretch at capacity", 2 * frame / press.capacity, "m",
             "2·U / F", (strain, force)),
        fact("energy in the oil at capacity", oil, "J", "p²·V / (2·K)", (pressure, swept, bulk)),
        chosen("energy in plates and rods at capacity", frame, "J",
               "strain energy as computed on the mesh", "Preload of the rods is not included."),
        fact("energy released if the workpiece breaks", total, "J", "U_oil + U",
             (Input("U_oil", oil, "J"), strain),
             f"As much as {fixed(1000, 'kg', 0)} falling "
             f"{fixed(drop_height(total, 1000), 'run', 2)}, or this press "
             f"({fixed(mass, 'kg', 0)}) falling {fixed(drop_height(total, mass), 'm', 0)}. "
             "It kills: stand clear, shield the workpiece."),
    ]  # fmt: skip
    if last.pressure >= give.pressure * (1 - 1e-9):
        facts.append(chosen("time from touch to capacity", give.time(plan.stages), "s",
                            "oil taken up over the flow, stage by stage"))  # fmt: skip
    for part in (0.1, 0.25, 0.5, 0.75, 1.0):
        p = part * press.working_pressure
        facts.append(
            fact(f"force at {percent(part)} of the working pressure", p * made.piston_area, "N",
                 "p·π/4·D²", (Input("p", p, "Pa"), Input("D", made.bore, "m")))
        )  # fmt: skip
    return facts
