"""One thing has one name: synonyms that are not used, and sentences that were hard to read."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(p for room in ("fea", "geometry") for p in (ROOT / room).rglob("*.py"))
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted(p for room in ("fea", "geometry", "cases") for p in (ROOT / room).rglob("*.md")),
    *sorted((ROOT / "fea" / "app" / "page" / "static").glob("*.html")),
]

EVERYWHERE = {
    r"part closed": "closed fraction",
    r"working loads?": "working force",
    r"left on its seat|residual clamp": "clamping force left",
    r"left after release": "residual deflection",
    r"way to the accuracy": "mesh refinement",
    r"to be confirmed|confirmed by|confirmed only": "solved in full",
    r"(is|are|was|been) judged": "determined, checked",
    r"mirrored about": "mirrored at",
    r"beaten by (none|no)": "best trade-offs",
    r"may bear;|they may bear\b": "allowable",
    r"beyond the rods\b": "no limit within the rods",
    r"from memory": "not verified against the standard",
    r"smallest work\b": "smallest workpiece",
    r"going up|coming back": "loading, unloading",
    r"in per cent of the limit": "utilisation",
    r"most that leverage": "largest prying factor",
    r"put on (the )?lower washer": "fit the lower washer",
}
"""What is not said, and what is said in its place, in text, docstrings and comments."""

SHOWN = {
    r"(another|better|each|these) designs?\b": "option",
    r"candidates?\b": "option",
    r"(?<!not )\bverified\b|\bconfirmed\b": "solved in full",
    r"\bjudged\b": "determined, checked",
    r"\boutcomes?\b": "result",
    r"\b(act|acting|count|share) as one\b": "composite action",
    r"\bdofs?\b": "unknowns",
    r"\(rod \d\)|\(rod \{": "rod 1: name of the check",
    r"Say which|Of plates that": "a sentence with a verb and its object",
}
"""The same for what a user reads: messages, tables, help, pages."""

NAMES = {
    "Told", "Instant", "Linear", "HEEDLESS", "doubt", "falsified",
    "strangers", "pushed", "feet_edges",
    "_dressed", "seat_force", "residual_clamp", "sensed", "early", "looking",
    "Candidate", "candidates", "Reserve", "Pile", "owned", "Outcome", "Design",
}  # fmt: skip
"""Names that a stranger does not understand, or that are another name of an option."""


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def found(patterns: dict[str, str], text: str) -> list[str]:
    flat = " ".join(text.split())
    return [
        f"{match[0]!r}: say {better!r}"
        for pattern, better in patterns.items()
        if (match := re.search(pattern, flat))
    ]


def shown(tree: ast.Module) -> list[str]:
    """Sentences in strings that are not docstrings."""
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    texts = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told
    ]
    return [text for text in texts if " " in text]


def named(tree: ast.Module) -> set[str]:
    """Names of classes, functions, fields and constants of a module or class."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef | ast.FunctionDef):
            names.add(node.name)
        if isinstance(node, ast.ClassDef | ast.Module):
            for line in node.body:
                if isinstance(line, ast.AnnAssign) and isinstance(line.target, ast.Name):
                    names.add(line.target.id)
                if isinstance(line, ast.Assign):
                    names |= {target.id for target in line.targets if isinstance(target, ast.Name)}
    return names


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_a_thing_has_one_name(path):
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    assert found(EVERYWHERE, re.sub(r"\n\s*#", "\n", text)) == []
    assert [words for one in shown(tree) for words in found(SHOWN, one)] == []
    assert (named(tree) | {path.stem}) & NAMES == set()


def test_per_cent_is_written_by_one_function():
    for path in MODULES:
        specs = [
            ast.unparse(node.format_spec)
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.FormattedValue) and node.format_spec is not None
        ]
        own = ["f'.1%'"] if path.name == "html.py" else []  # the width of a bar, for browsers
        assert [spec for spec in specs if spec.endswith("%'")] == own, path


@pytest.mark.parametrize("path", PAGES, ids=name_of)
def test_pages_use_the_same_names(path):
    assert found(EVERYWHERE, path.read_text(encoding="utf-8")) == []


def test_the_list_finds_what_it_bans():
    said = "The working load of another design, to be confirmed; 3 dofs"
    assert len(found(EVERYWHERE, said)) == len(["working load", "to be confirmed"])
    assert len(found(SHOWN, said)) == len(["another design", "confirmed", "dofs"])
    assert named(ast.parse("class Told:\n    seat_force: float\n")) & NAMES == {
        "Told", "seat_force",
    }  # fmt: skip
