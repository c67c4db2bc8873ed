"""Settling: what rough surfaces under load flatten, and the preload that is lost by it."""

from __future__ import annotations

import numpy as np

from platestack.fea.solid.frame.press import End
from platestack.geometry.parts import Press, Stack

THREAD, NUT, INNER = 3e-6, 4e-6, 3e-6
"""Flattening (m) of a thread, a nut's bearing face and an inner interface, Rz 40 to 160 µm.

VDI 2230-1:2015, table 5, axial load, the roughest row: flame-cut and rolled surfaces (not verified;
the table is for bolts up to M39, taken over here for want of a better).
"""


def settling(end: End, press: Press) -> float:
    """Flattening (m) along what one nut tightens: threads, nuts, seats, plates that may part.

    A sleeve bears with two faces, and both stacks lie between its rod's nuts; a shoulder or inner
    nut bears with one, and has its own stack.
    """
    nuts = 2 if end.stack is None or end.rod.seat == "inner nuts" else 1
    seats = {"sleeve": 2, "shoulder": 1}.get(end.rod.seat, 0)
    stacks = press.stacks if end.stack is None else (end.stack,)
    inner = seats + sum(_partings(stack) for stack in stacks)
    return nuts * (THREAD + NUT) + inner * INNER


def _partings(stack: Stack) -> int:
    """Interfaces that a rod crosses: those of flat plates that are not welded."""
    if stack.layout != "flat" or stack.interface == "welded":
        return 0
    return len(stack.plates) - 1


def loss(flattening: np.ndarray, compliance: np.ndarray) -> np.ndarray:
    """Preload lost (N) by flattening (m) in joints of given compliance, rod and plates (m/N).

    VDI 2230-1:2015, eq. (117): F_Z = f_Z / (δ_S + δ_P) (number not verified against the standard).
    """
    return np.asarray(flattening / compliance)
