"""Under which key a row is kept: a hash of all that it depends on."""

from __future__ import annotations

import functools
import hashlib
import importlib.metadata
import json
from pathlib import Path

from fea.options.candidates import Candidate
from geometry.schema import Case

_ABOVE = ("fea/cli", "fea/console", "fea/page", "fea/report", "fea/pictures", "fea/view")
"""What presents results and cannot change a number."""


def key(case: Case, candidate: Candidate, method: str, code: str) -> str:
    """Content hash of an option: case, changes, method and code."""
    told = [case.model_dump(mode="json"), candidate.changes, method, code]
    text = json.dumps(told, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


@functools.cache
def code() -> str:
    """The version of platestack that computes, with a digest of its sources and tables.

    The digest tells apart what the version number does not: two workers of a cluster with
    different states of a working copy.
    """
    root = Path(__file__).parents[2]
    digest = hashlib.sha256()
    for package in ("fea", "geometry"):
        for path in sorted((root / package).rglob("*")):
            name = path.relative_to(root).as_posix()
            if path.suffix in (".py", ".toml") and not name.startswith(_ABOVE):
                digest.update(name.encode() + b"\0" + path.read_bytes() + b"\0")
    return f"{importlib.metadata.version('platestack')}+{digest.hexdigest()[:16]}"
