"""The contact law at a quadrature point: pressure, Coulomb friction, their slope by the jump."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from platestack.fea.solid.contact.faces import Interfaces, at_points

FLOOR = 1e-7
"""Part of the penalty that stays at open points, so that a floating plate does not fly off."""

STEADIEST, STEADIER, CUT = 1e-4, 10.0, 0.5
"""The most that part is raised to, by what factor at a time, and from what part of a step down."""

START = 1e-4
"""Part of the penalty that resists sliding in the first step from rest, where there is friction."""

SOFTER, HARDER = 1e-2, 10.0
"""Changes of the penalty where steps get nowhere, and where updates of the multipliers do."""

SOFTEST, HARDEST = 1e-4, 10.0
"""Least and most penalty, as parts of the given one."""


@dataclass(frozen=True)
class State:
    """Pressure and friction at the quadrature points (or nodes), and how they came about.

    Attributes
    ----------
    pressure : (k, q) in Pa, positive in compression.
    friction : (k, q, 2) traction of the upper on the lower side along the tangents (Pa): it points
        the way the upper side slides.
    opening : (k, q) distance between the sides (m); negative: penetration.
    sliding : (k, q, 2) sliding of the upper side on the lower since the last load step (m).
    closed, sliding_now : (k, q) bool.
    trial : (k, q, 2) friction before it is shortened to `bound`, (k, q), both in Pa.
    """

    pressure: np.ndarray
    friction: np.ndarray
    opening: np.ndarray
    sliding: np.ndarray
    closed: np.ndarray
    sliding_now: np.ndarray
    trial: np.ndarray
    bound: np.ndarray

    def linear(self, other: State) -> bool:
        """Whether forces follow the jump linearly from another state on.

        The same points are closed and slide, and nothing resists what slides.
        """
        same = np.array_equal(self.closed, other.closed)
        same = same and np.array_equal(self.sliding_now, other.sliding_now)
        return same and not (self.sliding_now & (self.bound > 0)).any()


@dataclass(frozen=True)
class Memory:
    """What a load step leaves to the next: jump at the nodes, tractions at the quadrature points.

    jump : (k, 6, 3) in m. pressure : (k, q), friction : (k, q, 2), both in Pa.
    """

    jump: np.ndarray
    pressure: np.ndarray
    friction: np.ndarray


class Law:
    """The contact law with its multipliers: tractions and their slope by the jump.

    Multipliers are values at the quadrature points, so that no pressure is left where a point is
    open, even within a face whose other part is closed (as values at the nodes, quadratic over the
    face, they pressed across gaps there, by 8 % of the work where plates bowed by 5 mm touch along
    a line). There are more points than nodes: what is clipped at a state out of balance would stay
    as a pressure that no force sees. So on faces closed all over they are made continuous again.
    """

    def __init__(self, faces: Interfaces, before: Memory | None = None):
        self.faces, self.penalty = faces, faces.penalty
        self.multiplier, self.shear = np.zeros(faces.area.shape), np.zeros((*faces.area.shape, 2))
        self._start = np.zeros((*faces.gap.shape, 2))
        self.floor = FLOOR
        self.eases: list[str] = []
        """What was done where steps got nowhere."""
        self.bound: np.ndarray | None = None
        """Friction (k, q) in Pa up to which points stick; none: μ times the present pressure."""
        if before is not None:
            self.multiplier, self.shear = before.pressure, before.friction
            self._start = self._along(before.jump)

    def state(self, jump: np.ndarray, bound: np.ndarray | None = None) -> State:
        """Tractions at a jump (k, 6, 3) in m; friction up to μ p, or to a `bound` (k, q) in Pa."""
        opening, sliding = at_points(self._apart(jump)), at_points(self._along(jump) - self._start)
        pressure = np.maximum(0.0, self.multiplier - self.penalty * opening)
        trial = self.shear + self.penalty * sliding
        if bound is None:
            bound = self.bounds(pressure) if self.bound is None else self.bound
        return _state(pressure, opening, sliding, trial, bound)

    def nodal(self, jump: np.ndarray) -> State:
        """The state at the nodes of the faces, arrays (k, 6, ...), for maps."""
        opening, sliding = self._apart(jump), self._along(jump) - self._start
        every = np.ones(len(self.faces.area), dtype=bool)
        multiplier = self.faces.averaged(self.multiplier, every)
        pressure = np.maximum(0.0, multiplier - self.penalty * opening)
        trial = self.faces.averaged(self.shear, every) + self.penalty * sliding
        return _state(pressure, opening, sliding, trial, self.bounds(pressure))

    def bounds(self, pressure: np.ndarray) -> np.ndarray:
        """Largest friction (Pa) under a pressure (k, ...)."""
        return np.asarray(self.faces.friction[:, None] * pressure)

    def _apart(self, jump: np.ndarray) -> np.ndarray:
        return np.asarray((jump @ self.faces.normal[:, :, None])[:, :, 0] + self.faces.gap)

    def slope(self, state: State) -> np.ndarray:
        """Slope of the traction by the jump in the frames of the faces, (k, q, 3, 3) in N/m³.

        Symmetric, as μ p is held.
        """
        trial = state.trial
        size = np.hypot(trial[..., 0], trial[..., 1])
        size = np.where(size > 0, size, 1.0)
        slope = np.where(state.sliding_now, state.bound / size, 1.0) * self.penalty
        across = trial[..., ::-1] * [-1.0, 1.0] / size[:, :, None]
        plane = np.where(
            state.sliding_now[:, :, None, None],
            np.einsum("kq,kqs,kqt->kqst", slope, across, across),
            slope[:, :, None, None] * np.eye(2),
        )
        return self._assembled(np.where(state.closed, self.penalty, 0.0), plane)

    def first_slope(self) -> np.ndarray:
        """A slope to start from rest with: all closed, and sliding with little resistance."""
        faces = self.faces
        slope = np.where(faces.friction > 0, START * self.penalty, 0.0)
        plane = np.multiply.outer(np.repeat(slope[:, None], faces.area.shape[1], 1), np.eye(2))
        return self._assembled(np.full(faces.area.shape, self.penalty), plane)

    def _assembled(self, normal: np.ndarray, plane: np.ndarray) -> np.ndarray:
        """Slope of its normal (k, q) and plane (k, q, 2, 2) part."""
        floor = self.floor * self.penalty
        local = np.zeros((*normal.shape, 3, 3))
        local[..., 0, 0], local[..., 1:, 1:] = np.maximum(normal, floor), plane + floor * np.eye(2)
        return local

    def steadied(self, part: float) -> None:
        """Take note of what part of a step was gone: a plate that floats far cuts it for all."""
        raised = self.floor * (STEADIER if part < CUT else 1 / STEADIER)
        self.floor = min(STEADIEST, max(FLOOR, raised))

    def _along(self, jump: np.ndarray) -> np.ndarray:
        return np.asarray(jump @ self.faces.tangents.transpose(0, 2, 1))

    def traction(self, state: State) -> np.ndarray:
        """Traction that the interface puts on its lower side, (k, q, 3), as internal force."""
        faces = self.faces
        pressed = state.pressure[:, :, None] * faces.normal[:, None, :]
        return np.asarray(pressed - state.friction @ faces.tangents)

    @property
    def softened(self) -> bool:
        """Whether the penalty is still softer than the given one."""
        return self.penalty < self.faces.penalty

    def update(self, jump: np.ndarray, *, harder: bool) -> None:
        """Take the tractions at a jump (k, 6, 3) over; make the penalty `harder` or leave it."""
        state = self.state(jump)
        self.multiplier = self._settled(state.pressure, state.closed)
        self.shear = self._settled(state.friction, state.closed & ~state.sliding_now)
        if harder:
            most = (1.0 if self.softened else HARDEST) * self.faces.penalty
            self.penalty = min(most, HARDER * self.penalty)

    def eased(self, updates: int) -> str:
        """Soften the penalty for steps that get nowhere; what was done, empty if nothing can be.

        Beside it slender plates bend so easily that each step stops where the next place touches.
        It is hardened again once forces balance.
        """
        if not updates and self.penalty > SOFTEST * self.faces.penalty:
            self.penalty *= SOFTER
            return self._noted("contact creeps: the penalty is softened on the way")
        return ""

    def _noted(self, words: str) -> str:
        self.eases.append(words)
        return words

    def _settled(self, values: np.ndarray, held: np.ndarray) -> np.ndarray:
        """Tractions (k, q, ...) made continuous over the faces that are held at all points."""
        whole = np.asarray(held.all(axis=1))
        values = values.copy()
        values[whole] = at_points(self.faces.averaged(values, whole))[whole]
        return values

    def works(self, state: State) -> tuple[float, float]:
        """Work (J) of the tractions on penetration and on creep while stuck, and on gaps.

        A true state has none: p >= 0, g >= 0 and p g = 0, and what sticks does not slide.
        """
        stuck = state.closed & ~state.sliding_now
        creep = np.abs(np.einsum("kqt,kqt->kq", state.friction, state.sliding))
        depth = state.pressure * np.maximum(0.0, -state.opening)
        within = self.faces.area * (depth + np.where(stuck, creep, 0.0))
        across = self.faces.area * state.pressure * np.maximum(0.0, state.opening)
        return float(within.sum()), float(across.sum())

    def across_gaps(self, state: State, work: float) -> float:
        """Part of the force that crosses gaps wider than `work` (J) over all of the force (N)."""
        force = self.faces.area * state.pressure
        total = float(force.sum())
        if not total:
            return 0.0
        return float(force[state.opening > work / total].sum()) / total

    def dissipated(self, state: State) -> float:
        """Work (J) that friction takes up in sliding during the load step."""
        work = np.einsum("kqt,kqt->kq", state.friction, state.sliding)
        return float((self.faces.area * np.where(state.sliding_now, work, 0.0)).sum())


def _state(
    pressure: np.ndarray,
    opening: np.ndarray,
    sliding: np.ndarray,
    trial: np.ndarray,
    bound: np.ndarray,
) -> State:
    """The state with trial tractions (..., 2) shortened to the bound where they exceed it."""
    size = np.hypot(trial[..., 0], trial[..., 1])
    slides = size > bound
    scale = np.where(slides, bound / np.where(size > 0, size, 1.0), 1.0)
    friction = scale[..., None] * trial
    return State(pressure, friction, opening, sliding, pressure > 0, slides, trial, bound)
