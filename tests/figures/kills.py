"""Kill -9 at random moments: what is left, and does the next start find its way.

``python -m tests.figures.kills [KILLS] [COMMAND ...]`` kills `run`, `compare`, `sweep` and the
page, that many times in all, or of these the ones named, each its share of it. After each kill a
results directory is whole (the earlier run or the new one) or absent, never absent where there was
one; the next start clears what the killed one left, a sweep keeps its rows and goes on, and nothing
stays locked. It ends with 1 if one of these failed.
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
import time
import tomllib
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest import mock

from platestack.fea import pictures
from platestack.fea.jobs import run
from platestack.fea.jobs.sweep import store
from platestack.fea.pictures import sheet
from platestack.fea.results import run_directory
from platestack.geometry.errors import PlatestackError
from tests.figures.killing import (
    HEAD,
    Tally,
    Target,
    alone,
    ended,
    forked,
    orphans,
    temporary,
    unfinished,
)

RAN = {"summary.json", "fields.vtu", "case.toml", "run.log", "stress.png", "deflection.png",
       "mesh.png", "crosshead_face.png", "bed_face.png"}  # fmt: skip
MARK = "dossier.html"
"""A file in the results that were there before."""
COMPARED = {"comparison.json", "comparison.csv", "comparison.png"}
SWEPT = ("--thickness", "40..60 mm step 1 mm", "--method", "beam", "--workers", "1")


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
            press = run_directory.reopen(out).press
            run_directory.read_fields(out, sum(len(stack.plates) for stack in press.stacks))
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
