"""Mesh a stack with gmsh's OpenCASCADE kernel. The only package that imports gmsh.

The plates of a stack are fragmented together with the areas that carry loads, so that neighbours
share matching faces and every area is a set of whole element faces. Each plate is cut at its middle
plane, which guarantees two layers of elements.

Plates much thinner than the element size are meshed as if they were thicker, and the mesh is then
squeezed back: flat, well-aligned elements in place of very many or very bad ones.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import gmsh
import numpy as np

from platestack.geometry.errors import MeshError
from platestack.geometry.mesh import EDGES, SizeField, Sizes, StackMesh, quality, scaled_jacobians
from platestack.geometry.mesher import reading, solids
from platestack.geometry.mesher import sizes as fields
from platestack.geometry.parts import Pad, Stack, TieRod
from platestack.geometry.shapes import Groove, Hole
from platestack.geometry.symmetry import Symmetry

LEAST_JACOBIAN = 0.2
"""Elements whose curved edges bring the scaled Jacobian below this are straightened."""
POOR, FLAT = 0.02, 1e-4
"""Shape (mean ratio) below which a mesh is made again, and below which it is refused.

Of four corners of a square, two of them lifted, the height is 2e-3 and 5e-7 of a side. Among
elements in even layers HXT leaves one in a hundred thousand without any height, and gmsh's
optimisers do not mend it: it would tie its four corners together. Other sizes make other elements.
"""
SIZED_DOWN = (1.0, 0.97, 0.94)


def make(
    stack: Stack,
    rods: tuple[TieRod, ...],
    symmetry: Symmetry,
    sizes: Sizes,
    wanted: SizeField | None = None,
) -> StackMesh:
    """Mesh a stack.

    Parameters
    ----------
    stack, rods : the stack, and the rods whose nuts bear on it.
    symmetry : mirror planes to use (`geometry.symmetry.choose_symmetry`).
    sizes : element sizes.
    wanted : sizes over an earlier mesh of the same stack, which replace those at features.

    Raises
    ------
    MeshError
        If gmsh fails, or if the mesh has flat or inverted elements.
    """
    start = time.perf_counter()
    found: list[StackMesh] = []
    failed: list[MeshError] = []
    for factor in SIZED_DOWN:
        own = replace(sizes, body=factor * sizes.body)
        field = wanted and replace(wanted, sizes=factor * wanted.sizes)
        try:
            found.append(_made(stack, rods, symmetry, own, field))
        except MeshError as error:
            failed.append(error)
        else:
            if found[-1].quality.worst > POOR and found[-1].quality.least_jacobian > 0:
                break
    if not found:
        raise failed[0]
    best = max(found, key=lambda m: (m.quality.least_jacobian > 0, m.quality.worst))
    for what, shape, least in (
        ("flat", best.quality.worst, FLAT), ("inverted", best.quality.least_jacobian, 0.0)
    ):  # fmt: skip
        if shape <= least:
            raise MeshError(
                f"the mesh of the {stack.name} has {what} elements ({shape:.2g}); allowed: a "
                "smaller mesh.size, or fewer tiny features"
            )
    return replace(best, seconds=time.perf_counter() - start)


def _made(
    stack: Stack,
    rods: tuple[TieRod, ...],
    symmetry: Symmetry,
    sizes: Sizes,
    wanted: SizeField | None,
) -> StackMesh:
    """Mesh a stack once, whatever its elements look like; how long that takes is left out."""
    thick, squeeze = thickened(stack, sizes)
    with session():
        try:
            model = solids.build(thick, rods, symmetry)
            fields.set_fields(thick, rods, sizes, _onthickened(wanted, squeeze))
            gmsh.model.mesh.generate(3)
            gmsh.model.mesh.setOrder(2)
        except Exception as error:
            if type(error) is not Exception:  # gmsh raises the bare class, nobody else does
                raise
            raise MeshError(f"no mesh of the {stack.name} could be made: {error}") from error
        nodes, tets, plate, faces = reading.read(model)
    nodes[:, 2] = squeeze(nodes[:, 2])
    nodes = _straightened(nodes, tets)
    names = tuple(body.name for body in stack.bodies)
    shape = quality(nodes, tets)
    return StackMesh(nodes, tets, plate, names, faces, symmetry, shape, 0.0, len(stack.pads))


_NAMES = ("SIGTERM", "SIGHUP", "SIGPIPE")
_DEFAULTED = [getattr(signal, name) for name in _NAMES if hasattr(signal, name)]
"""Signals whose handlers gmsh takes away when it starts."""
_ALONE = threading.Lock()
"""Held by the thread whose gmsh it is."""


@contextmanager
def session() -> Iterator[None]:
    """Run gmsh quietly, on one thread, which makes its meshes repeatable; others wait meanwhile."""
    with _ALONE, _started():
        yield


@contextmanager
def _started() -> Iterator[None]:
    """Start gmsh and end it, and leave the signals to those who heard them before."""
    kept = {number: signal.getsignal(number) for number in _DEFAULTED}
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    if threading.current_thread() is threading.main_thread():
        for number, handler in kept.items():
            if handler is not None:
                signal.signal(number, handler)
    try:
        for option, value in {
            "General.Terminal": 0,
            "General.NumThreads": 1,
            "Geometry.OCCParallel": 0,
            "Mesh.MeshSizeExtendFromBoundary": 0,
            "Mesh.MeshSizeFromPoints": 0,
            "Mesh.MeshSizeFromCurvature": 0,
            "Mesh.Algorithm": 6,
            "Mesh.Algorithm3D": 10,
            "Mesh.SecondOrderIncomplete": 0,
        }.items():
            gmsh.option.setNumber(option, value)
        yield
    finally:
        gmsh.finalize()


def thickened(stack: Stack, sizes: Sizes) -> tuple[Stack, Squeeze]:
    """Replace thin flat plates by thicker ones; also the map of z back to the real stack."""
    if stack.layout != "flat":
        return stack, Squeeze(np.zeros(1), np.zeros(1))
    real, meshed = [stack.plates[0].base], [stack.plates[0].base]
    plates = []
    for plate in stack.plates:
        thickness = max(plate.thickness, 0.8 * sizes.body)
        factor = thickness / plate.thickness
        holes = tuple(_deepened(hole, factor) for hole in plate.holes)
        plates.append(replace(plate, base=meshed[-1], thickness=thickness, holes=holes))
        real.append(plate.top)
        meshed.append(meshed[-1] + thickness)
    load, nut = (meshed[0], meshed[-1]) if stack.direction == 1 else (meshed[-1], meshed[0])

    pads = tuple(_thickened_pad(pad, (meshed[0], meshed[-1]), sizes) for pad in stack.pads)
    for old, new in zip(stack.pads, pads, strict=True):
        if old.far > real[-1]:
            real, meshed = [*real, old.far], [*meshed, new.far]
        elif old.far < real[0]:
            real, meshed = [old.far, *real], [new.far, *meshed]
    squeeze = Squeeze(np.array(meshed), np.array(real))

    def height(z: float) -> float:
        return float(np.interp(z, squeeze.real, squeeze.meshed))

    bolts = tuple(replace(b, low=height(b.low), high=height(b.high)) for b in stack.bolts)
    thick = replace(
        stack, plates=tuple(plates), load_face=load, nut_face=nut, bolts=bolts, pads=pads
    )
    return thick, squeeze


def _thickened_pad(pad: Pad, faces: tuple[float, float], sizes: Sizes) -> Pad:
    """A pad on the lower or the upper of two faces (m), thick enough for its elements' size."""
    body = pad.body
    thickness = max(body.thickness, 0.8 * fields.pad_size(pad, sizes))
    base = faces[1] if pad.outwards == 1 else faces[0] - thickness
    return replace(pad, body=replace(body, base=base, thickness=thickness))


def _straightened(nodes: np.ndarray, tets: np.ndarray) -> np.ndarray:
    """Straighten the edges of elements that their curved edges distort too much.

    That gives up the exact shape of a rim in a few elements, never the validity of one.
    """
    nodes = nodes.copy()
    for _ in range(10):  # an edge made straight can distort the elements beside it
        bad = np.flatnonzero(scaled_jacobians(nodes, tets) < LEAST_JACOBIAN)
        if not len(bad):
            break
        corners = nodes[tets[bad, :4]]
        nodes[tets[bad, 4:]] = corners[:, EDGES].mean(axis=2)
    return nodes


@dataclass(frozen=True)
class Squeeze:
    """A piecewise linear map of heights, from meshed to real."""

    meshed: np.ndarray
    real: np.ndarray

    def __call__(self, z: np.ndarray) -> np.ndarray:
        """Return the real heights of `z`."""
        return z if len(self.meshed) == 1 else np.interp(z, self.meshed, self.real)


def _onthickened(wanted: SizeField | None, squeeze: Squeeze) -> SizeField | None:
    if wanted is None or len(squeeze.real) == 1:
        return wanted
    points = wanted.points.copy()
    points[:, 2] = np.interp(points[:, 2], squeeze.real, squeeze.meshed)
    return replace(wanted, points=points)


def _deepened(hole: Hole, factor: float) -> Hole:
    if not isinstance(hole, Groove):
        return hole
    return replace(hole, depth=hole.depth * factor, head_depth=hole.head_depth * factor)


with session():
    pass  # its first start leaves signals without their handlers for 13 ms: not amid a run, then
