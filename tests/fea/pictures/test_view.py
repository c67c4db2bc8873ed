"""The command `view`: parts, fields and cuts by name, refused in words; a window or a file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from picture_checks import check_picture
from sample_run import write_run

from platestack.fea.pictures import render, sheet
from platestack.fea.pictures import view as view_module
from platestack.fea.pictures.fields import find_field
from platestack.fea.pictures.scene import find_part, parse_cut
from platestack.fea.pictures.view import view
from platestack.geometry.errors import UsageError


@pytest.fixture(scope="module")
def run(tmp_path_factory) -> Path:
    return write_run(tmp_path_factory.mktemp("run"), size=0.12)


@pytest.mark.parametrize(
    ("text", "axis", "at"),
    [("x=0 mm", 0, 0.0), ("y=0", 1, 0.0), (" Z = 1.2 m ", 2, 1.2), ("x=-35 cm", 0, -0.35)],
)
def test_cut_is_read_with_its_unit(text, axis, at):
    cut = parse_cut(text)
    assert (cut.axis, cut.at) == (axis, pytest.approx(at))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("w=0 mm", "no cutting plane"),
        ("x 0 mm", "no cutting plane"),
        ("x=", "no cutting plane"),
        ("x=5", "unit is missing"),
        ("x=1,5 mm", "point, not a comma"),
        ("x=2 kg", "not the unit"),
    ],
)
def test_cut_that_is_none_says_what_is_allowed(text, words):
    with pytest.raises(UsageError, match=words):
        parse_cut(text)


def test_parts_are_found_by_name(sampled):
    _, info = sampled
    assert find_part(info, None).stack is None
    assert find_part(info, "Bed").stack == 1
    found = find_part(info, " crosshead / plate  2 ")
    assert (found.stack, found.plate) == (0, 1)
    assert find_part(info, "bed/plate 1").plate == 5


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("crosshed", "'crosshead'"),
        ("crosshead/plat 2", "'crosshead/plate 2'"),
        ("plate 4", "'bed/plate 4'"),
        ("bed/plate 5", "'bed/plate 4'"),
    ],
)
def test_unknown_part_suggests_the_nearest(sampled, text, hint):
    with pytest.raises(UsageError, match="Did you mean") as caught:
        find_part(sampled[1], text)
    assert hint in str(caught.value).split("Allowed")[0]


def test_fields_are_found_by_name(sampled):
    data = sampled[0].point_data
    for name in ("von-mises", "VON_MISES", "von mises"):
        assert find_field(name, data).name == "von_mises"
    assert find_field("principal_3", data).name == "principal 3"
    assert find_field("xz", data).name == "stress xz"
    with pytest.raises(UsageError, match="Did you mean 'deflection'"):
        find_field("deflexion", data)
    with pytest.raises(UsageError, match="no field 'utilisation'"):
        find_field("utilisation", ["von_mises"])


@pytest.fixture
def no_screen(monkeypatch):
    monkeypatch.setattr(view_module, "has_display", lambda: False)


def test_view_writes_a_picture_where_there_is_no_screen(run, no_screen):
    path = view(run)
    assert path == run / "view.png"
    check_picture(path, sheet.SIZE)


@pytest.mark.parametrize(
    "request_",
    [{"cut": "x=0 mm"}, {"part": "bed/plate 2", "field": "stress xx"}, {"cut": "z=1.5 m"}],
)
def test_view_of_a_part_or_a_cut(run, tmp_path, request_):
    path = view(run, out=tmp_path / "out.png", **request_)
    check_picture(path, sheet.SIZE)


@pytest.mark.parametrize(
    ("request_", "words"),
    [
        ({"field": "colour"}, "no field 'colour'"),
        ({"part": "roof"}, "no part 'roof'"),
        ({"cut": "x=700 mm"}, "-600 mm to 600 mm"),
        ({"part": "bed", "cut": "z=1.2 m"}, "z = 0 mm to 400 mm"),
    ],
)
def test_view_refuses_what_is_not_there(run, tmp_path, request_, words):
    with pytest.raises(UsageError, match=words):
        view(run, out=tmp_path / "out.png", **request_)
    assert not (tmp_path / "out.png").exists()


def test_view_of_no_run(tmp_path):
    with pytest.raises(UsageError, match=r"summary\.json: cannot be read"):
        view(tmp_path)


def test_window_carries_scale_words_and_marks(run):
    grid, info = view_module.read_run(run)
    field = find_field("von_mises", grid.point_data)
    stage = render.RenderWindow(sheet.VIEW)
    drawing = view_module.draw(
        stage, grid, info, view_module.Request(field, find_part(info, None), None)
    )
    bare = len(stage.plotter.renderer.actors)
    view_module.dress_window(drawing, info.title)
    assert len(stage.plotter.renderer.actors) >= bare + 6
    assert len(stage.plotter.scalar_bars) == 1
    assert stage.shoot().std() > 5


def test_broken_summary_is_told_in_a_sentence(tmp_path):
    for text in ("{", "[]", "{}", '{"schema_version": 2, "crosshead": 3}'):
        (tmp_path / "summary.json").write_text(text, encoding="utf-8")
        (tmp_path / "fields.vtu").write_text("", encoding="utf-8")
        with pytest.raises(UsageError, match=r"not a summary of a run|version None"):
            view_module.read_run(tmp_path)


def test_damaged_numbers_of_a_summary_are_told_in_a_sentence(run, tmp_path):
    good = json.loads((run / "summary.json").read_text(encoding="utf-8"))
    rods, bed = good["rods"], good["bed"]
    for damage in (
        {"rods": [{**rods[0], "diameter": [1, 2]}]},
        {"rods": [{**rods[0], "ends": ["low", "high"]}]},
        {"bed": {**bed, "symmetry": ["q"]}},
    ):
        (tmp_path / "summary.json").write_text(json.dumps(good | damage), encoding="utf-8")
        with pytest.raises(UsageError, match="not a summary of a run"):
            view_module.read_run(tmp_path)
