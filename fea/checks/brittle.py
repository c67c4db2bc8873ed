"""Brittle fracture: thickness of plates against what their sub-grade allows in the cold."""

from __future__ import annotations

from platestack.fea.hand.cylinder import disc_centre, disc_edge
from platestack.fea.hand.record import Check, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.cylinder_part import Material
from platestack.geometry.schema import Case
from platestack.geometry.units import fixed, quantity

_SCOPE = (
    "For plates pressed slowly (strain rate up to 0.0004/s, the table's); breaking through a "
    "workpiece is faster, and a blow much faster: ask for a tougher sub-grade there.",
    "Rods, nuts and the cylinder's wall are not in the table: ask for their impact energy at the "
    "lowest temperature.",
)


def brittle_fracture(solution: Solution) -> list[Check]:
    """Thickness against brittle fracture: the worst plate of each stack, the cylinder's bottom."""
    case, checks = solution.case, []
    for name, solved in solution.stacks.items():
        bent = [
            peak
            for peak in solved.peaks
            if peak.plate in solved.stack.plates and peak.plate.role != "spacer"
        ]
        # Of plates that are allowed the same, the more stressed.
        found = [
            (thickness_check(f"{name} {peak.plate.name}", case, peak.plate.material,
                             peak.plate.bought, peak.von_mises, "peak stress at capacity"), peak)
            for peak in bent
        ]  # fmt: skip
        checks.append(max(found, key=lambda one: (one[0].utilisation, one[1].von_mises))[0])
    made = solution.press.cylinder
    if made is not None:
        p, a = solution.press.working_pressure, made.bore / 2
        centre = disc_centre(p, a, made.bottom, made.bottom_material.poisson)
        stress = max(centre, disc_edge(p, a, made.bottom))
        checks.append(
            thickness_check("cylinder bottom", case, made.bottom_material, made.bottom, stress,
                            "bending at working pressure as of a supported or a clamped plate")
        )  # fmt: skip
    return checks


def thickness_check(
    part: str, case: Case, steel: Material, thickness: float, stress: float, how: str
) -> Check:
    """Thickness (m) of a part against the largest allowed at the lowest temperature of its shop.

    Parameters
    ----------
    part, how : what it is, and how its stress was found.
    stress : its largest tension at capacity (Pa).
    """
    cold, ratio = case.shop.lowest_temperature, stress / steel.yield_strength
    own, found, known = taken_as(case, steel)
    allowed = found.allowed(cold, ratio)
    cautions = list(_SCOPE)
    if not known:
        cautions.append(
            f"The impact energy of {steel.grade} is not known; taken as {own}. Give materials."
            f"{steel.grade}.toughness_as the listed grade that its certificate matches."
        )
    if thickness > allowed:
        enough = [s.name for s in tables.tougher(found) if s.allowed(cold, ratio) >= thickness]
        cautions.append(
            f"What would do: {'sub-grade ' + enough[0] if enough else 'no listed sub-grade'}, "
            f"plates up to {fixed(allowed, 'm', 0)}, or plates kept warmer."
        )
    if ratio > 0.75:
        cautions.append("Stress beyond 0.75 of yield is outside the table; carried on in line.")
    return Check(
        part, "thickness against brittle fracture",
        thickness, allowed, "m", f"largest of {own} at {quantity(cold, '°C', 3)}",
        "t ≤ t_allowed", found.source,
        f"σ_Ed / f_y = {ratio:.2f}: {how}, an upper bound of the nominal stress",
        (Input("t", thickness, "m"), Input("t_allowed", allowed, "m")),
        tuple(cautions),
        method="t_allowed from the table, linear between its values of temperature and stress; "
        f"impact test of {own}: {quantity(found.energy, 'J', 3)} at "
        f"{quantity(found.test, '°C', 3)}",
    )  # fmt: skip


def taken_as(case: Case, steel: Material) -> tuple[str, tables.Subgrade, bool]:
    """Name and sub-grade by which a steel is determined, and whether its impact energy is known."""
    given = case.materials.get(steel.grade)
    grade = (given.toughness_as or "") if given else steel.grade
    found, known = tables.subgrade(grade, steel.yield_strength)
    return found.name, found, known
