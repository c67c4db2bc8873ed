"""The weld between the cylinder's bottom and its wall, in fatigue."""

from __future__ import annotations

from platestack.fea.checks.use import Use
from platestack.fea.hand.cylinder import junction_moment
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.units import fixed

DETAILS = {"full penetration": "butt weld, one side", "partial penetration": "fillet root"}
_FORMULA = "6·M/w²"
_SOURCE = "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., arts. 16, 114"
_CAUTIONS = (
    "A plate and a thin shell: for thick walls an estimate, on the side of more stress. A groove "
    "that eases the corner, or a bottom that is not welded but held in the joint, has less.",
)


def bottom_seam(solution: Solution) -> list[Check]:
    """Bending range at the seam of bottom and wall, where the case says how they are joined."""
    detail = DETAILS.get(solution.case.cylinder.bottom_joint or "")
    found = _bent(solution)
    if detail is None or found is None:
        return []
    moment, wall = found
    use, category = Use.of(solution.case), tables.detail(detail)
    return [
        Check(
            "cylinder bottom", "fatigue of its weld",
            6 * moment / wall**2, use.allowed(category.category), "Pa",
            f"category {category.category / 1e6:g}, {use.words}",
            f"{_FORMULA} ≤ {use.strength}", f"{_SOURCE}; {category.source}",
            "from no pressure to working pressure; throat as thick as the wall",
            (Input("M", moment, "N"), Input("w", wall, "m"), Input("Δσ_C", category.category, "Pa"),
             Input("N", use.equivalent(), "1"), Input("γ_Mf", use.factor, "1")),
            _CAUTIONS,
            method="M between a plate on a supported rim and a long shell, per length of the seam",
        )
    ]  # fmt: skip


def bottom_seam_facts(solution: Solution) -> list[Fact]:
    """The same bending, where the case does not say how bottom and wall are joined."""
    found = _bent(solution)
    if solution.case.cylinder.bottom_joint is not None or found is None:
        return []
    moment, wall = found
    use = Use.of(solution.case)
    stands = "; ".join(
        f"{how} {fixed(use.allowed(tables.detail(detail).category), 'Pa', 0)}"
        for how, detail in DETAILS.items()
    )
    return [
        Fact(
            "cylinder",
            "press",
            "bending range of the wall where a bottom is welded to it",
            6 * moment / wall**2,
            "Pa",
            _FORMULA,
            _SOURCE,
            f"a weld stands, {use.words}: {stands}",
            (Input("M", moment, "N"), Input("w", wall, "m")),
            (
                "Not checked, as the case does not say how the bottom is joined: give "
                "cylinder.bottom_joint.",
                *_CAUTIONS,
            ),
        )
    ]


def _bent(solution: Solution) -> tuple[float, float] | None:
    """Moment at the seam (N) at working pressure, and the wall (m)."""
    made = solution.press.cylinder
    if made is None:
        return None
    wall = (made.outer_diameter - made.bore) / 2
    middle = (made.outer_diameter + made.bore) / 4
    p, steel = solution.press.working_pressure, made.material
    return junction_moment(p, middle, wall, made.bottom, steel.poisson), wall
