"""The dossier as a PDF: the same content as data, set by a template."""

from __future__ import annotations

import json
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from platestack.fea.app.report.blocks import (
    Beside,
    Block,
    Calculation,
    Dossier,
    Picture,
    TableBlock,
)
from platestack.fea.support import typesetting
from platestack.geometry.units import system


def render(dossier: Dossier) -> bytes:
    """Set a dossier; fonts are embedded."""
    beside: dict[str, bytes] = {}
    sections = [
        {"title": s.title, "blocks": [_plain(b, beside) for b in s.blocks]}
        for s in dossier.sections
    ]
    content = {"title": dossier.title, "subtitle": dossier.subtitle, "sections": sections}
    beside["content.json"] = json.dumps(content).encode()
    assets = files("platestack.fea.app.report") / "assets"
    text = (assets / "dossier.typ").read_text(encoding="utf-8")
    paper = "us-letter" if system() == "US" else "a4"
    return typesetting.pdf(text.replace('page("a4"', f'page("{paper}"'), beside)


PAGE, TALLEST = 170.0, 215.0
"""Width of the text on a page, and the tallest picture (mm)."""


def _plain(block: Block, beside: dict[str, bytes]) -> dict[str, Any]:
    """A block as data; pictures go to files, formulae into the template's mathematics."""
    kind = type(block).__name__.lower()
    if isinstance(block, Picture):
        file = block.name + (".svg" if block.data.startswith(b"<svg") else ".png")
        beside[file] = block.data
        return {"kind": kind, "file": file, "caption": block.caption, "alt": block.alt,
                "width": _share(block.data)}  # fmt: skip
    if isinstance(block, Beside):
        inner = [_plain(b, beside) for b in block.blocks]
        return {"kind": kind, "picture": _plain(block.picture, beside), "blocks": inner}
    data = asdict(block)
    if isinstance(block, Calculation):
        from platestack.fea.app.report.formula import typst as mathematics  # slow to load

        data["formula"] = mathematics(block.formula) if block.formula else ""
        data["inputs"] = [[mathematics(name), value] for name, value in block.inputs]
    if isinstance(block, TableBlock):
        data["widths"] = _widths(block)
    return {"kind": kind, "manner": data.pop("kind", ""), **data}


def _share(data: bytes) -> float:
    """Part (%) of the page's width for a picture: two tall ones go on a page, none beyond it."""
    if data.startswith(b"<svg"):
        return 100.0
    width, height = (int.from_bytes(data[i : i + 4]) for i in (16, 20))  # in the head of a PNG
    ratio = height / width
    return 100.0 if ratio < 0.65 else min(86.0, 100 * TALLEST / (PAGE * ratio))


def _widths(table: TableBlock) -> list[int]:
    """Letters that each column needs: its longest cell, or word of its head."""
    heads = [max((len(word) for word in head.split()), default=0) for head in table.columns]
    cells = [max(map(len, column), default=0) for column in zip(*table.rows, strict=True)]
    return [min(max(h, c, 2), 60) + 2 for h, c in zip(heads, cells or heads, strict=True)]
