"""Calls of the command line that are killed at random moments, each in a place of its own.

Processes are forked from this one, which has imported everything and solved a case once: so a kill
comes within the work, not within imports or the loading of what is compiled.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

import distributed  # noqa: F401  (imported before the forks)
import psutil

from platestack.fea import pictures  # noqa: F401
from platestack.fea.app import cli
from platestack.fea.jobs import run, sweep  # noqa: F401
from platestack.fea.jobs.options import comparing  # noqa: F401
from platestack.fea.jobs.options import writing as _  # noqa: F401
from platestack.fea.pictures import view  # noqa: F401
from platestack.fea.results import run_directory  # noqa: F401

ROOT = Path(__file__).parents[2]
COARSE = """
[mesh]
deflection_accuracy = 0.5
stress_accuracy = 0.5
size = "70 mm"
"""

PATIENCE = 240.0
"""Seconds by the clock for a call that is let be."""


@dataclass
class Tally:
    """Kills of one command, and what was found after them."""

    command: str
    kills: int = 0
    before: int = 0
    """Kills that came while something unfinished lay beside the results."""
    absent: int = 0
    earlier: int = 0
    new: int = 0
    finished: int = 0
    """Calls that had ended before the kill."""
    faults: list[str] = field(default_factory=list)

    def line(self) -> str:
        """A row of the table."""
        return (
            f"{self.command:8} {self.kills:6} {self.finished:9} {self.before:11} {self.absent:7} "
            f"{self.earlier:8} {self.new:5} {len(self.faults):7}"
        )


HEAD = (
    f"{'command':8} {'kills':>6} {'too late':>9} {'unfinished':>11} {'absent':>7} {'earlier':>8} "
    f"{'new':>5} {'faults':>7}"
)


def forked(place: Path, *words: str) -> int:
    """Start the command line in a process of its own; its number."""
    number = os.fork()
    if number:
        return number
    try:
        os.setsid()
        os.chdir(place)
        with (place / "said.txt").open("ab", 0) as said:
            for stream in (1, 2):
                os.dup2(said.fileno(), stream)
        # Whoever captures what this process writes has put streams of his own in their place.
        sys.stdout, sys.stderr = (os.fdopen(n, "w", closefd=False) for n in (1, 2))
        sys.argv = ["platestack", *words]
        cli.main()
    except SystemExit as left:
        os._exit(int(left.code or 0))
    except BaseException:
        traceback.print_exc()
    os._exit(99)


def ended(number: int, patience: float = PATIENCE) -> int | None:
    """Exit code of a process, negative if by a signal; None if it goes on for that long."""
    deadline = time.monotonic() + patience
    while True:
        found, status = os.waitpid(number, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status)
        if time.monotonic() > deadline:
            return None
        time.sleep(0.005)


def unfinished(place: Path) -> list[str]:
    """Hidden entries beside the results."""
    return sorted(entry.name for entry in place.glob(".*"))


class Target:
    """One command in a directory of its own, killed again and again."""

    def __init__(self, command: str, place: Path, chance: random.Random):
        self.tally, self.place, self.chance = Tally(command), place, chance
        self.case = place / "tiny.toml"
        self.case.write_text((ROOT / "cases" / "small" / "small.toml").read_text("utf-8") + COARSE)
        self.out = place / "out"

    def fault(self, words: str) -> None:
        """Note that something was not as it must be."""
        self.tally.faults.append(f"{self.tally.command}, kill {self.tally.kills}: {words}")

    def let_be(self, *words: str) -> float:
        """Call to the end; the seconds it took."""
        started = time.monotonic()
        code = ended(forked(self.place, *words))
        if code not in (0, 1):
            said = (self.place / "said.txt").read_text("utf-8", "replace")
            self.fault(f"exit code {code}: {said[-500:]}")
        return time.monotonic() - started

    def kill(self, limit: float, *words: str, writing: Callable[[], bool] | None = None) -> bool:
        """Start, and kill at random or soon after `writing` says so; whether it was alive."""
        number = forked(self.place, *words)
        deadline = time.monotonic() + limit
        if writing is not None:
            while not writing() and time.monotonic() < deadline and ended(number, 0) is None:
                time.sleep(0.002)
            time.sleep(self.chance.expovariate(20))
        else:
            time.sleep(self.chance.uniform(0, limit))
        with suppress(ProcessLookupError):
            os.kill(number, signal.SIGKILL)
        with suppress(ChildProcessError):
            code = ended(number)
            self.tally.kills += code == -signal.SIGKILL
            self.tally.finished += code != -signal.SIGKILL
            return code == -signal.SIGKILL
        self.tally.finished += 1
        return False


def alone(place: Path) -> None:
    """End the run that a killed page left behind, as its process group is the page's no more."""
    for process in psutil.process_iter(["cmdline"]):
        with suppress(psutil.Error):
            of_page = "platestack.fea.app.page" in " ".join(process.info["cmdline"] or [])
            if of_page and process.cwd() == str(place):
                process.kill()
                process.wait(10)


def orphans() -> int:
    """Workers of killed sweeps that have not ended."""
    count = 0
    for process in psutil.process_iter(["cmdline"]):
        words = " ".join(process.info["cmdline"] or [])
        count += "dask_worker" in words and tempfile.gettempdir() in words
    return count


@contextmanager
def temporary() -> Iterator[Path]:
    """A place to work in, and a directory for temporary files that is looked at afterwards."""
    with tempfile.TemporaryDirectory(prefix="kills-") as made:
        place = Path(made)
        before = tempfile.tempdir
        tempfile.tempdir = os.environ["TMPDIR"] = str(place / "temporary")
        (place / "temporary").mkdir()
        try:
            yield place
        finally:
            tempfile.tempdir = before
            os.environ.pop("TMPDIR")
