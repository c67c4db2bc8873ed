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
import tomllib
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import meshio
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import given as given_of
from hypothesis import strategies as st
from PIL import Image

from fea import pictures, proof, results, run, summary, sweep
from fea.checks.cost import priced
from fea.options.by_hand import evaluate_by_hand
from fea.options.candidates import Candidate
from fea.sizing.duty import Duty
from geometry import layout, mesher
from geometry.schema import Case, Prices
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

ROOT = Path(__file__).parents[2]
CASES = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in ROOT.glob("cases/*.toml")}
SEATED = CASES["small"] | {
    "rods": {**CASES["small"]["rods"], "seat": "inner nuts", "preload": "150 kN"}
}
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
        self.plan = proof.make(results.reopen(self.ran))

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
        evaluate_by_hand(case, Candidate())
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


CELLS = st.one_of(
    st.sampled_from(("", " ", "0.3 mm", "1e3", "-0.1 mm", "nan", "NaN", "inf", "-inf", "1e999",
                     "0x1", "1_0",
                     "５", "0,3", '"', '"a\nb"', "\x00", "=1+1", "rod 1", "rod 9 bed", "1e-320",
                     "-5", "9" * 400,
                     "x" * 140_000, "\ufeff", "0.31mm", "0.2 in", "1 kg")),
    st.floats().map(str), st.text(max_size=6),
)  # fmt: skip


@st.composite
def table_of(draw: st.DrawFn, head: list[str], rows: list[list[str]]) -> bytes:
    """A CSV file with odd cells, columns, rows or bytes."""
    table = [list(row) for row in (head, *rows)]
    for _ in range(draw(st.integers(0, 3))):
        row = draw(st.integers(0, len(table) - 1))
        how = draw(st.integers(0, 7))
        if how <= 3 and table[row]:
            table[row][draw(st.integers(0, len(table[row]) - 1))] = draw(CELLS)
        elif how == 4:
            table[row].append(draw(CELLS))
        elif how == 5 and table[row]:
            table[row].pop()
        elif how == 6:
            table.insert(row, list(table[row]))
        elif how == 7 and len(table) > 1:
            table.pop(row)
    text = "\n".join(",".join(row) for row in table).encode("utf-8", "surrogatepass")
    return draw(grammar.damaged(st.just(text))) if draw(st.integers(0, 3)) == 0 else text


@st.composite
def spoiled(draw: st.DrawFn, data: dict[str, Any]) -> tuple[str, str, bytes]:
    """A command, a file of a results directory, and what stands there instead."""
    command = draw(st.sampled_from(("proof", "view", "report")))
    name = draw(
        st.sampled_from(("summary.json", "summary.json", "fields.vtu", "case.toml", "run.log"))
    )
    good = json.dumps(data).encode()
    if name == "summary.json" and draw(st.booleans()):
        changed = draw(grammar.changed(summary.Summary, [data]))
        return command, name, json.dumps(changed, default=str).encode("utf-8", "surrogatepass")
    other = grammar.as_toml(draw(st.sampled_from([CASES["small"], CASES["demo"], SEATED])))
    grids = st.sampled_from(alien_grids())
    texts = st.sampled_from((good, other))
    return command, name, draw(
        st.one_of(
            st.sampled_from((b"", b"nothing", b"a directory", b"{}", b"[]", b"null", other)),
            st.binary(max_size=60), grammar.damaged(texts), grids,
        )
    )  # fmt: skip


def alien_grids() -> list[bytes]:
    """Grids that are read, but are not a run's."""
    with workplace() as place:
        points = [[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]
        found = []
        for data in ({}, {"stack": [[0]], "plate": [[0]]}, {"stack": [[7]], "plate": [[9]]}):
            mesh = meshio.Mesh(points, [("tetra", [[0, 1, 2, 3]])], cell_data=data)
            meshio.write(place / "grid.vtu", mesh)
            found.append((place / "grid.vtu").read_bytes())
        return [*found, found[0][: len(found[0]) // 2], found[0].replace(b"4", b"9")]


TEXTS = st.one_of(
    st.sampled_from(("60 mm", "50..60 mm step 5 mm", "stock 50..90 mm", "stock", "stock 1 mm", 
                     "2, 3", "2,3,",
                     "60 mm, 60 mm", "90..50 mm step 5 mm", "50..60 mm step 0 mm",
                     "0.1..100000 mm step 0.1 mm",
                     "50..60 step 5", "..", "1..2..3 mm step 1 mm", "60 mm..", "S355J2",
                     "welded, loose",
                     "crosshead", "both", "bed plate 2 = 60 mm", "plate 99 = 5 mm",
                     "bed grade = S235JR", "=",
                     "a = b", "bed plate 0 = 1 mm", "5%", "0.1%", "50%", "nan%", "inf%", "-5%",
                     "1e-9%", "30 mm, 10 mm",
                     "0 mm, 0 mm", "30 mm", "nan mm, 0 mm", "1 mm/m", "0.5 mm/m", "0", "1",
                     "-1", "99999999999999999999",
                     "1e400", "nan", "inf", "", " ", "\x00", "\udcff", "机", "../../x", "/",
                     "y = 0 mm", "x=9 m",
                     "q = 0 mm", "von_mises", "deflection", "principal 9", "bed/plate 1",
                     "bed/plate 99", "0, 1, 2, 3, 4",
                     "mass", "cost", "stiffness", "x" * 5000, "30 tf", "25 MPa", "450 atm",
                     "1.25", "0.99", "beam", "full",
                     "tcp://127.0.0.1:1", "http://x", "127.0.0.1")),
    st.text(max_size=12), grammar.ODD.map(str),
)  # fmt: skip
FLAGS = {
    "compare": ("thickness", "stack", "plates", "grade", "interface", "rod-diameter", "vary",
    "verify", "draw"),
    "sweep": ("thickness", "plates", "grade", "interface", "rod-diameter", "method", "workers"),
    "tighten": ("scatter", "passes", "jacks", "measured"),
    "offcentre": ("at", "tilt"),
    "optimise": ("for", "plates", "thickness"),
    "sensitivity": ("tolerance",),
    "proof": ("factor", "measured"),
    "view": ("field", "part", "cut"),
    "size": ("name", "capacity", "pressure", "pump", "daylight", "stroke", "length", "rods",
    "layout", "grade",
             "thickest", "workpiece", "deflection", "ceiling", "hoist", "cycles", "budget",
             "duty"),
    "new": ("capacity", "pressure", "length", "width", "daylight"),
    "solve": ("out",), "cut": ("out",), "assemble": ("out",), "mesh": ("out",), "report": ("out",),
}  # fmt: skip
SUBJECT = {
    "tighten": "seated.toml",
    "proof": "ran",
    "view": "ran",
    "report": "ran",
    "size": "new.toml",
    "new": "new.toml",
}
FIXED = {
    "view": ("--out", "view.png"),
    "size": ("--no-confirm", "--no-alternatives", "--capacity=30 tf", "--pressure=25 MPa",
    "--daylight=300 mm"),
    "new": ("--capacity=30 tf", "--pressure=25 MPa", "--length=600 mm", "--width=400 mm",
    "--daylight=300 mm"),
}  # fmt: skip


@st.composite
def options(draw: st.DrawFn) -> tuple[str, ...]:
    """A command with one to three options of odd values."""
    command = draw(st.sampled_from(sorted(FLAGS)))
    names = draw(st.lists(st.sampled_from(FLAGS[command]), min_size=1, max_size=3, unique=True))
    given = [f"--{name}={draw(TEXTS)}" for name in names]
    return command, SUBJECT.get(command, "small.toml"), *FIXED.get(command, ()), *given


def solved_sample(place: Path, count: int, start: int) -> Tally:
    """Cases of plausible values solved in processes of their own, as a user starts them."""
    tally = Tally("solved, own process")
    given: list[bytes] = []

    @seed(start)
    @settings(max_examples=count, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given_of(grammar.changed(Case, [CASES["small"], SEATED], 2).map(grammar.as_toml))
    def each(text: bytes) -> None:
        given.append(text)

    each()
    for text in given:
        (place / "case.toml").write_bytes(text)
        shutil.rmtree(place / "out", ignore_errors=True)
        started = time.perf_counter()
        fault, code = "", -1
        try:
            done = subprocess.run(
                [sys.executable, "-m", "fea.cli", "solve", "case.toml", "--out", "out/here"],
                cwd=place, capture_output=True, text=True, timeout=SAMPLE_LIMIT,
                env={**os.environ, "PYTHONPATH": str(ROOT)},
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
