"""The queue: bounded, one at a time; cancelling frees it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from platestack.fea.app.page import child, forms, jobs
from platestack.geometry.errors import UsageError
from platestack.geometry.schema import Case


@pytest.fixture
def queue(tmp_path):
    made = jobs.Jobs(tmp_path / "results")
    yield made
    made.close()


def until(condition, seconds=60.0):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_the_queue_is_bounded_and_cancelling_frees_it(queue, small_text, tmp_path):
    first = queue.add("first", small_text)
    until(lambda: first.state == "running" and first.steps > 0)
    waiting = [queue.add(f"w{i}", small_text) for i in range(jobs.MOST_WAITING)]
    with pytest.raises(UsageError, match="waiting"):
        queue.add("one more", small_text)
    assert [j.state for j in waiting] == ["waiting"] * jobs.MOST_WAITING
    for job in waiting:
        queue.cancel(job.number)
    queue.cancel(first.number)
    until(lambda: first.words != "")
    assert first.state == "cancelled"
    assert not list((tmp_path / "results").glob("*")) + list((tmp_path / "results").glob(".*"))


def test_a_bad_case_fails_with_its_sentence(queue):
    job = queue.add("bad", "[press]\nname = 1\n")
    until(lambda: job.state == "failed")
    assert "press" in job.words
    assert "Traceback" not in job.words


def test_every_key_of_a_case_is_in_the_form():
    form = forms.form()
    assert [f["name"] for f in form["fields"]] == list(Case.model_fields)
    bed = next(f for f in form["fields"] if f["name"] == "bed")
    openings = next(f for f in bed["fields"] if f["name"] == "openings")
    assert set(openings["item"]["tables"]) == {"round", "rectangle", "groove", "contour"}
    kinds = {"table", "map", "list", "one of", "quantity", "choice", "number", "text", "yes or no"}

    def walk(entry):
        assert entry["kind"] in kinds
        for inner in entry.get("fields", []):
            walk(inner)
        for inner in (entry["item"],) if "item" in entry else ():
            walk(inner)

    walk(form)


QUICK = """
import time
from platestack.fea.app.page import child
sleeper = child.start("tests.page.sleeper")
sleeper.stdout.readline()
print(sleeper.pid, flush=True)
time.sleep(600)
"""
WHOLE = """
import sys, time
from pathlib import Path
from platestack.fea.app.page.instant import Instant
from platestack.fea.app.page.jobs import Jobs
results, text = Path(sys.argv[1]), Path(sys.argv[2]).read_text()
jobs, instant = Jobs(results), Instant(results)
job = jobs.add("first", text)
instant.make(text)
while job.steps < 2 or instant.shown()["step"] == "start":
    time.sleep(0.02)
print(jobs._process.pid, instant._process.pid, flush=True)
time.sleep(600)
"""


def alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
@pytest.mark.parametrize(
    ("script", "count"), [(QUICK, 1), pytest.param(WHOLE, 2, marks=pytest.mark.slow)]
)
def test_what_computes_ends_with_a_killed_server(tmp_path, small_text, script, count):
    case = tmp_path / "small.toml"
    case.write_text(small_text)
    server = subprocess.Popen(
        [sys.executable, "-c", script, tmp_path / "results", case],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
    )
    children = [int(pid) for pid in server.stdout.readline().split()]
    assert len(children) == count
    assert all(alive(pid) for pid in children)
    server.send_signal(signal.SIGKILL)
    server.wait()
    server.stdout.close()
    until(lambda: not any(alive(pid) for pid in children), 4 * child.PATIENCE)
    assert not (tmp_path / "results" / "first").exists()


def test_nothing_in_the_working_directory_is_code(tmp_path, monkeypatch, small_text):
    for name in ("tempfile", "fcntl", "platestack", "tomllib"):
        (tmp_path / f"{name}.py").write_text("open('ran', 'w').close()\nraise SystemExit(0)\n")
    monkeypatch.chdir(tmp_path)
    process = child.start("platestack.fea.app.page.worker")
    place = tmp_path / "results" / "x"
    child.send(process, {"name": "x", "text": "[press]\nname = 1\n", "out": str(place)})
    assert "press" in process.stdout.read()
    assert process.wait() == 2
    child.release(process)
    assert not (tmp_path / "ran").exists()


def test_a_run_under_way_is_not_asked_twice(queue, small_text):
    first = queue.add("first", small_text)
    with pytest.raises(UsageError, match="already"):
        queue.add("first", small_text)
    dossier = queue.add("first", None)
    with pytest.raises(UsageError, match="already"):
        queue.add("first", None)
    queue.cancel(dossier.number)
    queue.cancel(first.number)
    queue.add("first", small_text)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="signals of POSIX")
def test_a_killed_run_is_told_and_leaves_nothing(queue, small_text, tmp_path):
    job = queue.add("first", small_text)
    until(lambda: job.steps > 0 and list((tmp_path / "results").glob(".first*")))
    os.killpg(queue._process.pid, signal.SIGKILL)
    until(lambda: job.state == "failed")
    assert "before it was complete" in job.words
    assert list((tmp_path / "results").iterdir()) == []


def test_words_of_a_child_are_read_whatever_the_locale(monkeypatch):
    monkeypatch.setenv("PYTHONIOENCODING", "latin-1")
    process = child.start("tests.page.sleeper")
    assert process.stdout.readline() == "step asleep · 1\n"
    child.end(process)
    child.release(process)
