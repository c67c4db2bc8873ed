"""The queue: bounded, one at a time; cancelling frees it."""

from __future__ import annotations

import time

import pytest

from fea.page import answers, forms, jobs
from geometry.errors import UsageError
from geometry.schema import Case


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
    assert set(openings["item"]["tables"]) == {"round", "rectangle", "groove"}
    kinds = {"table", "map", "list", "one of", "quantity", "choice", "number", "text", "yes or no"}

    def walk(entry):
        assert entry["kind"] in kinds
        for inner in entry.get("fields", []):
            walk(inner)
        for inner in (entry["item"],) if "item" in entry else ():
            walk(inner)

    walk(form)


def test_what_is_written_reads_back(small_text, small_case):
    text = answers.written(answers.opened(small_text, "small.toml"))
    assert answers.case_file.parse(text) == small_case
