"""A rod less: what the other rods bear, by statics and their stretch, stacks as rigid."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from platestack.fea.hand.section import FloatArray
from platestack.geometry.shapes import Point


def shares(
    places: Sequence[Point], stiffness: Sequence[float], load: Point
) -> tuple[FloatArray, FloatArray] | None:
    """Return parts of a force that rods bear, and how a rigid stack moves; None if it falls.

    Rods only pull: one that would have to push goes slack.

    Parameters
    ----------
    places, load : of the rods, and of the force (m).
    stiffness : n of N/m.

    Returns
    -------
    parts : (n,) array
        Of the force; they add up to 1.
    plane : (3,) array
        Displacement at the origin (m/N), and its slopes along x and y (1/N), for a force of 1 N.
    """
    at = np.array([(1.0, x, y) for x, y in places])
    wanted = np.array([1.0, *load])
    taut = np.ones(len(at), dtype=bool)
    while True:
        k = np.where(taut, np.asarray(stiffness, dtype=float), 0.0)
        matrix = at.T @ (k[:, None] * at)
        # Rods on one line leave the stack free to turn about it: it stays up only if loaded there.
        plane = np.linalg.lstsq(matrix, wanted, rcond=1e-9)[0]
        if not np.allclose(matrix @ plane, wanted, rtol=0, atol=1e-6 * max(1.0, abs(wanted).max())):
            return None
        parts = k * (at @ plane)
        pushed = parts < -1e-9
        if not pushed.any():
            return parts, plane
        taut &= ~pushed
        if not taut.any():
            return None
