"""The command line: exit codes, plain words, files made or not made."""

from __future__ import annotations

import functools
import io
import queue
import re
import signal
import sys
import weakref
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import pytest
from command_line import SMALL, listing

from platestack.fea.app import cli
from platestack.fea.app.cli.app import COMMANDS
from platestack.fea.app.console import terminal
from platestack.fea.jobs import run, sizing
from platestack.fea.jobs.options import evaluation
from platestack.fea.solid import model
from platestack.geometry import layout
from platestack.geometry.errors import MeshError, PlatestackError

NEW = ("--capacity", "30 tf", "--pressure", "25 MPa", "--length", "600 mm", "--width", "400 mm",
       "--daylight", "300 mm")  # fmt: skip

# --- exit codes


def test_exceeded_limit_is_exit_code_one(call, solved, small_text, tmp_path, monkeypatch):
    assert '"1.2 mm/m"' in small_text
    (tmp_path / "stiff.toml").write_text(small_text.replace('"1.2 mm/m"', '"0.01 mm/m"'))
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
        (("run", "nowhere.toml"), "nowhere.toml: cannot read this file: no such file or directory"),
        (("solve", "nowhere.toml"), "no such file or directory"),
        (("mesh", "nowhere.toml"), "cannot read this file: no such file"),
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


def test_what_the_font_of_pictures_lacks_is_no_warning(call, small_text, tmp_path):
    """Warnings are errors in these tests; a user would read them between the lines."""
    (tmp_path / "press.toml").write_text(small_text.replace("Bench press", "\u5e8a"), "utf-8")
    code, _, err = call("assemble", "press.toml")
    assert (code, err) == (0, "")
    assert (tmp_path / "results" / "press-assembly" / "assembly.png").is_file()


def test_a_stop_at_the_next_step_when_a_library_swallowed_the_signal(call, tmp_path, monkeypatch):
    def analyse(case, report):
        monkeypatch.setattr(cli.Stopped, "wished", int(signal.SIGINT))
        report("bed: mesh")
        pytest.fail("the step should have stopped the run")

    monkeypatch.setattr(run, "analyse", analyse)
    code, _, err = call("solve", SMALL)
    assert code == 130
    assert "interrupted; no results are left half-written" in err
    assert listing(tmp_path) == []


def test_a_stop_of_which_a_library_makes_another_error(call, tmp_path, monkeypatch):
    def analyse(case, report):
        monkeypatch.setattr(cli.Stopped, "wished", int(signal.SIGHUP))
        raise ValueError("error in a library: Stopped")

    monkeypatch.setattr(run, "analyse", analyse)
    code, _, err = call("solve", SMALL)
    assert (code, err) == (129, "interrupted; no results are left half-written\n")
    assert listing(tmp_path) == []


def test_a_stop_where_nothing_can_be_raised_comes_a_moment_later(call, tmp_path, monkeypatch):
    class Referred:
        pass

    def stop(number):
        raise cli.Stopped(number)

    again = queue.SimpleQueue()

    def analyse(case, report):
        referred = Referred()
        reference = weakref.ref(referred, lambda _: stop(signal.SIGTERM))
        del referred  # calls back, and drops what is raised there
        assert reference() is None
        stop(again.get(timeout=60))

    monkeypatch.setattr(run, "analyse", analyse)
    monkeypatch.setattr(signal, "raise_signal", again.put)
    code, _, err = call("solve", SMALL)
    assert (code, err) == (143, "interrupted; no results are left half-written\n")
    assert listing(tmp_path) == []


def test_a_working_directory_that_is_gone_is_told(call, tmp_path, monkeypatch):
    (tmp_path / "gone").mkdir()
    monkeypatch.chdir(tmp_path / "gone")
    (tmp_path / "gone").rmdir()
    code, _, err = call("solve", SMALL, "--out", "out")
    assert code == 2
    assert err.startswith("the working directory: No such file or directory; allowed")


@pytest.mark.parametrize("given", ["0", "many", "-1", ""])
def test_a_number_of_threads_that_is_none_is_refused(call, monkeypatch, given):
    monkeypatch.setenv("NUMBA_NUM_THREADS", given)
    code, _, err = call("tables")
    assert code == 2
    assert err == f'NUMBA_NUM_THREADS: given "{given}"; allowed: a number from 1 on\n'


# --- help and tables


def test_help_names_every_command(call):
    code, out, _ = call("--help")
    assert code == 0
    listed = re.findall(r"^  ([a-z-]+)  +[A-Z].*[^.]\.$", out.split("Commands:")[1], re.M)
    assert listed == list(COMMANDS)
    assert max(map(len, out.splitlines())) <= 80


def test_version_is_that_of_the_installed_package(call):
    assert call("--version") == (0, f"platestack {version('platestack')}\n", "")


def test_nothing_asked_gives_help(call):
    code, out, err = call()
    assert code == 2
    assert "Commands:" in out + err


@pytest.mark.parametrize("command", COMMANDS)
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


def test_output_is_a_hundred_columns_where_it_is_piped():
    assert terminal.WIDTH == 100


# --- compare and new


def test_compare_prints_and_writes(call, tmp_path, monkeypatch, small_solution):
    monkeypatch.setattr(evaluation, "analyse", lambda case, report: small_solution)
    code, out, _ = call("compare", SMALL, "--thickness", "50 mm, 60 mm", "--stack", "bed")
    assert code == 0
    assert listing(tmp_path / "results" / "small-compared") == [
        "comparison.csv", "comparison.json", "comparison.png",
    ]  # fmt: skip
    assert re.search(r"^0 base ", out, re.M)
    assert "1  bed plates 60 mm: " in out
    assert "bed plates 50 mm" not in out  # the base
    assert max(map(len, out.splitlines())) <= 100


def test_compare_refuses_a_foreign_directory_before_it_solves(call, tmp_path, monkeypatch):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "thesis.tex").write_text("precious")

    def solve(*_):
        pytest.fail("solved before the directory was looked at")

    monkeypatch.setattr(evaluation, "analyse", solve)
    code, _, err = call("compare", SMALL, "--thickness", "60 mm", "--out", "mine")
    assert code == 2
    assert "something else (thesis.tex)" in err
    assert listing(tmp_path) == ["mine", "mine/thesis.tex"]


def test_new_writes_a_case_that_is_read(call, tmp_path, monkeypatch, solved):
    monkeypatch.setattr(sizing, "propose", functools.partial(sizing.propose, thorough=False))
    code, out, _ = call("new", "mine.toml", *NEW)
    assert code == 0
    assert " ".join(out.split()).startswith("mine.toml: crosshead 2 x ")
    code, _, err = call("new", "mine.toml", *NEW)
    assert code == 2
    assert "--force" in err
    assert call("new", "mine.toml", *NEW, "--force")[0] == 0
    assert listing(tmp_path) == ["mine.toml"]


def test_new_asks_for_what_is_missing(call, tmp_path, monkeypatch):
    monkeypatch.setattr(sizing, "propose", functools.partial(sizing.propose, thorough=False))
    monkeypatch.setattr(sys, "stdin", io.StringIO("600 mm\n400 mm\n300 mm\n"))
    code, out, _ = call("new", "mine.toml", *NEW[:4])
    assert code == 0
    for words in ("Bed length along x", "Bed width along y", "Daylight"):
        assert words in out
    assert (tmp_path / "mine.toml").is_file()


def test_new_without_anybody_to_ask_is_told(call, tmp_path, monkeypatch):
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    code, _, err = call("new", "mine.toml", *NEW[:4])
    assert (code, err) == (2, '--length is missing; for example --length "1000 mm"\n')
    assert listing(tmp_path) == []
