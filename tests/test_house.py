"""The house itself: arrows of imports, sizes of modules, docstrings, isolation of libraries."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
MODULES = sorted(p for package in ("geometry", "fea") for p in (ROOT / package).rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
LONGEST = 400

# Each layer may import from the ones after it. A module is named by the longest prefix listed.
LAYERS = [
    ["fea.cli"],
    ["fea.selftest"],
    ["fea.page"],
    ["fea.report"],
    ["fea.console"],
    ["fea.sweep"],
    ["fea.sensed"],
    ["fea.optimum", "fea.sensitivity"],
    ["fea.offcentre"],
    [
        "fea.assembling",
        "fea.cutfiles",
        "fea.run",
        "fea.options",
        "fea.proof",
        "fea.starter",
        "fea.tightening",
    ],
    ["fea.sizing"],
    ["fea.view"],
    ["fea.pictures"],
    ["fea.results"],
    ["fea.summary", "fea.grids"],
    ["fea.checks"],
    ["fea.statics"],
    ["fea.model"],
    ["fea.frame", "fea.forecast"],
    ["fea.stack"],
    ["fea.reduced"],
    ["fea.pressing"],
    ["fea.interfaces"],
    ["fea.contact"],
    ["fea.clamping"],
    ["fea.peaks", "fea.adapt", "fea.loads"],
    ["fea.places", "fea.singular", "fea.estimate"],
    ["fea.recover", "fea.patches"],
    ["fea.solvers"],
    ["fea.multigrid", "fea.direct", "fea.bending"],
    ["fea.krylov", "fea.aggregation"],
    ["fea.system"],
    ["fea.elasticity"],
    ["fea.assembly", "fea.blocks"],
    ["fea.logbook", "fea.selftest.records"],
    ["fea.machine"],
    ["fea.owned"],
    ["fea.parallel", "fea.errors", "fea.digest", "fea.scratch", "fea.signals"],
    ["fea.hand"],
    ["geometry.mesher", "geometry.split"],
    ["geometry.numbering"],
    ["geometry.case"],
    ["geometry.rules"],
    ["geometry.openings"],
    ["geometry.layout"],
    ["geometry.cylinder"],
    ["geometry.stacking", "geometry.pads"],
    ["geometry.mesh"],
    ["geometry.cutting.nesting"],
    ["geometry.cutting.drawing", "geometry.cutting"],
    ["geometry.cutting.work", "geometry.masses"],
    ["geometry.cutting.tolerance"],
    ["geometry.parts"],
    ["geometry.plate"],
    ["geometry.schema"],
    ["geometry.cylinder_part"],
    ["geometry.shapes"],
    ["geometry.tables"],
    ["geometry.units", "geometry.errors", "geometry.cells"],
]
ONLY_IN = {
    "gmsh": {"geometry.mesher"},
    "pyvista": {"fea.signals"},
    "matplotlib": {"fea.pictures"},
    "typer": {"fea.cli"},
    "typst": {"fea.report"},
    "dask": {"fea.sweep"},
    "distributed": {"fea.sweep"},
    "ezdxf": {"geometry.cutting.drawing"},
    "pint": {"geometry.units"},
    "pyamg": {"fea.multigrid", "fea.aggregation"},
}


def name_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def layer(module: str) -> tuple[int, str] | None:
    hits = [
        (len(name), i, name)
        for i, names in enumerate(LAYERS)
        for name in names
        if module == name or module.startswith(name + ".")
    ]
    return max(hits)[1:] if hits else None


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_follow_the_arrows(path):
    own = name_of(path)
    if own in ("fea", "geometry"):
        return
    here = layer(own)
    assert here is not None, f"{own} has no place in the house; give it one here"
    for module in imports(path):
        there = layer(module)
        if there is not None and there[1] != here[1]:
            assert there[0] > here[0], f"{own} imports {module}, which stands above or beside it"
        package = module.split(".")[0]
        if package in ONLY_IN:
            assert here[1] in ONLY_IN[package], f"{own} imports {package}"


def test_hand_calculations_are_independent():
    for path in (ROOT / "fea" / "hand").glob("*.py"):
        for module in imports(path):
            assert not module.startswith("fea.") or module.startswith("fea.hand"), (path, module)
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
    """Each layer stands in it, above those it may import."""
    picture = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[1]
    drawn = []
    for line in picture.splitlines():
        head = re.split(r" {2,}", line)[0]
        package, _, names = head.partition(".")
        drawn += [f"{package}.{name}" for name in names.split(", ") if name]
    places = {name: i for i, names in enumerate(LAYERS) for name in names}
    assert set(drawn) == {name for name in places if name.count(".") == 1}
    at = [places[name] for name in drawn]
    assert at == sorted(at)


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
