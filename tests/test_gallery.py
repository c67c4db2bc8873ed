"""The gallery in `cases/` and the README: their numbers and their commands are true.

A number stands in a table as ``| words | `key/path` | value ± tolerance unit |``; the path is that
in ``summary.json``. A command stands in a block of code and begins with ``platestack``.
"""

from __future__ import annotations

import functools
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
import typer
from coarse_numbers import coarse_numbers, number_at

import platestack
from platestack.fea.app.cli import app
from platestack.geometry import layout
from platestack.geometry.units import scale

ROOT = Path(__file__).parent.parent
CASES = ROOT / "cases"
PAGES = sorted(CASES.glob("*/README.md"))
NUMBER = re.compile(r"^\|[^|]+\| `([\w/ .-]+)` \| ([\d.,]+) ± ([\d.,]+) ?([^|]*?) \|$", re.M)
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
QUICK = ("small", "us_units", "demo")
"""Solved in a few seconds, or not at all; the others are in the slow tier."""
DRAWN = ("mass", "height")
"""Ends of the key paths of numbers that are known before anything is solved."""


def text_of(page: Path) -> str:
    return page.read_text(encoding="utf-8")


def commands(page: Path) -> list[list[str]]:
    """Command lines of a page, as words; lines that end in a backslash are continued."""
    blocks = [code for kind, code in BLOCK.findall(text_of(page)) if kind in ("", "sh")]
    lines = "\n".join(blocks).replace("\\\n", " ").splitlines()
    words = [shlex.split(line, comments=True) for line in lines]
    return [line[line.index("platestack") :] for line in words if "platestack" in line[:2]]


def scripts(page: Path) -> list[str]:
    return [code for kind, code in BLOCK.findall(text_of(page)) if kind == "python"]


def name_of(page: Path) -> str:
    return page.parent.name


@functools.cache
def numbers_of(name: str, solve_coarse) -> dict:
    return coarse_numbers(platestack.load(CASES / name / f"{name}.toml").checked, solve_coarse)


def rows_of(page: Path) -> list[tuple[str, str, str, str]]:
    """Key path, value, tolerance and unit of each number on a page."""
    rows = NUMBER.findall(text_of(page))
    assert len(rows) >= 3
    assert len(rows) == len(re.findall(r"^\|[^|]+\| `", text_of(page), re.M)), "a row unread"
    return rows


def assert_true(found: dict, rows: list[tuple[str, str, str, str]]) -> None:
    for key, value, tolerance, unit in rows:
        stated, allowed = float(value.replace(",", "")), float(tolerance.replace(",", ""))
        assert allowed <= 0.1 * stated, f"{key}: a tolerance that says nothing"
        per_unit = {"": 1.0, "%": 0.01}.get(unit) or scale(unit)
        assert number_at(found, key) / per_unit == pytest.approx(stated, abs=allowed), key


def drawn_numbers_of(name: str) -> dict:
    """What is known before anything is solved, in the form of the summary."""
    press = layout.build(platestack.load(CASES / name / f"{name}.toml").checked)
    stacks = {stack.name: {"mass": stack.mass} for stack in press.stacks}
    return {"mass": press.mass, "height": press.height, **stacks}


def test_each_case_has_a_page_and_a_picture():
    folders = {path.parent.name for path in CASES.glob("*/*.toml")}
    assert len(folders) >= 8
    assert folders == {name_of(page) for page in PAGES}
    assert list(CASES.glob("*.*")) == [CASES / "README.md"]
    index = text_of(CASES / "README.md")
    for name in folders:
        assert f"({name}/README.md)" in index
        text = text_of(CASES / name / "README.md")
        assert [
            p for p in re.findall(r"!\[[^]]+\]\(([\w.]+)\)", text) if (CASES / name / p).is_file()
        ]


@pytest.mark.parametrize(
    "page",
    [p if name_of(p) in QUICK else pytest.param(p, marks=pytest.mark.slow) for p in PAGES],
    ids=name_of,
)
def test_numbers_of_a_page_are_true(page, solve_coarse):
    rows = rows_of(page)
    if all(key.endswith(DRAWN) for key, *_ in rows):
        found = drawn_numbers_of(name_of(page))
    else:
        found = numbers_of(name_of(page), solve_coarse)
    assert_true(found, rows)


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_numbers_that_follow_from_the_case_alone_are_true(page):
    rows = [row for row in rows_of(page) if row[0].endswith(DRAWN)]
    assert rows
    assert_true(drawn_numbers_of(name_of(page)), rows)


@pytest.mark.parametrize("page", [ROOT / "README.md", *PAGES], ids=name_of)
def test_commands_of_a_page_are_accepted(page, monkeypatch, tmp_path):
    """As far as that goes without carrying them out: names, options, the case file itself."""
    lines = commands(page)
    assert lines
    for path in CASES.glob("*/*.toml"):
        (tmp_path / "cases" / path.parent.name).mkdir(parents=True, exist_ok=True)
        (tmp_path / "cases" / path.parent.name / path.name).write_text(text_of(path))
    for name in ("mine.toml", "mine_on_edge.toml"):
        (tmp_path / name).write_text(text_of(CASES / "small" / "small.toml"))
    for result in {word for line in lines for word in line if word.startswith("results/")}:
        (tmp_path / result).mkdir(parents=True)
        (tmp_path / result / "summary.json").write_text('{"schema_version": 2}')
    monkeypatch.chdir(tmp_path)
    group = typer.main.get_command(app)
    for _, name, *words in (line for line in lines if len(line) > 1 and line[1] != "--help"):
        command = group.get_command(None, name)
        asks = name == "new"  # what it is not given
        assert command.make_context(name, list(words), resilient_parsing=asks)


@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_commands_of_a_page_run(page, tmp_path):
    """One after the other, as a reader types them; a limit that is exceeded is no fault (1)."""
    (tmp_path / "cases").symlink_to(CASES)
    for line in commands(page):
        done = subprocess.run(
            [sys.executable, "-m", *line], cwd=tmp_path, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode in (0, 1), f"{line}: {done.stderr}"
        assert "Traceback" not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize("page", [p for p in PAGES if scripts(p)], ids=name_of)
def test_scripts_of_a_page_run_as_printed(page, tmp_path):
    """What they print stands on the page, in the block below."""
    (tmp_path / "cases").symlink_to(CASES)
    for code in scripts(page):
        assert len(code.splitlines()) <= 10
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True,
            check=True, env={**os.environ, "PYTHONPATH": ""},
        )  # fmt: skip
        for printed in done.stdout.splitlines():
            assert printed in text_of(page)


def test_readme_commands_for_a_newcomer_are_there():
    text = text_of(ROOT / "README.md")
    assert ".ci/setup platestack run cases/demo/demo.toml" in text
    assert ".ci/setup pytest" in text
    for target in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (ROOT / target).exists(), target
