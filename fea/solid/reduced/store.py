"""Reduced models in files: found again under a key of all that they depend on."""

from __future__ import annotations

import hashlib
import zipfile
from pathlib import Path

import numpy as np

from platestack.fea.solid.reduced.coercivity import Coercivity
from platestack.fea.solid.reduced.instant import ReducedModel
from platestack.fea.solid.reduced.model import ReducedStack
from platestack.fea.solid.reduced.stress import StressBasis
from platestack.fea.solid.stress.recover import PlateNodes
from platestack.fea.support import scratch
from platestack.fea.support.digest import code

_MODEL = ("parts", "load", "reading", "gram", "rest", "relieved", "low", "high")


def key(*told: object) -> str:
    """Content hash of what a model is made from (its text tells all), and of the code."""
    return hashlib.sha256(repr((code(), *told)).encode()).hexdigest()


def save(found: ReducedModel, path: Path, name: str) -> None:
    """Write a model under its key `name`; the file appears whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    model, field = found.model, found.field
    with scratch.file(path) as made, made.open("wb") as file:
        np.savez(
            file,
            key=np.array(name),
            thickness=found.thickness,
            critical=found.critical,
            node=field.nodes.node,
            plate=field.nodes.plate,
            cells=field.nodes.cells,
            fixed=field.fixed,
            across=field.across,
            basis=model.basis.astype(np.float32),
            alpha_parts=model.coercivity.parts,
            alpha_reference=model.coercivity.reference,
            solves=model.solves,
            history=np.array(model.history),
            **{field: getattr(model, field) for field in _MODEL},
        )


def load(path: Path, name: str) -> ReducedModel | None:
    """Read the model with the key `name`; None if there is none, or another or a broken one."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as data:
            stored = all(part.compress_type == zipfile.ZIP_STORED for part in data.zip.infolist())
            if not stored or str(data["key"]) != name:  # packed, it may unpack to any size
                return None
            model = ReducedStack(
                basis=data["basis"],
                coercivity=Coercivity(data["alpha_parts"], data["alpha_reference"]),
                solves=int(data["solves"]),
                history=tuple(float(h) for h in data["history"]),
                **{field: data[field] for field in _MODEL},
            )
            nodes = PlateNodes(data["node"], data["plate"], data["cells"])
            field = StressBasis(nodes, data["fixed"], data["across"])
            return ReducedModel(data["thickness"], model, field, data["critical"])
    except (OSError, KeyError, ValueError, EOFError, zipfile.BadZipFile):
        return None
