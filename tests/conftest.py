"""Shared cases and solutions: what is slow to make is made once."""

from __future__ import annotations

from pathlib import Path

import pytest

from fea import model
from geometry import case as case_file
from geometry import layout

CASES = Path(__file__).parent.parent / "cases"


@pytest.fixture(scope="session")
def small_text() -> str:
    return (CASES / "small.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def small_case(small_text):
    return case_file.parse(small_text, "small.toml")


@pytest.fixture(scope="session")
def small_press(small_case):
    return layout.build(small_case)


@pytest.fixture(scope="session")
def small_solution(small_case):
    return model.analyse(small_case)
