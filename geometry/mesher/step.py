"""STEP files of a stack's plates, in metres, by gmsh's OpenCASCADE kernel."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import gmsh

from platestack.geometry.errors import MeshError
from platestack.geometry.mesher import session, solids
from platestack.geometry.parts import Stack


@contextmanager
def _silence() -> Iterator[None]:
    """Keep from the terminal what the kernel prints there whatever its options say."""
    sys.stdout.flush()
    kept = os.dup(1)
    try:
        with open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def write(stack: Stack, path: Path) -> None:
    """Write the plates of a stack as separate solids.

    Raises
    ------
    MeshError
        If the kernel fails.
    """
    with session():
        try:
            gmsh.option.setString("Geometry.OCCTargetUnit", "M")
            occ = gmsh.model.occ
            bodies = []
            for plate in stack.plates:
                halves = solids.plate_solid(plate)
                whole, _ = occ.fuse(halves[:1], halves[1:])
                bodies += whole
            occ.synchronize()
            with _silence():
                gmsh.write(str(path))
        except Exception as error:
            if type(error) is not Exception:  # gmsh raises the bare class, nobody else does
                raise
            raise MeshError(f"no STEP file of the {stack.name} could be made: {error}") from error


def volumes(path: Path) -> list[float]:
    """Volumes of the solids in a STEP file (m³), rising."""
    with session():
        gmsh.option.setString("Geometry.OCCTargetUnit", "M")
        with _silence():
            gmsh.model.occ.importShapes(str(path))
        gmsh.model.occ.synchronize()
        found = (gmsh.model.occ.getMass(3, tag) for _, tag in gmsh.model.getEntities(3))
        return sorted(found)
