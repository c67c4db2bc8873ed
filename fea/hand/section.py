"""Cross-sections of a stack along x: what is left of each plate, and how stiff that is.

At a station x the plates are cut into rectangles (holes and grooves taken out). The sections'
stiffnesses follow from them by composite beam theory: with E of each plate, about the common
neutral axis where the plates are one (welded), about each plate's own where they are not (loose).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from platestack.geometry.parts import Plate
from platestack.geometry.shapes import ContourHole, Groove, Hole, RectangleHole, RoundHole

FloatArray = npt.NDArray[np.float64]

_GAUSS, _WEIGHTS = np.polynomial.legendre.leggauss(3)


@dataclass(frozen=True)
class Rectangles:
    """The rectangles into which n sections cut one or more plates.

    Attributes
    ----------
    low, high, width : (p, n)
        Lower and upper edge (m, along z) and width (m, across) of each; width 0 where none is.
    young, shear : (p,)
        Young's and shear modulus (Pa).
    """

    low: FloatArray
    high: FloatArray
    width: FloatArray
    young: FloatArray
    shear: FloatArray


@dataclass(frozen=True)
class Stiffness:
    """What n sections set against bending and shear.

    Attributes
    ----------
    bending : (n,)
        EI (N m²).
    shear : (n,)
        The whole denominator of the shear strain, κGA (N).
    fibre : (n,)
        Stress per unit bending moment at the most stressed extreme fibre (Pa/(N m)).
    """

    bending: FloatArray
    shear: FloatArray
    fibre: FloatArray


def bending_plates(plates: Iterable[Plate]) -> tuple[Plate, ...]:
    """Return the plates that carry bending along x: all but spacers and saddles."""
    return tuple(plate for plate in plates if plate.role in ("plate", "platen"))


def without_holes(plate: Plate) -> Plate:
    """Return the same plate, gross."""
    return replace(plate, holes=())


def turned(plate: Plate) -> Plate:
    """Return a flat plate with x and y exchanged, so that its sections along y can be taken."""
    return replace(
        plate, outline=plate.outline.exchanged(), holes=tuple(_turned_hole(h) for h in plate.holes)
    )


def breaks(plate: Plate) -> list[float]:
    """Return the x (m) at which the plate's section changes abruptly or begins to change."""
    own = plate.outline
    found = _ends(own.centre[0], own.length / 2, own.corner)
    for shape in (own, *plate.holes):
        contour = getattr(shape, "contour", None)
        if contour is not None:
            found += [x for segment in contour.segments for x, _ in segment.extremes]
    for hole in plate.holes:
        if isinstance(hole, RoundHole):
            found += _ends(hole.at[0], hole.diameter / 2)
        elif isinstance(hole, RectangleHole):
            found += _ends(hole.at[0], hole.length / 2, hole.radius)
        elif isinstance(hole, Groove) and hole.along == "y":
            found += _ends(hole.at, hole.width / 2) + _ends(hole.at, hole.head_width / 2)
    return found


def cut(plate: Plate, x: FloatArray) -> Rectangles:
    """Cut a plate at stations x (n,) (m) into rectangles."""
    low, high, width = _gross(plate, x)
    taken = [part for hole in plate.holes for part in _removed(plate, hole, x)]
    taken += _notches(plate, x)
    # An opening through the whole plate has no edges of its own: without them one layer is left.
    inner = [e for part in taken for e in part[:2] if (e != low).any() and (e != high).any()]
    edges = np.stack([low, high, *inner])
    edges = np.sort(np.clip(edges, low, high), axis=0)
    middle = (edges[1:] + edges[:-1]) / 2
    left = np.broadcast_to(width, middle.shape).copy()
    for lower, upper, gone in taken:
        left -= np.where((middle > lower) & (middle < upper), gone, 0.0)
    count = len(middle)
    young = plate.material.young
    shear = young / (2 * (1 + plate.material.poisson))
    return Rectangles(
        edges[:-1], edges[1:], np.maximum(left, 0.0), np.full(count, young), np.full(count, shear)
    )


def stiffness(plates: tuple[Plate, ...], x: FloatArray, *, welded: bool) -> Stiffness:
    """Return the stiffness of the sections at stations x (n,) (m).

    Loose plates share the deflection: their stiffnesses add, the moment splits in proportion.
    Plates of an on-edge stack stand side by side and bend together in either case.
    """
    if welded:
        return _one(joined([cut(plate, x) for plate in plates]))
    # Leaves that differ in nothing but their place are as stiff as each other.
    alike = Counter(replace(plate, name="", base=0.0) for plate in plates)
    parts = [_one(cut(plate, x)) for plate in alike]
    times = np.array(list(alike.values()))[:, None]
    bending = np.sum(times * [part.bending for part in parts], axis=0)
    shear = np.sum(times * [part.shear for part in parts], axis=0)
    own = np.stack([part.fibre * part.bending for part in parts])
    return Stiffness(
        bending,
        shear,
        np.divide(own.max(axis=0), bending, where=bending > 0, out=np.zeros_like(bending)),
    )


def side_by_side(one: Stiffness, other: Stiffness) -> Stiffness:
    """Return the stiffness of bodies that share the deflection, loose on each other."""
    bending = one.bending + other.bending
    own = np.maximum(one.fibre * one.bending, other.fibre * other.bending)
    fibre = np.divide(own, bending, where=bending > 0, out=np.zeros_like(bending))
    return Stiffness(bending, one.shear + other.shear, fibre)


def _one(parts: Rectangles) -> Stiffness:
    """Composite section, by summation over rectangles.

    EI by the parallel-axis theorem about the E-weighted centroid. κGA equates the work of the
    shear force to that of the shear stresses in equilibrium with bending (Jourawski's formula):

        1 / κGA = ∫ S² / (Gb) dz / EI²,   S(z) = moment of Eb above z about the neutral axis

    which is κ = 5/6 for a single rectangle. Timoshenko, Strength of Materials, part I, shear
    stresses and shear energy in beams (formula re-derived). Where an opening leaves chords above
    and below, the bending of each chord by its own shear is not included.
    """
    height = parts.high - parts.low
    axial = parts.young[:, None] * parts.width * height
    middle = (parts.high + parts.low) / 2
    total = axial.sum(axis=0)
    solid = total > 0
    neutral = np.divide((axial * middle).sum(axis=0), total, where=solid, out=np.zeros_like(total))
    bending = (axial * (height**2 / 12 + (middle - neutral) ** 2)).sum(axis=0)
    there = axial > 0
    reach = np.where(there, np.maximum(abs(parts.high - neutral), abs(parts.low - neutral)), 0.0)
    top = (parts.young[:, None] * reach).max(axis=0)
    none = np.zeros_like(total)
    fibre = np.divide(top, bending, where=solid, out=none.copy())
    compliance = _shear_compliance(parts, neutral)
    shear = np.divide(bending**2, compliance, where=solid, out=none)
    return Stiffness(bending, shear, fibre)


def _shear_compliance(parts: Rectangles, neutral: FloatArray) -> FloatArray:
    """∫ S² / (Gb) dz over the sections, (n,); three Gauss points a layer are exact."""
    edges = np.sort(np.concatenate([parts.low, parts.high]), axis=0)
    middle = (edges[1:] + edges[:-1]) / 2
    height = edges[1:] - edges[:-1]
    eb = np.zeros_like(middle)
    gb = np.zeros_like(middle)
    for low, high, width, young, shear in zip(
        parts.low, parts.high, parts.width, parts.young, parts.shear, strict=True
    ):
        inside = np.where((middle > low) & (middle < high), width, 0.0)
        eb += young * inside
        gb += shear * inside
    moment = eb * height * (middle - neutral)
    above = np.cumsum(moment[::-1], axis=0)[::-1] - moment
    compliance = np.zeros_like(neutral)
    for point, weight in zip(_GAUSS, _WEIGHTS, strict=True):
        z = middle + point * height / 2
        s = above + eb * (edges[1:] - z) * ((edges[1:] + z) / 2 - neutral)
        compliance += (
            weight * height / 2 * np.divide(s**2, gb, where=gb > 0, out=np.zeros_like(gb))
        ).sum(axis=0)
    return compliance


def joined(cuts: list[Rectangles]) -> Rectangles:
    """Put the rectangles of several plates together, cut at the same stations."""
    return Rectangles(
        np.concatenate([one.low for one in cuts]),
        np.concatenate([one.high for one in cuts]),
        np.concatenate([one.width for one in cuts]),
        np.concatenate([one.young for one in cuts]),
        np.concatenate([one.shear for one in cuts]),
    )


def _gross(plate: Plate, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lower edge, upper edge and width of a plate without its holes, each (n,)."""
    own = plate.outline
    if own.contour is not None:
        low, high = _ends_across(own.contour.chords(x))
        inside = high > low
        if plate.normal == "y":
            return low, high, np.where(inside, plate.thickness, 0.0)
        return np.full_like(x, plate.base), np.full_like(x, plate.top), high - low
    across = _rectangle_chord(x - own.centre[0], own.length, own.width, own.corner, own.corners)
    if plate.normal == "z":
        return np.full_like(x, plate.base), np.full_like(x, plate.top), across
    middle = own.centre[1]
    thick = np.where(across > 0, plate.thickness, 0.0)
    return middle - across / 2, middle + across / 2, thick


def _removed(
    plate: Plate, hole: Hole, x: FloatArray
) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
    """Return what a hole takes out at x: (lower edge, upper edge, width), each (n,)."""
    if isinstance(hole, Groove):
        return _slots(plate, hole, x)
    if isinstance(hole, ContourHole):
        return [_gone(plate, *chord.T) for chord in hole.contour.chords(x)]
    if isinstance(hole, RoundHole):
        chord = 2 * np.sqrt(np.maximum(hole.diameter**2 / 4 - (x - hole.at[0]) ** 2, 0.0))
    else:
        chord = _rectangle_chord(x - hole.at[0], hole.length, hole.width, hole.radius, "rounded")
    return [_gone(plate, hole.at[1] - chord / 2, hole.at[1] + chord / 2)]


def _gone(
    plate: Plate, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What is not there of a plate from one place across to another, like `_removed`."""
    if plate.normal == "z":
        return np.full_like(low, plate.base), np.full_like(low, plate.top), high - low
    return low, high, np.where(high > low, plate.thickness, 0.0)


def _ends_across(chords: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least and greatest place across of chords (k, n, 2), each (n,); the same where none is."""
    low, high = chords[..., 0], chords[..., 1]
    there = high > low
    some = there.any(axis=0)
    return (
        np.where(some, np.where(there, low, np.inf).min(axis=0), low[0]),
        np.where(some, np.where(there, high, -np.inf).max(axis=0), low[0]),
    )


def _notches(plate: Plate, x: FloatArray) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
    """What a contour leaves out between its outermost edges, like `_removed`."""
    if plate.outline.contour is None:
        return []
    chords = plate.outline.contour.chords(x)
    return [
        _gone(plate, low[:, 1], np.where(high[:, 1] > high[:, 0], high[:, 0], low[:, 1]))
        for low, high in pairwise(chords)
    ]


def _slots(
    plate: Plate, groove: Groove, x: FloatArray
) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
    """Return the neck of a groove and, if it is a T-slot, its head, like `_removed`."""
    across = _gross(plate, x)[2]
    neck = groove.depth - groove.head_depth
    parts = [(0.0, neck, groove.width)]
    if groove.head_depth > 0:
        parts.append((neck, groove.depth, groove.head_width))
    result = []
    for start, end, width in parts:
        if groove.along == "x":
            gone = np.where(across > 0, width, 0.0)
        else:
            gone = np.where(abs(x - groove.at) < width / 2, across, 0.0)
        if plate.grooved == "+":
            low, high = plate.top - end, plate.top - start
        else:
            low, high = plate.base + start, plate.base + end
        result.append((np.full_like(x, low), np.full_like(x, high), gone))
    return result


def _rectangle_chord(
    u: FloatArray, length: float, width: float, corner: float, corners: str
) -> FloatArray:
    """Width of a rectangle at distance u from its centre; 0 beyond its ends."""
    into = np.clip(abs(u) - (length / 2 - corner), 0.0, corner)
    lost = {
        "straight": np.zeros_like(u),
        "chamfered": into,
        "rounded": corner - np.sqrt(corner**2 - into**2),
    }[corners]
    return np.where(abs(u) < length / 2, width - 2 * lost, 0.0)


def _ends(centre: float, half: float, corner: float = 0.0) -> list[float]:
    return [centre - half, centre - half + corner, centre + half - corner, centre + half]


def _turned_hole(hole: Hole) -> Hole:
    if isinstance(hole, RoundHole):
        return replace(hole, at=hole.at[::-1])
    if isinstance(hole, RectangleHole):
        return replace(hole, at=hole.at[::-1], length=hole.width, width=hole.length)
    if isinstance(hole, ContourHole):
        return ContourHole(hole.contour.exchanged())
    return replace(hole, along="x" if hole.along == "y" else "y")
