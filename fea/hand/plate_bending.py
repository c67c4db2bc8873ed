"""A flat stack as a thick plate on its rods: bending along and across at once, twist and shear.

Mindlin's plate (J. Appl. Mech. 18 (1951) 31; not verified against the paper) by the method of Ritz:
w, θx and θy are polynomials in x and y, and make

    1/2 ∫∫ D (θx,x² + θy,y² + 2ν θx,x θy,y + (1 − ν)/2 (θx,y + θy,x)²)
        + S ((w,x − θx)² + (w,y − θy)²) dx dy + 1/2 Σ k w_nut² − F w_patch

least, D = EI/(1 − ν²) and S = κGA of a unit of width. It is a little too stiff, as a polynomial
does not follow what is sharp. Plates that slide are plates of their own that share w and θ; where
they are one, a plate that covers only a part of the others thickens them there. Holes are left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import numpy.typing as npt

from platestack.fea.hand import section
from platestack.fea.hand.joint import support_stiffness
from platestack.fea.hand.situation import Effect, Situation
from platestack.geometry.parts import Patch, Plate
from platestack.geometry.shapes import Outline

FloatArray = npt.NDArray[np.float64]
Box = tuple[float, float, float, float]

DEGREE = 10
"""Of the polynomials along x and along y."""
STRIPS = 24
"""Across, into which a contour is cut."""
_SLOPES = np.polynomial.legendre.legder(np.eye(DEGREE + 1))
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(DEGREE + 2)
_RADII, _RINGS = np.polynomial.legendre.leggauss(4)
_TURNS = 16


@dataclass(frozen=True)
class _Layer:
    """Stiffness over a rectangle: (low x, low y, high x, high y) in m, D (N m), ν, S (N/m)."""

    box: Box
    bending: float
    poisson: float
    shear: float


@dataclass(frozen=True)
class _Polynomials:
    """Legendre polynomials of some degrees over −half to half (m)."""

    degrees: tuple[int, ...]
    half: float

    def at(self, x: FloatArray, derivative: int = 0) -> FloatArray:
        """Values or slopes (k, n) at x (k,) (m)."""
        every = np.polynomial.legendre.legvander(x / self.half, DEGREE)
        if derivative:
            every = every[..., :DEGREE] @ _SLOPES / self.half
        return np.asarray(every[..., list(self.degrees)])


def as_plate(case: Situation) -> Effect:
    """Estimate what bending across adds, and what bending along loses by it, to a flat stack."""
    value = sag(case) - case.read(case.along([section.without_holes(p) for p in case.plates]))
    return Effect(
        "bending as a plate", value, 0.1 * abs(value),
        "the patch sags between the rod lines, and a wide plate bends less along while it bends "
        "across; a beam along x does neither",
    )  # fmt: skip


def sag(case: Situation) -> float:
    """Mid-span deflection (m) of a flat stack as a plate, over the mean of its nuts."""
    fields = _fields(case)
    layers = list(_layers(case))
    ends = np.cumsum([0, *(len(x.degrees) * len(y.degrees) for x, y in fields)])
    matrix = np.zeros((ends[-1], ends[-1]))
    for layer in layers:
        for (i, j), block in _blocks(fields, layer).items():
            matrix[ends[i] : ends[i + 1], ends[j] : ends[j + 1]] += block
            if i != j:
                matrix[ends[j] : ends[j + 1], ends[i] : ends[i + 1]] += block.T
    count = ends[1]
    nuts = np.stack([_mean(fields[0], rod.annulus) for rod in case.rods])
    springs = np.array([support_stiffness(rod) for rod in case.rods])
    matrix[:count, :count] += nuts.T @ (springs[:, None] * nuts)
    force = np.zeros(ends[-1])
    force[:count] = case.force * _mean(fields[0], _felt(case.stack.patch, case.depth))
    moved = np.linalg.solve(matrix, force)[:count]
    read = [_row(fields[0], x, 0.0) @ moved for x in (case.reading, -case.reading)]
    return float(np.mean(read) - np.mean(nuts @ moved))


def _felt(patch: Patch, depth: float) -> Patch:
    """Patch over which a plate feels a load that acts on a small one on its face.

    A disc of radius c < 1.724 h acts as one of √(1.6 c² + h²) − 0.675 h (Westergaard, Public
    Roads 7 (1926) 25, in Roark's Formulas for Stress and Strain; not verified), if that is larger.
    """
    c = math.sqrt(patch.area / math.pi) if patch.shape == "rectangle" else patch.length / 2
    more = math.sqrt(1.6 * c**2 + depth**2) - 0.675 * depth - c
    if more <= 0 or c >= 1.724 * depth:
        return patch
    inner = max(patch.inner - 2 * more, 0.0)
    shape = "disc" if patch.shape == "annulus" and not inner else patch.shape
    return replace(
        patch,
        shape=shape,
        length=patch.length + 2 * more,
        width=patch.width + 2 * more,
        inner=inner,
    )


def _fields(case: Situation) -> list[tuple[_Polynomials, _Polynomials]]:
    """Polynomials along x and y of w, θx and θy; only those that the symmetry of the press has."""
    boxes = np.array([plate.outline.box for plate in case.plates])
    half = np.abs(boxes).max(axis=0)
    at = np.array([rod.at for rod in case.rods])
    centre = case.stack.patch.centre
    axes = []
    for axis in (0, 1):
        mirrored = at * np.where(np.arange(2) == axis, -1, 1)
        same = all(np.abs(mirrored - one).sum(axis=1).min() < 1e-6 for one in at)
        even = range(0, DEGREE + 1, 2), range(1, DEGREE + 1, 2)
        every = range(DEGREE + 1), range(DEGREE + 1)
        kinds = even if same and abs(centre[axis]) < 1e-9 else every
        length = max(half[axis], half[axis + 2])
        axes.append([_Polynomials(tuple(degrees), length) for degrees in kinds])
    (x, turned_x), (y, turned_y) = axes
    return [(x, y), (turned_x, y), (x, turned_y)]


def _layers(case: Situation) -> Iterator[_Layer]:
    """What bends, gross: each plate, or where they are one the section that each outline adds."""
    groups: dict[tuple[Box, ...], list[Plate]] = {}
    for plate in case.plates:
        groups.setdefault(_boxes(plate.outline), []).append(plate)
    below = 0.0, 0.0
    held: list[Plate] = []
    for boxes in sorted(groups, key=lambda found: -sum(map(_area, found))):
        held = [*(held if case.welded else ()), *groups[boxes]]
        strip = tuple(replace(p, outline=Outline(1.0, 1.0), holes=()) for p in held)
        found = section.stiffness(strip, np.zeros(1), welded=case.welded)
        poisson = held[0].material.poisson
        bending, shear = float(found.bending[0]) / (1 - poisson**2), float(found.shear[0])
        for box in boxes:
            yield _Layer(box, bending - below[0], poisson, shear - below[1])
        if case.welded:
            below = bending, shear


def _area(box: Box) -> float:
    return (box[2] - box[0]) * (box[3] - box[1])


def _boxes(outline: Outline) -> tuple[Box, ...]:
    """An outline as rectangles: the one around it, or strips across that follow its contour."""
    if outline.contour is None:
        return (outline.box,)
    ends = np.linspace(outline.box[0], outline.box[2], STRIPS + 1)
    chords = outline.contour.chords((ends[1:] + ends[:-1]) / 2)
    return tuple(
        (float(x0), float(low), float(x1), float(high))
        for chord in chords
        for x0, x1, (low, high) in zip(ends[:-1], ends[1:], chord, strict=True)
        if high > low
    )


def _blocks(
    fields: list[tuple[_Polynomials, _Polynomials]], layer: _Layer
) -> dict[tuple[int, int], FloatArray]:
    """Upper blocks of the stiffness of w, θx and θy (0, 1, 2) over a rectangle."""
    ends = layer.box[::2], layer.box[1::2]
    at = [(low + high) / 2 + (high - low) / 2 * _POINTS for low, high in ends]
    weights = [(high - low) / 2 * _WEIGHTS[:, None] for low, high in ends]
    values = {
        (field, axis, derivative): one[axis].at(at[axis], derivative)
        for field, one in enumerate(fields) for axis in (0, 1) for derivative in (0, 1)
    }  # fmt: skip

    def integral(i: int, x: int, y: int, j: int, over_x: int, over_y: int) -> FloatArray:
        """∫∫ of field i, derived x and y times, times field j, derived likewise."""
        parts = [
            values[i, axis, first].T @ (weights[axis] * values[j, axis, second])
            for axis, first, second in ((0, x, over_x), (1, y, over_y))
        ]
        return np.asarray(np.kron(parts[0], parts[1]))

    d, nu, s = layer.bending, layer.poisson, layer.shear
    twist = d * (1 - nu) / 2
    return {
        (0, 0): s * (integral(0, 1, 0, 0, 1, 0) + integral(0, 0, 1, 0, 0, 1)),
        (0, 1): -s * integral(0, 1, 0, 1, 0, 0),
        (0, 2): -s * integral(0, 0, 1, 2, 0, 0),
        (1, 1): d * integral(1, 1, 0, 1, 1, 0)
        + twist * integral(1, 0, 1, 1, 0, 1)
        + s * integral(1, 0, 0, 1, 0, 0),
        (1, 2): d * nu * integral(1, 1, 0, 2, 0, 1) + twist * integral(1, 0, 1, 2, 1, 0),
        (2, 2): d * integral(2, 0, 1, 2, 0, 1)
        + twist * integral(2, 1, 0, 2, 1, 0)
        + s * integral(2, 0, 0, 2, 0, 0),
    }


def _row(field: tuple[_Polynomials, _Polynomials], x: float, y: float) -> FloatArray:
    """Reads a field at a point."""
    return np.asarray(np.kron(field[0].at(np.array(x)), field[1].at(np.array(y))))


def _mean(field: tuple[_Polynomials, _Polynomials], patch: Patch) -> FloatArray:
    """Reads the mean of a field over a patch."""
    x, y, weights = _spots(patch)
    left, right = field[0].at(x), field[1].at(y)
    return np.asarray(np.einsum("q,qi,qj->ij", weights, left, right).ravel())


def _spots(patch: Patch) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points of a patch and their parts of its area."""
    (cx, cy), half = patch.centre, (patch.length / 2, patch.width / 2)
    if patch.shape == "rectangle":
        spots = np.array(list(product(_POINTS, _POINTS)))
        weights = np.outer(_WEIGHTS, _WEIGHTS).ravel() / 4
        return cx + half[0] * spots[:, 0], cy + half[1] * spots[:, 1], weights
    inner = patch.inner / 2
    squared = inner**2 + (half[0] ** 2 - inner**2) * (_RADII + 1) / 2
    turns = 2 * np.pi * (np.arange(_TURNS) + 0.5) / _TURNS
    radius, angle = (a.ravel() for a in np.meshgrid(np.sqrt(squared), turns, indexing="ij"))
    weights = np.repeat(_RINGS / 2 / _TURNS, _TURNS)
    return cx + radius * np.cos(angle), cy + radius * np.sin(angle), weights
