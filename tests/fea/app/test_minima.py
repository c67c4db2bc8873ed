"""Limits that are minima: their utilisation, their sign ≥, and what holds by design comes last."""

from __future__ import annotations

import io
import json
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from platestack.fea.app.console import summary as console_summary
from platestack.fea.app.page import answers
from platestack.fea.app.report import content
from platestack.fea.app.report.blocks import Calculation, LimitBars
from platestack.fea.checks import all_checks
from platestack.fea.hand.record import Check, worst_first
from platestack.fea.jobs.proof.plan import make as plan
from platestack.fea.results.run_directory import reopen
from platestack.geometry import units

FORCE, BURST = "cylinder: force at working pressure", "cylinder wall: burst over working pressure"


def check(value, limit, sense="at most", **more) -> Check:
    return Check("press", "name", value, limit, "N", "named", "F", "statics", sense=sense, **more)


def test_utilisation_of_a_minimum_is_the_limit_over_the_demand():
    assert check(2574e3, 2449e3, "at least").utilisation == pytest.approx(2449 / 2574)
    assert check(2449e3, 2574e3, "at least").utilisation == pytest.approx(2574 / 2449)
    assert check(0.0, 1.0, "at least").utilisation == math.inf
    assert check(1.0, 2.0).utilisation == 0.5


def test_what_holds_by_design_neither_heads_the_list_nor_hides_the_next():
    fits, near = check(1472.0, 1470.0, "at least", by_design=True), check(90.0, 100.0)
    assert worst_first([fits, near]) == [near, fits]
    broken = replace(fits, value=1400.0)
    assert worst_first([near, broken]) == [broken, near]


def test_a_limit_names_itself(small_solution):
    for one in all_checks(small_solution):
        assert not one.limit_name.replace(".", "").isdigit(), one.name


def test_the_terminal_marks_minima(small_run, monkeypatch):
    summary = reopen(small_run).summary
    stream = io.StringIO()
    monkeypatch.setattr(console_summary, "out", Console(file=stream, width=100, highlight=False))
    console_summary.print_summary(summary)
    words = stream.getvalue()
    minima = [
        one.name
        for one in summary.checks
        if one.sense == "at least" and one.utilisation >= console_summary.LEAST_SHOWN
    ]
    rows = [line for line in words.splitlines() if "≥" in line and "│" in line]
    assert len(rows) == len(minima) >= 3
    for row, name in zip(rows, minima, strict=True):
        assert row[:40].strip() in name
    assert FORCE in words
    assert f"nearest: {FORCE}" not in words


def test_the_dossier_marks_minima(small_run):
    run = reopen(small_run)
    dossier = content.make(run, None, plan(run))
    blocks = [b for s in dossier.sections for b in s.blocks]
    limits = next(b for b in blocks if isinstance(b, LimitBars))
    minima = {check.name for check in run.summary.checks if check.sense == "at least"}
    marked = {row.name for row in limits.rows if row.limit.startswith("≥ ")}
    assert marked == {row.name for row in limits.rows} & minima
    assert marked
    assert limits.rows[0].name != FORCE
    shared = [name for name, _ in console_summary.by_rods(run.summary.checks)]
    assert any(name.startswith("rods 1, 2: ") for name in shared)
    assert [row.name for row in limits.rows] == shared[:12]
    force = next(b for b in blocks if isinstance(b, Calculation) and b.name == FORCE)
    assert force.limit.startswith("at least ")


def test_json_and_page_carry_the_sense(small_run, small_case, small_press):
    found = {c["name"]: c for c in json.loads((small_run / "summary.json").read_text())["checks"]}
    assert found[BURST]["sense"] == found[FORCE]["sense"] == "at least"
    assert found[BURST]["utilisation"] == pytest.approx(2 / found[BURST]["value"])
    page = answers.predict(small_case, small_press, {})["limits"]
    assert page[0]["name"] != FORCE
    assert all(row["sense"] in ("at most", "at least") for row in page)


@given(st.floats(0.0, 50.0))
def test_rounding_never_hides_on_which_side_of_the_limit_a_use_is(use):
    shown = float(units.percent(use).rstrip("%"))
    assert (shown > 100) == (use > 1)
    assert abs(shown - 100 * use) <= 0.5 + 1e-9
