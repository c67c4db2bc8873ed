"""The command `sweep` with its options evaluated in this process."""

from __future__ import annotations

import asyncio
import csv
import signal
from contextlib import contextmanager

import pytest
from command_line import SMALL

from platestack.fea.app.cli.app import Stopped
from platestack.fea.app.console import sweep as shown
from platestack.fea.jobs.sweep import cluster
from platestack.geometry.errors import UsageError


@pytest.fixture
def alone(monkeypatch):
    """Let options be evaluated in this process; yields how many, and when to be interrupted."""
    state = {"made": 0, "stop": None}

    @contextmanager
    def connected(scheduler, workers):
        yield None

    def results(client, work, jobs):
        for key, job in jobs.items():
            if state["made"] == state["stop"]:
                raise Stopped(signal.SIGINT)
            state["made"] += 1
            yield key, None if job.option.label == "2 plates, plates 47 mm" else work(job)

    monkeypatch.setattr(cluster, "connected", connected)
    monkeypatch.setattr(cluster, "results", results)
    return state


WISHES = ("--plates", "2", "--thickness", "45..49 mm step 1 mm, 900 mm", "--method", "beam")


def test_an_interrupted_command_goes_on(alone, call, tmp_path):
    whole, broken = tmp_path / "whole", tmp_path / "broken"
    code, said, _ = call("sweep", SMALL, *WISHES, "--out", whole)
    assert code == 0
    # Loose plates of 45 mm bend by 0.485 mm, of 0.42 mm allowed; others as the cube of thickness.
    assert "6 options: 2 within all limits checked, 2 beyond one, 2 failed" in said
    assert "2 plates, plates 48 mm" in said
    assert "without stress concentration" in said
    assert alone["made"] == 6

    alone["stop"] = 6 + 3
    code, _, errors = call("sweep", SMALL, *WISHES, "--out", broken)
    assert code == 130
    assert "3 of 6 rows are kept" in errors
    assert not (broken / "sweep.csv").exists()
    alone["stop"] = None
    code, said, _ = call("sweep", SMALL, *WISHES, "--out", broken)
    assert code == 0
    assert "3 computed now, 3 known before" in said
    assert alone["made"] == 12
    assert (broken / "sweep.csv").read_bytes() == (whole / "sweep.csv").read_bytes()
    with (whole / "sweep.csv").open(newline="", encoding="utf-8") as file:
        assert next(file).startswith("# urn:platestack:sweep:1; platestack ")
        rows = list(csv.DictReader(file))
    assert [row["state"] for row in rows] == ["by beam"] * 2 + ["failed"] + ["by beam"] * 2 + [
        "failed"
    ]
    assert "worker process died" in rows[2]["reason"]
    assert "900 mm" in rows[5]["reason"]

    call("sweep", SMALL, *WISHES, "--retry", "--out", broken)
    assert alone["made"] == 14  # the two failed ones


def test_a_sweep_of_failures_is_an_error(alone, call, tmp_path):
    words = (SMALL, "--thickness", "900 mm", "--method", "beam", "--out", tmp_path / "s")
    code, said, errors = call("sweep", *words)
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
def test_bad_words_are_told_and_nothing_is_made(call, monkeypatch, tmp_path, words, said):
    monkeypatch.setattr(cluster, "WAIT", 0.5)
    code, _, errors = call("sweep", SMALL, *words, "--out", tmp_path / "s")
    assert code == 2
    assert said in " ".join(errors.split())
    assert not (tmp_path / "s").exists()


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


def test_a_scheduler_is_asked_where_an_event_loop_runs():
    """As in a notebook: no second loop can run in that thread."""

    async def inside() -> None:
        cluster.reach("tcp://127.0.0.1:1")

    with pytest.raises(UsageError, match="nobody answers") as told:
        asyncio.run(inside())
    assert "event loop" not in str(told.value)
