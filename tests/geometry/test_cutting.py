"""Cut files: drawings read back, sheets, solids, and the rules behind them.

Areas are compared with the parts' own closed forms through files that ezdxf and shapely read;
volumes with those that gmsh's OpenCASCADE kernel measures in the STEP files.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.geometry import case as case_file
from platestack.geometry import dxf, layout
from platestack.geometry.cutting import drawing, nesting
from platestack.geometry.cutting.work import hole_work, perimeter, plan
from platestack.geometry.mesher import step
from platestack.geometry.schema import Cutting
from platestack.geometry.shapes import Outline, RectangleHole, RoundHole

LONG = ("on_edge", "large")
NAMES = [
    pytest.param(p.stem, marks=[pytest.mark.slow] if p.stem in LONG else [])
    for p in sorted((Path(__file__).parents[2] / "cases").glob("*/*.toml"))
]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("drawn", ["edge", "torch path"])
def test_every_drawing_passes_its_audit(press_of, name, drawn, tmp_path):
    cutting = Cutting(drawn=drawn)
    for work in plan(press_of(name), cutting):
        file = tmp_path / f"{work.number}.dxf"
        drawing.draw(work, cutting).saveas(file)
        audit = drawing.read_back(file)
        assert not audit.errors
        mass = audit.area * work.plate.thickness * work.plate.material.density
        slots = (work.plate.volume_of_outline - work.plate.volume) * work.plate.material.density
        assert mass - slots == pytest.approx(work.plate.mass, rel=5e-3)
        assert audit.cut_contours == work.pierces


@pytest.mark.parametrize("name", NAMES)
def test_sheets_hold_every_plate_once_without_overlap(press_of, name):
    works = plan(press_of(name), Cutting())
    sheets = nesting.nest(works, Cutting())
    placed = [one.work.number for sheet in sheets for one in sheet.placed]
    assert sorted(placed) == sorted(work.number for work in works)
    for sheet in sheets:
        assert nesting.overlaps(sheet) == []
        assert 0 < sheet.utilisation(whole=True) <= sheet.utilisation() < 1


def test_an_overlap_is_seen(press_of):
    (sheet,) = nesting.nest(plan(press_of("small"), Cutting()), Cutting())
    one = sheet.placed[0]
    twice = nesting.StockSheet(sheet.grade, sheet.thickness, 6.0, 2.0, (one, one))
    assert "overlaps" in nesting.overlaps(twice)[0]


@pytest.mark.parametrize(
    ("name", "which"),
    [
        ("demo", "bed"),
        pytest.param("demo", "crosshead", marks=pytest.mark.slow),
        *(pytest.param(n, w, marks=pytest.mark.slow) for n in LONG for w in ("bed", "crosshead")),
    ],
)
def test_step_has_the_plates_volumes(press_of, name, which, tmp_path, capfd):
    stack = getattr(press_of(name), which)
    step.write(stack, tmp_path / "stack.step")
    found = step.volumes(tmp_path / "stack.step")
    assert found == pytest.approx(sorted(p.volume for p in stack.plates), rel=1e-5)
    assert capfd.readouterr().out == ""


@pytest.mark.parametrize(
    ("diameter", "process", "way"),
    # A hole in 100 mm: as cut from 1 (oxyfuel) or 1.5 thicknesses (plasma) on, bored from half a
    # thickness (and 8 mm) on, drilled below (common practice, no source).
    [
        (0.100, "oxyfuel", "cut"), (0.099, "oxyfuel", "bored"), (0.149, "plasma", "bored"),
        (0.150, "plasma", "cut"), (0.058, "oxyfuel", "bored"), (0.057, "oxyfuel", "drilled"),
    ],
)  # fmt: skip
def test_small_holes_are_not_cut(diameter, process, way):
    work = hole_work(RoundHole((0, 0), diameter), 0.1, Cutting(process=process))
    assert work.way == way
    if way == "bored":
        assert work.cut.diameter == pytest.approx(diameter - 0.008)
    assert (work.cut is None) == (way == "drilled")


@settings(max_examples=30, deadline=None)
@given(
    st.floats(0.2, 3), st.floats(0.2, 3), st.sampled_from(["straight", "chamfered", "rounded"]),
    st.floats(0.01, 0.09), st.integers(-50, 50).map(lambda n: n * 1e-4),
)  # fmt: skip
def test_parallel_contours_by_shapely(length, width, corners, corner, by):
    # shapely's buffer with mitred joins is the parallel contour of straight ones; for rounded ones
    # area and perimeter follow Steiner: A + p·d + π d² − and + 2π d on the perimeter.
    from shapely import Polygon

    outline = Outline(length, width, corners, corner)
    made = drawing.grown(outline, by)
    if corners == "rounded":
        assert made.area == pytest.approx(
            outline.area + perimeter(outline) * by + math.pi * by**2, rel=1e-9
        )
        assert perimeter(made) == pytest.approx(perimeter(outline) + 2 * math.pi * by)
        return
    shape = Polygon([(x, y) for x, y, _ in drawing.vertices(outline)])
    moved = shape.buffer(by, join_style="mitre", mitre_limit=10)
    assert made.area == pytest.approx(moved.area, rel=1e-9)
    assert perimeter(made) == pytest.approx(moved.length, rel=1e-9)


def test_perimeter_of_a_slotted_hole():
    # A rectangle rounded to a stadium: two straights and a full circle.
    hole = RectangleHole((0, 0), 0.3, 0.1, 0.05)
    assert perimeter(hole) == pytest.approx(2 * 0.2 + math.pi * 0.1)


@pytest.mark.parametrize(
    ("shape", "edges"),
    [
        (RectangleHole((0.2, 0.1), 0.3, 0.1, 0.05), 6),  # two lines, four quarters
        (Outline(0.8, 0.18, "chamfered", 0.09), 6),
        (Outline(0.8, 0.18, "rounded", 0.09), 6),
        (Outline(0.18, 0.18, "rounded", 0.09), 4),
        (Outline(0.8, 0.18, "rounded", 0.05), 8),
    ],
)
def test_no_vertex_is_repeated_where_corners_meet(shape, edges):
    made = np.array(drawing.vertices(shape))
    assert len(made) == edges
    assert np.linalg.norm(np.diff(made[:, :2], axis=0, append=made[:1, :2]), axis=1).min() > 0.05
    # Shoelace, and for each arc its segment: with bulge b and chord s over a quarter turn.
    (x, y), after = made[:, :2].T, np.roll(made, -1, axis=0)
    chords = np.hypot(after[:, 0] - x, after[:, 1] - y)
    radii = chords / math.sqrt(2)
    segments = (math.pi / 4 - 0.5) * radii**2 * (made[:, 2] > 0)
    assert (x @ after[:, 1] - y @ after[:, 0]) / 2 + segments.sum() == pytest.approx(shape.area)


def test_slots_are_marked_and_never_cut(press_of, tmp_path):
    cutting = Cutting()
    platen = next(w for w in plan(press_of("large"), cutting) if w.slots)
    document = drawing.draw(platen, cutting)
    layers = [e.dxf.layer for e in document.modelspace()]
    assert layers.count("milled slot") == 2 * 4
    assert layers.count("cut") == 1
    assert any("mill slot" in line for line in drawing.notes(platen, cutting))


def test_on_edge_plates_get_metal_to_machine(press_of):
    works = plan(press_of("on_edge"), Cutting())
    upright = next(w for w in works if w.plate.normal == "y")
    assert upright.blank.width == pytest.approx(upright.plate.outline.width + 0.008)
    assert upright.blank.length == upright.plate.outline.length


def test_command_writes_all_files(tmp_path):
    from typer.testing import CliRunner

    from platestack.fea.app.cli import app

    case = Path(__file__).parents[2] / "cases" / "small" / "small.toml"
    made = CliRunner().invoke(app, ["cut", str(case), "--out", str(tmp_path / "cut")])
    assert made.exit_code == 0, made.output
    files = {p.name for p in (tmp_path / "cut").iterdir()}
    assert files == {
        "B01.dxf", "B02.dxf", "C01.dxf", "C02.dxf", "bed.step", "crosshead.step",
        "cut_list.csv", "sheets.png",
    }  # fmt: skip
    with (tmp_path / "cut" / "cut_list.csv").open(encoding="utf-8") as file:
        assert next(file).startswith("# urn:platestack:cut-list:1; platestack ")
        lines = list(csv.DictReader(file))
    assert len(lines) == 4
    plate = (0.46 * 0.18 - 2 * math.pi / 4 * 0.048**2) * 0.05 * 7850
    assert float(lines[0]["finished mass [kg]"]) == pytest.approx(plate, abs=0.01)


def test_a_blank_larger_than_the_sheet_is_told(press_of):
    from platestack.geometry.errors import PlatestackError

    works = plan(press_of("small"), Cutting())
    with pytest.raises(PlatestackError, match=r"B01.*larger than cutting\.sheet"):
        nesting.nest(works, Cutting(sheet=("400 mm", "300 mm")))


def test_cutting_table_is_read(small_text):
    case = case_file.parse(small_text + '[cutting]\nprocess = "plasma"\nkerf = "5 mm"\n')
    assert (case.cutting.process, case.cutting.kerf) == ("plasma", 0.005)


@settings(max_examples=50, deadline=None)
@given(st.text(max_size=30) | st.sampled_from(["A%%d", "100 %%%", "^J", "x^ y", "\\P{a}", "a\nb"]))
def test_notes_are_shown_as_they_are(text):
    """Read back by ezdxf, which decodes the codes of DXF (%%d is a degree sign, ^J a line)."""
    import ezdxf

    space = ezdxf.new("R2010").modelspace()
    shown = space.add_text(dxf.escaped(text)).plain_text()
    text = text.replace("^", "\N{MODIFIER LETTER CIRCUMFLEX ACCENT}")
    assert shown == "".join(letter if letter.isprintable() else " " for letter in text)


def test_a_grade_with_codes_in_its_name_is_drawn(small_text, tmp_path):
    name = "A%%d <b> µ"
    text = small_text.replace('grade = "S355J2"', f'grade = "{name}"') + (
        f'[materials."{name}"]\nyield_strength = "355 MPa"\ntensile_strength = "500 MPa"\n'
    )
    case = case_file.parse(text)
    work = plan(layout.build(case), case.cutting)[0]
    document = drawing.draw(work, case.cutting)
    file = tmp_path / "odd.dxf"
    document.saveas(file)
    assert drawing.read_back(file).errors == ()
    assert any(name in note.plain_text() for note in document.modelspace().query("TEXT"))
