"""Sweeps: rows once and for good, whoever dies in between.

What a sweep must end in is known from outside it: the same options evaluated one after the other
in this process.
"""

from __future__ import annotations

import csv
import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import contextmanager, suppress
from dataclasses import asdict, replace
from pathlib import Path

import psutil
import pytest
import sweep_work
from hypothesis import given, settings
from hypothesis import strategies as st

from fea import cli
from fea import sweep as sweeps
from fea.cli.app import Stopped
from fea.console import sweep as shown
from fea.hand.beam import beam_check
from fea.options.by_hand import evaluate_by_hand
from fea.options.candidates import Candidate, candidates
from fea.options.evaluation import Row, StackFigures, evaluate
from fea.sweep import cluster, jobs, keys, workers
from fea.sweep.store import NAME, opened
from geometry import case as case_file
from geometry import layout
from geometry.errors import PlatestackError, UsageError

ROOT = Path(__file__).parents[2]
SMALL = ROOT / "cases" / "small.toml"
FIGURES = StackFigures(1e8, None, 0.5, 1e-4, 1e-6, 0.1 + 0.2, 50.0, None)
ROW = Row("2 plates", "by beam", "", FIGURES, FIGURES, 1 / 3, 0.8, 25.0, 1.5e5, "bed", 0.9)

# --- rows


def test_a_row_is_written_once_and_read_back_exactly(tmp_path):
    with opened(tmp_path / "a" / "b") as store:
        store.add("k1", ROW, "beam", "1")
        store.add("k1", replace(ROW, label="another"), "beam", "1")
        store.add("k2", Row("odd", "failed", "no such plate"), "beam", "1")
    with opened(tmp_path / "a" / "b") as store:
        assert store.known(["k1", "k2", "k3"]) == {"k1", "k2"}
        assert store.rows(["k1", "k2", "k3"]) == {
            "k1": ROW,
            "k2": Row("odd", "failed", "no such plate"),
        }
        assert store.forget_failed() == 1
        assert store.known(["k1", "k2"]) == {"k1"}


@settings(deadline=None, max_examples=25)
@given(st.lists(st.floats(allow_nan=False), min_size=3, max_size=3), st.text(max_size=20))
def test_any_row_comes_back_as_it_was(tmp_path_factory, numbers, label):
    label = label.encode("utf-8", "ignore").decode()
    row = replace(ROW, label=label, mass=numbers[0], height=numbers[1], rod_force=numbers[2])
    with opened(tmp_path_factory.mktemp("rows")) as store:
        store.add("k", row, "beam", "1")
        assert store.rows(["k"]) == {"k": row}


def test_many_keys_at_once(tmp_path):
    with opened(tmp_path / "rows") as store:
        for number in range(1201):
            store.add(str(number), ROW, "beam", "1")
        assert len(store.known(str(n) for n in range(5000))) == 1201


def test_a_writer_that_was_killed_leaves_no_lock(tmp_path):
    with opened(tmp_path) as store:
        store.add("k1", ROW, "beam", "1")
    holds = (
        "import sqlite3, sys, time; c = sqlite3.connect(sys.argv[1], isolation_level=None);"
        "c.execute('BEGIN IMMEDIATE'); c.execute('DELETE FROM options'); print('held', flush=True);"
        "time.sleep(60)"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", holds, tmp_path / NAME], stdout=subprocess.PIPE, text=True
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    holder.kill()
    holder.communicate()
    with opened(tmp_path) as store:
        store.add("k2", ROW, "beam", "1")
        assert store.known(["k1", "k2"]) == {"k1", "k2"}


def test_what_is_no_sweep_is_refused(tmp_path):
    (tmp_path / "notes").mkdir()
    (tmp_path / "notes" / "letter.txt").write_text("dear", encoding="utf-8")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / NAME).write_text("no database, but long enough to be one" * 99, "utf-8")
    (tmp_path / "newer").mkdir()
    for name, statement in (("newer", "PRAGMA user_version = 99"),):
        connection = sqlite3.connect(tmp_path / name / NAME)
        connection.execute(statement)
        connection.close()
    for name, words in (("notes", "something else"), ("other", "not the rows"), ("newer", "99")):
        with pytest.raises(UsageError, match=words) as caught, opened(tmp_path / name):
            pass
        assert "\n" not in str(caught.value)
    assert (tmp_path / "notes" / "letter.txt").read_text(encoding="utf-8") == "dear"


def test_rows_that_cannot_be_kept_are_told(tmp_path, monkeypatch):
    def full(_):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr("fea.sweep.store._prepare", full)
    words = "cannot be kept: database or disk is full"
    with pytest.raises(PlatestackError, match=words) as caught, opened(tmp_path / "rows"):
        pass
    assert caught.value.exit_code == 3


def test_a_key_names_all_that_a_row_depends_on(small_case):
    thin = Candidate((("thickness", 0.04),))
    other = small_case.model_copy(
        update={"press": small_case.press.model_copy(update={"capacity": 2e5})}
    )
    made = {
        keys.key(small_case, thin, "beam", "1"),
        keys.key(other, thin, "beam", "1"),
        keys.key(small_case, Candidate((("thickness", 0.041),)), "beam", "1"),
        keys.key(small_case, Candidate((("thickness", 0.04), ("plates", 2))), "beam", "1"),
        keys.key(small_case, thin, "full", "1"),
        keys.key(small_case, thin, "beam", "2"),
    }
    assert len(made) == 6
    again = case_file.read(SMALL)
    assert keys.key(again, thin, "beam", "1") in made
    assert keys.code().startswith("0.")


# --- by beam theory


def test_by_beam_is_the_beam_and_covers_the_full_solve(small_case, small_solution):
    row = evaluate_by_hand(small_case, Candidate())
    assert row.state == "by beam"
    press = small_solution.press
    assert (row.mass, row.height) == (press.mass, press.height)
    # Half of the capacity on each of two rods.
    assert row.rod_force == pytest.approx(press.capacity / 2, rel=1e-6)
    for figures, stack in ((row.crosshead, press.crosshead), (row.bed, press.bed)):
        beam = beam_check(stack, press.rods, press.capacity)
        assert figures.mid_span_deflection == pytest.approx(beam.welded.expected)
        assert figures.peak_von_mises == beam.welded.bending_stress
        assert figures.peak_error is None
        solved = small_solution.stacks[stack.name].deflection
        assert abs(solved - figures.mid_span_deflection) <= figures.deflection_error


def test_clamped_lies_between_welded_and_loose(small_case):
    rows = {
        kind: evaluate_by_hand(small_case, Candidate((("interface", kind),))).bed
        for kind in ("welded", "clamped", "loose")
    }
    clamped = rows["clamped"]
    low = clamped.mid_span_deflection - clamped.deflection_error
    high = clamped.mid_span_deflection + clamped.deflection_error
    welded, loose = rows["welded"], rows["loose"]
    assert low == pytest.approx(welded.mid_span_deflection - welded.deflection_error)
    assert high == pytest.approx(loose.mid_span_deflection + loose.deflection_error)
    # Two equal plates, bending alone: loose is four times softer; shear takes from that.
    assert 2 < loose.mid_span_deflection / welded.mid_span_deflection < 4


def test_by_beam_is_priced(four_rods):
    """Hoses at 250 make any press dearer by as much; without prices there is no cost."""
    more = '[prices]\ncurrency = "EUR"\nplate = "1.40 per kg"\n'
    dear = more + "extra = { hoses = 250.0 }\n"
    none, cheap, dearer = (
        evaluate_by_hand(case_file.parse(four_rods(more=text)), Candidate()).cost
        for text in ("", more, dear)
    )
    assert none is None
    assert dearer == pytest.approx(cheap + 250)


def test_what_beam_theory_cannot_tell_is_a_reason(small_case, four_rods):
    more = '[workpiece]\ndiameter = "100 mm"\noffset = ["0 mm", "20 mm"]'
    row = evaluate_by_hand(case_file.parse(four_rods(more=more)), Candidate())
    assert row.state == "failed"
    assert "off the axis across" in row.reason
    assert evaluate_by_hand(small_case, Candidate((("thickness", 0.9),))).state == "failed"


# --- the command, without processes


@pytest.fixture
def alone(monkeypatch):
    """Let options be evaluated in this process; yields how many, and when to be interrupted."""
    state = {"made": 0, "stop": None}

    @contextmanager
    def connected(scheduler, workers):
        yield None

    def outcomes(client, work, jobs):
        for key, job in jobs.items():
            if state["made"] == state["stop"]:
                raise Stopped(signal.SIGINT)
            state["made"] += 1
            yield key, None if job.candidate.label == "2 plates, plates 47 mm" else work(job)

    monkeypatch.setattr(cluster, "connected", connected)
    monkeypatch.setattr(cluster, "outcomes", outcomes)
    monkeypatch.setattr(cli.signal, "signal", lambda *_: None)
    return state


def command(monkeypatch, capsys, *words: object) -> tuple[int, str, str]:
    monkeypatch.setattr(sys, "argv", ["platestack", "sweep", *map(str, words)])
    with pytest.raises(SystemExit) as left:
        cli.main()
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


WISHES = ("--plates", "2", "--thickness", "45..49 mm step 1 mm, 900 mm", "--method", "beam")


def test_an_interrupted_command_goes_on(alone, monkeypatch, capsys, tmp_path):
    whole, broken = tmp_path / "whole", tmp_path / "broken"
    code, said, _ = command(monkeypatch, capsys, SMALL, *WISHES, "--out", whole)
    assert code == 0
    assert "6 options: 4 within all limits looked at, 0 beyond one, 2 failed" in said
    assert "2 plates, plates 45 mm" in said
    assert "without stress concentration" in said
    assert alone["made"] == 6

    alone["stop"] = 6 + 3
    code, _, errors = command(monkeypatch, capsys, SMALL, *WISHES, "--out", broken)
    assert code == 130
    assert "3 of 6 rows are kept" in errors
    assert not (broken / "sweep.csv").exists()
    alone["stop"] = None
    code, said, _ = command(monkeypatch, capsys, SMALL, *WISHES, "--out", broken)
    assert code == 0
    assert "3 computed now, 3 known before" in said
    assert alone["made"] == 12
    assert (broken / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()
    with (whole / "sweep.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["state"] for row in rows] == ["by beam"] * 2 + ["failed"] + ["by beam"] * 2 + [
        "failed"
    ]
    assert "worker process died" in rows[2]["reason"]
    assert "900 mm" in rows[5]["reason"]

    command(monkeypatch, capsys, SMALL, *WISHES, "--retry", "--out", broken)
    assert alone["made"] == 14  # the two failed ones


def test_a_sweep_of_failures_is_an_error(alone, monkeypatch, capsys, tmp_path):
    words = (SMALL, "--thickness", "900 mm", "--method", "beam", "--out", tmp_path / "s")
    code, said, errors = command(monkeypatch, capsys, *words)
    assert code == 3
    assert "failed, 1 times" in said
    assert "no option" in errors


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "nothing to sweep"),
        (("--thickness", "1..2"), "unit is missing"),
        (("--thickness", "50 mm", "--method", "guess"), "allowed: full, beam"),
        (("--thickness", "50 mm", "--scheduler", "x", "--workers", "2"), "one of the two"),
        (("--thickness", "50 mm", "--scheduler", "hello"), "nobody answers"),
        (("--thickness", "50 mm", "--scheduler", "tcp://127.0.0.1:1"), "nobody answers"),
    ],
)
def test_bad_words_are_told_and_nothing_is_made(monkeypatch, capsys, tmp_path, words, said):
    monkeypatch.setattr(cli.signal, "signal", lambda *_: None)
    monkeypatch.setattr(cluster, "WAIT", 0.5)
    code, _, errors = command(monkeypatch, capsys, SMALL, *words, "--out", tmp_path / "s")
    assert code == 2
    assert said in " ".join(errors.split())
    assert not (tmp_path / "s").exists()


def test_a_fault_is_a_row_and_other_code_is_refused(small_case, monkeypatch):
    job = jobs.Job(small_case, Candidate(), "beam", keys.code())

    def fail(case, candidate):
        raise ZeroDivisionError("by\nzero")

    monkeypatch.setitem(jobs.METHODS, "beam", fail)
    assert jobs.work(job).reason == "unexpected fault: ZeroDivisionError: by zero"
    with pytest.raises(jobs.OtherCode, match="install the same"):
        jobs.work(replace(job, code="0.0.1+0"))


def test_remaining_time(monkeypatch):
    now = iter((0.0, 100.0, 160.0))
    monkeypatch.setattr(shown.time, "monotonic", lambda: next(now))
    pace = shown.Pace()
    pace.begin(40)
    assert pace.left(40, 100) == "remaining time not known yet"
    assert pace.left(50, 100) == "5 min left"  # 10 options a minute, 50 to go
    assert [shown.duration(s) for s in (3.4, 99, 100, 3600, 11_100)] == [
        "3 s", "99 s", "2 min", "1 h 00 min", "3 h 05 min",
    ]  # fmt: skip


# --- with processes


def test_a_deadly_option_is_given_up_and_the_others_are_done(tmp_path):
    # Killed from outside as well: one worker, once.
    marks = tmp_path / "marks"
    given = {f"job {n}": (n, str(marks)) for n in range(30)}
    found, killed = [], False
    with cluster.connected(None, 2) as client:
        for key, result in cluster.outcomes(client, sweep_work.square_or_die, given):
            found.append((key, result))
            if len(found) > 3 and not killed and workers_of(os.getpid()):
                os.kill(workers_of(os.getpid())[0], signal.SIGKILL)
                killed = True
        with pytest.raises(PlatestackError, match="LookupError: no 1"):
            list(cluster.outcomes(client, sweep_work.fault, {"a": 1}))
    assert killed
    assert len(found) == len(given)
    assert dict(found) == {f"job {n}": None if n == 7 else n * n for n in range(30)}
    assert 1 <= marks.read_text(encoding="utf-8").count("died") <= cluster.DEATHS
    assert not workers_of(os.getpid())


def test_workers_that_cannot_start_are_told(monkeypatch):
    monkeypatch.setattr(workers, "PATIENCE", 2)
    monkeypatch.setattr(workers.sys, "executable", "/bin/false")
    with (
        pytest.raises(PlatestackError, match=r"worker processes do not start \(exit code 1\)"),
        cluster.connected(None, 1) as client,
    ):
        list(cluster.outcomes(client, sweep_work.fault, {"a": 1}))


def workers_of(pid: int) -> list[int]:
    """Processes that work for a process."""
    kinds = ("spawn_main", "dask_worker")  # those of a nanny, and those of the command
    found = []
    for child in psutil.Process(pid).children(recursive=True):
        with suppress(psutil.NoSuchProcess):  # a zombie, or just gone
            if any(kind in " ".join(child.cmdline()) for kind in kinds):
                found.append(child.pid)
    return found


MANY = {"plates": "1, 2, 3, 4, 5", "thickness": "20..119.5 mm step 0.5 mm",
        "grade": "S355J2, S235JR"}  # fmt: skip
ONE_THREAD = {"NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}


@pytest.fixture(scope="module")
def undisturbed(small_case, tmp_path_factory):
    """The CSV of 2,000 options evaluated one after the other."""
    rows = tuple(evaluate_by_hand(small_case, one) for one in candidates(MANY, 2000))
    assert len(rows) == 2000
    path = tmp_path_factory.mktemp("undisturbed") / "sweep.csv"
    sweeps.export(sweeps.Sweep(rows, 2000), path)
    return path.read_bytes()


def start(module: str, *words: object, **kinds: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", module, *map(str, words)],
        env={**os.environ, **ONE_THREAD},
        text=True,
        **kinds,
    )


def count(folder: Path) -> int:
    """Rows in a database that another process writes."""
    if not (folder / NAME).exists():
        return 0
    connection = sqlite3.connect(folder / NAME, timeout=30)
    try:
        return connection.execute("SELECT count(*) FROM options").fetchone()[0]
    except sqlite3.OperationalError:  # the table is not there yet
        return 0
    finally:
        connection.close()


def wait_for(folder: Path, rows: int, process: subprocess.Popen[str]) -> None:
    while count(folder) < rows:
        assert process.poll() is None, process.communicate()
        time.sleep(0.05)


@contextmanager
def by_hand(folder: Path):
    """A scheduler and two workers on loopback; yields words for the command, parent of workers."""
    file = folder / "scheduler.json"
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    scheduler = start(
        "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", 0, "--no-dashboard",
        "--scheduler-file", file, **quiet,
    )  # fmt: skip
    worker = start(
        "distributed.cli.dask_worker", "--scheduler-file", file, "--nworkers", 2, "--nthreads", 1,
        "--no-dashboard", "--local-directory", folder, **quiet,
    )  # fmt: skip
    try:
        while not (file.exists() and '"address"' in file.read_text(encoding="utf-8")):
            assert scheduler.poll() is None
            time.sleep(0.1)
        address = file.read_text(encoding="utf-8").split('"address": "')[1].split('"')[0]
        yield ("--scheduler", address), worker.pid
    finally:
        for process in (worker, scheduler):
            process.terminate()
            process.wait(60)


@contextmanager
def embedded(folder: Path):
    yield ("--workers", 2), None


@pytest.mark.slow
@pytest.mark.parametrize("place", [embedded, by_hand])
def test_two_killed_workers_and_an_interruption_change_nothing(place, undisturbed, tmp_path):
    folder = tmp_path / "sweep"
    wishes = [word for name, text in MANY.items() for word in (f"--{name}", text)]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with place(tmp_path) as (where, parent):
        words = ("sweep", SMALL, *wishes, "--method", "beam", "--out", folder, *where)
        first = start("fea.cli", *words, **pipes)
        for rows in (300, 700):
            wait_for(folder, rows, first)
            os.kill(workers_of(parent or first.pid)[0], signal.SIGKILL)
        wait_for(folder, 1200, first)
        first.send_signal(signal.SIGINT)
        said, errors = first.communicate(timeout=300)
        assert first.returncode == 130, errors
        assert "the same command goes on from there" in " ".join(errors.split())
        assert "Traceback" not in said + errors
        kept = count(folder)
        assert 1200 <= kept < 2000
        second = start("fea.cli", *words, **pipes)
        said, errors = second.communicate(timeout=600)
        assert second.returncode == 0, errors
        assert f"{2000 - kept:,} computed now, {kept:,} known before" in " ".join(said.split())
        # A slow machine is told of progress, line by line.
        assert all(" options, " in line and " left" in line for line in errors.splitlines())
    assert count(folder) == 2000
    assert (folder / "sweep.csv").read_bytes() == undisturbed


@pytest.mark.slow
def test_a_full_solve_in_a_worker_is_the_one_in_this_process(small_case, tmp_path, monkeypatch):
    chosen = candidates({"thickness": "45 mm, 55 mm"})
    with opened(tmp_path / "sweep") as store:
        found = sweeps.sweep(small_case, chosen, store, lambda *_: None, workers=2)
    for row, one in zip(found.rows, chosen, strict=True):
        here = evaluate(small_case, one)
        assert row.state == here.state == "verified"
        # The order of sums differs with the number of threads.
        for name, value in asdict(here).items():
            if isinstance(value, float):
                assert getattr(row, name) == pytest.approx(value, rel=1e-6)
        assert row.bed.mid_span_deflection == pytest.approx(here.bed.mid_span_deflection, rel=1e-6)
        assert row.bed.peak_von_mises == pytest.approx(here.bed.peak_von_mises, rel=1e-6)


def test_the_press_of_a_row_is_the_one_built(small_case):
    candidate = Candidate((("plates", 3), ("thickness", 0.04)))
    press = layout.build(candidate.apply(small_case))
    assert evaluate_by_hand(small_case, candidate).mass == press.mass
