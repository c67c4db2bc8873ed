"""Every check of a plan that needs no mesh: beam theory for the plates, formulas for the rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from platestack.fea.checks import KINDS
from platestack.fea.checks.cost import priced
from platestack.fea.hand import fatigue
from platestack.fea.hand.beam import BeamResult, beam
from platestack.fea.hand.record import Check, Input, worst_first
from platestack.fea.jobs.duty.duty import Duty
from platestack.fea.solid.statics import Statics, single
from platestack.geometry import tables
from platestack.geometry.parts import Material, Press, Stack
from platestack.geometry.schema import Case, Limits

BEAM = "Timoshenko beam on the rods (fea.hand.beam)"
STEPS = 80
"""Of a beam; its deflection is within 0.1 % of that with 400."""
TIMES = {"loose": 1.5, "welded": 2.0}
"""Peak over nominal bending stress that a first proposal allows for: holes and bearing rings."""


@dataclass(frozen=True)
class CorrectionFactors:
    """Factors on what beam theory says, by stack; a full solution corrects them."""

    stress: Mapping[str, float] = field(default_factory=dict)
    deflection: Mapping[str, float] = field(default_factory=dict)
    rods: float = 1.0
    """On force and bending of the rods."""
    seats: float = 1.0
    """On what pressing takes off the seats of the rods."""
    least: Mapping[str, float] = field(default_factory=dict)
    """Least thickness (m) of platens and saddles of plates on edge, which no beam describes, by
    stack and role: "bed platen"."""

    def stiffer(self, times: float) -> CorrectionFactors:
        """The same for stacks that may bend so many times less."""
        names = ("crosshead", "bed")
        return replace(self, deflection={n: times * self.deflection.get(n, 1.0) for n in names})

    def of_stress(self, stack: Stack) -> float:
        """Peak over nominal stress."""
        return self.factors(stack.name, stack.interface)[0]

    def of_deflection(self, stack: Stack) -> float:
        """Deflection over the upper end of the beam's band."""
        return self.factors(stack.name, stack.interface)[1]

    def factors(self, name: str, interface: str) -> tuple[float, float]:
        """Of stress and of deflection, for the stack of this name with this interface."""
        times = TIMES.get(interface, TIMES["welded"])
        return self.stress.get(name, times), self.deflection.get(name, 1.0)


def beams(press: Press) -> dict[str, BeamResult]:
    """Both stacks as beams. Raises `NotABeam`."""
    return {stack.name: bent(stack, press) for stack in press.stacks}


def bent(stack: Stack, press: Press) -> BeamResult:
    """One stack as a beam. Raises `NotABeam`."""
    welded = stack.interface == "welded"
    return beam(stack, press.rods, press.capacity, welded=welded, steps=STEPS)


def endured(limits: Limits) -> float:
    """Stress range (Pa) that machine-cut edges stand for the cycles of the case."""
    category = tables.detail("machine cut").category
    return fatigue.allowed_range(category, limits.cycles, limits.fatigue_factor)


def allowed_stress(stack: Stack, press: Press, limits: Limits) -> float:
    """Of plates (Pa): yield over its factor, or what cut edges stand where that is less."""
    return min(_weakest(stack).yield_strength / press.yield_safety_factor, endured(limits))


def checks(case: Case, press: Press, duty: Duty, corrections: CorrectionFactors) -> list[Check]:
    """All checks by hand, worst first. Raises `NotABeam`."""
    found = beams(press)
    statics = as_beams(case, press, found, corrections)
    plates = [
        c
        for s in press.stacks
        for c in stack_checks(s, press, found[s.name], corrections, case.limits)
    ]
    others = [check for kind in KINDS for check in kind(statics)]
    return worst_first([*plates, *others, *own_rod_checks(press, duty), *budget(case, press, duty)])


def as_beams(
    case: Case, press: Press, found: Mapping[str, BeamResult], corrections: CorrectionFactors
) -> Statics:
    """The press on its beams, with the corrections for rods and seats."""
    return Statics(case, press, {}, 0.0, single(found), corrections.rods, corrections.seats)


def stack_checks(
    stack: Stack, press: Press, found: BeamResult, corrections: CorrectionFactors, limits: Limits
) -> tuple[Check, Check, Check]:
    """Stress, fatigue of cut edges and deflection of a stack by beam theory."""
    weakest = _weakest(stack)
    factor, times = press.yield_safety_factor, corrections.of_stress(stack)
    return (
        Check(
            stack.name, "peak stress estimated from beam theory",
            times * found.bending_stress, weakest.yield_strength / factor, "Pa",
            f"yield of {weakest.grade} at this thickness / {factor:g}",
            "K·σ ≤ R_eH / S", BEAM,
            f"K = {times:.3g} for holes and bearing rings, allowed for; a full solve has to follow",
            (Input("K", times, "1"), Input("σ", found.bending_stress, "Pa"),
             Input("R_eH", weakest.yield_strength, "Pa"), Input("S", factor, "1")),
            method="σ = M / W",
        ),
        Check(
            stack.name, "fatigue of cut edges estimated from beam theory",
            times * found.bending_stress, endured(limits), "Pa",
            f"category 125, {limits.cycles:,} pressings, over {limits.fatigue_factor:g}",
            "K·σ ≤ Δσ_C·(2·10^6 / min(N, 5·10^6))^(1/3) / γ_Mf",
            f"{BEAM}; EN 1993-1-9:2005, not verified against the standard",
            inputs=(Input("K", times, "1"), Input("σ", found.bending_stress, "Pa"),
                    Input("Δσ_C", tables.detail("machine cut").category, "Pa"),
                    Input("N", limits.cycles, "1"), Input("γ_Mf", limits.fatigue_factor, "1")),
            method="σ = M / W",
        ),
        Check(
            stack.name, "mid-span deflection by beam theory",
            corrections.of_deflection(stack) * found.upper, stack.deflection_limit, "m",
            "limits.deflection × span between rods",
            "r·w ≤ w_allowed", BEAM, "upper end of its band",
            (Input("r", corrections.of_deflection(stack), "1"), Input("w", found.upper, "m"),
             Input("w_allowed", stack.deflection_limit, "m")),
        ),
    )  # fmt: skip


def _weakest(stack: Stack) -> Material:
    return min((p.material for p in stack.main_plates), key=lambda m: m.yield_strength)


def own_rod_checks(press: Press, duty: Duty) -> list[Check]:
    """Rods that are there: enough of them, and long enough."""
    own = duty.own_rods
    if own is None:
        return []
    source = "geometry"
    checks = [Check("press", "rods needed, of those in stock",
                    len(press.rods), own.count, "1",
                    "own_rods.count", "n ≤ count", source)]  # fmt: skip
    if own.length is not None:
        checks.append(
            Check("press", "length needed of the rods in stock",
                  press.rods[0].length, own.length,
                  "m", "own_rods.length", "L ≤ length", source,
                  "thread beyond both nuts included"))  # fmt: skip
    return checks


def budget(case: Case, press: Press, duty: Duty) -> list[Check]:
    """What the press costs against the budget, where one is given."""
    bill = priced(press, case) if duty.budget is not None else None
    if bill is None or duty.budget is None:
        return []
    return [
        Check(
            "press", "cost of the press",
            bill.total, duty.budget, bill.currency, "budget",
            "", "prices of the case",
            f"not priced: {', '.join(bill.missing)}" if bill.missing else "",
            method="sum of quantity times rate",
        )
    ]  # fmt: skip
