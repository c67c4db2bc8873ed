"""The programs of this directory as tests: nothing tried may be a fault."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.figures import (
    absurd,
    bad_input,
    drawn_shapes,
    hostile_drawings,
    interruptions,
    surroundings,
)

ROOT = Path(__file__).resolve().parents[2]

SOLVED = ("plates of 1 mm", "hole of 0.2 mm", "patch of 1 mm", "rods of 150 mm,")
"""Of `absurd.CASES`; the program tries them all."""

LONG = {"names", "no home", "two at once"}
"""Of `surroundings.SITUATIONS`, left to the program."""


@pytest.mark.slow
def test_twenty_thousand_bad_inputs():
    tallies = bad_input.trial(20_500, solved=12)
    assert {name: text[:400] for tally in tallies for name, text in tally.faults.items()} == {}
    assert sum(tally.tried for tally in tallies) >= 20_000
    assert all(tally.refused > 0 for tally in tallies)  # bad input was bad
    assert all(tally.tried > tally.refused for tally in tallies)  # and not all of it


@pytest.mark.parametrize(
    "count", [60, pytest.param(2000, marks=pytest.mark.slow)], ids=["some", "all"]
)
def test_hostile_drawings(count):
    found = hostile_drawings.tried(count, 2)
    assert {pair for pair in found if pair[1] == "FAULT"} == set()
    assert sum(n for (_, said), n in found.items() if said == "plate") > count / 40


@pytest.mark.slow
def test_drawn_shapes_are_meshed():
    assert drawn_shapes.trial(12)["fault"] == 0


@pytest.mark.slow
def test_kills_lose_nothing():
    """In a process of its own: it forks, and threads that earlier tests left do not fork."""
    words = [sys.executable, "-m", "tests.figures.kills", "16"]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, timeout=1500)
    assert done.returncode == 0, done.stdout + done.stderr
    assert int(re.search(r"(\d+) kills in", done.stdout)[1]) >= 14


@pytest.mark.slow
@pytest.mark.parametrize("command", ["run", "sweep", "view", "report"])
def test_interruptions_leave_nothing(command):
    tally = interruptions.trial(command, 4, random.Random(command))
    assert tally.faults == []
    assert tally.ends.total() == 4


@pytest.mark.slow
@pytest.mark.parametrize("name", [n for n in surroundings.SITUATIONS if n not in LONG])
def test_surroundings(name):
    verdict, words = surroundings.tried(name)
    if verdict == "not tried":
        pytest.skip(words)
    assert verdict == "held", words


@pytest.mark.slow
@pytest.mark.parametrize("name", [n for n in absurd.CASES if n.startswith(SOLVED)])
def test_absurd_geometry(name):
    outcome = absurd.attempt(absurd.CASES[name])
    assert outcome.verdict != "fault", outcome.words
