"""Loose plates with gaps between them, as beams on each other: how far they sag till these close.

Each plate is a Timoshenko beam along x of its own (`fea.hand.section`). Neighbours press on each
other at nodes where the gap between them is closed, and never pull. Rods are springs at their nuts,
and at their seats, where they first squeeze the plates by their preload. The state is the one of
least energy, a convex and piecewise quadratic function of the deflections; Newton's method with an
exact search along each step finds it in finitely many steps (Mangasarian, J. Optim. Theory Appl.
121 (2004) 1; not verified against the paper).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from platestack.fea.hand import section
from platestack.fea.hand.bending import lumped
from platestack.fea.hand.joint import springs_of
from platestack.fea.hand.situation import Situation
from platestack.geometry.parts import Patch, Plate, Stack, TieRod

FloatArray = npt.NDArray[np.float64]

STEPS = 40
"""Elements along the plates, at least."""
PER_WAVE = 8
"""Elements along a wave of the plates, at least."""
HARD, WEAK = 1e4, 1e-6
"""Stiffness of a closed node, and of what holds plates on which nothing presses, over the one of
the whole stack at mid-span."""
NEWTON_STEPS = 100
ENOUGH = 1e-6
"""Step over deflection below which Newton's method ends."""
_POINT = 1e-6
"""What counts as a point (m)."""


@dataclass(frozen=True)
class _Row:
    """Rods that share an x, one for all, and what reads the deflections (nm,) at nut and seat."""

    rod: TieRod
    rods: int
    nut: FloatArray
    seat: FloatArray | None
    depth: float
    """From nut to seat (m)."""

    def springs(self, opened: bool) -> list[tuple[FloatArray, float, float]]:
        """Row (nm,), stiffness (N/m) and force at rest (N) of each spring."""
        found = springs_of(self.rod, self.nut, self.seat, self.depth, opened)
        return [
            (row, self.rods * stiffness, self.rods * force) for row, stiffness, force, *_ in found
        ]

    def lifted(self, moved: FloatArray) -> bool:
        """Whether a seat would have to pull after deflections (nm,) that pressing adds."""
        if self.seat is None:
            return False
        at_nut, at_seat = np.eye(2)
        here = np.array([self.nut @ moved, self.seat @ moved])
        found = springs_of(self.rod, at_nut, at_seat, self.depth, opened=False)
        return sum(row[1] * (force + k * (row @ here)) for row, k, force, *_ in found) > 0


@dataclass(frozen=True)
class Leaves:
    """Plates as beams, from the loaded one to the one under the nuts; m nodes for each of n.

    Attributes
    ----------
    stiffness : (nm, nm), of the deflections alone, rotations condensed (N/m).
    gap : (n - 1, m) between neighbours (m), infinite where they do not face each other.
    load : (nm,) pressing force (N). read : (nm,) what reads the deflection of the loaded face.
    scale : stiffness of the whole at mid-span (N/m).
    """

    stiffness: FloatArray
    gap: FloatArray
    load: FloatArray
    read: FloatArray
    rows: tuple[_Row, ...]
    scale: float

    @classmethod
    def of(cls, case: Situation, softer: float) -> Leaves:
        """Leaves of a flat stack, each plate's stiffness divided by `softer`."""
        stack = case.stack
        plates = sorted(case.plates, key=lambda p: abs(p.base + p.top - 2 * stack.load_face))
        x = _nodes(plates, stack)
        within = [_reaches(plate, x) for plate in plates]
        n, m = len(plates), len(x)

        def spread(number: int, patch: Patch) -> FloatArray:
            row, own = np.zeros((n, m)), within[number]
            row[number, own] = lumped(patch, x[own])
            return row.ravel()

        stiffness = np.zeros((n * m, n * m))
        known: dict[Plate, FloatArray] = {}
        gap = np.full((n - 1, m), np.inf)
        for number, plate in enumerate(plates):
            alike = replace(plate, name="", base=0.0)
            if alike not in known:
                known[alike] = _deflected(plate, x[within[number]]) / softer
            own = number * m + np.flatnonzero(within[number])
            stiffness[np.ix_(own, own)] = known[alike]
            if number < n - 1:
                facing = within[number] & within[number + 1]
                reach = np.full(int(facing.sum()), np.abs(x[facing]).max())
                gap[number, facing] = stack.gap.at(x[facing], reach)
        rows = []
        for rod, count in _rows(case.rods):
            annulus = rod.seat_annulus
            if annulus is None:
                rows.append(_Row(rod, count, spread(n - 1, rod.annulus), None, 0.0))
                continue
            first = int(np.argmax([_reaches(p, np.array([rod.at[0]]))[0] for p in plates]))
            depth = abs(stack.nut_face - (stack.seat_face(annulus) or stack.load_face))
            nut, seat = spread(n - 1, rod.annulus), spread(first, annulus)
            rows.append(_Row(rod, count, nut, seat, depth))
        reading = np.zeros((n, m))
        for at in (case.reading, -case.reading):
            reading[0, within[0]] += lumped(Patch("disc", (at, 0.0), _POINT, _POINT), x[within[0]])
        load = case.force * spread(0, stack.patch)
        return cls(
            stiffness, gap, load, reading.ravel() / 2, tuple(rows), case.force / case.deflection
        )

    def sag(self, gap: FloatArray) -> float:
        """Mid-span deflection (m) that pressing adds, over the nuts, with gaps (n - 1, m)."""
        squeeze = np.zeros_like(self.load)
        for one in self.rows:
            for row, _, at_rest in one.springs(opened=False):
                squeeze -= at_rest * row
        rest = self._settled(gap, squeeze, ()) if squeeze.any() else np.zeros_like(squeeze)
        opened: set[int] = set()
        while True:
            force, springs = self.load.copy(), []
            for number, one in enumerate(self.rows):
                for row, stiffness, at_rest in one.springs(number in opened):
                    force += (stiffness * float(row @ rest) - at_rest) * row
                    springs.append((row, stiffness))
            moved = self._settled(gap, force, springs) - rest
            lost = {n for n, one in enumerate(self.rows) if one.lifted(moved)} - opened
            if not lost:
                break
            opened |= lost
        nuts = sum(one.rods * float(one.nut @ moved) for one in self.rows)
        return float(self.read @ moved) - nuts / sum(one.rods for one in self.rows)

    def _settled(
        self, gap: FloatArray, force: FloatArray, springs: Sequence[tuple[FloatArray, float]]
    ) -> FloatArray:
        """Deflections (nm,) of least energy under forces (nm,), held by springs."""
        matrix = self.stiffness + WEAK * self.scale / len(self.load) * np.eye(len(self.load))
        for weights, stiffness in springs:
            matrix = matrix + stiffness * np.outer(weights, weights)
        m = gap.shape[1]
        upper = np.flatnonzero(np.isfinite(gap.ravel()))
        touch, hard = gap.ravel()[upper], HARD * self.scale
        deflected = np.zeros_like(force)
        for _ in range(NEWTON_STEPS):
            into = deflected[upper] - deflected[upper + m] - touch
            pressed = hard * np.maximum(into, 0.0)
            left = force - matrix @ deflected
            left[upper] -= pressed
            left += np.bincount(upper + m, pressed, len(left))
            closed = upper[into > 0]
            tangent = matrix.copy()
            tangent[closed, closed] += hard
            tangent[closed + m, closed + m] += hard
            tangent[closed, closed + m] -= hard
            tangent[closed + m, closed] -= hard
            step = np.linalg.solve(tangent, left)
            closing = step[upper] - step[upper + m]
            slope = float(step @ (matrix @ deflected - force)), float(step @ matrix @ step)
            step *= _lowest(slope, hard, into, closing)
            deflected = deflected + step
            if np.abs(step).max() <= ENOUGH * np.abs(deflected).max():
                break
        return deflected


def _lowest(slope: tuple[float, float], hard: float, into: FloatArray, more: FloatArray) -> float:
    """Where along a step, from 0, the energy is least.

    Its slope there is a + b t + hard Σ max(0, into + more t) more, which grows with t.
    """
    turns = np.divide(-into, more, where=more != 0, out=np.zeros_like(into))
    t = np.unique(np.concatenate([[0.0], turns[turns > 0]]))
    t = np.append(t, 2 * t[-1] + 1.0)

    def at(times: FloatArray) -> FloatArray:
        pressed = np.maximum(into + times[:, None] * more, 0.0) @ more
        return np.asarray(slope[0] + slope[1] * times + hard * pressed)

    value = at(t)
    end = int(np.argmax(value >= 0)) if (value >= 0).any() else len(t) - 1
    if end == 0:
        return 0.0
    low, high = value[end - 1], value[end]
    return float(t[end - 1] - low * (t[end] - t[end - 1]) / (high - low))


def _nodes(plates: Sequence[Plate], stack: Stack) -> FloatArray:
    """Nodes evenly along the plates, and at the ends of shorter ones."""
    ends = np.array([plate.outline.box[::2] for plate in plates])
    start, end = ends.min(), ends.max()
    steps = STEPS
    if stack.gap.waviness:
        steps = max(steps, round(PER_WAVE * (end - start) / stack.gap.wave_length))
    even = np.linspace(start, end, steps + 1)
    length = (end - start) / steps
    inner = [x for x in np.unique(ends) if np.abs(even - x).min() > length / 1e3]
    apart = [x for x in even if not inner or np.abs(np.array(inner) - x).min() > length / 4]
    return np.sort(np.array(apart + inner))


def _reaches(plate: Plate, x: FloatArray) -> npt.NDArray[np.bool_]:
    """Which x (m) a plate reaches."""
    low, high = plate.outline.box[0], plate.outline.box[2]
    return np.asarray((x >= low - _POINT) & (x <= high + _POINT))


def _deflected(plate: Plate, x: FloatArray) -> FloatArray:
    """Stiffness (m, m) of one plate against deflections at its nodes (N/m), rotations condensed.

    Timoshenko's element: 12 EI / ((1 + φ) h³) and so on, φ = 12 EI / (κGA h²) (Przemieniecki,
    Theory of Matrix Structural Analysis, 1968, chapter 5; not verified, re-derived).
    """
    h, middle = np.diff(x), (x[1:] + x[:-1]) / 2
    found = section.stiffness((plate,), middle, welded=True)
    m = len(x)
    whole = np.zeros((2 * m, 2 * m))
    for k, (length, bending, shear) in enumerate(zip(h, found.bending, found.shear, strict=True)):
        phi = 12 * bending / (shear * length**2)
        a, b = 6 * length, (4 + phi) * length**2
        c = (2 - phi) * length**2
        element = np.array([[12, a, -12, a], [a, b, -a, c], [-12, -a, 12, -a], [a, c, -a, b]])
        own = [k, m + k, k + 1, m + k + 1]
        whole[np.ix_(own, own)] += bending / ((1 + phi) * length**3) * element
    turned = np.linalg.solve(whole[m:, m:], whole[m:, :m])
    return np.asarray(whole[:m, :m] - whole[:m, m:] @ turned)


def _rows(rods: Sequence[TieRod]) -> list[tuple[TieRod, int]]:
    """One rod of each x, and how many stand there."""
    rows: dict[float, list[TieRod]] = {}
    for rod in rods:
        rows.setdefault(round(rod.at[0], 6), []).append(rod)
    return [(row[0], len(row)) for row in rows.values()]
