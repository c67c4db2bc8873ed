"""Ctrl-C and its like at random moments of every command, in processes of their own.

``python -m tests.figures.interruptions [INTERRUPTIONS] [COMMAND ...]`` starts commands as a user
does and interrupts them, once or by an impatient hand, anywhere from their start to their end: by
SIGINT or SIGHUP to the whole process group, as a terminal does, or by SIGTERM to the one process,
as `kill` does. Each must end soon with 128 and the signal's number, or with its own exit code if it
was done, say so in plain words, and leave what it found or the whole of what it writes: no
traceback, no crash, nothing unfinished. It ends with 1 if one did not.

The first `EARLY` seconds are the interpreter's own, which no program can speak for.
"""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Set
from dataclasses import dataclass, field
from pathlib import Path

from tests.figures.killing import COARSE

ROOT = Path(__file__).parents[2]
EARLY = 0.2
"""Seconds after which platestack's own code has begun to load (0.03 s on an idle machine)."""
SOON = 60.0
"""Seconds within which a command must have ended: a solution's step, on a busy machine."""
SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

COMMANDS: dict[str, tuple[str, ...]] = {
    "run": ("run", "tiny.toml", "--out", "out"),
    "mesh": ("mesh", "tiny.toml", "--out", "out"),
    "compare": ("compare", "tiny.toml", "--thickness", "50 mm", "--out", "out"),
    "sweep": ("sweep", "tiny.toml", "--thickness", "40..60 mm step 1 mm", "--method", "beam",
              "--workers", "2", "--out", "out"),
    "sensitivity": ("sensitivity", "tiny.toml", "--out", "out"),
    "optimise": ("optimise", "tiny.toml"),
    "offcentre": ("offcentre", "tiny.toml", "--out", "out"),
    "tighten": ("tighten", "seated.toml", "--out", "out"),
    "assemble": ("assemble", "tiny.toml", "--out", "out"),
    "cut": ("cut", "tiny.toml", "--out", "out"),
    "size": ("size", "out.toml", "--capacity", "50 tf", "--daylight", "800 mm", "--pressure",
             "250 bar"),
    "view": ("view", "earlier", "--field", "deflection", "--out", "out.png"),
    "proof": ("proof", "earlier"),
    "report": ("report", "earlier"),
    "self-test": ("self-test",),
    "page": ("page", "--port", "0"),
}  # fmt: skip
SEATED = '[rods]\nseat = "shoulder"\npreload = "20 tf"'
"""What rods that are tightened need."""
GO_ON = {"sweep", "sensitivity"}
"""Commands that keep what they have computed, and go on from there."""
SHARED = {f"dask-scratch-space{name}" for name in ("", "/global.lock", "/purge.lock")}
"""What dask makes once for all its processes of one user."""
SERVED = 3.0
"""Seconds for which the page would go on."""


@dataclass
class Tally:
    """Interruptions of one command, and what came of them."""

    command: str
    seconds: float
    """Of the command when it is let be."""
    whole: Set[str] = frozenset()
    """Names of what is there then."""
    ends: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    """Seconds from the first signal to the end."""
    faults: list[str] = field(default_factory=list)

    def line(self) -> str:
        """A row of the table."""
        told, loading, done = (self.ends[how] for how in ("told", "loading", "done"))
        return (
            f"{self.command:12} {self.seconds:8.1f} {told:6} {loading:8} {done:6} "
            f"{self.slowest:8.1f} {len(self.faults):7}"
        )


HEAD = (
    f"{'command':12} {'whole s':>8} {'told':>6} {'loading':>8} {'done':>6} {'worst s':>8} "
    f"{'faults':>7}"
)


def started(place: Path, words: tuple[str, ...]) -> subprocess.Popen[str]:
    """Start the command line as a user does, in a session of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "platestack", *words],
        cwd=place,
        env={**os.environ, "TMPDIR": str(place.parent / "temporary")},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def contents(place: Path) -> dict[str, bytes]:
    """Files below a place with what is in them, directories with nothing."""
    return {
        str(entry.relative_to(place)): entry.read_bytes() if entry.is_file() else b""
        for entry in place.rglob("*")
    }


def interrupted(tally: Tally, place: Path, words: tuple[str, ...], chance: random.Random) -> None:
    """Start a command, interrupt it somewhere, and judge its end."""
    before = contents(place)
    number = chance.choice(SIGNALS)
    moment = chance.uniform(EARLY, max(EARLY, 1.05 * tally.seconds))
    process = started(place, words)
    time.sleep(moment)
    since = time.monotonic()
    for _ in range(chance.choice((1, 1, 5))):
        if process.poll() is None:
            if number == signal.SIGTERM:
                process.send_signal(number)
            else:
                os.killpg(process.pid, number)
            time.sleep(chance.uniform(0.0, 0.01))
    try:
        out, err = process.communicate(timeout=SOON)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
        tally.faults.append(f"{number.name} at {moment:.2f} s: goes on for {SOON:.0f} s")
        return
    tally.slowest = max(tally.slowest, time.monotonic() - since)
    how, wrong = judged(tally.command, number, process.returncode, out, err)
    tally.ends[how] += 1
    after = contents(place)
    if tally.command not in GO_ON and after != before and after.keys() != tally.whole:
        wrong.append(f"changed: {sorted(k for k, _ in after.items() ^ before.items())}")
    if left := sorted(name for name in after if "unfinished" in name):
        wrong.append(f"left: {left}")
    if left := sorted(contents(place.parent / "temporary").keys() - SHARED):
        wrong.append(f"left in the temporary directory: {left}")
    tally.faults += [f"{number.name} at {moment:.2f} s, {how}: {words}" for words in wrong]


def judged(
    command: str, number: signal.Signals, code: int, out: str, err: str
) -> tuple[str, list[str]]:
    """How a command ended (told, loading, done), and what is wrong with that."""
    wrong = [line for line in err.splitlines() if re.search("Traceback|ignored in|Warning", line)]
    if code == 128 + number:
        words = "page has ended" if command == "page" else "interrupted"
        if words not in out + err:
            wrong.append(f"not told: {err[-300:]!r}")
        return "told", wrong
    if code == -number:
        if out or err:
            wrong.append(f"ended by the signal after words: {err[-300:]!r}")
        return "loading", wrong
    if code not in (0, 1):
        wrong.append(f"exit code {code}: {err[-300:]!r}")
    return "done", wrong


def trial(command: str, wanted: int, chance: random.Random) -> Tally:
    """Interrupt a command so many times, each in what the first call found."""
    with tempfile.TemporaryDirectory(prefix="interruptions-") as made:
        first, place = Path(made) / "first", Path(made) / "place"
        first.mkdir()
        (Path(made) / "temporary").mkdir()
        tiny = (ROOT / "cases" / "small" / "small.toml").read_text("utf-8") + COARSE
        (first / "tiny.toml").write_text(tiny)
        (first / "seated.toml").write_text(tiny.replace("[rods]", SEATED))
        if "earlier" in COMMANDS[command]:
            started(first, ("run", "tiny.toml", "--out", "earlier")).communicate()
        shutil.copytree(first, place)
        tally = Tally(command, SERVED)
        if command != "page":
            since = time.monotonic()
            process = started(place, COMMANDS[command])
            _, err = process.communicate()
            tally.seconds = time.monotonic() - since
            tally.whole = contents(place).keys()
            if process.returncode not in (0, 1):
                tally.faults.append(f"let be: exit code {process.returncode}: {err[-500:]}")
                return tally
        for _ in range(wanted):
            shutil.rmtree(place)
            shutil.copytree(first, place)
            interrupted(tally, place, COMMANDS[command], chance)
    return tally


def main() -> int:
    """Print the figures; 1 if something was not as it must be."""
    wanted, *only = sys.argv[1:] or ["320"]
    names = only or list(COMMANDS)
    chance = random.Random(0)
    print(HEAD)
    tallies = []
    for name in names:
        tallies.append(trial(name, -(-int(wanted) // len(names)), chance))
        print(tallies[-1].line(), flush=True)
    ends = sum((tally.ends for tally in tallies), Counter())
    print(f"{ends.total()} interruptions")
    faults = [f"FAULT {tally.command}, {words}" for tally in tallies for words in tally.faults]
    print("\n".join(faults))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
