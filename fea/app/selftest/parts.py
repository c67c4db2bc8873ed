"""The parts of an installation, each put to work once; what to do where one fails.

What may be missing on a machine is imported by the trial that needs it.
"""

from __future__ import annotations

import importlib.metadata
import os
import platform
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from platestack.fea.app.selftest.bodies import Solid, grid, plane
from platestack.fea.app.trials import Trial
from platestack.fea.numerics import direct, krylov
from platestack.fea.support import machine, parallel

LIBRARIES = (
    "libgl1 libegl1 libglu1-mesa libxft2 libxcursor1 libxinerama1 libgomp1 (Debian, Ubuntu: "
    "apt-get install)"
)
LEAST = 1.5e9
"""Free memory (bytes) below which even small presses are made coarser."""

ANSWERS = {
    "capacity": "30 tf",
    "pressure": "25 MPa",
    "length": "600 mm",
    "width": "400 mm",
    "daylight": "300 mm",
}
"""Of the press that is meshed."""


class Unfit(Exception):
    """A part works, but not well enough; the words say how."""


def tried() -> Iterator[Trial]:
    """Try all parts in turn."""
    for name, work, advice in PARTS:
        start = time.perf_counter()
        try:
            found, passed = work(), True
        except Unfit as words:
            found, passed = str(words), False
        except Exception as error:  # a part may fail in any way; the others are still tried
            found, passed = f"{type(error).__name__}: {error}".splitlines()[0], False
        yield Trial(name, passed, found, "" if passed else advice, time.perf_counter() - start)


def _versions() -> str:
    names = ("gmsh", "numpy", "scipy", "numba", "scikit-fem", "pyamg", "pyvista", "typst")
    own = f"platestack {importlib.metadata.version('platestack')}, Python"
    found = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in names)
    return f"{own} {platform.python_version()}; {found}"


def _memory() -> str:
    room = machine.room()
    words = f"{room.free / 1e9:.2g} GB ({room.why}), {parallel.threads()} threads"
    if room.free < LEAST:
        raise Unfit(words)
    return words


def _kernels() -> str:
    """Compile a kernel, or find it compiled, where the next run will find it too."""
    krylov.inner(np.ones(3), np.ones(3))
    place = Path(krylov.dot._cache.cache_path)  # type: ignore[attr-defined]
    if not os.access(place, os.W_OK):
        raise Unfit(f"{place} cannot be written to")
    return f"compiled once, kept in {place}"


def _mesher() -> str:
    from platestack.fea.app import starter
    from platestack.fea.solid.stack import mesh_stack
    from platestack.geometry import case as case_file
    from platestack.geometry import layout

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "press.toml"
        starter.write(path, ANSWERS)
        case = case_file.read(path)
    press = layout.build(case)
    mesh = mesh_stack(press, press.bed, case)
    return f"{len(mesh.tets):,} elements, worst shape {mesh.quality.worst:.2f} (1 is regular)"


def _solvers() -> str:
    """A block pulled at its end, by multigrid and by a factor."""
    along = np.linspace(0, 0.1, 8)
    solid = Solid(grid(along, along, along))
    forces = np.multiply.outer(solid.weights(plane(2, 0.1)), [0.0, 0.0, 1e6])
    fixed = solid.held(*[plane(2)] * 3)
    one, other = (solid.solve(forces, fixed, method) for method in ("multigrid", "direct"))
    apart = float(np.abs(one - other).max() / np.abs(other).max())
    by = "Pardiso" if direct.pardiso_installed() else "SuperLU"
    words = f"multigrid and {by} agree to {apart:.0e}, {one.size:,} unknowns"
    if not apart < 1e-5:
        raise Unfit(words)
    return words


def _rendering() -> str:
    from platestack.fea import pictures

    pictures.preflight()
    return "a scene was drawn off screen"


def _document() -> str:
    from platestack.fea.app.report import pdf
    from platestack.fea.app.report.blocks import Dossier, DossierSection, Text

    made = pdf.render(Dossier("Trial", "", (DossierSection("One", (Text("Two"),)),)))
    if not made.startswith(b"%PDF"):
        raise Unfit("no PDF was made")
    return f"a page was set, {len(made) / 1000:.0f} kB"


PARTS: tuple[tuple[str, Callable[[], str], str], ...] = (
    ("versions", _versions, "install again: pip install --force-reinstall platestack"),
    ("memory", _memory, "close other programs, raise the limit, or keep to small presses"),
    (
        "compiled kernels",
        _kernels,
        "set NUMBA_CACHE_DIR to a directory of yours; else each run compiles anew (10 s)",
    ),
    ("mesher", _mesher, f"install the libraries that gmsh loads: {LIBRARIES}"),
    ("solvers", _solvers, "install numpy, scipy, numba and pyamg again"),
    ("pictures", _rendering, f"install the libraries that VTK loads: {LIBRARIES}"),
    ("PDF", _document, "install typst again: pip install --force-reinstall typst"),
)
