"""Call the command line with hostile input, in this process, and judge what it did.

What counts as a fault: an exception that gets out, a fault told as unexpected, a traceback in the
output, a warning of a library, an exit code that is not promised, no words with an error, more than
`LIMIT` seconds of processor time (or `PATIENCE` by the clock), and files left behind by a call that
failed.
"""

from __future__ import annotations

import contextlib
import faulthandler
import io
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

from typer.main import get_command

from platestack.fea.app import cli
from platestack.geometry.errors import PlatestackError

LIMIT = 30.0
"""Seconds of processor time for one input, none of which is solved.

At most 4 s on an idle machine (a picture drawn, a document set); all was seen to take up to four
times as long on one that was busy with other things.
"""
SEARCH_LIMIT = 60.0
"""Seconds for a duty, for which some hundred beams are bent: 1 to 7 s, on edge the most."""
PATIENCE = 180.0
"""Seconds by the clock: what waits uses no processor, and a busy machine gives a part of one."""
PROMISED = (0, 1, 2, 3)


class Hang(BaseException):
    """A call took too long."""


class NotSolvedHere(PlatestackError):
    """Input was accepted; the solution is left out."""

    def __init__(self, *_: object, **__: object):
        super().__init__("not solved here")


def stop_before_solving(*_: object, **__: object) -> None:
    """Take the place of what would mesh or solve."""
    raise NotSolvedHere


@dataclass
class Tally:
    """What became of one kind of input."""

    kind: str
    codes: Counter[int] = field(default_factory=Counter)
    worst: float = 0.0
    """Seconds of processor time; by the clock where other processes work."""
    seconds: float = 0.0
    faults: dict[str, bytes] = field(default_factory=dict)
    """First input for each distinct fault."""
    faulty: int = 0

    @property
    def tried(self) -> int:
        """Inputs in all."""
        return sum(self.codes.values())

    @property
    def refused(self) -> int:
        """Inputs told to be bad."""
        return self.codes[2]

    def line(self) -> str:
        """A row of the table."""
        return (
            f"{self.kind:24} {self.tried:7,} {self.refused:8,} {self.tried - self.refused:8,} "
            f"{self.faulty:6} {self.worst:8.2f} {self.seconds:8.0f}"
        )


HEAD = (
    f"{'kind':24} {'tried':>7} {'refused':>8} {'accepted':>8} {'faults':>6} {'worst s':>8} "
    f"{'all s':>8}"
)


@contextlib.contextmanager
def time_limit(limit: float = LIMIT) -> Iterator[None]:
    """Raise `Hang` in this thread when time is over; end the process if that does not help."""

    def late(*_: object) -> None:
        raise Hang(f"more than {limit:g} s of processor time, or {PATIENCE:g} s")

    timers = {
        signal.ITIMER_PROF: (signal.SIGPROF, limit), signal.ITIMER_REAL: (signal.SIGALRM, PATIENCE)
    }  # fmt: skip
    before = {number: signal.signal(number, late) for number, _ in timers.values()}
    for timer, (_, seconds) in timers.items():
        signal.setitimer(timer, seconds)
    faulthandler.dump_traceback_later(3 * PATIENCE, exit=True)
    try:
        yield
    finally:
        for timer in timers:
            signal.setitimer(timer, 0.0)
        faulthandler.cancel_dump_traceback_later()
        for number, handler in before.items():
            signal.signal(number, handler)


def listing(place: Path) -> set[str]:
    """All files and directories below a place."""
    return {str(entry.relative_to(place)) for entry in place.rglob("*")}


class Caller:
    """Calls of `cli.main` in a working directory of their own."""

    def __init__(self, place: Path):
        self.place = place
        self._details = ""
        # Made once: typer makes it anew at each call, which takes longer than most inputs.
        self._command = get_command(cli.app)

    def call(
        self, tally: Tally, given: bytes, *words: object, keeps: tuple[str, ...] = (),
        limit: float = LIMIT,
    ) -> int:  # fmt: skip
        """Call the command line; `given` is what to show of a fault, `keeps` what may stay."""
        before = listing(self.place)
        out, err = io.StringIO(), io.StringIO()
        started, fault, code = time.process_time(), "", -1
        self._details = ""
        try:
            with (
                time_limit(limit),
                warnings.catch_warnings(),
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(err),
                contextlib.chdir(self.place),
                mock.patch.object(sys, "argv", ["platestack", *map(str, words)]),
                mock.patch.object(cli.signal, "signal"),
                mock.patch.object(cli, "app", self._command),
                mock.patch.object(cli, "_keep_details", self._keep),
            ):
                warnings.simplefilter("error")
                warnings.simplefilter("ignore", DeprecationWarning)
                cli.main()
        except SystemExit as left:
            code = int(left.code or 0)
        except BaseException:  # whatever gets out is the finding
            fault = traceback.format_exc()
        spent = time.process_time() - started
        said = out.getvalue() + err.getvalue()
        fault = fault or self._details or self._judge(code, said, err.getvalue())
        left = {name for name in listing(self.place) - before if not name.startswith(keeps or "\0")}
        if not fault and code >= 2 and left:
            fault = f"exit code {code}, but left {sorted(left)}"
        for name in sorted(left, reverse=True):
            entry = self.place / name
            shutil.rmtree(entry, ignore_errors=True) if entry.is_dir() else entry.unlink(True)
        tally.codes[code] += 1
        tally.worst, tally.seconds = max(tally.worst, spent), tally.seconds + spent
        if fault:
            tally.faulty += 1
            tally.faults.setdefault(
                _name_of(fault), " ".join(map(str, words)).encode() + b"\n" + given
            )
        return code

    def _keep(self) -> str:
        self._details = traceback.format_exc()
        return "kept"

    @staticmethod
    def _judge(code: int, said: str, errors: str) -> str:
        if code not in PROMISED:
            return f"exit code {code}"
        if "Traceback" in said or "unexpected fault" in said:
            return "fault told: " + next(line for line in said.splitlines() if "fault" in line)
        if code >= 2 and not errors.strip():
            return f"exit code {code} without a word"
        return ""


def _name_of(fault: str) -> str:
    """The last frame and the error: faults of one cause are told once."""
    lines = [line.strip() for line in fault.strip().splitlines()]
    places = [line for line in lines if line.startswith("File ") and "/figures/" not in line]
    ours = [line for line in places if "/fea/" in line or "/geometry/" in line]
    place = (ours or places or [""])[-1]
    words = lines[-1].split(":")[0] if place else lines[-1]
    return f"{words} {place}"[:200]


@contextlib.contextmanager
def workplace() -> Iterator[Path]:
    """A directory in memory where there is one."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as place:
        yield Path(place)
