"""Settling: what rough surfaces under load flatten, and the preload that is lost by it."""

from __future__ import annotations

import numpy as np

THREAD, NUT, INNER = 3e-6, 4e-6, 3e-6
"""Flattening (m) of a thread, a nut's bearing face and an inner interface, Rz 40 to 160 µm.

VDI 2230-1:2015, table 5, axial load, the roughest row: flame-cut and rolled surfaces (from memory;
the table is for bolts up to M39, taken over here for want of a better).
"""


def settling(inner: int) -> float:
    """Flattening (m) along one rod: two threads, two nuts, and so many inner interfaces."""
    return 2 * THREAD + 2 * NUT + inner * INNER


def loss(flattening: float, compliance: np.ndarray) -> np.ndarray:
    """Preload lost (N) by a flattening (m) in joints of given compliance, rod and plates (m/N).

    VDI 2230-1:2015, eq. (117): F_Z = f_Z / (δ_S + δ_P) (number from memory).
    """
    return np.asarray(flattening / compliance)
