"""The dossier as one HTML file that needs nothing from outside."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterable
from functools import singledispatch
from html import escape
from importlib.resources import files
from typing import Any

from platestack.fea.app.report.blocks import (
    Beside,
    Calculation,
    Dossier,
    Head,
    LimitBars,
    Picture,
    Scene,
    TableBlock,
    Text,
)
from platestack.geometry.units import system

_LIBRARIES = {
    "three-core": "three.core.min.js",
    "three": "three.module.min.js",
    "orbit": "OrbitControls.js",
}


def asset(name: str) -> str:
    """Text of a file that comes with this package."""
    return (files("platestack.fea.app.report") / "assets" / name).read_text(encoding="utf-8")


def _style() -> str:
    """The style sheet, for the paper of the user's units."""
    paper = "letter" if system() == "US" else "A4"
    return asset("style.css").replace("size: A4", f"size: {paper}")


def render(dossier: Dossier, scene: dict[str, Any] | None) -> str:
    """Set a dossier; without data of the scene its place tells so."""
    heads = [f'<li><a href="#s{i}">{escape(s.title)}</a></li>'
             for i, s in enumerate(dossier.sections, 1)]  # fmt: skip
    parts = [
        f'<section aria-labelledby="s{i}"><h2 id="s{i}">{i} {escape(s.title)}</h2>'
        + "".join(_block(b) for b in s.blocks)
        + "</section>"
        for i, s in enumerate(dossier.sections, 1)
    ]
    scripts = _scripts(scene)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_policy(scripts)}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<link rel="icon" href="data:,">'
        f"<title>{escape(dossier.title)}: design dossier</title><style>{_style()}</style>"
        '</head><body><a class="skip" href="#s1">Skip to the content</a>'
        f"<header><h1>{escape(dossier.title)}</h1><p>{escape(dossier.subtitle)}</p></header>"
        f'<main><nav aria-label="Contents"><ol>{"".join(heads)}</ol></nav>'
        f"{''.join(parts)}</main>{scripts}</body></html>\n"
    )


def _policy(scripts: str) -> str:
    """What a browser may load and run: the scripts given, by their digests, and pictures in it.

    Content Security Policy Level 3 (W3C), 2.3.1: sources by hash.
    """
    inline = re.findall(r'<script type="(?:importmap|module)">(.*?)</script>', scripts, re.DOTALL)
    digests = [base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in inline]
    run = " ".join(["data:", *(f"'sha256-{digest}'" for digest in digests)]) if inline else "'none'"
    return (
        f"default-src 'none'; script-src {run}; style-src 'unsafe-inline'; img-src data:; "
        "form-action 'none'; base-uri 'none'"
    )


def _scripts(scene: dict[str, Any] | None) -> str:
    if scene is None:
        return ""
    addresses = {}
    for name, file in _LIBRARIES.items():
        text = asset(file).replace("./three.core.min.js", "three-core")
        # Addresses in the library's comments are not needed here.
        text = re.sub(r"https?://[^\s'\"`)]*", "", text) if name == "orbit" else text
        code = base64.b64encode(text.encode()).decode()
        addresses[name] = f"data:text/javascript;base64,{code}"
    data = json.dumps(scene).replace("<", "\\u003c")
    return (
        f'<script type="importmap">{json.dumps({"imports": addresses})}</script>'
        f'<script type="application/json" id="scene-data">{data}</script>'
        f'<script type="module">{asset("scene.js")}</script>'
        f"<!-- three.js: {asset('LICENSE-three.txt')} -->"
    )


@singledispatch
def _block(block: Any) -> str:
    raise TypeError(type(block).__name__)


@_block.register
def _(block: Text) -> str:
    return f'<p class="{block.kind}">{escape(block.words)}</p>'


@_block.register
def _(block: TableBlock) -> str:
    side = ["r" if i in block.right else "" for i in range(len(block.columns))]
    body = "".join(
        "<tr>"
        + "".join(f"<td{_side(s)}>{escape(c)}</td>" for c, s in zip(row, side, strict=True))
        + "</tr>"
        for row in block.rows
    )
    return _wide(block.caption, zip(block.columns, side, strict=True), body)


def _wide(caption: str, heads: Iterable[tuple[str, str]], body: str) -> str:
    """A table that scrolls sideways where the page is narrow; without heads if all are empty."""
    found = list(heads)
    head = "".join(
        f'<th scope="col"{_side(s)}>{escape(c)}</th>' if c else f"<td{_side(s)}></td>"
        for c, s in found
    )
    head = f"<thead><tr>{head}</tr></thead>" if any(c for c, _ in found) else ""
    name = escape(caption, quote=True)
    many = ' class="many"' if len(found) > 8 else ""
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{name}"><table{many}>'
        f"<caption>{escape(caption)}</caption>{head}<tbody>{body}</tbody></table></div>"
    )


def _side(side: str) -> str:
    return f' class="{side}"' if side else ""


@_block.register
def _(block: Picture) -> str:
    if block.data.startswith(b"<svg"):
        inner = block.data.decode()
    else:
        code = base64.b64encode(block.data).decode()
        inner = f'<img src="data:image/png;base64,{code}" alt="{escape(block.alt, quote=True)}">'
    return f"<figure>{inner}<figcaption>{escape(block.caption)}</figcaption></figure>"


@_block.register
def _(block: Calculation) -> str:
    from platestack.fea.app.report.formula import mathml  # symbolic algebra, slow to load

    rows = [("formula", mathml(block.formula))] if block.formula else []
    if block.inputs:
        rows.append(("inputs", ", ".join(f"{mathml(n)} = {escape(v)}" for n, v in block.inputs)))
    if block.method:
        rows.append(("found by", escape(block.method)))
    rows.append(("result", f"<b>{escape(block.result)}</b>"))
    if block.use is not None:
        rows += [("limit", escape(block.limit)), ("use", f"{_bar(block.use)}{block.percent}")]
    rows.append(("source", escape(block.source)))
    rows += [("note", escape(note)) for note in block.notes]
    inner = "".join(f"<dt>{name}</dt><dd>{value}</dd>" for name, value in rows)
    level = 4 if block.use is None else 3
    return f"<article><h{level}>{escape(block.name)}</h{level}><dl>{inner}</dl></article>"


@_block.register
def _(block: Head) -> str:
    return f"<h3>{escape(block.words)}</h3>"


@_block.register
def _(block: Beside) -> str:
    blocks = "".join(map(_block, block.blocks))
    return f'<div class="beside">{_block(block.picture)}<div>{blocks}</div></div>'


@_block.register
def _(block: LimitBars) -> str:
    body = "".join(
        f'<tr><td>{escape(row.name)}</td><td class="r">{escape(row.demand)}</td>'
        f'<td class="r">{escape(row.limit)}</td><td class="r">{_bar(row.use)}{row.percent}</td>'
        f"<td>{escape(row.named)}</td></tr>"
        for row in block.rows
    )
    heads = ("check", ""), ("demand", "r"), ("limit", "r"), ("use", "r"), ("limit named", "")
    return _wide(block.caption, heads, body)


def _bar(use: float) -> str:
    over = " over" if use > 1 else ""
    width = f"{min(use, 1):.1%}"
    return f'<span class="use{over}" aria-hidden="true"><i style="width:{width}"></i></span>'


@_block.register
def _(block: Scene) -> str:
    looks = "".join(
        f'<button type="button" data-look="{v}">{v}</button>'
        for v in ("slanted", "front", "side", "above", "below")
    )
    return (
        '<div id="scene"><div class="tools"><label>Field <select data-ui="field"></select></label>'
        '<label>Bent shape <input type="range" data-ui="factor" min="0"> '
        '<output data-ui="factor-value"></output></label>'
        '<label>Cut across <select data-ui="axis"><option value="">nothing</option>'
        "<option>x</option><option>y</option><option>z</option></select></label>"
        '<label>at <input type="range" data-ui="at" min="0" max="100" value="50" disabled> '
        '<output data-ui="at-value"></output></label></div>'
        f'<div class="tools" role="group" aria-label="Look from">{looks}</div>'
        '<canvas data-ui="canvas" tabindex="0" role="img" aria-label="Both stacks in three '
        'dimensions. Arrow keys turn, plus and minus zoom, Enter reads the value in the middle.">'
        '</canvas><div class="scale"><div data-ui="legend"></div><span data-ui="low"></span>'
        '<span data-ui="high"></span></div><p data-ui="told" aria-live="polite">Drag to turn, '
        "wheel to zoom, click to read a value.</p></div>"
    )
