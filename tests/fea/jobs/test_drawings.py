"""Drawings: each part has one, it can be read, and the part can be made from its numbers alone."""

from __future__ import annotations

import dataclasses
import functools
import json
import math
import re
from pathlib import Path

import pytest
import rebuilding
from typer.testing import CliRunner

from platestack.fea.app.cli import app
from platestack.fea.jobs import buying
from platestack.fea.jobs.drawings import files
from platestack.fea.jobs.drawings.sheets import sheets
from platestack.fea.support import result_files
from platestack.geometry import case as case_file
from platestack.geometry import dxf, layout, masses, units
from platestack.geometry.drafting import conflicts, paper_dxf
from tests.figures.drawn_presses import Draw

CASES = sorted((Path(__file__).parents[3] / "cases").glob("*/*.toml"))
CASE = {path.stem: path for path in CASES}
DIGEST = "0" * 64
ALL_OF_IT = """
[bed.platen]
length = "300 mm"
width = "160 mm"
thickness = "60 mm"
openings = [
  { shape = "groove", along = "x", at = "-40 mm", width = "14 mm", depth = "25 mm", head_width = "23 mm", head_depth = "9 mm" },
  { shape = "groove", along = "x", at = "40 mm", width = "14 mm", depth = "20 mm" },
]
[[bed.clamp_bolts]]
thread = "M16"
at = ["200 mm", "150 mm"]
[[bed.clamp_bolts]]
thread = "M16"
at = ["-200 mm", "150 mm"]
[ram.fixing]
thread = "M16"
count = 8
[ram.flange]
outer_diameter = "340 mm"
thickness = "30 mm"
[cylinder]
outer_diameter = "260 mm"
[cylinder.gland_bolts]
thread = "M12"
count = 12
[[cylinder.grooves]]
part = "piston"
at = "22 mm"
width = "12.5 mm"
depth = "10.5 mm"
holds = "piston seal"
[[cylinder.grooves]]
part = "piston"
at = "5 mm"
width = "9.7 mm"
depth = "2.5 mm"
holds = "guide ring"
[[cylinder.grooves]]
part = "gland bore"
at = "10 mm"
width = "9.7 mm"
depth = "2.5 mm"
holds = "guide ring"
[[cylinder.grooves]]
part = "gland outside"
at = "30 mm"
width = "7.1 mm"
depth = "4.3 mm"
holds = "O-ring"
[drawings]
owner = "A workshop with a name that is longer than the field it stands in"
creator = "N. N."
revision = "C"
projection = "third"
"""  # noqa: E501


@functools.cache
def drawn(path: Path):
    return of_case(case_file.read(path))


def of_case(case):
    """The case, its press, its bill of materials and its sheets."""
    press = layout.build(case)
    with units.using(case.units):
        made = buying.make(press, case)
        return case, press, made, sheets(press, case, made, DIGEST)


def unreadable(made) -> list[str]:
    """Words over words or lines, and what stands outside its frame."""
    found = []
    for sheet in made:
        found += [f"{sheet.head.number}: {fault}" for fault in conflicts(sheet.draft)]
        x0, y0, x1, y1 = sheet.paper.frame
        a, b, c, d = sheet.draft.extent
        if a < x0 - 1e-6 or b < y0 - 1e-6 or c > x1 + 1e-6 or d > y1 + 1e-6:
            found.append(f"{sheet.head.number}: leaves its frame")
    return found


def compare_masses(case, press, made, found) -> int:
    """Each part drawn, made again from its drawing, weighs what the list and the press say."""
    sheet_of = {sheet.head.number: sheet for sheet in found}
    pieces = {piece.name: piece.mass for piece in masses.pieces(press)}
    compared = 0
    for line in made.lines:
        if not line.drawing or line.drawing.startswith("A"):
            continue
        with units.using(case.units):
            volume = rebuilding.volume(sheet_of[line.drawing].draft)
        mass = volume * _density(press, line)
        rel = 1e-3  # inches are shown to three decimals
        if case.units == "US":
            rel += 0.0005 * 0.0254 / min(line.finished.sizes)
        assert mass == pytest.approx(line.mass, rel=rel), line.number
        for name in line.pieces:
            if name in pieces and name != "cylinder":
                assert mass == pytest.approx(pieces[name], rel=rel), name
                compared += 1
    return compared


def _density(press, line) -> float:
    made = press.cylinder
    rods, plates = press.rods[0], {}
    for stack in press.stacks:
        plates |= {f"{stack.name} {p.name}": p.material.density for p in stack.plates}
    named = {
        "R01": rods.material, "N01": rods.material, "S01": rods.material,
        "W01": rods.washer_material or rods.material, "Z01": made.material,
        "Z02": made.bottom_material, "Z03": made.material, "Z04": made.ram_material,
        "Z05": made.ram_material, "Z06": made.bottom_material,
    }  # fmt: skip
    if line.number in named:
        return named[line.number].density
    return plates.get(line.name, masses.STEEL)


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_no_words_lie_over_others_or_over_lines(path):
    assert unreadable(drawn(path)[3]) == []


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_parts_made_from_their_drawings_weigh_what_they_should(path):
    """To 0.1 %, from the numbers shown; the sum is that of the press."""
    case, press, made, found = drawn(path)
    assert compare_masses(case, press, made, found) >= 8
    cylinder = [line for line in made.lines if line.pieces == ("cylinder",)]
    assert sum(line.mass for line in cylinder) == pytest.approx(press.cylinder.mass, rel=1e-9)


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_each_number_said_to_be_shown_is_on_the_paper(path):
    for sheet in drawn(path)[3]:
        words = [text.text for text in sheet.draft.texts]
        for one in sheet.draft.shown:
            assert any(one.text in text for text in words), (sheet.head.number, one)


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_each_part_has_a_drawing_or_is_bought_by_its_designation(path):
    *_, made, found = drawn(path)
    numbers = [sheet.head.number for sheet in found]
    assert len(set(numbers)) == len(numbers)
    for line in made.lines:
        if line.way == "made" or line.drawing:
            assert line.drawing in numbers, line.number
        else:
            assert line.standard, line.number
    drawn_parts = [sheet for sheet in found if sheet.head.kind == "part drawing"]
    wanted = {line.drawing for line in made.lines if line.drawing} - {"A01"}
    assert {sheet.head.number for sheet in drawn_parts} == wanted
    for sheet in drawn_parts:
        lines = [line for line in made.lines if line.drawing == sheet.head.number]
        assert float(sheet.head.quantity) == sum(line.quantity for line in lines)
        assert len({line.material for line in lines}) == 1
        assert sheet.head.material == lines[0].material


def test_a_plate_that_is_alike_shares_a_drawing_and_one_that_is_not_has_its_own():
    made = drawn(CASE["demo"])[2]
    of = {line.number: line.drawing for line in made.lines}
    assert of["B02"] == of["B03"] == "B02"
    assert of["B01"] == "B01"  # its lower face is machined
    assert of["B04"] == "B04"


def test_the_title_block_says_case_program_revision_and_sheet():
    _, press, _, found = drawn(CASE["small"])
    for number, sheet in enumerate(found, 1):
        words = {text.text for text in sheet.draft.texts}
        assert {sheet.head.number, "A", f"{number} / {len(found)}", press.name} <= words
        assert any(text.startswith(f"case {DIGEST[:12]}, platestack ") for text in words)
        assert any("ISO 2768-mK" in text for text in words)


def test_a_bolted_gland_slots_and_third_angle(four_rods):
    """What the cases do not have; long names are made to fit."""
    case, press, made, found = of_case(case_file.parse(four_rods(more=ALL_OF_IT)))
    assert unreadable(found) == []
    assert compare_masses(case, press, made, found) >= 8
    words = "\n".join(text.text for sheet in found for text in sheet.draft.texts)
    assert "T-slot 14 × 25 deep" in words
    assert "12 tapped holes M12" in words
    assert "8 tapped holes M16" in words
    assert {sheet.head.projection for sheet in found} == {"third"}
    assert {"piston seal", "guide ring", "O-ring"} <= set(words.splitlines())
    assert {"8 × ⌀ 18", "on a circle ⌀ 300"} <= set(words.splitlines())
    made_of = {line.number: line.mass for line in made.lines}
    assert sum(made_of[f"Z0{n}"] for n in range(1, 6)) == pytest.approx(press.cylinder.mass)
    # Pappus: an area goes round at the distance of its middle from the axis.
    ring = math.pi * (0.18 - 2 * press.cylinder.clearance - 0.0105) * 0.0105 * 0.0125
    whole = dataclasses.replace(press.cylinder, grooves=press.cylinder.grooves[1:])
    lost = (whole.mass - press.cylinder.mass) / press.cylinder.ram_material.density
    assert lost == pytest.approx(ring, rel=1e-9)
    assert "drawing-Z06.dxf" in {files.name_of(sheet) for sheet in found}


@pytest.mark.parametrize("seed", [0, pytest.param(1, marks=pytest.mark.slow)])
def test_drawn_presses_can_be_read_and_made(seed):
    """Three in the fast tests, forty more in the slow ones."""
    draw = Draw(4100 + seed)
    for _ in range(40 if seed else 3):
        case, press, made, found = of_case(draw.press())
        assert unreadable(found) == [], draw.text
        compare_masses(case, press, made, found)


def test_a_fault_is_seen():
    """The checks themselves: words moved over others, a dimension left out."""
    *_, found = drawn(CASE["small"])
    rod = next(sheet for sheet in found if sheet.head.number == "R01").draft
    texts = list(rod.texts)
    rod.items.append(texts[0].moved((0.5, 0.5)))
    assert conflicts(rod)
    rod.items.pop()
    assert not conflicts(rod)
    kept = list(rod.shown)
    rod.shown[:] = [one for one in kept if not one.role.startswith("length 0-")]
    with pytest.raises(KeyError):
        rebuilding.volume(rod)
    rod.shown[:] = kept


def test_files_pass_their_audit_and_hold_the_words(tmp_path):
    from ezdxf.document import Drawing

    *_, found = drawn(CASE["us_units"])
    for sheet in found:
        file = tmp_path / files.name_of(sheet)
        paper_dxf.write(sheet.draft, file)
        document, errors = dxf.read(file)
        assert isinstance(document, Drawing)
        assert errors == []
        words = [e.plain_text() for e in document.modelspace().query("TEXT")]
        assert len(words) == len(list(sheet.draft.texts))
        assert document.layers.get("outline").dxf.lineweight == 50


def test_a_reader_of_inches_meets_no_millimetre():
    *_, found = drawn(CASE["us_units"])
    assert {sheet.paper.name for sheet in found} == {"letter", "tabloid"}
    for sheet in found:
        text = " ".join(words.text for words in sheet.draft.texts)
        assert not re.search(r"\d\s?(mm|µm|um|MPa|kN|kg|L)\b", text), sheet.head.number


def test_command_writes_sheets_that_it_may_replace(tmp_path, small_text):
    case, out = tmp_path / "mine.toml", tmp_path / "out"
    case.write_text(small_text, encoding="utf-8")
    done = CliRunner().invoke(app, ["draw", str(case), "--out", str(out), "--projection", "third"])
    assert done.exit_code == 0, done.output
    data = json.loads((out / "drawings.json").read_text(encoding="utf-8"))
    assert {sheet["projection"] for sheet in data["sheets"]} == {"third"}
    names = {sheet["file"] for sheet in data["sheets"]}
    assert {p.name for p in out.iterdir()} == names | {"drawings.json", "drawings.pdf"}
    result_files.usable(out, files.MARK)
    from pypdf import PdfReader

    pages = PdfReader(out / "drawings.pdf").pages
    assert len(pages) == len(data["sheets"])
    boxes = [page.mediabox for page in pages]
    sizes = {(round(float(b.width) / 72 * 25.4), round(float(b.height) / 72 * 25.4)) for b in boxes}
    assert sizes == {(420, 297), (210, 297)}
    assert "tie rod" in pages[[s["number"] for s in data["sheets"]].index("R01")].extract_text()
    done = CliRunner().invoke(app, ["draw", str(case), "--projection", "second"])
    assert done.exit_code != 0
    assert "first or third" in str(done.exception)
