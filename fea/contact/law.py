"""The contact law at a quadrature point: pressure, Coulomb friction, their slope by the jump."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fea.contact.faces import Interfaces

FLOOR = 1e-7
"""Part of the penalty that stays at open points, so that a floating plate does not fly off."""

START = 1e-4
"""Part of the penalty that resists sliding in the first step from rest, where there is friction."""


@dataclass(frozen=True)
class State:
    """Pressure and friction at the quadrature points, and how they came about.

    Attributes
    ----------
    pressure : (k, q) in Pa, positive in compression.
    friction : (k, q, 2) traction of the upper on the lower side along the tangents (Pa): it points
        the way the upper side slides.
    opening : (k, q) distance between the sides (m); negative: penetration.
    sliding : (k, q, 2) sliding of the upper side on the lower since the last load step (m).
    closed, sliding_now : (k, q) bool.
    """

    pressure: np.ndarray
    friction: np.ndarray
    opening: np.ndarray
    sliding: np.ndarray
    closed: np.ndarray
    sliding_now: np.ndarray


class Law:
    """The contact law with its multipliers: tractions and their slope by the jump (k, q, 3)."""

    def __init__(self, faces: Interfaces):
        self.faces = faces
        shape = faces.area.shape
        self.multiplier, self.shear = np.zeros(shape), np.zeros((*shape, 2))
        self._start = np.zeros((*shape, 2))

    def continue_from(self, jump: np.ndarray, state: State) -> None:
        """Begin a load step where the one before has ended."""
        self.update(state)
        self._start = self._along(jump)

    def state(self, jump: np.ndarray, bound: np.ndarray | None = None) -> State:
        """Tractions at a jump (k, q, 3) in m; friction up to μ p, or to a `bound` (k, q) in Pa."""
        faces = self.faces
        opening = np.einsum("kqc,kc->kq", jump, faces.normal) + faces.gap
        sliding = self._along(jump) - self._start
        pressure = np.maximum(0.0, self.multiplier - faces.penalty * opening)
        bound = faces.friction[:, None] * pressure if bound is None else bound
        trial = self.shear + faces.penalty * sliding
        size = np.hypot(trial[..., 0], trial[..., 1])
        slides = size > bound
        scale = np.where(slides, bound / np.where(size > 0, size, 1.0), 1.0)
        return State(pressure, scale[:, :, None] * trial, opening, sliding, pressure > 0, slides)

    def tangent(self, state: State) -> np.ndarray:
        """Slope of the traction by the jump, (k, q, 3, 3) in N/m³; symmetric, as μ p is held."""
        faces = self.faces
        trial = self.shear + faces.penalty * state.sliding
        size = np.hypot(trial[..., 0], trial[..., 1])
        size = np.where(size > 0, size, 1.0)
        limit = faces.friction[:, None] * state.pressure
        slope = np.where(state.sliding_now, limit / size, 1.0) * faces.penalty
        across = trial[..., ::-1] * [-1.0, 1.0] / size[:, :, None]
        plane = np.where(
            state.sliding_now[:, :, None, None],
            np.einsum("kq,kqs,kqt->kqst", slope, across, across),
            slope[:, :, None, None] * np.eye(2),
        )
        return self._assembled(np.where(state.closed, faces.penalty, 0.0), plane)

    def first_tangent(self) -> np.ndarray:
        """A slope to start from rest with: all closed, and sliding with little resistance."""
        faces = self.faces
        slope = np.where(faces.friction > 0, START * faces.penalty, 0.0)
        plane = np.multiply.outer(np.repeat(slope[:, None], faces.area.shape[1], 1), np.eye(2))
        return self._assembled(np.full(faces.area.shape, faces.penalty), plane)

    def _assembled(self, normal: np.ndarray, plane: np.ndarray) -> np.ndarray:
        """Tangent of its normal (k, q) and plane (k, q, 2, 2) part."""
        faces = self.faces
        floor = FLOOR * faces.penalty
        frame = np.concatenate([faces.normal[:, None], faces.tangents], axis=1)[:, None]
        local = np.zeros((*normal.shape, 3, 3))
        local[..., 0, 0], local[..., 1:, 1:] = np.maximum(normal, floor), plane + floor * np.eye(2)
        return np.asarray(frame.transpose(0, 1, 3, 2) @ local @ frame)

    def _along(self, jump: np.ndarray) -> np.ndarray:
        return np.einsum("kqc,ktc->kqt", jump, self.faces.tangents)

    def traction(self, state: State) -> np.ndarray:
        """Traction that the interface puts on its lower side, (k, q, 3), as internal force."""
        faces = self.faces
        pressed = state.pressure[:, :, None] * faces.normal[:, None, :]
        return pressed - np.einsum("kqt,ktc->kqc", state.friction, faces.tangents)

    def update(self, state: State) -> None:
        """Take the tractions over as multipliers."""
        self.multiplier, self.shear = state.pressure, state.friction

    def falsified(self, state: State) -> float:
        """Work (J) of the tractions on what the penalty lets penetrate, and creep while stuck."""
        stuck = state.closed & ~state.sliding_now
        creep = np.abs(np.einsum("kqt,kqt->kq", state.friction, state.sliding))
        depth = state.pressure * np.maximum(0.0, -state.opening)
        return float((self.faces.area * (depth + np.where(stuck, creep, 0.0))).sum())
