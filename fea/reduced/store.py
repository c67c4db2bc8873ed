"""Reduced models in files: reused as long as nothing that they depend on has changed."""

from __future__ import annotations

import hashlib
import os
import tempfile
import zipfile
from contextlib import suppress
from pathlib import Path

import numpy as np

from fea.reduced.affine import Problem
from fea.reduced.coercivity import Coercivity
from fea.reduced.model import ReducedStack

VERSION = 1
"""Of the files; rises when what a model holds, or how it is made, changes."""

_ARRAYS = ("basis", "parts", "load", "reading", "gram", "low", "high")


def key(problem: Problem, *settings: float) -> str:
    """Content hash of all that a model depends on: mesh, materials, supports, loads, settings."""
    held, mesh = problem.held, problem.mesh
    digest = hashlib.sha256(repr((VERSION, problem.stack.plates, settings)).encode())
    arrays = (
        mesh.nodes, mesh.tets, mesh.plate, problem.young, problem.poisson, problem.load,
        problem.reading, held.fixed, held.ties.stiffness, held.ties.rows.data,
        held.ties.rows.indices,
    )  # fmt: skip
    for array in arrays:
        digest.update(np.ascontiguousarray(array).tobytes())
    return digest.hexdigest()


def save(model: ReducedStack, path: Path, name: str) -> None:
    """Write a model under its key `name`; the file appears whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    arrays = {field: getattr(model, field) for field in _ARRAYS}
    handle, made = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            np.savez(
                file,
                key=np.array(name),
                alpha_parts=model.coercivity.parts,
                alpha_reference=model.coercivity.reference,
                solves=model.solves,
                history=np.array(model.history),
                **arrays,
            )
        os.replace(made, path)
    finally:
        with suppress(OSError):
            os.unlink(made)


def load(path: Path, name: str) -> ReducedStack | None:
    """Read the model with the key `name`; None if there is none, or another or a broken one."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as data:
            if str(data["key"]) != name:
                return None
            return ReducedStack(
                coercivity=Coercivity(data["alpha_parts"], data["alpha_reference"]),
                solves=int(data["solves"]),
                history=tuple(float(h) for h in data["history"]),
                **{field: data[field] for field in _ARRAYS},
            )
    except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
        return None
