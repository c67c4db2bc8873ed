"""A results directory: whole or not at all; what may not be replaced, and what is kept."""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path

import pytest
from command_line import listing

from platestack.fea.results import run_directory
from platestack.fea.results.run_directory import directory
from platestack.fea.support.result_files import OURS, usable
from platestack.geometry.errors import PlatestackError, UsageError

ROOT = Path(__file__).parents[3]


def fill(folder: Path, words: str = "new") -> None:
    (folder / "summary.json").write_text(words)


def attempt(place: Path, error: BaseException) -> None:
    """Begin to fill a results directory, and fail."""
    with directory(place) as folder:
        fill(folder)
        raise error


def test_a_failure_leaves_the_directories_that_were_there_and_none_besides(tmp_path):
    mine = tmp_path / "mine"
    mine.mkdir()
    with pytest.raises(ValueError, match="failed"):
        attempt(mine / "deep" / "deeper" / "results", ValueError("failed"))
    assert mine.is_dir()
    assert not list(mine.iterdir())


def test_every_name_that_is_written_is_known_as_ours():
    """Else a second run into the same place would be refused."""
    source = "".join(p.read_text("utf-8") for p in (ROOT / "fea").rglob("*.py"))
    names = set(re.findall(r'(?:folder|made) / f?"([^"]+\.\w+)"', source))
    elsewhere = {"pages.typ", "memory.stat", "sweep.csv", "{stack.name}.npz"}
    assert elsewhere <= names
    for name in names - elsewhere - {"{name}.png", "{name}.toml"}:
        shown = name.replace("{stack.name}", "crosshead").replace("{work.number}", "C01")
        assert OURS.fullmatch(shown), name


# --- whole or not at all


def test_a_new_directory_is_made_with_its_parents(tmp_path):
    with directory(tmp_path / "a" / "b") as folder:
        fill(folder)
        assert not (tmp_path / "a" / "b").exists()
    assert listing(tmp_path) == ["a", "a/b", "a/b/summary.json"]
    assert (tmp_path / "a" / "b").stat().st_mode & 0o777 == 0o755


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_failure_in_the_middle_leaves_nothing(tmp_path, error):
    with pytest.raises(error):
        attempt(tmp_path / "a" / "b", error())
    assert listing(tmp_path) == []


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt])
def test_failure_in_the_middle_keeps_the_earlier_run(tmp_path, error):
    with directory(tmp_path / "run") as folder:
        fill(folder, "old")
    with pytest.raises(error):
        attempt(tmp_path / "run", error())
    assert listing(tmp_path) == ["run", "run/summary.json"]
    assert (tmp_path / "run" / "summary.json").read_text() == "old"


def test_a_new_run_replaces_the_earlier_one(tmp_path):
    with directory(tmp_path / "run") as folder:
        fill(folder, "old")
        (folder / "stress.png").write_bytes(b"")
    with directory(tmp_path / "run") as folder:
        fill(folder, "new")
    assert listing(tmp_path) == ["run", "run/summary.json"]
    assert (tmp_path / "run" / "summary.json").read_text() == "new"


def test_an_interruption_while_swapping_keeps_the_earlier_run(tmp_path, monkeypatch):
    with directory(tmp_path / "run") as folder:
        fill(folder, "old")
    real, calls = os.replace, []

    def replace(source, target):
        calls.append(source)
        if len(calls) == 3:  # the earlier run is aside, the new one not yet in its place
            raise KeyboardInterrupt
        real(source, target)

    def cannot(*_):
        raise OSError(errno.EINVAL, "no exchange on this file system")

    monkeypatch.setattr(run_directory.scratch, "exchange", cannot)
    monkeypatch.setattr(run_directory.os, "replace", replace)
    with pytest.raises(KeyboardInterrupt), directory(tmp_path / "run") as folder:
        fill(folder, "new")
    assert listing(tmp_path) == ["run", "run/summary.json"]
    assert (tmp_path / "run" / "summary.json").read_text() == "old"


def test_a_full_disk_is_told_in_a_sentence(tmp_path):
    full = OSError(28, "No space left on device")
    with pytest.raises(PlatestackError, match="not be written: No space left") as caught:
        attempt(tmp_path / "run", full)
    assert caught.value.exit_code == 3
    assert listing(tmp_path) == []


def test_an_empty_directory_may_be_used(tmp_path):
    (tmp_path / "run").mkdir()
    with directory(tmp_path / "run") as folder:
        fill(folder)
    assert listing(tmp_path) == ["run", "run/summary.json"]


# --- what may not be replaced


@pytest.mark.parametrize(
    ("entries", "told"),
    [
        (["thesis.tex"], "thesis.tex"),
        (["photo.png"], "photo.png"),  # no mark of a run
        (["summary.json", "thesis.tex"], "thesis.tex"),
        (["summary.json", "sub/summary.json"], "sub"),
        (["results/small/summary.json"], "results"),
        (["summary.json", "stretches.csv"], "stretches.csv"),  # the endings are a run's
        (["summary.json", "my press.toml"], "my press.toml"),
        (["cut_list.csv", "B01.dxf"], "cut_list.csv"),  # of another command
    ],
)
def test_a_foreign_directory_is_refused_and_left_alone(tmp_path, entries, told):
    place = tmp_path / "mine"
    for entry in entries:
        (place / entry).parent.mkdir(parents=True, exist_ok=True)
        (place / entry).write_text("precious")
    before = listing(tmp_path)
    with pytest.raises(UsageError, match=f"something else \\({told}\\)") as caught:
        attempt(place, AssertionError("it must be refused before anything is done"))
    assert "allowed: a new directory" in str(caught.value)
    assert listing(tmp_path) == before


def test_a_file_is_refused(tmp_path):
    (tmp_path / "file").write_text("precious")
    with pytest.raises(UsageError, match="something else"):
        usable(tmp_path / "file")
    assert (tmp_path / "file").read_text() == "precious"


def test_what_was_measured_outlives_the_run(tmp_path):
    with directory(tmp_path / "run") as folder:
        fill(folder, "old")
    (tmp_path / "run" / "proof-readings.csv").write_text("pressure_MPa,rod_1_stretch_mm\n5,0.1\n")
    (tmp_path / "run" / "proof-record.json").write_text("[]")
    (tmp_path / "run" / "proof.png").write_bytes(b"")
    with directory(tmp_path / "run") as folder:
        fill(folder, "new")
    assert listing(tmp_path / "run") == ["proof-readings.csv", "proof-record.json", "summary.json"]
    assert "5,0.1" in (tmp_path / "run" / "proof-readings.csv").read_text()


def test_a_run_is_replaced_by_a_run_only(tmp_path):
    """A tightening sheet may lie in a run's directory, and does not make it one of its kind."""
    with directory(tmp_path / "run") as folder:
        fill(folder)
        (folder / "tightening.json").write_text("{}")
    with pytest.raises(UsageError, match=r"something else \(summary.json\)"):
        usable(tmp_path / "run", "tightening.json")
    usable(tmp_path / "run")


@pytest.mark.parametrize("there", [True, False])
def test_a_link_leads_to_the_place(tmp_path, there):
    (tmp_path / "link").symlink_to("disk")
    if there:
        with directory(tmp_path / "disk") as folder:
            fill(folder, "old")
    with directory(tmp_path / "link") as folder:
        fill(folder)
    assert listing(tmp_path) == ["disk", "disk/summary.json", "link"]
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "disk" / "summary.json").read_text() == "new"


@pytest.mark.parametrize(("place", "told"), [("loop", "something else"), ("loop/x", "be made")])
def test_a_link_to_itself_is_refused(tmp_path, place, told):
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(UsageError, match=told):
        attempt(tmp_path / place, AssertionError("it must be refused before anything is done"))


@pytest.mark.parametrize("place", [".", "..", "../here"])
def test_the_working_directory_is_refused(tmp_path, monkeypatch, place):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    with pytest.raises(UsageError, match="the working directory or holds it"):
        usable(Path(place))


@pytest.mark.parametrize("place", ["x" * 300, "x" * 300 + "/run", "file/run"])
def test_an_impossible_place_is_refused(tmp_path, place):
    (tmp_path / "file").write_text("")
    with pytest.raises(UsageError, match="cannot be made"):
        attempt(tmp_path / place, AssertionError("it must be refused before anything is done"))
