"""How much is left until parts give way plastically, by the theorems of limit analysis."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from platestack.fea.checks.alike import most
from platestack.fea.checks.cylinder import overload
from platestack.fea.hand import plastic
from platestack.fea.hand.bending import NotABeam
from platestack.fea.hand.cylinder import ThickCylinder
from platestack.fea.hand.record import Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry.units import fixed

_BEAM = (
    "As a beam: local yielding under patches and washers, shear and what plates on edge do at "
    "their saddles are left out. Limit loads of the solids are not computed."
)


def reserve_facts(solution: Solution) -> Iterator[Fact]:
    """Force at which stacks, rods and cylinder give way, and which does so first."""
    press = solution.press
    found: list[tuple[str, float]] = []
    for stack in press.stacks:
        with suppress(NotABeam):
            force = plastic.collapse_force(stack, press.rods, press.capacity)
            found.append((stack.name, force))
            yield Fact(
                "reserve", stack.name, "pressing force at which it gives way in bending",
                force, "N", "",
                "static theorem; Baker, Horne and Heyman, The Steel Skeleton II, 1956",
                "welded as one" if stack.interface == "welded" else "plates sliding on each other",
                cautions=(_BEAM,),
                method="moments of the beam raised until a section yields throughout, M_p = "
                "∫ f_y·|z − z_0| dA; a lower bound of the limit load",
            )  # fmt: skip
    low, high = rod_bounds(solution)
    found.append(("rods", low))
    yield Fact(
        "reserve", "rods", "pressing force at which they give way",
        low, "N", "",
        "static and kinematic theorem",
        f"between this (as the solution shares the force) and {fixed(high, 'N', 0)} (all yield)",
        method="least of A_s·R_e over a rod's part of the force; above, Σ A_s·R_e",
    )  # fmt: skip
    made = press.cylinder
    if made is not None:
        tube = ThickCylinder(made.bore / 2, made.outer_diameter / 2)
        burst = tube.collapse(made.material.yield_strength) * made.piston_area
        found.append(("cylinder wall", burst))
        yield Fact(
            "reserve", "cylinder wall", "pressing force at which it yields throughout",
            burst, "N", "2·R_e/√(3)·ln(K)·A",
            "Hill, The Mathematical Theory of Plasticity, 1950: exact in plane strain", "",
            (Input("R_e", made.material.yield_strength, "Pa"), Input("K", tube.ratio, "1"),
             Input("A", made.piston_area, "m²")),
        )  # fmt: skip
    part, first = most(found, lambda one: -one[1])
    over = overload(solution)
    yield Fact(
        "reserve",
        f"{part} gives way first", "force over capacity",
        first / press.capacity,
        "1",
        "F_first / F",
        "the smallest of the forces above",
        f"{first / press.capacity / over:.2f} of what the relief valve or a mistake lets through",
        (Input("F_first", first, "N"), Input("F", press.capacity, "N")),
        ("No limit to press up to: beyond first yield a press is bent for good, and repeated "
         "pressing beyond twice that, or near this, adds to it each time (Melan).",),
    )  # fmt: skip


def rod_bounds(solution: Solution) -> tuple[float, float]:
    """Pressing forces (N) between which the rods give way, by the static and kinematic theorem."""
    rods, capacity = solution.press.rods, solution.press.capacity
    yields = [rod.stress_area * rod.material.yield_strength for rod in rods]
    parts = [max(solution.rod_force(rod), 1e-9 * capacity) for rod in rods]
    low = capacity * min(y / part for y, part in zip(yields, parts, strict=True))
    return min(low, sum(yields)), sum(yields)
