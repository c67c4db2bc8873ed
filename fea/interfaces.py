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
            )
        )
    return tuple(results)
