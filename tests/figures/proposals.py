"""Proposals of `size` taken through all commands: ``python -m tests.figures.proposals [WORD ...]``.

The duties of `tests.fea.duties` and drawn ones, each sized by hand, its case written and given to
`run`, `offcentre`, `cut`, `assemble`, `tighten`, `proof` and `report`, on meshes as coarse as the
commands allow: what is tried is whether each takes what another wrote, not whether limits hold. A
row for each duty: the exit code of each command (0, or 1 where a limit is exceeded), and what went
wrong. With ``--quick`` only the commands that solve nothing.
"""

from __future__ import annotations

import contextlib
import io
import math
import random
import shutil
import sys
import tempfile
import time
from pathlib import Path
from unittest import mock

from platestack.fea.app import cli
from platestack.fea.jobs import sizing
from tests.fea.duties import DUTIES, duty_of

SEED, DRAWN = 17, 24
COARSE = """
[mesh]
deflection_accuracy = 0.5
stress_accuracy = 0.5
most_unknowns = 20000
"""
TWICE = ("run", "assemble")
"""Commands whose exit code 1 tells that a limit is exceeded."""


def drawn(seed: int = SEED, count: int = DRAWN) -> dict[str, sizing.Duty]:
    """Duties from 10 to 800 tf at 16 to 50 MPa, drawn evenly in their logarithms."""
    draw = random.Random(seed)

    def between(low: float, high: float) -> float:
        return math.exp(draw.uniform(math.log(low), math.log(high)))

    made = {}
    for number in range(count):
        more = {
            "rods": draw.choice([2, 4, 4, 4, 6, 8]),
            "layout": draw.choice(["flat", "flat", "on edge"]),
            "interface": draw.choice(["loose", "welded"]),
            "seat": draw.choice([None, None, "sleeve", "shoulder", "inner nuts"]),
            "cycles": draw.choice([2_000, 20_000]),
        }
        wish = (f"{between(10, 800):.3g} tf", f"{between(16, 50):.3g} MPa",
                f"{between(200, 900):.0f} mm")  # fmt: skip
        given = ", ".join(str(value) for value in (*wish, *more.values()) if value)
        made[f"drawn {number + 1}: {given}"] = duty_of(*wish, more)
    return made


def call(*words: str) -> tuple[int, str]:
    """Exit code of a command in this process, and the last line that it printed."""
    code, text = told(*words)
    lines = [line for line in text.splitlines() if line.strip()]
    return code, lines[-1] if lines else ""


def told(*words: str) -> tuple[int, str]:
    """Exit code of a command in this process, and all that it printed."""
    said = io.StringIO()
    with (
        mock.patch("sys.argv", ["platestack", *words]),
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(said),
    ):
        try:
            cli.main()
            code = 0
        except SystemExit as done:
            code = done.code if isinstance(done.code, int) else 1
        except Exception as error:
            return 99, f"{type(error).__name__}: {error}"
    return code, said.getvalue()


def through(duty: sizing.Duty, place: Path, quick: bool) -> tuple[dict[str, int], list[str]]:
    """Exit codes of all commands on the proposal for a duty, and what went wrong."""
    case, run = place / "press.toml", place / "run"
    made = sizing.propose(duty, thorough=False)
    case.write_text(made.text + COARSE, encoding="utf-8")
    commands = {
        name: (name, str(case), "--out", str(place / name))
        for name in ("run", "offcentre", "cut", "assemble", "tighten")
    }
    commands["proof"], commands["report"] = ("proof", str(run)), ("report", str(run))
    if quick:
        commands = {name: words for name, words in commands.items() if name in ("cut", "assemble")}
    codes, faults = {}, [f"by hand: {check.name}" for check in made.exceeded]
    for name, words in commands.items():
        codes[name], last = call(*words)
        if codes[name] > (name in TWICE):
            faults.append(f"{name}: {last}")
    return codes, faults


def main() -> None:
    """Print the row of every duty whose name has one of the words given."""
    quick = "--quick" in sys.argv
    words = [word for word in sys.argv[1:] if word != "--quick"]
    duties = {name: duty_of(*wish) for name, wish in DUTIES.items()} | drawn()
    whole = 0
    chosen = {n: d for n, d in duties.items() if not words or any(word in n for word in words)}
    for name, duty in chosen.items():
        start, place = time.perf_counter(), Path(tempfile.mkdtemp())
        try:
            codes, faults = through(duty, place, quick)
            whole += not any(code > 1 for code in codes.values())
        except Exception as error:
            codes, faults = {}, [f"{type(error).__name__}: {error}"]
        finally:
            shutil.rmtree(place)
        print(f"{name}: {' '.join(f'{n} {code}' for n, code in codes.items())}; "
              f"{time.perf_counter() - start:.0f} s{''.join(f'; {words}' for words in faults)}",
              flush=True)  # fmt: skip
    print(f"{whole} of {len(chosen)} went through all commands")


if __name__ == "__main__":
    main()
