"""How often the press presses, and how hard: pressings at capacity, or a spectrum of forces."""

from __future__ import annotations

import math
from dataclasses import dataclass

import rainflow

from platestack.fea.hand import fatigue
from platestack.fea.hand.record import Fact, Input
from platestack.geometry import tables
from platestack.geometry.schema import Case

SLOPE = 3.0
"""Of fatigue of details: a spectrum counts as so many pressings at capacity, by this power."""
GROWTH_SLOPE = 2.88
"""Of growth of cracks, at the range where they grow fastest."""


@dataclass(frozen=True)
class Use:
    """Ranges of force over capacity, each with its cycles in the life of the press."""

    ranges: tuple[tuple[float, float], ...]
    variable: bool
    factor: float
    """Partial factor of fatigue strength."""
    years: float

    @classmethod
    def of(cls, case: Case) -> Use:
        """What a case says; stresses are taken in proportion to the force."""
        limits, given = case.limits, case.spectrum
        if given is None:
            ranges: tuple[tuple[float, float], ...] = ((1.0, float(limits.cycles)),)
        elif given.blocks:
            ranges = tuple((b.force / case.press.capacity, float(b.cycles)) for b in given.blocks)
        else:
            counted = rainflow.count_cycles(given.recorded)
            ranges = tuple(
                (size / case.press.capacity, count * given.repeats)
                for size, count in counted if size > 0
            )  # fmt: skip
        return cls(ranges, given is not None, limits.fatigue_factor, limits.years)

    def equivalent(self, slope: float = SLOPE) -> int:
        """Pressings at capacity that do the same damage, at least 1, by a power of the range."""
        return max(1, math.ceil(sum(n * size**slope for size, n in self.ranges) - 1e-9))

    @property
    def words(self) -> str:
        """How often, in words."""
        how = " equivalent" if self.variable else ""
        return f"{self.equivalent():,}{how} pressings, over {self.factor:g}"

    @property
    def strength(self) -> str:
        """Formula of the allowed range of direct stress, with Δσ_C, N and γ_Mf."""
        cycles = "N" if self.variable else "min(N, 5·10^6)"
        return f"Δσ_C·(2·10^6 / {cycles})^(1/3) / γ_Mf"

    @property
    def shear_strength(self) -> str:
        """Formula of the allowed range of shear stress, with Δτ_C, N and γ_Mf."""
        return "Δτ_C·(2·10^6 / min(N, 10^8))^(1/5) / γ_Mf"

    def allowed(self, category: float) -> float:
        """Range of direct stress (Pa) at capacity that a detail category (Pa) stands.

        Of a spectrum by the slope of 3 throughout, which overrates small ranges.
        """
        knee = math.inf if self.variable else fatigue.KNEE
        return fatigue.allowed_range(category, self.equivalent(), self.factor, knee)

    def allowed_shear(self, category: float) -> float:
        """Range of shear stress (Pa) at capacity that a detail category (Pa) stands."""
        return fatigue.allowed_shear(category, self.equivalent(), self.factor)

    def damage(self, category: float, stress: float) -> float:
        """Miner's sum over the life, of a range of direct stress (Pa) at capacity."""
        return fatigue.damage(
            category / self.factor, ((size * stress, n) for size, n in self.ranges), self.variable
        )


def life_facts(part: str, use: Use, category: float, stress: float) -> list[Fact]:
    """Miner's sum of a part over the life of the press, and the years until it is one.

    `stress` is the range of direct stress (Pa) at capacity, `category` Δσ_C (Pa).
    """
    total = use.damage(category, stress)
    facts = [
        Fact(
            "fatigue", part, "sum of Palmgren and Miner",
            total, "1", "",
            "EN 1993-1-9:2005 7.1, A.5, not verified against the standard",
            f"in {use.years:g} years; 1 is the end; strength over {use.factor:g}",
            method="Σ n / N, slope 3 to 5 million cycles, then 5, nothing below the cut-off",
        )
    ]  # fmt: skip
    if total > 0:
        years = Fact(
            "fatigue", part, "years at this use until Miner's sum is 1",
            use.years / total, "years", "Y / D",
            "EN 1993-1-9:2005 A.5, not verified against the standard",
            inputs=(Input("Y", use.years, "years"), Input("D", total, "1")),
        )  # fmt: skip
        facts.append(years)
    return facts


def edge_detail(case: Case) -> tables.Detail:
    """Detail category of the cut edges, by how they are cut and dressed."""
    if case.cutting.dressed:
        return tables.detail("dressed cut")
    names = {4: "rough cut", 5: "hand cut"}
    return tables.detail(names.get(case.cutting.squareness, "machine cut"))
