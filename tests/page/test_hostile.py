"""Requests that are not the page's own, and files with hostile names: all refused, all counted.

What is tried, and its sources, stand in `tests.figures.hostile_requests`, which tries more of it.
"""

from __future__ import annotations

import json
import random

import pytest

from tests.figures import hostile_names
from tests.figures import hostile_requests as hostile


@pytest.fixture(scope="module")
def visitor(served):
    return hostile.Visitor(served[1])


@pytest.fixture(scope="module")
def case(visitor, small_text):
    return json.loads(visitor.ask("/open", {"text": small_text})[1])["data"]


@pytest.fixture
def dice():
    return random.Random(7)


def all_held(count, least):
    print(f"\n{count.tried} tried, {count.held} held")
    assert count.through == []
    assert count.tried == count.held >= least


def test_the_pages_own_request_is_answered(visitor, case, small_text):
    body = json.dumps({"data": case, "text": small_text}).encode()
    status, headers, answer = visitor.send("POST", "/check", body, visitor.own)
    assert status == 200, answer
    assert json.loads(answer)["problems"] == []
    assert json.loads(answer)["text"] == small_text
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"  # the key stays here


def test_what_came_through_is_counted(visitor):
    count = hostile.Count()
    count.note(True, "held")
    count.note(False, "not")
    assert (count.tried, count.held, count.through) == (2, 1, ["'not'"])
    assert not hostile.quiet(500, b"")
    assert not hostile.quiet(200, b"Traceback (most recent call last)")


def test_no_path_leads_out(visitor, dice):
    all_held(hostile.traversals(visitor, dice, 120), 120)


def test_nothing_without_the_key(visitor, dice):
    all_held(hostile.without_key(visitor, dice, 2), 70)


def test_requests_of_others_are_refused(visitor):
    all_held(hostile.strangers(visitor), 190)


def test_bodies_that_are_too_large(visitor):
    all_held(hostile.oversize(visitor), 20)


def test_names_of_runs_that_are_no_names(visitor, case, served):
    all_held(hostile.bad_names(visitor, case, served[0] / "results"), 20)


def test_malformed_bodies(visitor, case, dice):
    all_held(hostile.malformed(visitor, case, dice, 40), 160)


def test_random_cases_never_break_it(visitor, case, dice):
    form = json.loads(visitor.send("GET", "/form")[2])["form"]
    all_held(hostile.random_cases(visitor, case, form, dice, 120), 120)


def test_names_are_escaped_in_the_drawing(visitor, small_text):
    text = small_text.replace("Bench press", "</svg><script>alert(1)</script>")
    data = json.loads(visitor.ask("/open", {"text": text})[1])["data"]
    answer = json.loads(visitor.ask("/check", {"data": data})[1])
    assert answer["problems"] == []
    assert "<script>" not in answer["drawing"]
    assert "&lt;script&gt;" in answer["drawing"]


def test_unprintable_names_are_refused():
    assert [what for _, held, what in hostile_names.unprintable() if not held] == []


@pytest.mark.slow
def test_all_that_is_hostile(tmp_path, capsys):
    assert hostile.main(400, most_names=6) == 0, capsys.readouterr().out
