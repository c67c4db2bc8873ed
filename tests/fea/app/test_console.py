"""What a person reads: numbers in workshop units, tables within 100 columns, plain errors."""

from __future__ import annotations

import io
import json
import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from rich.table import Table

from platestack.fea.app import console
from platestack.fea.app.console import terminal
from platestack.fea.app.console.summary import bar, check_table, print_summary
from platestack.fea.app.console.tables import print_tables
from platestack.fea.results.summary import CheckRecord, Figure, Summary
from platestack.geometry.units import figure, percent, plain, quantity

WIDTHS = (80, 100)


@pytest.fixture(params=WIDTHS)
def printed(request, monkeypatch):
    """What is printed on a terminal of so many columns."""
    stream = io.StringIO()
    for one in (terminal.out, terminal.errors):
        monkeypatch.setattr(one, "_file", stream)
        monkeypatch.setattr(one, "_width", request.param)

    def text() -> str:
        lines = stream.getvalue().splitlines()
        assert max(map(len, lines)) <= request.param
        return "\n".join(lines)

    return text


@pytest.fixture(scope="module")
def summary(small_run) -> Summary:
    return Summary.model_validate_json((small_run / "summary.json").read_text(encoding="utf-8"))


# --- numbers


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (335e6, "Pa", "335 MPa"),
        (0.137e-3, "m", "0.137 mm"),
        (294199.5, "N", "294.2 kN"),
        (62.157, "kg", "62.16 kg"),
        (39.3, "J", "39.3 J"),
        (0.5, "", "0.5"),
        (None, "m", "not known"),
        (9_806_650, "N", "9807 kN"),
        (98_066_500, "N", "98,066 kN"),
        (12.345, "kg/m^3", "12.35 kg/m^3"),
    ],
)
def test_quantity(value, unit, text):
    assert quantity(value, unit) == text


@example(9999.7, 1)  # four digits round it up to 10,000
@example(0.99996, -1)
@given(st.floats(1e-4, 9e8), st.sampled_from([1, -1]))
def test_plain_number_is_right_to_its_digits_and_has_no_exponent(size, sign):
    text = plain(sign * size)
    assert "e" not in text
    assert float(text.replace(",", "")) == pytest.approx(sign * size, rel=5.1e-4)


@pytest.mark.parametrize(
    ("value", "error", "text"),
    [
        (91.104e6, 1.234e6, "91.1 ± 1.2 MPa"),
        (91.104e6, 12.34e6, "91 ± 12 MPa"),
        (0.137e-3, 0.0021e-3, "0.1370 ± 0.0021 mm"),
        (1234.5e6, 150e6, "1,234 ± 150 MPa"),
        (91.104e6, None, "91.1 MPa"),
        (91.104e6, 0.0, "91.1 MPa"),
    ],
)
def test_figure_with_its_error(value, error, text):
    assert figure(Figure(value=value, unit="Pa" if "MPa" in text else "m", error=error)) == text


@given(st.floats(1e5, 9e8), st.floats(1e-4, 0.9))
def test_value_and_error_have_the_same_places(value, part):
    text = figure(Figure(value=value, unit="Pa", error=part * value))
    number, error = text.removesuffix(" MPa").replace(",", "").split(" ± ")
    places = [len(x.partition(".")[2]) for x in (number, error)]
    assert places[0] == places[1]
    # The error keeps two digits: it is off by no more than half of the second one.
    assert float(error) * 1e6 == pytest.approx(part * value, rel=0.051)


# --- the bar


@pytest.mark.parametrize("use", [0.0, 0.25, 0.5, 1.0, 1.1, 7.0])
def test_bar_has_its_mark_at_the_limit(use):
    text = bar(use)
    assert text.index("│") == 16
    assert text.count("━") == min(round(16 * use), 20)
    assert ("━" in text[17:]) == (use > 1.03)


@given(st.floats(0, 1000))
def test_bar_is_never_too_long(use):
    assert len(bar(use)) <= 21


# --- tables


def test_summary_is_told_within_the_width(printed, summary):
    print_summary(summary)
    text = printed()
    assert "Bench press, 30 tf  294.2 kN at 25 MPa" in text
    flat = " ".join(text.split())
    for words in ("peak von Mises stress", "mid-span deflection", "by beam theory", "mass",
                  "Utilisation, worst first", "values taken by default"):  # fmt: skip
        assert words in flat
    assert text.count("Caution:") == len(summary.cautions) >= 3
    assert f"all {len(summary.checks)} checks within their limits" in flat
    assert "…" not in text  # nothing is cut off
    assert not re.search(r"\bsafe\b", text)


def test_numbers_in_the_table_are_those_of_the_summary(printed, summary):
    print_summary(summary)
    text = printed()
    for stack in summary.stacks.values():
        assert figure(stack.peak_von_mises) in text
        assert figure(stack.mid_span_deflection) in text
    little = [check for check in summary.checks if check.utilisation < console.summary.LEAST_SHOWN]
    for check in summary.checks[: len(summary.checks) - len(little)]:
        assert percent(check.utilisation) in text
    assert f"{len(little)} more below 10\N{NO-BREAK SPACE}%, in summary.json" in text


def test_rods_that_bear_alike_share_a_row(printed, summary):
    one = next(check for check in summary.checks if check.name == "rod 1: tension in the thread")
    names = ("rod 1: tension in the thread", "rod 2: tension in the thread", "rod 3: fatigue")
    alike = [one.model_copy(update={"name": name}) for name in names]
    terminal.out.print(check_table(alike))
    text = printed()
    assert "rods 1, 2: tension in the thread" in text
    assert "rod 3: fatigue" in text


def test_exceeded_limits_are_told(printed, summary):
    worst = summary.checks[0]
    over = worst.model_copy(update={"utilisation": 1.2, "value": 1.2 * worst.limit})
    changed = summary.model_copy(update={"checks": [over, *summary.checks[1:]], "exceeded": 1})
    print_summary(changed)
    text = " ".join(printed().split())
    assert f"1 of {len(summary.checks)} limits exceeded; worst: {worst.name}, 120 %" in text
    assert "within their limits" not in text


def test_a_ratio_outside_its_band_is_told(printed, summary):
    stack = summary.bed
    beam = stack.beam.model_copy(update={"ratio": 3.0, "verdict": "far above what a beam does"})
    print_summary(summary.model_copy(update={"bed": stack.model_copy(update={"beam": beam})}))
    assert "bed: far above what a beam does" in printed()


@pytest.mark.parametrize("name", ["Press [bold]", "[/]", "50 % \\[x]", "Presse für Bärbel"])
def test_names_are_printed_as_they_are(printed, summary, name):
    print_summary(summary.model_copy(update={"press": name}))
    assert name in printed()


def test_long_table_of_checks(printed, summary):
    one = summary.checks[0]
    name = "crosshead plate 12 of the upper stack: peak von Mises stress at the rim of a hole"
    many = [one.model_copy(update={"name": f"{name} {i}"}) for i in range(40)]
    terminal.out.print(check_table(many))
    text = " ".join(printed().split())
    assert text.count(" ".join(percent(one.utilisation).split())) == 40


def test_tables_name_their_sources(printed):
    print_tables()
    text = printed()
    flat = " ".join(text.split())
    for words in ("S355J2", "42CrMo4", "EN 10025", "ISO 4032", "ISO 3320", "M64"):
        assert words in flat
    assert "…" not in text


def test_error_lines_stay_whole(capsys):
    message = 'bad.toml: crosshead.length: given "[bold]"; allowed: ' + "x" * 300 + "\nsecond"
    console.print_error(message)
    err = capsys.readouterr().err
    assert err == message + "\n"


def test_progress_hands_on_the_steps(capsys):
    with terminal.progress(2) as report:
        report("bed: mesh")
        report("bed: solve")
    assert "Traceback" not in capsys.readouterr().err


def test_json_of_a_check_survives(summary):
    check = summary.checks[0]
    assert CheckRecord(**json.loads(check.model_dump_json())) == check


def test_texts_of_files_are_no_commands_for_the_terminal(capsys):
    """Escape sequences (ECMA-48) in a key or a name, plain and in a table; marks of direction."""
    text = "a\x1b]0;title\x07b \x9b2J \u202ec"
    console.print_error(text)
    table = Table("name")
    table.add_row(text)
    terminal.out.print(table)
    said = "".join(capsys.readouterr())
    assert said.count("\N{REPLACEMENT CHARACTER}]0;title\N{REPLACEMENT CHARACTER}b") == 2
    assert not re.search("[\x1b\x07\x9b\u202e]", said)
