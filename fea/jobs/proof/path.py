"""The path of readings through a proof test, for stacks whose plates part or slip.

Without preload or a gap, loose plates keep their state of contact and all is in proportion. With
them it is not, and plates held by friction do not come back the way they went. Such stacks are
taken through the steps of the test anew, on the first mesh of the run, with friction and without;
the field's reading at capacity, on the last mesh, is scaled by that.
"""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

from platestack.fea.jobs.proof.readings import Places, Reading, Turn
from platestack.fea.results.run_directory import Run
from platestack.fea.results.summary_file import load_json
from platestack.fea.solid.loads import mean_of_nuts
from platestack.fea.solid.pressing import Pressing
from platestack.fea.solid.stack import Report, mesh_stack
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Press, Stack

FILE = "proof-path.json"
"""Kept beside the run: the path takes solutions of its own."""

Paths = dict[str, tuple[Turn, ...]]


def bends(press: Press, stack: Stack) -> bool:
    """Whether readings of a stack leave proportion."""
    if len(stack.plates) < 2 or stack.interface == "welded":
        return False
    tightened = any(rod.preload > 0 for rod in press.rods)
    return stack.interface == "clamped" or tightened or bool(stack.gap)


def kept(run: Run, shares: tuple[float, ...]) -> Paths | None:
    """Paths that an earlier test of these steps has left beside the run, if any."""
    try:
        data = load_json(run.folder / FILE)
        if tuple(data["shares"]) != shares:
            return None
        return {name: tuple(Turn(**turn) for turn in turns)
                for name, turns in data["paths"].items()}  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError):
        return None


def follow(run: Run, shares: tuple[float, ...], report: Report) -> Paths:
    """Take the stacks of a run through the shares of capacity in turn, and keep what they show.

    Raises
    ------
    SolveError
        If a solution cannot be found.
    PlatestackError
        If it cannot be kept.
    """
    paths: Paths = {}
    for stack in run.press.stacks:
        if bends(run.press, stack):
            paths |= follow_stack(run, stack, shares, report)
    data = {"shares": shares, "paths": {n: [asdict(t) for t in p] for n, p in paths.items()}}
    _write(run.folder / FILE, json.dumps(data, indent=1) + "\n")
    return paths


def follow_stack(
    run: Run, stack: Stack, shares: tuple[float, ...], report: Report
) -> dict[str, tuple[Turn, ...]]:
    """The paths of all instruments of one stack, by the names of their readings."""
    report(f"{stack.name}: path of the proof test")
    mesh = mesh_stack(run.press, stack, run.case)
    names, slipping = readings_along(run.press, stack, mesh, shares)
    free = slipping
    if stack.interface == "clamped":
        _, free = readings_along(run.press, replace(stack, interface="loose"), mesh, shares)
    full = slipping[shares.index(1.0)]
    return {
        name: tuple(
            Turn(share, float(slipping[i, j] / full[j]), float(free[i, j] / full[j]))
            for i, share in enumerate(shares)
        )
        for j, name in enumerate(names)
    }


def readings_along(
    press: Press, stack: Stack, mesh: object, shares: tuple[float, ...]
) -> tuple[list[str], np.ndarray]:
    """Names of the readings of a stack, and what they are at each share in turn, (steps, names)."""
    pressing = Pressing(press, stack, mesh, lambda step: None)  # type: ignore[arg-type]
    opened = pressing.mesh
    carries = np.array([body in stack.main_plates for body in stack.bodies])[opened.plate]
    places = Places(stack, opened.nodes, opened.tets[carries], sorted(opened.symmetry))
    row = mean_of_nuts(pressing.held)
    values = [
        places.read(moved.reshape(-1, 3), float((row @ moved)[0]))
        for moved in pressing.along(shares)
    ]
    return [f"{stack.name} {spot.name}" for spot in places.spots], np.array(values)


def on_paths(readings: tuple[Reading, ...], paths: Paths) -> tuple[Reading, ...]:
    """Readings with their paths."""
    return tuple(replace(r, path=paths.get(r.name, ())) for r in readings)


def _write(file: Path, text: str) -> None:
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise PlatestackError(f"{file}: cannot be written: {error.strerror or error}") from None
