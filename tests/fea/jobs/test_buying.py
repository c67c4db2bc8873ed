"""The bill of materials: nothing in a press without an order line, one truth for mass and cost."""

from __future__ import annotations

import csv
import datetime
import functools
import json
import math
from collections import Counter
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

from platestack.fea.app.cli import app
from platestack.fea.checks.cost import priced
from platestack.fea.jobs import buying
from platestack.fea.jobs.buying import files
from platestack.fea.jobs.buying.stock_sizes import volume
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses
from platestack.geometry.errors import UsageError

CASES = sorted((Path(__file__).parents[3] / "cases").glob("*/*.toml"))
BOLTED = """
[ram.fixing]
thread = "M20"
count = 8
[cylinder.gland_bolts]
thread = "M12"
count = 12
[cylinder.return_spring]
count = 2
wire = "8 mm"
coil = "50 mm"
coils = 8
free_length = "300 mm"
fitted_length = "260 mm"
[prices]
currency = "EUR"
plate = "1.5 per kg"
"""


@functools.cache
def built(path: Path):
    case = case_file.read(path)
    press = layout.build(case)
    return case, press, buying.make(press, case)


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_nothing_in_the_press_is_without_an_order_line(path):
    """Part by part: pieces, clamp bolts, connectors, what holds cylinder and gland, what moves."""
    case, press, made = built(path)
    lines = {line.number: line for line in made.lines}
    assert len(lines) == len(made.lines)
    covered = Counter(name for line in made.lines for name in line.pieces if name != "cylinder")
    wanted = [p.name for p in masses.pieces(press) if p.name != "cylinder"]
    bolts = [bolt.name for stack in press.stacks for bolt in stack.bolts]
    assert covered == Counter([*wanted, *bolts])
    for line in made.lines:
        if line.pieces and "cylinder" not in line.pieces:
            assert line.quantity == len(line.pieces)
    names = {line.name for line in made.lines}
    assert {"cylinder tube", "cylinder bottom", "gland", "piston", "ram"} <= names
    assert any("seals" in name for name in names)
    assert ("cylinder flange" in names) == (case.ram.flange is not None)
    for stack in press.stacks:
        joined = {f"{stack.name} dowel", f"{stack.name} weld seams"} & names
        assert len(joined) == (stack.connectors is not None)
    assert {"pump with motor and tank", "relief valve", "pressure gauge", "hoses and fittings",
            "hydraulic oil", "freight", "machining set-ups", "cutting waste", "paint", "guards",
            "foot plate"} <= names  # fmt: skip


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_masses_are_those_of_the_press(path):
    _, press, made = built(path)
    own = {piece.name for piece in masses.pieces(press)}
    found = sum(x.mass * x.quantity for x in made.lines if own & set(x.pieces))
    assert found == pytest.approx(press.mass, rel=1e-9)


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_what_is_bought_holds_what_is_made_of_it(path):
    _, _, made = built(path)
    for line in made.lines:
        if line.order.form == "piece" or line.finished.form == "piece":
            continue
        assert line.order_mass >= line.mass * (1 - 1e-9), line.name
        assert line.order.form == line.finished.form
        if line.order.form == "tube":
            outer, inner, long = line.order.sizes
            assert outer >= line.finished.sizes[0]
            assert inner <= line.finished.sizes[1]
            assert long > line.finished.sizes[2]
        else:
            for bought, finished in zip(line.order.sizes, line.finished.sizes, strict=True):
                assert bought >= finished - 1e-9, line.name


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_listed_prices_add_up_to_the_bill(path):
    case, press, made = built(path)
    bill = priced(press, case)
    if bill is None:
        assert not made.currency
        assert made.total().likely == 0
        return
    assert made.total().parts["listed"] == pytest.approx(bill.total, rel=1e-12)
    assert made.by_operation()["plate steel"] == pytest.approx(
        next(item.amount for item in bill.items if item.name == "plate steel")
    )


@pytest.fixture
def bolted(small_text):
    case = case_file.parse(small_text + BOLTED)
    press = layout.build(case)
    return case, press, buying.make(press, case)


def test_bolts_springs_and_gland_bolts_have_lines(bolted):
    _, _, made = bolted
    found = {line.name: line for line in made.lines}
    assert found["cylinder fixing bolt"].quantity == 8
    assert found["gland bolt"].quantity == 12
    spring = found["return spring"]
    wire = math.pi * 0.05 * 10 * math.pi / 4 * 0.008**2  # two dead coils more
    assert spring.quantity == 2
    assert spring.mass == pytest.approx(wire * 7850, rel=1e-12)


def test_a_guess_is_a_wide_range_and_a_quote_is_none(bolted):
    case, press, made = bolted
    line = next(x for x in made.lines if x.name == "tie rod")
    guess = made.money(line)
    assert guess.state == "guessed"
    assert guess.low < 0.7 * guess.likely < 1.4 * guess.likely < guess.high
    told = buying.make(press, case, {line.number: buying.Quote(310.0, 60)})
    quoted = told.money(next(x for x in told.lines if x.number == line.number))
    assert (quoted.low, quoted.likely, quoted.high, quoted.state) == (620.0, 620.0, 620.0, "quoted")
    assert told.total().parts["quoted"] == 620.0


def test_steel_that_rises_costs_by_its_mass(bolted):
    case, press, made = bolted
    dearer = buying.make(press, case, steel_factor=1.2)
    steel = sum(x.steel for x in made.lines if made.money(x).state in ("listed", "guessed"))
    assert dearer.total().likely - made.total().likely == pytest.approx(0.2 * 1.5 * steel)


def test_the_longest_lead_comes_first_and_dates_follow(bolted):
    case, press, made = bolted
    days = [entry[0] for entry in made.in_time()]
    assert days == sorted(days, reverse=True)
    first = made.in_time()[0][1]
    assert first.step == "cylinder"
    day = datetime.date(2027, 6, 1)
    assert (day - made.order_by(first, day)).days == first.lead + buying.STEPS["cylinder"][0]
    slow = buying.make(press, case, {"H04": buying.Quote(None, 200)})
    assert slow.in_time()[0][1].number == "H04"


def test_command_writes_and_reads_back(small_text, tmp_path):
    case = tmp_path / "mine.toml"
    case.write_text(small_text + BOLTED, encoding="utf-8")
    out = tmp_path / "out"
    runner = CliRunner()
    done = runner.invoke(app, ["buy", str(case), "--out", str(out)])
    assert done.exit_code == 0, done.output
    book = openpyxl.load_workbook(out / "parts.xlsx")
    assert book.sheetnames == ["parts", "suppliers", "dates"]
    form = openpyxl.load_workbook(out / "prices-to-fill-in.xlsx")
    sheet = form["prices"]
    head = [cell.value for cell in sheet[1]]
    price = next(i for i, name in enumerate(head) if name.startswith("price of one"))
    lead = head.index("lead time in days")
    assert all(row[price].value is None for row in sheet.iter_rows(min_row=2))
    sheet.cell(2, price + 1, 123.5)
    sheet.cell(2, lead + 1, 35)
    filled = tmp_path / "filled.xlsx"
    form.save(filled)
    done = runner.invoke(app, ["buy", str(case), "--out", str(out), "--prices", str(filled),
                               "--assembly", "2031-05-01"])  # fmt: skip
    assert done.exit_code == 0, done.output
    data = json.loads((out / "parts.json").read_text(encoding="utf-8"))
    line = next(x for x in data["lines"] if x["number"] == sheet.cell(2, 1).value)
    assert line["price"]["likely"] == 123.5 * line["quantity"]
    assert line["price"]["from"] == "quoted"
    assert line["lead"] == 35
    rows = list(csv.reader((out / "parts.csv").read_text(encoding="utf-8").splitlines()[1:]))
    assert "order by" in rows[0]
    assert {len(row) for row in rows} == {len(rows[0])}


def test_a_form_that_is_being_filled_in_stays(small_text, tmp_path):
    case, out = tmp_path / "mine.toml", tmp_path / "out"
    case.write_text(small_text, encoding="utf-8")
    buying.write(case, out)
    form = out / "prices-to-fill-in.csv"
    lines = form.read_text(encoding="utf-8").splitlines()
    assert lines[1].endswith(",,,")
    form.write_text("\n".join([lines[0], lines[1][:-3] + ",44,,", *lines[2:]]), encoding="utf-8")
    buying.write(case, out)
    assert ",44,," in form.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2", "line 1"),
        ("part,price of one,lead time in days\nB01,,", "no price is filled in"),
        ("part,price of one,lead time in days\nQ77,3,", 'line 2: given part "Q77"'),
        ("part,price of one,lead time in days\nB01,3,\nB01,3,", "line 3"),
        ("part,price of one,lead time in days\nB01,3 EUR,", "a number such as 120.50"),
        ("part,price of one,lead time in days\nB01,-3,", "a number such as 120.50"),
        ("part,price of one,lead time in days\nB01,nan,", "a number such as 120.50"),
        ("part,price of one,lead time in days\nB01,3,2.5", "whole days"),
    ],
)
def test_bad_forms_say_what_is_allowed(bolted, tmp_path, text, words):
    path = tmp_path / "form.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match=words):
        files.read_quotes(path, bolted[2])


def test_a_broken_workbook_is_refused(bolted, tmp_path):
    path = tmp_path / "form.xlsx"
    path.write_bytes(b"PK\x03\x04 no")
    with pytest.raises(UsageError, match="cannot be read"):
        files.read_quotes(path, bolted[2])


def test_volumes_of_what_is_bought(bolted):
    _, _, made = bolted
    rod = next(x for x in made.lines if x.name == "tie rod")
    d, long = rod.order.sizes
    assert volume(rod.order) == pytest.approx(math.pi / 4 * d * d * long)
    assert long >= rod.finished.sizes[1] + 9e-3  # a saw cut and both ends faced
