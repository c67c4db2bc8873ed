"""Runs, pictures, signals and terminals: the command line as a user starts it."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time

import pytest
from command_line import SMALL, environment, finished, listing, process


@pytest.fixture(scope="module")
def ran(tmp_path_factory, welded_text):
    """The small case, its plates welded, run as a user does, with its pictures."""
    place = tmp_path_factory.mktemp("ran")
    (place / "small.toml").write_text(welded_text, encoding="utf-8")
    return place, *finished("run", "small.toml", place=place)


def test_run_does_the_whole_job(ran):
    place, code, out, err = ran
    assert (code, err) == (0, "")
    assert listing(place / "results" / "small") == [
        "bed_face.png", "case.toml", "crosshead_face.png", "deflection.png", "fields.vtu",
        "mesh.png", "run.log", "stress.png", "summary.json",
    ]  # fmt: skip
    assert out.splitlines()[-1] == "results in results/small"
    assert "checks within their limits" in out
    assert re.match(r"expects [\d,]+ unknowns, about [\d.]+ GB, about \d+ s;", out)
    assert not re.search(r"\bsafe\b", out)
    assert max(map(len, out.splitlines())) <= 100


@pytest.mark.slow
def test_verbose_explains_on_standard_error(tmp_path):
    """What is decided and why, with time and memory; the output stays as it is."""
    code, out, err = finished("solve", SMALL, "--verbose", place=tmp_path)
    assert code == 0
    line = r"^ *\d+\.\d\d s +\d+ MB  {}  +{}"
    for who, what in (
        ("forecast", r"expects [\d,]+ unknowns"),
        (
            "stack",
            "crosshead: a quarter is modelled, mirrored at x = 0 and y = 0, welded",
        ),
        ("pressing", r"[\d,]+ unknowns solved: \d+ iterations"),
        (
            "stack",
            r"bed: pass 1, [\d,]+ unknowns: estimated over allowed error deflection",
        ),
        ("stack", "bed: accurate enough"),
    ):
        assert re.search(line.format(re.escape(who), what), err, re.M), what
    assert "accurate enough" not in out
    log = (tmp_path / "results" / "small" / "run.log").read_text()
    assert "a quarter is modelled" in log
    assert re.search(r"^most memory [\d,]+ MB$", log, re.M)


@pytest.mark.slow
def test_too_little_memory_is_told_in_one_line(tmp_path):
    """The limit is one of address space, as `ulimit -v` sets it."""
    words = f"ulimit -v 600000; exec {sys.executable} -m platestack solve {SMALL}"
    done = subprocess.run(
        ["bash", "-c", words],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env=environment(),
    )
    assert done.returncode == 3
    assert len(done.stderr.splitlines()) == 1, done.stderr
    assert "memory" in done.stderr
    assert listing(tmp_path) == []


@pytest.mark.slow
def test_view_writes_a_picture(ran):
    place = ran[0]
    words = ("view", "results/small", "--field", "deflection", "--part", "bed", "--cut", "y = 0 mm")
    code, out, _ = finished(*words, "--out", "bed.png", place=place)
    assert (code, out) == (0, "picture in bed.png\n")
    assert (place / "bed.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.slow
def test_mesh_writes_meshes_and_a_picture(tmp_path):
    code, out, _ = finished("mesh", SMALL, "--out", "meshes", place=tmp_path)
    assert code == 0
    assert listing(tmp_path / "meshes") == [
        "bed.msh", "crosshead.msh", "mesh.json", "mesh.png", "mesh.vtu",
    ]  # fmt: skip
    assert out.splitlines()[-1] == "results in meshes"
    assert re.search(r"^bed: quarter model, [\d,]+ quadratic tetrahedra", out, re.M)


@pytest.mark.parametrize(
    ("number", "code"),
    [
        (signal.SIGINT, 130),
        pytest.param(signal.SIGTERM, 143, marks=pytest.mark.slow),
        pytest.param(signal.SIGHUP, 129, marks=pytest.mark.slow),
    ],
)
def test_an_interrupted_run_leaves_nothing(tmp_path, number, code):
    started = process("run", SMALL, place=tmp_path)
    deadline = time.monotonic() + 60
    while not (tmp_path / "results").exists():  # until it works on its results
        assert time.monotonic() < deadline
        assert started.poll() is None
        time.sleep(0.05)
    time.sleep(1.0)
    for _ in range(5):  # by an impatient hand
        started.send_signal(number)
        time.sleep(0.001)
    told = started.stderr.readline()
    while started.poll() is None:  # while the interpreter tears itself down, too
        assert time.monotonic() < deadline + 60
        started.send_signal(number)
        time.sleep(0.001)
    out, err = started.communicate()
    assert started.returncode == code
    assert (told, err) == ("interrupted; no results are left half-written\n", "")
    assert "Traceback" not in out
    assert listing(tmp_path) == []


def test_a_terminal_that_knows_ascii_only_gets_question_marks(tmp_path):
    plain = environment(LC_ALL="C", PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
    done = subprocess.run(
        [sys.executable, "-m", "platestack", "tables"], env=plain, cwd=tmp_path,
        capture_output=True, check=True,
    )  # fmt: skip
    assert b"?" in done.stdout
    assert done.stdout.isascii()


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        ("tables >&-", 0, ""),  # no output at all
        ("tables <&- >&- 2>&-", 0, ""),
        ("mesh nowhere.toml <&- >&- 2>&-", 2, ""),
        ("tables > /dev/full", 3, "cannot write the output: No space left on device"),
        ("--help > /dev/full", 3, "cannot write the output: No space left on device"),
        ("mesh nowhere.toml 2> /dev/full", 2, ""),
        ("mesh --nope 2> /dev/full", 2, ""),
        ("tables > /dev/full 2> /dev/full", 3, ""),
    ],
)
def test_streams_that_are_closed_or_full(tmp_path, words, code, told):
    buffered = environment(PYTHONUNBUFFERED="")  # what cannot be written stays behind
    done = subprocess.run(
        ["sh", "-c", f"{sys.executable} -m platestack {words}"], env=buffered, cwd=tmp_path,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == code
    assert done.stdout == ""
    assert told in done.stderr
    assert done.stderr.count("\n") == bool(told)
    assert listing(tmp_path) == []


@pytest.mark.parametrize(
    ("words", "closed", "code"),
    [(("mesh", "nowhere.toml"), "stderr", 2), (("tables",), "stdout", 0)],
)
def test_who_stops_reading_does_not_change_the_exit_code(tmp_path, words, closed, code):
    with process(*words, place=tmp_path) as started:
        getattr(started, closed).close()
        other = started.stdout if closed == "stderr" else started.stderr
        assert other.read() == ""
        assert started.wait(60) == code


def test_an_interruption_while_it_loads_is_quiet(tmp_path):
    (tmp_path / "typer").mkdir()
    slow = "import os, signal\nos.kill(os.getpid(), signal.SIGINT)\nraise AssertionError"
    (tmp_path / "typer" / "__init__.py").write_text(slow)
    done = subprocess.run(
        [sys.executable, "-m", "platestack", "tables"], env=environment(), cwd=tmp_path,
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (-signal.SIGINT, "")
