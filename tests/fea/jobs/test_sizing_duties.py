"""Duties as they are given: mistakes told in lines, files and options, any duty, the command."""

from __future__ import annotations

from unittest import mock

import pytest
from duties import duty_of
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.app import cli
from platestack.fea.jobs import sizing
from platestack.fea.jobs.sizing import search
from platestack.geometry import case as case_file
from platestack.geometry import rules
from platestack.geometry.errors import CaseError, PlatestackError, UsageError

TF = 9806.65


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ({}, "--capacity: the key is missing; for example"),
        ({"capacity": "500"}, '--capacity: given "500"; the unit is missing'),
        ({"capacity": "500 tf", "daylight": "1 m"}, "allowed: one of pressure"),
        ({"capacity": "5 tf", "daylight": "1 m", "pressure": "1 MPa", "rods": 3},
         "--rods: given 3"),
        ({"capacity": "5 mm"}, "'mm' is not the unit of a force"),
        ({"capacity": "1e9 tf"}, '--capacity: given "1e9 tf"; out of range'),
        ({"capacity": "5 tf", "daylight": "1 m", "pressure": "1 MPa", "cycles": 0},
         "--cycles: given 0"),
        ({"capacity": "5 tf", "daylight": "1 m", "pressure": "1 MPa", "grade": "S999"},
         "--grade: given"),
        ({"capacity": "5 tf", "daylight": "1 m", "pressure": "1 MPa", "stroke": "2 m"},
         "allowed: up to daylight, 1000 mm"),
        ({"capacity": "5 tf", "daylight": "1 m", "pressure": "1 MPa", "layout": "bent"},
         '--layout: given "bent"'),
    ],
)  # fmt: skip
def test_bad_wishes_are_told_by_their_option(given, line):
    with pytest.raises(CaseError) as caught:
        sizing.read(None, given)
    assert caught.value.exit_code == 2
    assert any(line in told for told in str(caught.value).splitlines()), str(caught.value)


def test_all_mistakes_of_a_duty_are_told_at_once():
    given = {"capacity": "5 mm", "daylight": "1 m", "stroke": "2 m", "pump": "28 MPa",
             "pressure": "25 MPa"}  # fmt: skip
    with pytest.raises(CaseError) as caught:
        sizing.read(None, given)
    lines = str(caught.value).splitlines()
    assert [line.split(": ")[1] for line in lines] == ["--capacity", "--pressure", "--stroke"]


def test_a_duty_file_is_read_and_options_count_more(tmp_path):
    file = tmp_path / "duty.toml"
    file.write_text(
        'capacity = "80 tf"\npressure = "30 MPa"\ndaylight = "300 mm"\n'
        '[prices]\ncurrency = "CHF"\nplate = "2 per kg"\ncylinder = "9 per kg"\n'
    )
    duty = sizing.read(file, {"capacity": "90 tf", "rods": None})
    assert duty.capacity == pytest.approx(90 * TF)
    made = sizing.propose(duty, thorough=False)
    assert case_file.parse(made.text).prices.currency == "CHF"
    file.write_text('capacty = "80 tf"\n')
    with pytest.raises(CaseError, match="capacty: unknown key; did you mean 'capacity'"):
        sizing.read(file, {})


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"length": "200 mm"}, "--length: given 200 mm; allowed: at least"),
        ({"width": "200 mm"}, "--width: given 200 mm; allowed: at least"),
        ({"thickest": "5 mm"}, "--thickest"),
        ({"capacity": "60000 tf"}, "--capacity"),
        ({"pressure": "1 bar"}, "--pressure"),
    ],
)
def test_duties_without_any_layout(more, words):
    given = {"capacity": "200 tf", "pressure": "30 MPa", "daylight": "400 mm", **more}
    with pytest.raises(UsageError) as caught:
        sizing.propose(sizing.read(None, given), thorough=False)
    assert words in str(caught.value)
    assert "allowed" in str(caught.value)
    assert "\n" not in str(caught.value)


@settings(max_examples=4, deadline=None)
@given(
    st.floats(1, 3000),
    st.floats(2, 90),
    st.floats(50, 3000),
    st.sampled_from([2, 4, 6, 8]),
    st.sampled_from(["flat", "on edge"]),
)
def test_any_duty_gives_a_sound_case_or_one_line(capacity, pressure, daylight, rods, kind):
    """By a search of fewer plates: what it ends in is written and judged alike."""
    duty = duty_of(f"{capacity:.3g} tf", f"{pressure:.3g} MPa", f"{daylight:.3g} mm",
                   {"rods": rods, "layout": kind})  # fmt: skip
    try:
        with mock.patch.multiple(search, MOST=4, UPRIGHT=(4,)):
            made = sizing.propose(duty, thorough=False)
    except PlatestackError as error:
        assert error.exit_code == 2, error  # noqa: PT017
    else:
        assert not rules.check(case_file.parse(made.text))


def test_the_command_writes_a_case_and_tells_of_it(tmp_path, capsys, monkeypatch):
    file = tmp_path / "mine.toml"
    monkeypatch.setattr(search, "MOST", 4)
    words = ["platestack", "size", str(file), "--capacity", "20 tf", "--pressure", "20 MPa",
             "--daylight", "250 mm", "--rods", "2", "--no-confirm",
             "--no-alternatives"]  # fmt: skip
    monkeypatch.setattr("sys.argv", words)
    with pytest.raises(SystemExit) as done:
        cli.main()
    assert done.value.code == 0
    assert case_file.read(file).rods.count == 2
    with pytest.raises(SystemExit) as done:
        cli.main()
    assert done.value.code == 2
