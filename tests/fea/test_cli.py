"""The command line: exit codes, plain words, files made or not made.

Most calls go through `cli.main` in this process; runs, pictures and signals through a process of
their own, as a user starts it.
"""

from __future__ import annotations

import functools
import io
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import pytest

from fea import cli, console, model, options, run, sizing, starter
from fea.cli.app import ORDER
from geometry import layout
from geometry.errors import MeshError, PlatestackError

ROOT = Path(__file__).parents[2]
SMALL = ROOT / "cases" / "small.toml"
NEW = ("--capacity", "30 tf", "--pressure", "25 MPa", "--length", "600 mm", "--width", "400 mm",
       "--daylight", "300 mm")  # fmt: skip


@pytest.fixture
def call(monkeypatch, capsys, tmp_path):
    """Call the command line in an empty directory: exit code, output, errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(cli.signal, "signal", lambda *_: None)

    def do(*words: object) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["platestack", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        captured = capsys.readouterr()
        assert "Traceback" not in captured.out + captured.err
        return int(left.value.code or 0), captured.out, captured.err

    return do


@pytest.fixture
def solved(monkeypatch, small_solution):
    """Let the case be solved already."""
    monkeypatch.setattr(run, "analyse", lambda case, report: small_solution)


def process(*words: object, place: Path, columns: int = 100) -> subprocess.Popen[str]:
    """Start the command line in a process of its own."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": str(columns)}
    return subprocess.Popen(
        [sys.executable, "-m", "fea.cli", *map(str, words)],
        cwd=place,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def finished(*words: object, place: Path) -> tuple[int, str, str]:
    """Run the command line in a process of its own to its end."""
    started = process(*words, place=place)
    out, err = started.communicate(timeout=120)
    assert "Traceback" not in out + err
    return started.returncode, out, err


def listing(place: Path) -> list[str]:
    return sorted(str(entry.relative_to(place)) for entry in place.rglob("*"))


# --- a user's runs, as processes


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    """The small case run as a user does, with its pictures."""
    place = tmp_path_factory.mktemp("ran")
    return place, *finished("run", SMALL, place=place)


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
        ("fea.forecast", r"expects [\d,]+ unknowns"),
        ("fea.stack", "crosshead: a quarter is modelled, mirrored at x = 0 and y = 0, welded"),
        ("fea.pressing", r"[\d,]+ unknowns solved: \d+ iterations"),
        ("fea.stack", r"bed: pass 1, [\d,]+ unknowns: estimated over allowed error deflection"),
        ("fea.stack", "bed: accurate enough"),
    ):
        assert re.search(line.format(re.escape(who), what), err, re.M), what
    assert "fea.stack" not in out
    log = (tmp_path / "results" / "small" / "run.log").read_text()
    assert "a quarter is modelled" in log
    assert re.search(r"^most memory [\d,]+ MB$", log, re.M)


@pytest.mark.slow
def test_too_little_memory_is_told_in_one_line(tmp_path):
    """The limit is one of address space, as `ulimit -v` sets it."""
    words = f"ulimit -v 600000; exec {sys.executable} -m fea.cli solve {SMALL}"
    done = subprocess.run(
        ["bash", "-c", words],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
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
    [(signal.SIGINT, 130), pytest.param(signal.SIGTERM, 143, marks=pytest.mark.slow)],
)
def test_an_interrupted_run_leaves_nothing(tmp_path, number, code):
    started = process("run", SMALL, place=tmp_path)
    deadline = time.monotonic() + 60
    while not (tmp_path / "results").exists():  # until it works on its results
        assert time.monotonic() < deadline
        assert started.poll() is None
        time.sleep(0.05)
    time.sleep(1.0)
    started.send_signal(number)
    out, err = started.communicate(timeout=60)
    assert started.returncode == code
    assert "interrupted; nothing was written" in err
    assert "Traceback" not in out + err
    assert listing(tmp_path) == []


# --- exit codes


def test_exceeded_limit_is_exit_code_one(call, solved, small_text, tmp_path, monkeypatch):
    limit = '[limits]\ndeflection = "0.01 mm/m"'
    (tmp_path / "stiff.toml").write_text(small_text.replace("[limits]", limit))
    # The stored solution is that of the softer case: only its limit changes.
    stored = run.analyse(None, None)

    def analyse(case, report):
        press = layout.build(case)
        stacks = {
            name: replace(one, stack=getattr(press, name)) for name, one in stored.stacks.items()
        }
        return model.Solution(case, press, stacks, 0.0)

    monkeypatch.setattr(run, "analyse", analyse)
    code, out, _ = call("solve", "stiff.toml")
    assert code == 1
    assert re.search(r"\b2 of \d+ limits exceeded", " ".join(out.split()))
    assert "bed: mid-span deflection" in out
    assert (tmp_path / "results" / "stiff" / "summary.json").is_file()  # the run is complete


def test_solve_draws_nothing_and_is_exit_code_zero(call, solved, tmp_path):
    code, out, _ = call("solve", SMALL)
    assert code == 0
    assert out.splitlines()[-1] == "results in results/small"
    assert listing(tmp_path / "results" / "small") == [
        "case.toml", "fields.vtu", "run.log", "summary.json",
    ]  # fmt: skip


def test_results_go_where_they_are_wanted(call, solved, tmp_path):
    assert call("solve", SMALL, "--out", "my runs/first")[0] == 0
    assert (tmp_path / "my runs" / "first" / "summary.json").is_file()
    assert not (tmp_path / "results").exists()
    # Again into the same place, from the case that was kept there.
    kept = tmp_path / "my runs" / "first" / "case.toml"
    assert call("solve", kept, "--out", "my runs/first")[0] == 0
    assert kept.read_text(encoding="utf-8") == SMALL.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("run", "nowhere.toml"), "nowhere.toml: given a file that cannot be read"),
        (("solve", "nowhere.toml"), "No such file or directory"),
        (("mesh", "nowhere.toml"), "allowed: a readable file"),
        (("compare", "nowhere.toml", "--thickness", "60 mm"), "nowhere.toml"),
        (("compare", SMALL, "--thickness", "60"), "--thickness"),
        (("compare", SMALL, "--thickness", "60 mm", "--stack", "table"), "--stack"),
        (("compare", SMALL), "nothing to compare"),
        (("view", "nowhere"), "nowhere"),
        (("run", SMALL, "--out", SMALL), "something else"),
        (("run", SMALL, "--out", "."), "working directory"),
        (("run",), "Missing argument 'CASE'"),
        (("run", SMALL, "--colour"), "No such option"),
        (("paint",), "No such command 'paint'"),
        (("new", "mine.toml", "--capacity", "lots", *NEW[2:]), "mine.toml: --capacity"),
    ],
)
def test_bad_input_is_exit_code_two(call, tmp_path, words, told):
    code, out, err = call(*words)
    assert code == 2
    assert out == ""
    assert told in err
    assert listing(tmp_path) == []


@pytest.mark.parametrize("error", [PlatestackError("no answer"), MeshError("no mesh")])
def test_a_failed_computation_is_exit_code_three(call, tmp_path, monkeypatch, error):
    def fail(case, report):
        report("bed: mesh")
        raise error

    monkeypatch.setattr(run, "analyse", fail)
    code, out, err = call("solve", SMALL)
    assert (code, out, err) == (3, "", f"{error}\n")
    assert listing(tmp_path) == []


def test_an_unexpected_fault_is_told_in_a_line(call, tmp_path, monkeypatch):
    def fail(case, report):
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(run, "analyse", fail)
    code, _, err = call("solve", SMALL)
    assert code == 3
    assert err.startswith("unexpected fault in platestack: ZeroDivisionError: division by zero;")
    details = re.search(r"the details are in (\S+);", err)
    assert details
    kept = Path(details.group(1))
    assert "Traceback" in kept.read_text(encoding="utf-8")
    kept.unlink()
    assert listing(tmp_path) == []


def test_a_terminal_that_knows_ascii_only_gets_question_marks(tmp_path):
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", "fea.cli", "tables"], env=os.environ | plain, cwd=tmp_path,
        capture_output=True, check=True,
    )  # fmt: skip
    assert b"?" in done.stdout
    assert done.stdout.isascii()


def test_a_fault_is_told_where_its_details_cannot_be_kept(call, monkeypatch):
    def fail(case, report):
        raise ZeroDivisionError("division by zero")

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(run, "analyse", fail)
    monkeypatch.setattr("tempfile.NamedTemporaryFile", full)
    code, _, err = call("solve", SMALL)
    assert code == 3
    assert "the details are in no file (No space left on device)" in " ".join(err.split())


def test_every_mistake_of_a_case_is_a_line(call, small_text, tmp_path):
    text = small_text.replace('"30 tf"', '"30 kg"').replace("count = 2", "count = 5")
    (tmp_path / "bad.toml").write_text(text)
    code, out, err = call("run", "bad.toml")
    assert (code, out) == (2, "")
    assert [line.split(": ")[1] for line in err.splitlines()] == ["press.capacity", "rods.count"]
    assert listing(tmp_path) == ["bad.toml"]


def test_a_stop_at_the_next_step_when_a_library_swallowed_the_signal(call, tmp_path, monkeypatch):
    def analyse(case, report):
        monkeypatch.setattr(cli.Stopped, "wished", int(signal.SIGINT))
        report("bed: mesh")
        pytest.fail("the step should have stopped the run")

    monkeypatch.setattr(run, "analyse", analyse)
    code, _, err = call("solve", SMALL)
    assert code == 130
    assert "interrupted; nothing was written" in err
    assert listing(tmp_path) == []


# --- help and tables


def test_help_names_every_command(call):
    code, out, _ = call("--help")
    assert code == 0
    listed = re.findall(r"^  ([a-z-]+)  +[A-Z].*[^.]\.$", out.split("Commands:")[1], re.M)
    assert tuple(listed) == ORDER
    assert max(map(len, out.splitlines())) <= 80


def test_version_is_that_of_the_installed_package(call):
    assert call("--version") == (0, f"platestack {version('platestack')}\n", "")


def test_nothing_asked_gives_help(call):
    code, out, err = call()
    assert code == 2
    assert "Commands:" in out + err


@pytest.mark.parametrize("command", ORDER)
def test_help_of_each_command(call, command):
    code, out, _ = call(command, "--help")
    assert code == 0
    assert "Usage:" in out
    assert max(map(len, out.splitlines())) <= 100


def test_tables_are_printed_with_their_sources(call):
    code, out, _ = call("tables")
    assert code == 0
    for words in ("S355J2", "EN 10025-2", "ISO 4032", "ISO 3320"):
        assert words in out
    assert max(map(len, out.splitlines())) <= 100


# --- compare and new


def test_compare_prints_and_writes(call, tmp_path, monkeypatch, small_solution):
    monkeypatch.setattr(options, "analyse", lambda case, report: small_solution)
    monkeypatch.setattr(options.pictures, "preflight", lambda: None)
    code, out, _ = call("compare", SMALL, "--thickness", "50 mm, 60 mm", "--stack", "bed")
    assert code == 0
    assert listing(tmp_path / "results" / "small-compared") == [
        "comparison.csv", "comparison.json", "comparison.png",
    ]  # fmt: skip
    assert re.search(r"^50 mm +bed ", out, re.M)
    assert re.search(r"^60 mm +bed ", out, re.M)
    assert "crosshead" not in "".join(line[:20] for line in out.splitlines())
    assert max(map(len, out.splitlines())) <= 100


def test_compare_refuses_a_foreign_directory_before_it_solves(call, tmp_path, monkeypatch):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "thesis.tex").write_text("precious")

    def solve(*_):
        pytest.fail("solved before the directory was looked at")

    monkeypatch.setattr(options, "analyse", solve)
    code, _, err = call("compare", SMALL, "--thickness", "60 mm", "--out", "mine")
    assert code == 2
    assert "something else (thesis.tex)" in err
    assert listing(tmp_path) == ["mine", "mine/thesis.tex"]


def test_new_writes_a_case_that_is_read(call, tmp_path, monkeypatch, solved):
    monkeypatch.setattr(starter, "propose", functools.partial(sizing.propose, thorough=False))
    code, out, _ = call("new", "mine.toml", *NEW)
    assert code == 0
    assert " ".join(out.split()).startswith("mine.toml: crosshead 2 x ")
    code, _, err = call("new", "mine.toml", *NEW)
    assert code == 2
    assert "--force" in err
    assert call("new", "mine.toml", *NEW, "--force")[0] == 0
    assert listing(tmp_path) == ["mine.toml"]


def test_new_asks_for_what_is_missing(call, tmp_path, monkeypatch):
    monkeypatch.setattr(starter, "propose", functools.partial(sizing.propose, thorough=False))
    monkeypatch.setattr(sys, "stdin", io.StringIO("600 mm\n400 mm\n300 mm\n"))
    code, out, _ = call("new", "mine.toml", *NEW[:4])
    assert code == 0
    for words in ("Bed length along x", "Bed width along y", "Daylight"):
        assert words in out
    assert (tmp_path / "mine.toml").is_file()


def test_new_without_anybody_to_ask_is_told(call, tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    code, _, err = call("new", "mine.toml", *NEW[:4])
    assert (code, err) == (2, '--length: given nothing; allowed: such as "1000 mm"\n')
    assert listing(tmp_path) == []


def test_start_is_quick():
    """Help needs none of the numerics, so none is imported for it."""
    heavy = ("skfem", "pyvista", "gmsh", "numba", "matplotlib", "pyamg")
    code = f"import sys, fea.cli; print([m for m in {heavy} if m in sys.modules])"
    run_it = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert run_it.stdout == "[]\n"


def test_output_is_a_hundred_columns_where_it_is_piped():
    assert console.WIDTH == 100
