"""Unfinished entries: whole or not there, cleared after a kill, left alone while in use."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from contextlib import suppress
from pathlib import Path

import pytest
from command_line import environment

from platestack.fea.results import run_directory
from platestack.fea.support import scratch

HOLDER = """
import sys, time
from pathlib import Path
from platestack.fea.support import scratch
with scratch.directory(".run-unfinished-", Path(sys.argv[1])) as made:
    (made / "half.vtu").write_text("half")
    print(made, flush=True)
    time.sleep(60)
"""


@pytest.fixture
def holder(tmp_path):
    """Another process that fills a directory: the process, and the directory."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDER, tmp_path], stdout=subprocess.PIPE, text=True,
        env=environment(),
    )  # fmt: skip
    assert process.stdout is not None
    yield process, Path(process.stdout.readline().strip())
    process.kill()
    process.communicate()


def names(place: Path) -> list[str]:
    return sorted(entry.name for entry in place.iterdir())


def test_what_a_killed_process_left_goes_and_what_is_in_use_stays(tmp_path, holder):
    process, made = holder
    (tmp_path / ".run-unfinished-own").mkdir()  # not of our making: another form of name
    (tmp_path / ".run-unfinished-link____").symlink_to("/")
    mine = names(tmp_path)
    with run_directory.directory(tmp_path / "run") as folder:
        (folder / "summary.json").write_text("{}")
        assert (made / "half.vtu").exists()
    assert names(tmp_path) == sorted([*mine, "run"])
    process.kill()
    process.wait()
    with run_directory.directory(tmp_path / "run"):
        assert not made.exists()
    assert names(tmp_path) == [".run-unfinished-link____", ".run-unfinished-own", "run"]


def test_an_entry_cleared_before_it_was_locked_is_made_again(tmp_path, monkeypatch):
    real, made = scratch.tempfile.mkdtemp, []

    def mkdtemp(**given):
        made.append(real(**given))
        if len(made) == 1:
            scratch.clear(given["prefix"], tmp_path)  # as another process might
        return made[-1]

    monkeypatch.setattr(scratch.tempfile, "mkdtemp", mkdtemp)
    with scratch.directory(".run-unfinished-", tmp_path) as folder:
        assert str(folder) == made[1]
        assert folder.is_dir()
    assert names(tmp_path) == []


def test_directories_change_places(tmp_path):
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "file").write_text(name)
    scratch.exchange(tmp_path / "one", tmp_path / "other")
    assert (tmp_path / "one" / "file").read_text() == "other"
    assert (tmp_path / "other" / "file").read_text() == "one"
    with pytest.raises(OSError, match="No such file"):
        scratch.exchange(tmp_path / "one", tmp_path / "missing")


def test_a_file_appears_whole_or_not_at_all(tmp_path):
    with scratch.file(tmp_path / "a.csv") as made:
        made.write_text("old")
    with suppress(InterruptedError), scratch.file(tmp_path / "a.csv") as made:
        made.write_text("ne")
        raise InterruptedError
    assert names(tmp_path) == ["a.csv"]
    assert (tmp_path / "a.csv").read_text() == "old"
    assert (tmp_path / "a.csv").stat().st_mode & 0o777 == 0o644


def test_many_runs_into_one_place_end_in_one_that_is_whole(tmp_path):
    """Each writes two files that say which run it is; a reader never finds a mixture."""
    faults: list[object] = []

    def run(number: int) -> None:
        try:
            for _ in range(20):
                with run_directory.directory(tmp_path / "a" / "run") as folder:
                    for name in ("summary.json", "mesh.json"):
                        (folder / name).write_text(str(number))
        except BaseException as fault:
            faults.append(fault)

    threads = [threading.Thread(target=run, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    seen = 0
    while any(thread.is_alive() for thread in threads):
        try:
            place = os.open(tmp_path / "a" / "run", os.O_RDONLY)  # this one, whatever its name then
        except FileNotFoundError:
            assert not seen, "an earlier run was gone for a while"
            continue
        try:
            said = [_read(place, name) for name in ("summary.json", "mesh.json")]
        finally:
            os.close(place)
        seen += None not in said
        assert None in said or said[0] == said[1]
    assert faults == []
    assert seen > 0
    assert names(tmp_path / "a") == ["run"]


def _read(place: int, name: str) -> str | None:
    """A file of a directory that may have been replaced meanwhile: then none."""
    try:
        file = os.open(name, os.O_RDONLY, dir_fd=place)
    except FileNotFoundError:
        return None
    with os.fdopen(file) as opened:
        return opened.read()
