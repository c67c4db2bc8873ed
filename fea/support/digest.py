"""Which platestack computes: kept numbers are of no use to another."""

from __future__ import annotations

import functools
import hashlib
import importlib.metadata
from pathlib import Path

_ABOVE = ("fea/app", "fea/pictures")
"""What presents results and cannot change a number."""


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
