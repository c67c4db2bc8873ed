"""Rows of a sweep: written once, read back exactly, kept through kills; what names them."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.jobs.options.evaluation import Row, StackFigures
from platestack.fea.jobs.options.variation import Option
from platestack.fea.jobs.sweep import jobs, keys
from platestack.fea.jobs.sweep.store import NAME, opened
from platestack.fea.support import digest
from platestack.geometry import case as case_file
from platestack.geometry.errors import PlatestackError, UsageError

FIGURES = StackFigures(1e8, None, 0.5, 1e-4, 1e-6, 0.1 + 0.2, 50.0, None)
ROW = Row("2 plates", "by beam", "", FIGURES, FIGURES, 1 / 3, 0.8, 25.0, 1.5e5, "bed", 0.9)


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
    connection = sqlite3.connect(tmp_path / "newer" / NAME)
    connection.execute("PRAGMA user_version = 99")
    connection.close()
    for name, words in (("notes", "something else"), ("other", "not the rows"), ("newer", "99")):
        with pytest.raises(UsageError, match=words) as caught, opened(tmp_path / name):
            pass
        assert "\n" not in str(caught.value)
    assert (tmp_path / "notes" / "letter.txt").read_text(encoding="utf-8") == "dear"


def test_rows_that_cannot_be_kept_are_told(tmp_path, monkeypatch):
    def full(_):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr("platestack.fea.jobs.sweep.store._prepare", full)
    words = "cannot be kept: database or disk is full"
    with pytest.raises(PlatestackError, match=words) as caught, opened(tmp_path / "rows"):
        pass
    assert caught.value.exit_code == 3


def test_a_key_names_all_that_a_row_depends_on(small_case, welded_text):
    thin = Option((("thickness", 0.04),))
    other = small_case.model_copy(
        update={"press": small_case.press.model_copy(update={"capacity": 2e5})}
    )
    made = {
        keys.key(small_case, thin, "beam", "1"),
        keys.key(other, thin, "beam", "1"),
        keys.key(small_case, Option((("thickness", 0.041),)), "beam", "1"),
        keys.key(small_case, Option((("thickness", 0.04), ("plates", 2))), "beam", "1"),
        keys.key(small_case, thin, "full", "1"),
        keys.key(small_case, thin, "beam", "2"),
    }
    assert len(made) == 6
    again = case_file.parse(welded_text, "small.toml")
    assert keys.key(again, thin, "beam", "1") in made
    assert digest.code().startswith("0.")


def test_a_fault_is_a_row_and_other_code_is_refused(small_case, monkeypatch):
    job = jobs.SweepJob(small_case, Option(), "beam", digest.code())

    def fail(case, option):
        raise ZeroDivisionError("by\nzero")

    monkeypatch.setitem(jobs.EVALUATORS, "beam", fail)
    assert jobs.work(job).reason == "unexpected fault: ZeroDivisionError: by zero"
    with pytest.raises(jobs.OtherCode, match="install the same"):
        jobs.work(replace(job, code="0.0.1+0"))
