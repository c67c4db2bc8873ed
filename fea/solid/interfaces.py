"""The interfaces of a stack: opened where they are not welded, and described after solving."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import bsr_matrix

from platestack.fea.hand.joined import Joined
from platestack.fea.solid import contact
from platestack.fea.solid.contact import Contact, Interfaces, connection
from platestack.fea.solid.contact.faces import at_points
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Gap, Plate, Press, Stack
from platestack.geometry.split import FacePair, split


@dataclass(frozen=True)
class InterfaceResult:
    """What happens at capacity between two neighbouring plates, or a plate and a pad on it."""

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
    pad: bool = False
    """Whether it is one of a washer or the cylinder."""

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


ON_EDGE = 1e-6
"""How near to a plate's edge a node is on it (m)."""

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
    """Split the mesh at every interface that may part; where none may it stays as it is."""
    names = [name for name in mesh.interfaces if _acting(stack, name).kind != "welded"]
    return split(mesh, names) if names else (mesh, ())


@dataclass(frozen=True)
class _Acting:
    """What acts at an interface: its kind, the coefficient of friction, the initial gap."""

    kind: str
    friction: float
    gap: Gap
    pad: bool


def _acting(stack: Stack, name: str) -> _Acting:
    """What acts at the interface of this name."""
    for pad in stack.pads:
        if name.endswith(f" | {pad.name}"):
            return _Acting(pad.kind, pad.friction if pad.kind == "clamped" else 0.0, Gap(), True)
    friction = stack.friction if stack.interface == "clamped" else 0.0
    return _Acting(stack.interface, friction, stack.gap, False)


def faces_of(stack: Stack, mesh: StackMesh, pairs: tuple[FacePair, ...]) -> Interfaces:
    """Contact faces of an opened stack, its penalty from the thinnest body."""
    stiffest = max(plate.material.young for plate in stack.plates)
    thinnest = min(body.thickness for body in stack.bodies)
    penalty = contact.STIFFNESS * stiffest / thinnest
    acting = [_acting(stack, pair.name) for pair in pairs]
    gaps = []
    for pair, one in zip(pairs, acting, strict=True):
        x = mesh.nodes[pair.lower, 0]
        gaps.append(one.gap.at(x, np.full_like(x, np.abs(x).max())))
    friction = [one.friction for one in acting]
    return Interfaces.of(mesh.nodes, pairs, friction, np.concatenate(gaps), penalty)


def joining(press: Press, stack: Stack, mesh: StackMesh, faces: Interfaces) -> bsr_matrix | None:
    """Stiffness of the connectors of an opened stack, if it has any; none of them yields."""
    joined = Joined.of(press, stack)
    if joined is None:
        return None
    parts = []
    for (lower, upper), slip in zip(pairwise(joined.plates), joined.slip, strict=True):
        own = _between(faces, lower, upper)
        if joined.given.kind == "seams":
            edge = min(lower.outline.width, upper.outline.width) / 2
            on_edge = np.abs(np.abs(faces.places[..., 1]) - edge) < ON_EDGE
            seamed = on_edge[:, connection.EDGES].all(axis=2) & own[:, None]
            parts.append(connection.seams(faces, seamed, slip / 2))
        else:
            within = np.abs(at_points(faces.places)[..., 0]) <= joined.span / 2
            within &= own[:, None]
            area = float((faces.area * within).sum()) * mesh.share
            parts.append(connection.smeared(faces, slip * joined.span / area * within))
    return sum(parts[1:], parts[0])


def _between(faces: Interfaces, lower: Plate, upper: Plate) -> np.ndarray:
    """Which faces (k,) lie between two plates."""
    names = {lower.name, upper.name}
    hit = [set(name.split(" | ")) == names for name in faces.names]
    return np.asarray(np.array(hit)[faces.owner])


def welded(stack: Stack, mesh: StackMesh) -> tuple[InterfaceResult, ...]:
    """Describe interfaces that cannot part: those that the mesh still has."""
    return tuple(
        InterfaceResult(name, "welded", None, None, None, None, pad=_acting(stack, name).pad)
        for name in mesh.interfaces
    )


def described(stack: Stack, faces: Interfaces, found: Contact) -> tuple[InterfaceResult, ...]:
    """Describe each interface of a solution that may part."""
    state = found.state
    sliding = np.linalg.norm(state.sliding, axis=2)
    results = []
    for number, name in enumerate(faces.names):
        own = faces.owner == number
        area = faces.area[own]
        results.append(
            InterfaceResult(
                name,
                _acting(stack, name).kind,
                float((area * state.closed[own]).sum() / area.sum()),
                float(state.pressure[own].max()),
                float(_apart(state)[own].max()),
                float(sliding[own].max()),
                float((area * (state.closed & ~state.sliding_now)[own]).sum() / area.sum()),
                _map(faces, found.nodal, own),
                _acting(stack, name).pad,
            )
        )
    return tuple(results)


def _apart(state: contact.State) -> np.ndarray:
    """Gaps (m); penetration is none."""
    return np.maximum(0.0, state.opening)


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
        at(_apart(nodal)),
        at(np.linalg.norm(nodal.sliding, axis=2)),
        at(np.where(nodal.closed, state, OPEN)),
    )
