"""The interfaces of a stack: opened where they are not welded, and described after solving."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fea import contact
from fea.contact import Contact, Interfaces
from geometry.mesh import StackMesh
from geometry.parts import Stack
from geometry.split import FacePair, split


@dataclass(frozen=True)
class InterfaceResult:
    """What happens between two neighbouring plates at capacity."""

    name: str
    kind: str
    closed: float | None
    """Part of the area that is pressed together; none where welded."""
    largest_pressure: float | None
    """Pa."""
    largest_opening: float | None
    """m."""
    largest_sliding: float | None
    """m."""
    sticking: float | None = None
    """Part of the area that is pressed together and does not slide."""
    map: InterfaceMap | None = None
    """None where welded."""

    @property
    def open(self) -> float | None:
        """Part of the area where nothing presses."""
        return None if self.closed is None else 1 - self.closed

    @property
    def sliding(self) -> float | None:
        """Part of the area that is pressed together and slides."""
        if self.closed is None or self.sticking is None:
            return None
        return self.closed - self.sticking


OPEN, STICKING, SLIDING = 0, 1, 2
"""States on a map."""


@dataclass(frozen=True)
class InterfaceMap:
    """An interface of a solution, place by place.

    Attributes
    ----------
    points : (n, 3) in m. triangles : (k, 6) point numbers, corners first.
    pressure : (n,) in Pa. gap : (n,) in m.
    sliding : (n,) distance (m) that the upper side slid since the rods were tightened.
    state : (n,) `OPEN`, `STICKING` or `SLIDING`.
    """

    points: np.ndarray
    triangles: np.ndarray
    pressure: np.ndarray
    gap: np.ndarray
    sliding: np.ndarray
    state: np.ndarray


def opened(stack: Stack, mesh: StackMesh) -> tuple[StackMesh, tuple[FacePair, ...]]:
    """Split the mesh at every interface that may part; a welded stack stays as it is."""
    if stack.interface == "welded" or not mesh.interfaces:
        return mesh, ()
    return split(mesh, mesh.interfaces)


def faces_of(stack: Stack, mesh: StackMesh, pairs: tuple[FacePair, ...]) -> Interfaces:
    """Contact faces of an opened stack, its penalty from the thinnest plate."""
    stiffest = max(plate.material.young for plate in stack.plates)
    thinnest = min(plate.thickness for plate in stack.plates)
    penalty = contact.STIFFNESS * stiffest / thinnest
    friction = stack.friction if stack.interface == "clamped" else 0.0
    return Interfaces.of(mesh.nodes, pairs, friction, stack.gap, penalty)


def welded(mesh: StackMesh) -> tuple[InterfaceResult, ...]:
    """Describe interfaces that cannot part."""
    return tuple(
        InterfaceResult(name, "welded", None, None, None, None) for name in mesh.interfaces
    )


def described(faces: Interfaces, found: Contact, kind: str) -> tuple[InterfaceResult, ...]:
    """Describe each interface of a solution."""
    state = found.state
    sliding = np.linalg.norm(state.sliding, axis=2)
    results = []
    for number, name in enumerate(faces.names):
        own = faces.owner == number
        area = faces.area[own]
        results.append(
            InterfaceResult(
                name,
                kind,
                float((area * state.closed[own]).sum() / area.sum()),
                float(state.pressure[own].max()),
                float(max(0.0, state.opening[own].max())),
                float(sliding[own].max()),
                float((area * (state.closed & ~state.sliding_now)[own]).sum() / area.sum()),
                _map(faces, found.nodal, own),
            )
        )
    return tuple(results)


def _map(faces: Interfaces, nodal: contact.State, own: np.ndarray) -> InterfaceMap:
    """The map of the faces picked by `own` (k,); neighbours agree on what they share."""
    _, first, triangles = np.unique(faces.lower[own], return_index=True, return_inverse=True)

    def at(values: np.ndarray) -> np.ndarray:
        return np.asarray(values[own].reshape(-1, *values.shape[2:])[first])

    state = np.where(nodal.sliding_now, SLIDING, STICKING)
    return InterfaceMap(
        at(faces.places),
        triangles.reshape(-1, 6),
        at(nodal.pressure),
        at(np.maximum(0.0, nodal.opening)),
        at(np.linalg.norm(nodal.sliding, axis=2)),
        at(np.where(nodal.closed, state, OPEN)),
    )
