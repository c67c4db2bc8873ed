"""Stretches of rods as they were read, from a file: ``rod,stretch`` and a line for each."""

from __future__ import annotations

import csv
from pathlib import Path

from platestack.geometry import case as case_file
from platestack.geometry import units
from platestack.geometry.errors import UsageError
from platestack.geometry.parts import Press

HEAD = ["rod", "stretch"]


def read_stretches(path: Path, press: Press) -> dict[str, float]:
    """Read the stretch (m) of every rod, or of each of its ends where the stacks have their own.

    Raises
    ------
    UsageError
        With the line that cannot be used, or with the rods that are missing.
    """
    try:
        lines = list(csv.reader(case_file.text_of(path).splitlines()))
    except csv.Error as error:
        raise UsageError(f"{path}: cannot be read ({error})") from None
    known = names(press)
    if not lines or [cell.strip() for cell in lines[0]] != HEAD:
        given = ",".join(lines[0]) if lines else ""
        raise UsageError(f'{path}: line 1: given "{given}"; allowed: rod,stretch')
    found: dict[str, float] = {}
    for number, line in enumerate(lines[1:], 2):
        cells = [cell.strip() for cell in line]
        if not any(cells):
            continue
        where = f'{path}: line {number}: given "{",".join(line)}"'
        if len(cells) != 2:
            example = units.show(0.93e-3, units.OFFSET, 2)
            raise UsageError(f"{where}; allowed: a rod and its stretch, such as rod 1,{example}")
        name, text = cells
        if name not in known or name in found:
            raise UsageError(f"{where}; allowed: each once: {', '.join(known)}")
        try:
            found[name] = units.parse(text, units.OFFSET)
        except units.UnitError as error:
            raise UsageError(f"{where}; {error}") from None
        if not 0 <= found[name] < 0.05:
            raise UsageError(
                f"{where}; allowed: 0 (a loose nut) to {units.show(0.05, units.OFFSET)}"
            )
    missing = [name for name in known if name not in found]
    if missing:
        raise UsageError(f"{path}: no line for {', '.join(missing)}; allowed: one for each")
    return found


def names(press: Press) -> list[str]:
    """Names of all ends that are tightened, as `fea.solid.frame.press.End` has them."""
    if press.rods[0].seat == "sleeve":
        return [rod.name for rod in press.rods]
    return [f"{rod.name} {stack.name}" for stack in press.stacks for rod in press.rods]
