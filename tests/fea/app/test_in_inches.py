"""A user who reads inches meets no millimetre, and the same numbers as who reads millimetres."""

from __future__ import annotations

import csv
import html
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from platestack.fea.app.cli import app
from platestack.fea.app.report import drawings
from platestack.fea.hand.erection import plan as plan_assembly
from platestack.fea.jobs import buying, cutfiles, sizing
from platestack.fea.jobs.buying import files
from platestack.fea.jobs.quick import quick
from platestack.fea.results.summary import cautions
from platestack.geometry import case as case_file
from platestack.geometry import layout, units
from platestack.geometry.cutting.drawing import notes, read_back
from platestack.geometry.cutting.work import plan as plan_cutting

CASE = Path(__file__).parents[3] / "cases" / "us_units" / "us_units.toml"
NAMES = r"mm|cm|MPa|GPa|kN|kg|tf|kgf|kW|L|L/min|µm|J|bar|mm/m|mm²|m²|kN·m|N·m|N m|N|t|°C|m"
METRIC = re.compile(
    rf"(?<![\w.])\d[\d.,]*\s?(?:{NAMES})(?![\w/·²³√]|\. ?[A-Z])|[\[(](?:{NAMES})[\])]"
)
INCH, LB = 0.0254, 0.45359237
MARKUP = re.compile(r"<(script|style)\b.*?</\1>|<[^>]+>", re.S)


@pytest.fixture(scope="module")
def us():
    case = case_file.read(CASE)
    assert case.units == "US"
    return case, layout.build(case)


@pytest.fixture
def in_inches():
    with units.using("US"):
        yield
    assert units.system() == "SI"


@pytest.fixture
def in_millimetres():
    units.choose("SI", over_all=True)
    yield
    units.reset()


def metric(text: str) -> list[str]:
    return METRIC.findall(text)


def test_the_search_finds_what_it_is_for():
    for text in ("12 mm", "4.2 kN each", "at 25 MPa", "mass [kg]", "(mm)", "1,200 kg", "60mm"):
        assert metric(text), text
    for text in ("12 in", "M20", "4.2 kip", "3 1/4 in", "mass [lb]", "EN 10029", "5 N01", "2 x 3"):
        assert not metric(text), text


def test_what_is_shown_changes_no_geometry(us, in_millimetres):
    case = case_file.read(CASE)
    assert replace(layout.build(case), assumed=()) == replace(us[1], assumed=())


def test_words_by_hand_are_in_inches(us, in_inches):
    case, press = us
    words = [f"{c.check.name} {c.check.limit_name} {c.check.note} {c.check.method}"
             for c in quick(case, press)]  # fmt: skip
    made = plan_assembly(press, case)
    words += [word for step in made.steps for word in (step.title, *step.words)]
    words += [f"{c.name} {c.note} {c.method}" for step in made.steps for c in step.checks]
    words += [line for work in plan_cutting(press, case.cutting)
              for line in notes(work, case.cutting)]  # fmt: skip
    words += cautions.cautions(press)
    words += [f"{key} {value}" for key, value in [*case_file.defaults(case), *press.assumed]]
    assert len(words) > 150
    assert "\n".join(w for w in words if metric(w)) == ""


def test_lists_of_what_to_buy_agree_to_their_rounding(us):
    """Mass, sizes and prices, column by column, with those that `--units SI` gives."""
    case, press = us
    with units.using("US"):
        inch = files.rows(buying.make(press, case), None)
        units.choose("SI", over_all=True)
        metre = files.rows(buying.make(press, case), None)
    units.reset()
    assert [cell for row in inch for cell in row if metric(str(cell))] == []
    mass, size, price = 9, 6, 12
    assert inch[0][mass] == "mass of one [lb]"
    assert inch[0][price] == metre[0][price] == "price likely [USD]"
    for one, other in zip(inch[1:], metre[1:], strict=True):
        assert one[price] == other[price]
        if one[mass]:
            assert one[mass] * LB == pytest.approx(other[mass], abs=0.006)
        numbers = [re.findall(r"\d+(?:\.\d+)?", str(row[size])) for row in (one, other)]
        for a, b in zip(*numbers, strict=True):
            assert float(a) * 25.4 == pytest.approx(float(b), abs=0.0005 * 25.4 + 1e-9)


def test_drawings_are_in_inches(us, in_inches):
    _, press = us
    words = re.findall(r">([^<>]+)</text>", drawings.elevation(press).svg("x"))
    assert {"18", "13.75", "10"} <= set(words)  # bed, pitch, daylight of the case


def test_cut_files_are_in_inches(us, tmp_path, in_inches):
    """The drawing says so itself, passes its audit, and has the area of the plate."""
    import ezdxf

    made = cutfiles.write(CASE, tmp_path / "cut", lambda step: None)
    file = tmp_path / "cut" / f"{made.rows[0].work.number}.dxf"
    drawing = ezdxf.readfile(file)
    assert (drawing.units, drawing.header["$MEASUREMENT"]) == (1, 0)
    outline = next(e for e in drawing.modelspace() if e.dxf.layer == "finished")
    xs = [x for x, *_ in outline.get_points()]
    assert max(xs) - min(xs) == pytest.approx(18.0)
    plate = made.rows[0].work.plate
    assert read_back(file).area * plate.thickness == pytest.approx(plate.volume, rel=2e-3)
    text = (tmp_path / "cut" / "cut_list.csv").read_text(encoding="utf-8")
    assert metric(text) == []
    assert "from 2.25 to 2 in" in text
    head, row = list(csv.reader(text.splitlines()[1:]))[:2]
    assert float(row[head.index("length [in]")]) == pytest.approx(18.0, abs=5e-4)


def test_size_proposes_what_is_sold_in_inches():
    wish = sizing.read(None, {"units": "US", "capacity": "33 US ton", "pressure": "3,400 psi",
                              "daylight": "10 in", "rods": 2, "seat": "sleeve"})  # fmt: skip
    made = sizing.propose(wish, thorough=False)
    assert [line for line in made.text.splitlines() if metric(line)] == []
    case = case_file.parse(made.text)
    assert case.units == "US"
    for value in (case.bed.length, case.bed.width, case.rods.diameter, case.ram.diameter):
        assert round(value / INCH * 8, 6).is_integer()
    assert case.bed.grade == "A572 Gr 50"
    assert case.bed.plates[0].blank is not None
    assert round(case.bed.plates[0].blank / INCH * 4, 6).is_integer()


def test_an_option_outranks_the_case(tmp_path, monkeypatch):
    runner = CliRunner()
    try:
        done = runner.invoke(
            app, ["buy", str(CASE), "--units", "SI", "--out", str(tmp_path / "buy")]
        )
        assert done.exit_code == 0, done.output
        assert "[kg]" in (tmp_path / "buy" / "parts.csv").read_text(encoding="utf-8")
        refused = runner.invoke(app, ["buy", str(CASE), "--units", "furlongs"])
        assert "allowed: SI, mm, US" in str(refused.exception)
    finally:
        units.reset()


@pytest.mark.slow
def test_from_the_run_to_the_dossier(tmp_path):
    """Everything that a run and its dossier say, but what JSON is for."""
    runner, out = CliRunner(), tmp_path / "run"
    try:
        for line in (["run", str(CASE), "--out", str(out)], ["report", str(out), "--quick"]):
            done = runner.invoke(app, line)
            assert done.exit_code in (0, 1), done.output
            assert metric(done.output.replace("GB", "").replace(" s;", "")) == []
    finally:
        units.reset()
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert summary["units"] == "US"
    assert summary["capacity"] == {"value": pytest.approx(293_582.6, rel=1e-6), "unit": "N",
                                   "error": None, "note": ""}  # fmt: skip
    page = html.unescape(MARKUP.sub(" ", (out / "dossier.html").read_text(encoding="utf-8")))
    assert metric(page) == []
