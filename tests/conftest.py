"""Shared cases and solutions: what is slow to make is made once."""

from __future__ import annotations

import functools
from pathlib import Path

import pytest

from fea import model
from geometry import case as case_file
from geometry import layout, mesher
from geometry.mesh import Sizes, StackMesh, symmetry_of
from geometry.parts import Press

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


@pytest.fixture(scope="session")
def press_of():
    """Build (once) the press of a file in cases/ by its name."""

    @functools.cache
    def build(name: str) -> Press:
        return layout.build(case_file.read(CASES / f"{name}.toml"))

    return build


@pytest.fixture(scope="session")
def coarse_mesh(press_of):
    """Mesh (once) a stack of a file in cases/, as coarse as its holes and rings allow."""

    @functools.cache
    def make(name: str, stack: str) -> StackMesh:
        press = press_of(name)
        return mesher.make(
            getattr(press, stack),
            press.rods,
            symmetry_of(getattr(press, stack), press.rods),
            coarse_sizes(press),
        )

    return make


def coarse_sizes(press: Press) -> Sizes:
    """Few elements, still an arc of 36° at most at each rim."""
    xs = [rod.at[0] for rod in press.rods]
    return Sizes((max(xs) - min(xs)) / 6, round_divisions=10, ring_divisions=1, patch_divisions=5)
