"""A stack as a beam: an independent check of the mid-span deflection.

The beam runs along x between the tie rods and shears (`fea.hand.bending`, with κ = 5/6 for a plain
rectangle). What it leaves out is estimated (`fea.hand.beam_effects`); together they say in which
band a finite-element deflection must lie.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from platestack.fea.hand import section
from platestack.fea.hand.beam_effects import effects
from platestack.fea.hand.bending import STEPS, Curve, Load, bend, supports
from platestack.fea.hand.situation import Effect, Situation
from platestack.geometry.parts import Stack, TieRod
from platestack.geometry.units import percent


@dataclass(frozen=True)
class RodRow:
    """The rods that share an x."""

    x: float
    rods: int
    force: float
    """Working load of the whole row (N), positive in tension; preload not included."""


@dataclass(frozen=True)
class BeamResult:
    """What beam theory says of one stack."""

    mid_span_deflection: float
    """At the press axis, relative to the mean of the nut-bearing annuli (m)."""
    bending_stress: float
    """Largest nominal stress: net section, extreme fibre (Pa)."""
    rows: tuple[RodRow, ...]
    """From −x to +x."""
    effects: tuple[Effect, ...]
    """What the beam leaves out."""

    @property
    def expected(self) -> float:
        """Deflection (m) with what the beam leaves out."""
        return self.mid_span_deflection + sum(effect.value for effect in self.effects)

    @property
    def uncertainty(self) -> float:
        """Of the expected deflection (m), the spreads taken as independent."""
        return math.hypot(*(effect.spread for effect in self.effects))

    @property
    def lower(self) -> float:
        """Lower end of the band about the expected deflection (m)."""
        return self.expected - self.uncertainty

    @property
    def upper(self) -> float:
        """Upper end of the band about the expected deflection (m)."""
        return self.expected + self.uncertainty


@dataclass(frozen=True)
class BeamCheck:
    """The beam's answer for a stack whose plates are one, or slide, and what to make of it."""

    stack: str
    interface: str
    welded: BeamResult
    loose: BeamResult
    connected: bool = False
    """Whether dowels or seams join loose plates."""

    @property
    def actual(self) -> BeamResult:
        """The beam for the stack's own interface; for a clamped one the welded beam."""
        return self.loose if self.interface == "loose" else self.welded

    @property
    def band(self) -> tuple[float, float]:
        """Least and greatest deflection (m) to be expected of a computation.

        Of a stack that is clamped or has connectors, beam theory can tell no more than that it is
        no stiffer than welded and no softer than loose.
        """
        first = self.loose if self.interface == "loose" and not self.connected else self.welded
        last = self.welded if self.interface == "welded" else self.loose
        return first.lower, last.upper

    def limits(self, error: float) -> tuple[float, float]:
        """The band (m) for a deflection that is known within an error (m)."""
        low, high = self.band
        return max(low - error, 0.0), high + error

    def agrees(self, deflection: float, error: float) -> bool:
        """Whether a computed deflection (m), within its error (m), is in the band."""
        low, high = self.limits(error)
        return low <= deflection <= high

    def verdict(self, deflection: float, error: float) -> str:
        """Say in a sentence what a computed deflection (m) means, given its error (m)."""
        known = self.actual.expected
        ratio, low, high = (each / known for each in (deflection, *self.limits(error)))
        inside = self.agrees(deflection, error)
        places = 2
        while not inside and places < 6 and f"{ratio:.{places}f}" in (
            f"{low:.{places}f}", f"{high:.{places}f}"
        ):  # fmt: skip
            places += 1
        edges = f"{low:.{places}f} to {high:.{places}f} expected"
        found = (
            f"mid-span deflection of the {self.stack} is {ratio:.{places}f} times that by beam "
            "theory"
        )
        if inside:
            return f"Computed {found}, within the {edges}."
        side = "below" if ratio < low else "above"
        return (
            f"WARNING: computed {found}, {side} the {edges}. Before use, "
            "check units, thicknesses, number of plates, supports and symmetry."
        )

    @property
    def reasons(self) -> tuple[str, ...]:
        """What the beam leaves out, the largest first, each in words with its share of the beam."""
        result = self.actual
        beam = result.mid_span_deflection
        ordered = sorted(result.effects, key=lambda e: -max(abs(e.value), e.spread))
        return tuple(
            f"{e.name}: {percent(e.value / beam, 1, signed=True)} ± "
            f"{percent(e.spread / beam, 1)}; {e.reason}"
            for e in ordered
        )


def beam_check(stack: Stack, rods: tuple[TieRod, ...], force: float) -> BeamCheck:
    """Check a stack as a beam, welded and loose.

    Parameters
    ----------
    stack : Stack
        Flat or on edge.
    rods : tuple of TieRod
        In two rows along x at least.
    force : float
        Pressing force (N), positive.

    Returns
    -------
    BeamCheck

    Raises
    ------
    NotABeam
        If all rods share an x, or holes or gaps leave no section somewhere.
    """
    return BeamCheck(
        stack.name,
        stack.interface,
        beam(stack, rods, force, welded=True),
        beam(stack, rods, force, welded=False),
        stack.connectors is not None,
    )


def beam(
    stack: Stack, rods: tuple[TieRod, ...], force: float, *, welded: bool, steps: int = STEPS
) -> BeamResult:
    """Describe a stack as a beam along x, its plates one or sliding; errors as of `beam_check`."""
    plates = section.bending_plates(stack.plates)
    held = supports(rods)
    curve = bend(plates, (Load(stack.patch, force),), held, welded=welded, steps=steps)
    case = Situation(stack, rods, force, welded, curve)
    rows = tuple(
        RodRow(row.x, len(row.patches), float(carried))
        for row, carried in zip(held, curve.forces, strict=True)
    )
    return BeamResult(case.deflection, _peak(curve), rows, effects(case))


def nominal(
    stack: Stack, rods: tuple[TieRod, ...], force: float, *, welded: bool, steps: int = STEPS
) -> tuple[float, float]:
    """Largest nominal bending stress (Pa) and deflection at the press axis (m), bending alone.

    Known far sooner than `beam`, as nothing that the beam leaves out is estimated; errors as of it.
    """
    plates = section.bending_plates(stack.plates)
    curve = bend(plates, (Load(stack.patch, force),), supports(rods), welded=welded, steps=steps)
    return _peak(curve), curve.at(0.0)


def _peak(curve: Curve) -> float:
    """Largest extreme-fibre stress (Pa)."""
    ends = np.maximum(abs(curve.moment[1:]), abs(curve.moment[:-1]))
    return float((ends * curve.stiffness.fibre).max())
