"""Sweeps in worker processes: whoever dies in between, the rows are the same.

What a sweep must end in is known from outside it: the same options evaluated one after the other
in this process.
"""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from asyncio import CancelledError
from contextlib import contextmanager, suppress
from dataclasses import asdict
from pathlib import Path
from types import SimpleNamespace

import psutil
import pytest
import sweep_work
from command_line import SMALL, environment

from platestack.fea.jobs import sweep as sweeps
from platestack.fea.jobs.options.by_hand import evaluate_by_hand
from platestack.fea.jobs.options.evaluation import evaluate
from platestack.fea.jobs.options.variation import combinations
from platestack.fea.jobs.sweep import cluster, workers
from platestack.fea.jobs.sweep.store import NAME, opened
from platestack.geometry.errors import PlatestackError


def test_a_deadly_option_is_given_up_and_the_others_are_done(tmp_path):
    # Killed from outside as well: one worker, once.
    marks = tmp_path / "marks"
    given = {f"job {n}": (n, str(marks)) for n in range(30)}
    found, killed = [], False
    with cluster.connected(None, 2) as client:
        for key, result in cluster.results(client, sweep_work.square_or_die, given):
            found.append((key, result))
            if len(found) > 3 and not killed and workers_of(os.getpid()):
                os.kill(workers_of(os.getpid())[0], signal.SIGKILL)
                killed = True
        with pytest.raises(PlatestackError, match="LookupError: no 1"):
            list(cluster.results(client, sweep_work.fault, {"a": 1}))
    assert killed
    assert len(found) == len(given)
    assert dict(found) == {f"job {n}": None if n == 7 else n * n for n in range(30)}
    assert 1 <= marks.read_text(encoding="utf-8").count("died") <= cluster.DEATHS
    assert not workers_of(os.getpid())


@pytest.mark.parametrize("status", ["finished", "lost", "pending"])
def test_a_result_counts_though_its_worker_died_after_it_came(status):
    run = cluster._Run(SimpleNamespace(client=None), sweep_work.fault, {"a": 1})
    assert run.survived("a", SimpleNamespace(status=status), 25)
    with pytest.raises(PlatestackError, match="CancelledError"):
        run.survived("a", SimpleNamespace(status="cancelled"), CancelledError("option"))


def test_workers_that_cannot_start_are_told(monkeypatch):
    monkeypatch.setattr(workers, "PATIENCE", 2)
    monkeypatch.setattr(workers.sys, "executable", "/bin/false")
    with (
        pytest.raises(PlatestackError, match=r"worker processes do not start \(exit code 1\)"),
        cluster.connected(None, 1) as client,
    ):
        list(cluster.results(client, sweep_work.fault, {"a": 1}))


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


@pytest.fixture(scope="module")
def undisturbed(small_case, tmp_path_factory):
    """The CSV of 2,000 options evaluated one after the other."""
    rows = tuple(evaluate_by_hand(small_case, one) for one in combinations(MANY, 2000))
    assert len(rows) == 2000
    path = tmp_path_factory.mktemp("undisturbed") / "sweep.csv"
    sweeps.export(sweeps.Sweep(rows, 2000), path)
    return path.read_bytes()


def start(module: str, *words: object, **kinds: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", module, *map(str, words)],
        env=environment(NUMBA_NUM_THREADS="1", OMP_NUM_THREADS="1"),
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
        first = start("platestack.fea.app.cli", *words, **pipes)
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
        second = start("platestack.fea.app.cli", *words, **pipes)
        said, errors = second.communicate(timeout=600)
        assert second.returncode == 0, errors
        assert f"{2000 - kept:,} computed now, {kept:,} known before" in " ".join(said.split())
        # A slow machine is told of progress, line by line.
        assert all(" options, " in line and " left" in line for line in errors.splitlines())
    assert count(folder) == 2000
    assert (folder / "sweep.csv").read_bytes() == undisturbed


@pytest.mark.slow
def test_a_full_solve_in_a_worker_is_the_one_in_this_process(small_case, tmp_path, monkeypatch):
    chosen = combinations({"thickness": "45 mm, 55 mm"})
    with opened(tmp_path / "sweep") as store:
        found = sweeps.sweep(small_case, chosen, store, lambda *_: None, workers=2)
    for row, one in zip(found.rows, chosen, strict=True):
        here = evaluate(small_case, one)
        assert row.state == here.state == "solved in full"
        # The order of sums differs with the number of threads.
        for name, value in asdict(here).items():
            if isinstance(value, float):
                assert getattr(row, name) == pytest.approx(value, rel=1e-6)
        assert row.bed.mid_span_deflection == pytest.approx(here.bed.mid_span_deflection, rel=1e-6)
        assert row.bed.peak_von_mises == pytest.approx(here.bed.peak_von_mises, rel=1e-6)
