"""The package as it is installed: what a wheel holds, what stands beside it, what it loads."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import platestack

ROOT = Path(__file__).parent.parent
SMALL = ROOT / "cases" / "small" / "small.toml"
ASSETS = ROOT / "fea" / "app" / "report" / "assets"
SLOW_LIBRARIES = {
    "dask", "gmsh", "matplotlib", "numba", "numpy", "pint", "pyamg", "pyvista", "scipy", "skfem",
    "vtk", "vtkmodules",
}  # fmt: skip


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> zipfile.ZipFile:
    """A wheel of this tree."""
    place = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(place)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    with zipfile.ZipFile(next(place.glob("*.whl"))) as opened:
        yield opened


@pytest.fixture(params=["wheel", "checkout"])
def installed(request, tmp_path, monkeypatch) -> Path:
    """A working directory with modules of the user's own; where the package is to come from."""
    for name in ("geometry.py", "fea.py"):
        (tmp_path / name).write_text("MINE = True\n")
    if request.param == "checkout":
        monkeypatch.setenv("PYTHONPATH", "")
        return ROOT / ".package"
    place = tmp_path / "site"
    request.getfixturevalue("wheel").extractall(place)
    monkeypatch.setenv("PYTHONPATH", str(place))
    return place


def run(code: str, place: Path) -> str:
    """Output of a program in an interpreter of its own, started in `place`."""
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, cwd=place, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_wheel_holds_licence_types_and_data(wheel):
    names = wheel.namelist()
    for name in (
        "LICENSE", "py.typed", "fea/results/summary/summary.schema.json",
        "geometry/tables/stock_plate.toml", "fea/app/report/assets/THIRD-PARTY.md",
    ):  # fmt: skip
        assert names.count(f"platestack/{name}") == 1, name
    assert not [n for n in names if not n.startswith("platestack")]
    metadata = next(wheel.read(n).decode() for n in names if n.endswith("/METADATA"))
    assert "License-Expression: MIT" in metadata
    assert "Author: the platestack authors" in metadata
    licences = [n for n in names if "/licenses/" in n]
    assert any("the platestack authors" in wheel.read(n).decode() for n in licences)
    assert any("three.js authors" in wheel.read(n).decode() for n in licences)


def test_stands_beside_modules_of_the_same_names(installed, tmp_path):
    code = (
        "import platestack, platestack.geometry.case, platestack.fea.support.errors as errors\n"
        "import geometry, fea\n"
        "print(geometry.MINE, fea.MINE, platestack.__version__)\n"
        "print(platestack.__file__, platestack.geometry.case.__file__, errors.__file__, sep='\\n')"
    )
    said = run(code, tmp_path).splitlines()
    assert said[0] == f"True True {platestack.__version__}"
    assert all(Path(file).is_relative_to(installed) for file in said[1:])


@pytest.mark.slow
def test_child_processes_take_the_package_too(installed, tmp_path):
    """Dask's workers, started in a directory with modules of the same names."""
    code = (
        "import sys; from platestack.fea.app.cli import main\n"
        f"sys.argv = ['platestack', 'sweep', {str(SMALL)!r}, '--thickness', '50 mm, 60 mm', "
        "'--method', 'beam', '--workers', '1']\n"
        "main()"
    )
    assert "2 options" in run(code, tmp_path)


def loaded_by(*words: str, place: Path) -> set[str]:
    """Libraries that a command line has imported when it ends."""
    code = (
        "import sys; from platestack.fea.app.cli import main\n"
        f"sys.argv = ['platestack', *{words!r}]\n"
        "try:\n    main()\n"
        "except SystemExit as end:\n"
        "    print('\\nLOADED', *{name.split('.')[0] for name in sys.modules})"
    )
    return set(run(code, place).rpartition("LOADED")[2].split())


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("--version",),
        ("rum", "small.toml"),
        ("run", "small.toml", "--vebose"),
        ("run", "nowhere.toml"),
        ("solve", "misspelled.toml"),
        ("optimise", "misspelled.toml"),
        ("compare", "misspelled.toml", "--thickness", "60 mm"),
        ("run", "unit.toml"),
    ],
)
def test_help_and_mistakes_load_nothing_slow(words, tmp_path):
    text = SMALL.read_text(encoding="utf-8")
    (tmp_path / "small.toml").write_text(text, encoding="utf-8")
    (tmp_path / "misspelled.toml").write_text(text.replace("daylight", "dailight"), "utf-8")
    (tmp_path / "unit.toml").write_text(text.replace('"30 tf"', '"30 tff"'), "utf-8")
    loaded = loaded_by(*words, place=tmp_path)
    assert "typer" in loaded
    assert loaded & SLOW_LIBRARIES == set()


def test_import_loads_the_standard_library_only(tmp_path):
    code = "import sys; before = set(sys.modules); import platestack, platestack.fea\n"
    said = run(f"{code}print(*set(sys.modules) - before)", tmp_path).split()
    own = {name.split(".")[0] for name in said} - set(sys.stdlib_module_names)
    assert own == {"platestack"}


def test_scripts_of_others_are_those_stated():
    text = (ASSETS / "THIRD-PARTY.md").read_text(encoding="utf-8")
    rows = re.findall(
        r"^\| \[([\w.]+)\].*\| (\d\.\d+\.\d) \(r(\d+)\) \| MIT \| `(\w+)` \|$", text, re.M
    )
    assert {name for name, *_ in rows} == {p.name for p in ASSETS.glob("*.js")} - {"scene.js"}
    for name, version, revision, digest in rows:
        assert hashlib.sha256((ASSETS / name).read_bytes()).hexdigest() == digest
        assert version.split(".")[1] == revision
    core = (ASSETS / "three.core.min.js").read_text(encoding="utf-8")
    assert f'const t="{rows[0][2]}"' in core


def test_reading_a_case_loads_nothing_slow(tmp_path):
    code = f"import sys, platestack; platestack.load({str(SMALL)!r}).with_('bed.length', 0.5)\n"
    said = run(f"{code}print(*{{name.split('.')[0] for name in sys.modules}})", tmp_path)
    assert set(said.split()) & SLOW_LIBRARIES == set()
