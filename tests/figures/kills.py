"""Kill -9 at random moments: what is left, and does the next start find its way.

``python -m tests.figures.kills [KILLS] [COMMAND ...]`` kills `run`, `compare`, `sweep` and the
page, that many times in all, or of these the ones named, each its share of it. After each kill a
results directory is whole (the earlier run or the new one) or absent, never absent where there was
one; the next start clears what the killed one left, a sweep keeps its rows and goes on, and nothing
stays locked. It ends with 1 if one of these failed.

Processes are forked from this one, which has imported everything and solved a case once: so a kill
comes within the work, not within imports or the loading of what is compiled.
"""

from __future__ import annotations

import importlib
import json
import os
import random
import re
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
import tomllib
import traceback
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

import distributed  # noqa: F401  (imported before the forks)
import psutil

from fea import cli, options, pictures, results, run, sweep, view  # noqa: F401
from fea.pictures import sheet
from fea.sweep import store
from geometry.errors import PlatestackError

ROOT = Path(__file__).parents[2]
COARSE = """
[mesh]
deflection_accuracy = 0.5
stress_accuracy = 0.5
size = "70 mm"
"""
RAN = {"summary.json", "fields.vtu", "case.toml", "run.log", "stress.png", "deflection.png",
       "mesh.png", "crosshead_face.png", "bed_face.png"}  # fmt: skip
MARK = "earlier.log"
"""A file in the results that were there before."""
COMPARED = {"comparison.json", "comparison.csv", "comparison.png"}
SWEPT = ("--thickness", "40..60 mm step 1 mm", "--method", "beam", "--workers", "1")
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
        self.case.write_text((ROOT / "cases" / "small.toml").read_text("utf-8") + COARSE)
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


@contextmanager
def warm() -> Iterator[None]:
    """Load what is compiled or large, once for all the processes that are forked; small pictures.

    Nor do they try the renderer, which takes long and writes nothing.
    """
    importlib.import_module("pyvista")
    with (
        mock.patch.object(pictures, "preflight", return_value=None),
        mock.patch.object(sheet, "VIEW", (200, 140)),
    ):
        with temporary() as place:
            case = Target("warm", place, random.Random()).case
            run.run(case, place / "out", lambda step: None, drawn=False)
        yield


def directories(target: Target, words: tuple[str, ...], whole: set[str], wanted: int) -> None:
    """Kill what ends in a results directory; in half of the rounds there is one already."""
    out, place, tally = target.out, target.place, target.tally
    seconds = target.let_be(*words)
    first = place / "first"
    shutil.copytree(out, first)

    def writing() -> bool:
        return any(place.glob(".out-unfinished-*/*.json"))

    while tally.kills < wanted and tally.finished < 3 * wanted:
        shutil.rmtree(out, ignore_errors=True)
        if earlier := bool(target.chance.getrandbits(1)):
            shutil.copytree(first, out)
            (out / MARK).write_text("the earlier one")
        late = bool(target.chance.getrandbits(1))
        target.kill(1.1 * seconds, *words, writing=writing if late else None)
        left = unfinished(place)
        tally.before += bool(left)
        if len(left) > 1:
            target.fault(f"kills pile up: {left}")
        judge(target, whole, earlier)
    target.let_be(*words)
    if left := unfinished(place):
        target.fault(f"still there after a whole call: {left}")


def judge(target: Target, whole: set[str], earlier: bool) -> None:
    """Whole or absent, and never absent where there was a run."""
    out, tally = target.out, target.tally
    if not out.exists():
        tally.absent += 1
        if earlier:
            target.fault("the earlier results are gone")
        return
    names = {entry.name for entry in out.iterdir()}
    if names - {MARK} != whole:
        target.fault(f"not whole: {sorted(names ^ whole)}")
        return
    tally.earlier += MARK in names
    tally.new += MARK not in names
    try:
        if "summary.json" in whole:
            press = results.reopen(out).press
            results.read_fields(out, sum(len(stack.plates) for stack in press.stacks))
        else:
            json.loads((out / "comparison.json").read_text("utf-8"))
    except PlatestackError as error:
        target.fault(str(error))


def sweeps(target: Target, wanted: int) -> None:
    """Kill a sweep until it has ended by itself, and begin another; rows only ever grow."""
    tally, out = target.tally, target.out
    words = ("sweep", "tiny.toml", *SWEPT, "--out", "out")
    seconds = target.let_be(*words)
    wanted_rows = rows(out)
    table = (out / "sweep.csv").read_bytes()
    while tally.kills < wanted and tally.finished < 3 * wanted:
        if (out / "sweep.csv").exists():
            shutil.rmtree(out)
        known = rows(out)
        rest = max(0.3, 1 - len(known) / len(wanted_rows))
        done = not target.kill(1.2 * seconds * rest, *words)
        found = rows(out)
        tally.before += 0 < len(found) < len(wanted_rows)
        if not known.items() <= found.items():
            target.fault(f"{len(known)} rows before, {len(found)} after")
        if not found.items() <= wanted_rows.items():
            target.fault("rows that no whole sweep has")
        if (out / "sweep.csv").exists() and (out / "sweep.csv").read_bytes() != table:
            target.fault("sweep.csv is not that of a whole sweep")
        tally.absent += not found
        tally.earlier += bool(found) and not done
        tally.new += (out / "sweep.csv").exists()
    target.let_be(*words)
    if (out / "sweep.csv").read_bytes() != table or rows(out) != wanted_rows:
        target.fault("the sweep did not end as it does without kills")
    if hidden := unfinished(out):
        target.fault(f"still there after a whole sweep: {hidden}")


def rows(out: Path) -> dict[str, str]:
    """Rows of a sweep by key, without the lock of a writer in the way."""
    if not (out / store.NAME).exists():
        return {}
    connection = sqlite3.connect(out / store.NAME, timeout=5)
    try:
        if connection.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            return {"broken": "broken"}
        return dict(connection.execute("SELECT key, figures FROM options"))
    except sqlite3.OperationalError as error:
        if "no such table" in str(error):
            return {}
        raise
    finally:
        connection.close()


def pages(target: Target, wanted: int) -> None:
    """Kill the page while it runs a case; the next page starts, lists runs, and takes a run."""
    tally, place = target.tally, target.place
    target.out = place / "results" / "tiny"
    data = (place / "tiny.toml").read_text("utf-8")
    seconds = 0.0
    while tally.kills < wanted:
        (place / "said.txt").unlink(missing_ok=True)
        number = forked(place, "page", "--port", "0")
        try:
            ask = talk(place)
            ask("run", {"name": "tiny", "data": tomllib.loads(data)})
            if not seconds:
                started = time.monotonic()
                while ask("state")["jobs"][0]["state"] not in ("done", "failed"):
                    time.sleep(0.1)
                seconds = time.monotonic() - started
                if not target.out.exists():
                    target.fault(f"the run failed: {ask('state')['jobs'][0]}")
            else:
                time.sleep(target.chance.uniform(0, seconds))
        except (OSError, ValueError, KeyError, AttributeError) as error:
            target.fault(f"the page did not answer: {type(error).__name__}: {error}")
        os.kill(number, signal.SIGKILL)
        tally.kills += ended(number) == -signal.SIGKILL
        alone(place)
        left = unfinished(place / "results") if (place / "results").exists() else []
        tally.before += bool(left)
        if len(left) > 1:
            target.fault(f"kills pile up: {left}")
        judge(target, RAN, False)
    run.run(place / "tiny.toml", target.out, lambda step: None)
    if left := unfinished(place / "results"):
        target.fault(f"still there after a whole run: {left}")


def talk(place: Path) -> Callable[..., dict]:
    """Wait for the page's address; asks it as its own script does."""
    deadline = time.monotonic() + 60
    while True:
        said = (place / "said.txt").read_text("utf-8") if (place / "said.txt").exists() else ""
        if found := re.search(r"(http://127\.0\.0\.1:\d+)/\S+/(?=\s)", said):
            break
        if time.monotonic() > deadline:
            raise ValueError(f"no address: {said}")
        time.sleep(0.01)
    base, origin = found[0], found[1]
    with urllib.request.urlopen(base, timeout=60) as answer:
        html = answer.read().decode()
    token = re.search(r'name="page-token" content="([^"]+)"', html)
    if token is None:
        raise ValueError("no token in the page")

    def ask(name: str, given: object = None) -> dict:
        request = urllib.request.Request(f"{base}{name}")
        if given is not None:
            request.data = json.dumps(given).encode()
            for header, value in (("Origin", origin), ("X-Page-Token", token[1]),
                                  ("Content-Type", "application/json")):  # fmt: skip
                request.add_header(header, value)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.loads(answer.read())

    return ask


def alone(place: Path) -> None:
    """End the run that a killed page left behind, as its process group is the page's no more."""
    for process in psutil.process_iter(["cmdline"]):
        with suppress(psutil.Error):
            of_page = "fea.page" in " ".join(process.info["cmdline"] or [])
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


SHARES = {"run": 0.26, "compare": 0.3, "sweep": 0.38, "page": 0.06}


def killed(command: str, wanted: int) -> Tally:
    """Kill a command so many times, and look what is left in the end."""
    with temporary() as place:
        target = Target(command, place, random.Random(0))
        if command == "run":
            directories(target, ("run", "tiny.toml", "--out", "out"), RAN, wanted)
        elif command == "compare":
            more = ("--thickness", "50 mm", "--stack", "bed", "--out", "out")
            directories(target, ("compare", "tiny.toml", *more), COMPARED, wanted)
        elif command == "sweep":
            sweeps(target, wanted)
        else:
            pages(target, wanted)
        deadline = time.monotonic() + 90
        while orphans() and time.monotonic() < deadline:
            time.sleep(1)
        if count := orphans():
            target.fault(f"{count} workers are still there 90 s after their sweep")
        left = [f.name for f in (place / "temporary").iterdir() if "platestack" in f.name]
        if len(left) > 1:  # one, of the last kill, goes at the next start
            target.fault(f"temporary directories pile up: {left}")
    return target.tally


def trial(kills: int, *only: str, tell: Callable[[str], None] = print) -> list[Tally]:
    """Kill each command, or `only` some, its share of `kills` times; a tally for each."""
    tell(HEAD)
    found = []
    with warm():
        for command in only or SHARES:
            found.append(killed(command, max(1, round(kills * SHARES[command]))))
            tell(found[-1].line())
    return found


def main() -> int:
    """Print the figures; 1 if something was not as it must be."""
    started = time.monotonic()
    kills, *only = sys.argv[1:] or ["210"]
    tallies = trial(int(kills), *only)
    print(f"{sum(t.kills for t in tallies)} kills in {time.monotonic() - started:.0f} s")
    faults = [fault for tally in tallies for fault in tally.faults]
    print("\n".join(f"FAULT {fault}" for fault in faults))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
