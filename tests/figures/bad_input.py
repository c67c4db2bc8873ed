"""Hostile input of every kind: each must be refused in a sentence, or accepted and done wholly.

``python -m tests.figures.bad_input [INPUTS] [START]`` prints, by kind, how many inputs were tried,
refused and accepted, the faults met and the worst seconds; it ends with 1 if there was a fault.
Inputs are drawn from the schema and from damaged texts; they go through the command line in this
process, and a sample of them through processes of their own, where they are solved too.
"""

from __future__ import annotations

import itertools
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from PIL import Image

from platestack.fea import pictures
from platestack.fea.checks.cost import priced
from platestack.fea.jobs import proof, run, sweep
from platestack.fea.jobs.duty.duty import Duty
from platestack.fea.jobs.options.by_hand import evaluate_by_hand
from platestack.fea.jobs.options.variation import Option
from platestack.fea.results import run_directory
from platestack.geometry import layout, mesher
from platestack.geometry.schema import Case, Prices
from tests.figures import grammar
from tests.figures.calling import (
    HEAD,
    SEARCH_LIMIT,
    Caller,
    NotSolvedHere,
    Tally,
    stop_before_solving,
    workplace,
)
from tests.figures.drawn_input import CASES, SEATED, options, spoiled, table_of

TELLING: dict[str, Any] = {
    "currency": "EUR", "plate": "1.4 per kg", "cutting": "9 per m", "pierce": 2.0,
    "rod": "8 per kg",
    "machining": "800 per m2", "nut": "40 per piece", "washer": "9 per piece",
    "pump": "1500 per piece",
    "cylinder": "5 per kg", "extra": {"hoses": 250.0}, "what_if": [0.8, 1.2],
}  # fmt: skip
DUTY: dict[str, Any] = {
    "capacity": "30 tf", "pressure": "25 MPa", "daylight": "300 mm", "stroke": "120 mm",
    "length": "600 mm", "width": "400 mm", "rods": 4, "ceiling": "2 m", "hoist": "500 kg",
    "cycles": 10000, "budget": 5000.0, "prices": TELLING,
}  # fmt: skip
SAMPLE_LIMIT = 120
"""Seconds for one input that is solved in a process of its own."""

Try = Callable[[Any], None]


class Trial:
    """All kinds of input, each with what it is drawn from and what is done with it."""

    def __init__(self, place: Path):
        self.place, self.caller = place, Caller(place)
        self.tallies: list[Tally] = []
        (place / "small.toml").write_bytes(grammar.as_toml(CASES["small"]))
        (place / "seated.toml").write_bytes(grammar.as_toml(SEATED))
        self.ran = place / "ran"
        run.run(place / "small.toml", self.ran, lambda step: None, drawn=False)
        self.summary = json.loads((self.ran / "summary.json").read_text("utf-8"))
        self.plan = proof.make(run_directory.reopen(self.ran))

    def kinds(self) -> dict[str, tuple[float, st.SearchStrategy[Any], Callable[[Tally], Try]]]:
        """Share of all inputs, strategy and trial of each kind."""
        cases = grammar.changed(Case, [*CASES.values(), SEATED]).map(grammar.as_toml)
        texts = st.sampled_from([grammar.as_toml(data) for data in CASES.values()])
        prices = grammar.changed(Prices, [TELLING], 2)
        duties = grammar.changed(Duty, [DUTY, {k: DUTY[k] for k in list(DUTY)[:3]}])
        duties = duties.map(grammar.as_toml)
        return {
            "case values": (0.2, cases, self._case),
            "case texts": (0.31, grammar.damaged(texts), self._case),
            "prices": (0.08, prices, self._prices),
            "duties": (0.01, st.one_of(duties, grammar.damaged(duties)), self._duty),
            "stretches read": (0.14, table_of(*self._stretches()), self._measured("tighten")),
            "readings of a proof": (0.14, table_of(*self._readings()), self._measured("proof")),
            "results directories": (0.03, spoiled(self.summary), self._directory),
            "option texts": (0.09, options(), self._options),
        }

    def _case(self, tally: Tally) -> Try:
        file = self.place / "case.toml"

        def attempt(text: bytes) -> None:
            file.write_bytes(text)
            self.caller.call(tally, text, "solve", "case.toml", "--out", "out/here")

        return attempt

    def _prices(self, tally: Tally) -> Try:
        attempt = self._case(tally)
        return lambda data: attempt(grammar.as_toml({**CASES["small"], "prices": data}))

    def _duty(self, tally: Tally) -> Try:
        def attempt(text: bytes) -> None:
            (self.place / "duty.toml").write_bytes(text)
            words = ("size", "new.toml", "--duty", "duty.toml", "--no-confirm", "--no-alternatives")
            self.caller.call(tally, text, *words, limit=SEARCH_LIMIT)

        return attempt

    def _measured(self, command: str) -> Callable[[Tally], Try]:
        words = {
            "tighten": ("tighten", "seated.toml", "--measured", "read.csv"),
            "proof": ("proof", "ran", "--measured", "read.csv"),
        }[command]

        def prepare(tally: Tally) -> Try:
            def attempt(text: bytes) -> None:
                (self.place / "read.csv").write_bytes(text)
                self.caller.call(tally, text, *words)

            return attempt

        return prepare

    def _directory(self, tally: Tally) -> Try:
        def attempt(how: tuple[str, str, bytes]) -> None:
            command, name, text = how
            place = self.place / "spoiled"
            shutil.copytree(self.ran, place, copy_function=os.link)
            (place / name).unlink(missing_ok=True)
            if text == b"a directory":
                (place / name).mkdir()
            elif text != b"nothing":
                (place / name).write_bytes(text)
            more = ("--out", "out.png") if command == "view" else ()
            self.caller.call(tally, f"{name}\n".encode() + text[:4000], command, "spoiled", *more)
            shutil.rmtree(place)

        return attempt

    def _options(self, tally: Tally) -> Try:
        return lambda words: self.caller.call(
            tally, b"", *words, keeps=("results/small-sweep", "results")
        )

    def _stretches(self) -> tuple[list[str], list[list[str]]]:
        ends = [f"rod {i} {stack}" for stack in ("crosshead", "bed") for i in (1, 2)]
        return ["rod", "stretch"], [[end, "0.31 mm"] for end in ends]

    def _readings(self) -> tuple[list[str], list[list[str]]]:
        head = ["pressure_MPa", *(r.column for r in self.plan.readings)]
        return head, [[str(p), *["0.1"] * (len(head) - 1)] for p in (5, 10, 15, 20, 25)]

    def attempt(self, kind: str, count: int, start: int) -> Tally:
        """Try so many inputs of a kind."""
        _, strategy, prepare = self.kinds()[kind]
        tally = Tally(kind)
        attempt = prepare(tally)

        @seed(start)
        @settings(
            max_examples=count, database=None, deadline=None, phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(strategy)
        def each(given: Any) -> None:
            attempt(given)

        each()
        self.tallies.append(tally)
        return tally


_SIXTHS = itertools.cycle(range(6))


def by_hand(case: Case, *_: object) -> None:
    """In place of the solution: what it costs, and of every sixth case all hand calculations."""
    priced(layout.build(case), case)
    if next(_SIXTHS) == 0:
        evaluate_by_hand(case, Option())
    raise NotSolvedHere


def blank(*given: Any) -> None:
    """In place of a picture that takes seconds."""
    Image.new("RGB", (8, 8)).save(given[-1])


@contextmanager
def unsolved() -> Iterator[None]:
    """Leave out what takes seconds: meshes, solutions, processes and pictures."""
    with ExitStack() as stack:
        for where, name, instead in (
            (run, "analyse", by_hand), (mesher, "make", stop_before_solving),
            (sweep, "sweep", stop_before_solving), (pictures, "preflight", lambda: None),
            (proof.pictures, "proof_picture", blank),
        ):  # fmt: skip
            stack.enter_context(mock.patch.object(where, name, instead))
        yield


def solved_sample(place: Path, count: int, start: int) -> Tally:
    """Cases of plausible values solved in processes of their own, as a user starts them."""
    tally = Tally("solved, own process")
    drawn: list[bytes] = []

    @seed(start)
    @settings(max_examples=count, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(grammar.changed(Case, [CASES["small"], SEATED], 2).map(grammar.as_toml))
    def each(text: bytes) -> None:
        drawn.append(text)

    each()
    for text in drawn:
        (place / "case.toml").write_bytes(text)
        shutil.rmtree(place / "out", ignore_errors=True)
        started = time.perf_counter()
        fault, code = "", -1
        try:
            done = subprocess.run(
                [sys.executable, "-m", "platestack", "solve", "case.toml", "--out", "out/here"],
                cwd=place, capture_output=True, text=True, timeout=SAMPLE_LIMIT,
                            )  # fmt: skip
            code = done.returncode
            said = done.stdout + done.stderr
            whole = {"summary.json", "fields.vtu", "run.log", "case.toml"}
            found = {f.name for f in (place / "out" / "here").glob("*")} - {"interfaces.vtu"}
            if "Traceback" in said or "unexpected fault" in said or code not in (0, 1, 2, 3):
                fault = f"exit code {code}: {said[-300:]}"
            elif found != (whole if code < 2 else set()):
                fault = f"exit code {code}, but left {sorted(found)}"
        except subprocess.TimeoutExpired:
            fault = f"more than {SAMPLE_LIMIT} s"
        spent = time.perf_counter() - started
        tally.codes[code] += 1
        tally.worst, tally.seconds = max(tally.worst, spent), tally.seconds + spent
        if fault:
            tally.faulty += 1
            tally.faults.setdefault(fault, text)
    return tally


def trial(
    inputs: int, start: int = 0, solved: int = 40, tell: Callable[[str], None] = print
) -> list[Tally]:
    """Try `inputs` inputs of all kinds, and `solved` cases in full; a tally for each kind."""
    tell(HEAD)
    with workplace() as place:
        tried = Trial(place)
        with unsolved():
            for kind, (share, *_) in tried.kinds().items():
                tell(tried.attempt(kind, round(inputs * share), start).line())
        sample = solved_sample(place, solved, start)
        tell(sample.line())
    return [*tried.tallies, sample]


def main() -> int:
    """Print the figures; 1 if there was a fault."""
    numbers = [int(word) for word in sys.argv[1:]]
    started = time.perf_counter()
    tallies = trial(*(numbers or [20_500]))
    total = sum(tally.tried for tally in tallies)
    print(f"{total:,} inputs in {time.perf_counter() - started:.0f} s")
    faults = [(name, text) for tally in tallies for name, text in tally.faults.items()]
    for name, text in faults:
        print(f"\nFAULT {name}\n{text[:1500].decode('utf-8', 'replace')}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
