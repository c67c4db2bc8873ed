"""The house itself: arrows of imports, sizes of modules, docstrings, isolation of libraries."""

from __future__ import annotations

import ast
import functools
import graphlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(p for package in ("geometry", "fea") for p in (ROOT / package).rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
LONGEST = 400

# Each room may import from the ones after it.
ROOMS = [
    "fea.app",
    "fea.jobs",
    "fea.pictures",
    "fea.results",
    "fea.checks",
    "fea.solid",
    "fea.hand",
    "fea.numerics",
    "fea.support",
    "geometry",
]
ONLY_IN = {
    "gmsh": "geometry.mesher",
    "pyvista": "fea.support.signals",
    "matplotlib": "fea.pictures",
    "typer": "fea.app.cli",
    "typst": "fea.support.typesetting",
    "dask": "fea.jobs.sweep",
    "distributed": "fea.jobs.sweep",
    "ezdxf": ("geometry.dxf", "geometry.outline_file"),
    "pint": "geometry.units",
    "sympy": "fea.app.report.formula",
    "pyamg": "fea.numerics",
}


def name_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


NAMES = {name_of(path) for path in MODULES}


def within(module: str, place: str) -> bool:
    return module == place or module.startswith(place + ".")


@functools.cache
def imports(path: Path) -> frozenset[str]:
    """Modules that one imports; those of the project by their names without `platestack.`."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.removeprefix("platestack.") for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            base = node.module.removeprefix("platestack.")
            inner = {f"{base}.{alias.name}" for alias in node.names}
            found |= inner & NAMES or {base}
            if base in NAMES and not inner <= NAMES:
                found.add(base)
    return frozenset(found)


def room(module: str) -> str | None:
    return next((name for name in ROOMS if within(module, name)), None)


def test_tests_of_a_room_stand_in_a_folder_of_its_name():
    folder = ROOT / "tests" / "fea"
    assert {f"fea.{path.parent.name}" for path in folder.rglob("test_*.py")} == set(ROOMS[:-1])
    assert not list(folder.glob("test_*.py"))


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_follow_the_arrows(path):
    own = name_of(path)
    if own in ("fea", "geometry"):
        return
    here = room(own)
    assert here is not None, f"{own} stands in no room"
    for module in imports(path):
        assert module not in ("fea", "geometry"), f"{own} imports a whole package"
        there = room(module)
        if there is not None:
            assert ROOMS.index(there) >= ROOMS.index(here), f"{own} imports {module}, above it"
        library = module.split(".")[0]
        if library in ONLY_IN:
            places = ONLY_IN[library]
            allowed = (places,) if isinstance(places, str) else places
            assert any(within(own, place) for place in allowed), f"{own} imports {library}"


def children(place: str) -> dict[str, set[str]]:
    """What a room imports within itself, by its direct children."""
    depth = place.count(".") + 2
    arrows: dict[str, set[str]] = {}
    for path in MODULES:
        own = name_of(path)
        if within(own, place) and own != place:
            child = ".".join(own.split(".")[:depth])
            inside = {".".join(m.split(".")[:depth]) for m in imports(path) if within(m, place)}
            arrows.setdefault(child, set()).update(inside - {child, place})
    return arrows


@pytest.mark.parametrize("place", sorted({n.rpartition(".")[0] for n in NAMES if "." in n}))
def test_no_room_has_a_cycle(place):
    """Neither of modules nor of sub-rooms."""
    graphlib.TopologicalSorter(children(place)).prepare()


def test_hand_calculations_are_independent():
    for path in (ROOT / "fea" / "hand").glob("*.py"):
        for module in imports(path):
            assert not within(module, "fea") or within(module, "fea.hand"), (path, module)
            assert module.split(".")[0] not in ("skfem", "scipy", "gmsh"), (path, module)


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_modules_are_short_and_documented(path):
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST
    tree = ast.parse(text)
    assert ast.get_docstring(tree)
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), f"{node.name} has no docstring"
        if isinstance(node, ast.FunctionDef):
            assert node.end_lineno - node.lineno <= 80, f"{node.name} is long"


@pytest.mark.parametrize("path", TESTS, ids=name_of)
def test_modules_of_tests_are_short_and_documented(path):
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST
    assert ast.get_docstring(ast.parse(text))


def test_the_picture_of_the_house_is_true():
    """Its rooms are those enforced, each above the rooms it may import."""
    picture = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[1]
    assert re.findall(r"^([a-z.]+)  ", picture, re.M) == ROOMS


def test_top_level_holds_what_it_should():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "fea",
        "geometry",
        "cases",
        "tests",
        "results",
    }
    visible = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    assert visible - {"dist", "build"} <= allowed
    assert allowed <= visible


def test_no_unfinished_business():
    for path in MODULES:
        assert not re.search(r"TODO|FIXME|XXX|NotImplementedError", path.read_text("utf-8")), path


def test_interpreters_take_no_code_from_the_working_directory():
    """Each that is started has -P: Python's manual, "Command line and environment"."""
    started = [
        [getattr(part, "value", None) for part in node.elts]
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.List)
        and node.elts
        and ast.unparse(node.elts[0]) == "sys.executable"
    ]
    assert len(started) >= 3
    assert [parts for parts in started if parts[1] != "-P"] == []
