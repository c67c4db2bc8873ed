"""Settlement of a half-space under uniform pressure on a disc, an annulus or a rectangle.

The formulas are those of Boussinesq's half-space: Timoshenko and Goodier, Theory of Elasticity,
3rd ed., articles 138 and 139 (surface of disc and rectangle; not verified, re-derived), and
integration of his point load for the axis below a disc. They serve as estimate of the local
compression that beam and plate theories leave out.
"""

from __future__ import annotations

import functools
import math

import numpy as np

from platestack.geometry.parts import Patch


def disc(pressure: float, radius: float, depth: float, young: float, poisson: float) -> float:
    """Displacement into the half-space (m) on the axis below a disc under pressure.

    Point load at distance R: u = P (1 + ν) / (2πE) (2 (1 − ν) / R + z² / R³), integrated over
    the disc. At the surface: 2 (1 − ν²) p a / E.
    """
    if radius == 0.0:
        return 0.0
    slant = math.hypot(depth, radius)
    both = 2 * (1 - poisson) * (slant - depth) + depth * (1 - depth / slant)
    return pressure * (1 + poisson) / young * both


def within_disc(pressure: float, radius: float, r: float, young: float, poisson: float) -> float:
    """Settlement (m) at distance r ≤ radius from the centre of a disc under pressure.

    4 (1 − ν²) p a / (πE) times the complete elliptic integral of the second kind at r / a.
    """
    points, weights = _gauss(48)
    sine = np.sin(np.pi / 4 * (points + 1))
    root = np.sqrt(1 - (min(r / radius, 1.0) * sine) ** 2)
    elliptic = np.pi / 4 * np.sum(weights * root)
    return float(4 * (1 - poisson**2) * pressure * radius / (np.pi * young) * elliptic)


def below_patch(force: float, patch: Patch, depth: float, young: float, poisson: float) -> float:
    """Displacement (m) on the axis of a patch under a force, at a depth.

    Below the surface a rectangle is taken for the disc of its area.
    """
    pressure = force / patch.area
    if patch.shape == "rectangle":
        if depth == 0.0:
            return _rectangle(pressure, patch.length, patch.width, young, poisson)
        return disc(pressure, math.sqrt(patch.area / math.pi), depth, young, poisson)
    outer = disc(pressure, patch.length / 2, depth, young, poisson)
    return outer - disc(pressure, patch.inner / 2, depth, young, poisson)


def at_inner_edge(force: float, patch: Patch, young: float, poisson: float) -> float:
    """Settlement (m) at the inner edge of an annulus, at the edge of a disc or a rectangle.

    For a rectangle that of the disc of its area.
    """
    pressure = force / patch.area
    if patch.shape == "rectangle":
        radius = math.sqrt(patch.area / math.pi)
        return within_disc(pressure, radius, radius, young, poisson)
    outer = patch.length / 2
    if not patch.inner:
        return within_disc(pressure, outer, outer, young, poisson)
    inner = patch.inner / 2
    whole = within_disc(pressure, outer, inner, young, poisson)
    return whole - within_disc(pressure, inner, inner, young, poisson)


def mean(force: float, patch: Patch, young: float, poisson: float) -> float:
    """Mean settlement (m) of a disc or an annulus under its own uniform pressure.

    A disc settles by 16 (1 − ν²) p a / (3πE) on the average. The annulus is the outer disc less
    the inner: their mutual work is the inner disc's settlement under the outer's pressure.
    """
    pressure = force / patch.area
    outer, inner = patch.length / 2, patch.inner / 2

    def own(radius: float) -> float:
        average = 16 * (1 - poisson**2) * pressure * radius / (3 * math.pi * young)
        return average * math.pi * radius**2

    if inner == 0.0:
        return own(outer) / patch.area
    points, weights = _gauss(12)
    radii = inner * (points + 1) / 2
    settled = [within_disc(pressure, outer, r, young, poisson) for r in radii]
    mutual = float(np.sum(weights * inner / 2 * 2 * np.pi * radii * settled))
    return (own(outer) - 2 * mutual + own(inner)) / patch.area


def _rectangle(pressure: float, a: float, b: float, young: float, poisson: float) -> float:
    """Settlement (m) of the centre of a rectangle with sides a and b."""
    reach = a * math.asinh(b / a) + b * math.asinh(a / b)
    return 2 * (1 - poisson**2) * pressure / (math.pi * young) * reach


@functools.cache
def _gauss(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Points and weights of Gauss and Legendre: they take longer than what they are used for."""
    points, weights = np.polynomial.legendre.leggauss(count)
    return points, weights
