"""The three-dimensional scene of a run as a page of its own; the viewer is that of the dossier."""

from __future__ import annotations

import json
from html import escape
from pathlib import Path

from platestack.fea.app.report.scene import scene
from platestack.fea.results import summary_file
from platestack.geometry import units

STATIC = Path(__file__).parent / "static"


def document(run: Path, nonce: str) -> str:
    """HTML of the scene of a run; `nonce` lets its map of modules pass the content policy.

    Raises
    ------
    UsageError
        If the run has no fields.
    """
    text = (STATIC / "scene.html").read_text(encoding="utf-8")
    with units.using(summary_file.units_of(run)):
        data = json.dumps(scene(run)).replace("<", "\\u003c")
    head, tail = text.split("{data}")
    head = head.replace("{name}", escape(run.name)).replace("{nonce}", nonce)
    return head + data + tail
