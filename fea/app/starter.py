"""A starter case from a few answers: sized by hand, commented, ready to run.

`fea.jobs.sizing` chooses; few answers are needed, and the case explains what else can be given.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from platestack.fea.jobs.duty import Duty
from platestack.fea.support import case_files
from platestack.geometry import case as case_file
from platestack.geometry.errors import CaseError, Problem

ANSWERS = ("capacity", "pressure", "length", "width", "daylight")

HINTS = """
# What else a case can state; `platestack tables` lists steels, stock plates and threads.
# [limits]
# ceiling = "2.6 m"                  # height of the room
# hoist = "1 t"                      # what the hoist lifts
# [crosshead]                        # and likewise [bed]
# layout = "on edge"                 # plates upright side by side
# plates = ["60 mm", "80 mm"]        # plates unlike each other, from below up
# interface = { kind = "clamped" }   # with friction; or "welded": full composite action
# platen = { thickness = "50 mm", length = "600 mm", width = "500 mm" }   # a bolster
# [rods]
# seat = "sleeve"                    # what rods are tightened against, or "inner nuts", "shoulder"
# [shop]
# hook_height = "3.2 m"              # highest place of the hook above the floor
"""


def write(path: Path, answers: Mapping[str, str], *, replace: bool = False) -> str:
    """Write a starter case; returns a line that says what was proposed.

    Parameters
    ----------
    path : Path
        Case file to write; directories are made.
    answers : mapping
        Text with a unit for each of `ANSWERS`.
    replace : bool
        Take the place of an existing file.

    Raises
    ------
    CaseError
        With a line for each bad answer.
    UsageError
        If the file exists already, or nothing can be laid out.
    """
    case_files.usable(path, replace)
    try:
        text, words = case_text(answers, path.stem)
    except CaseError as error:
        bad = [Problem(f"--{p.key}", p.given, p.allowed) for p in error.problems]
        raise CaseError(path.name, bad) from None
    case_files.save(path, text)
    return f"{path}: {words}"


def case_text(answers: Mapping[str, str], stem: str) -> tuple[str, str]:
    """The text of a starter case, and what was proposed in words.

    Raises
    ------
    CaseError
        With a line for each bad answer, keys as in `ANSWERS`.
    UsageError
        If nothing can be laid out.
    """
    given = {key: " ".join(answers[key].split()) for key in ANSWERS}
    name = f"{case_files.printable(stem)}, {given['capacity']}"
    duty = case_file.validated(Duty, {**given, "name": name}, stem)
    from platestack.fea.jobs.sizing import propose, shortfall, summary

    made = propose(duty)
    misses = "".join(f"; NOT MET: {c.name}, {shortfall(c)} {c.limit_name}" for c in made.exceeded)
    words = f"{summary(made)}; sized by hand, to be solved in full by a run{misses}"
    return made.text + HINTS, words
