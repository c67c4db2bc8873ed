"""Pictures: the right shape, the right words, nothing blank, clipped or colliding."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_run import REFERENCE, ROD, Box, X, Y, sample, write_run

from fea import view as view_module
from fea.pictures import (
    ComparisonRow,
    RenderingError,
    all_pictures,
    charts,
    comparison_picture,
    press,
    render,
    scene_info,
    sheet,
)
from fea.pictures.cut import cut_open
from fea.pictures.fields import find_field, magnification, mirror_signs, round_up, scale_for
from fea.pictures.scene import Cut, find_part, parse_cut
from fea.pictures.surface import take_skin, whole
from fea.view import view
from geometry.errors import PlatestackError, UsageError

DEPTH = 0.40
HOLE = 0.05


@pytest.fixture(scope="module")
def quarter():
    grid, summary = sample(size=0.12)
    return grid, scene_info(summary)


@pytest.fixture(scope="module")
def run(tmp_path_factory) -> Path:
    return write_run(tmp_path_factory.mktemp("run"), size=0.12)


def crosshead_cells(grid):
    return np.flatnonzero(grid.cell_data["stack"] == 0)


def enclosed(skin) -> float:
    """Volume inside a closed surface by the divergence theorem; positive if it looks outwards."""
    a, b, c = np.swapaxes(skin.points[skin.triangles], 0, 1)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


# ---- surface ------------------------------------------------------------------------------------


@pytest.mark.parametrize("box", [Box(), Box(y=-Y), Box(x=-X, y=-Y)], ids=["quarter", "half", "all"])
def test_mirrored_surface_is_the_whole_stack(box):
    grid, summary = sample(box, size=0.2)
    symmetry = scene_info(summary).stacks[0].symmetry
    skin = whole(take_skin(grid, crosshead_cells(grid), symmetry, ["displacement"]), symmetry)
    assert skin.points.min(axis=0) == pytest.approx([-X, -Y, 1.30], abs=1e-12)
    assert skin.points.max(axis=0) == pytest.approx([X, Y, 1.70], abs=1e-12)
    # A block with four holes. The drawn polygon is inscribed in each circle, so a little area of
    # the holes is missing: at most 1 - sin(t)/t of it with t = pi/28 (14 elements, halved).
    holes = 4 * np.pi * HOLE**2
    block = 4 * X * Y
    volume = (block - holes) * DEPTH
    assert volume < enclosed(skin) < volume + 0.01 * holes * DEPTH
    area = 2 * (block - holes) + 4 * (X + Y) * DEPTH + 4 * 2 * np.pi * HOLE * DEPTH
    assert skin.areas().sum() == pytest.approx(area, rel=2e-3)


def test_outer_surface_agrees_with_vtk(quarter):
    # VTK's own surface filter is the independent reference; its points are single precision.
    grid, _ = quarter
    cells = crosshead_cells(grid)
    ours = take_skin(grid, cells, (), [])
    vtk = grid.extract_cells(cells).extract_surface(algorithm="dataset_surface").triangulate()
    assert ours.areas().sum() == pytest.approx(vtk.area, rel=1e-6)
    assert len(ours.triangles) == vtk.n_cells


def test_fields_reflect_as_vectors_and_tensors():
    rng = np.random.default_rng(1)
    vector, (xx, yy, zz, xy, yz, xz) = rng.normal(size=3), rng.normal(size=6)
    tensor = np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
    for axis in (0, 1):
        mirror = np.eye(3)
        mirror[axis, axis] = -1
        assert vector * mirror_signs("displacement", axis) == pytest.approx(mirror @ vector)
        t = mirror @ tensor @ mirror.T
        expected = [t[0, 0], t[1, 1], t[2, 2], t[0, 1], t[1, 2], t[0, 2]]
        shown = np.array([xx, yy, zz, xy, yz, xz]) * mirror_signs("stress", axis)
        assert shown == pytest.approx(expected)


def test_normals_are_smooth_across_a_mirror_and_split_at_edges(quarter):
    grid, info = quarter
    symmetry = info.stacks[0].symmetry
    skin = take_skin(grid, crosshead_cells(grid), symmetry, ["displacement"])
    bent = skin.moved(200.0, REFERENCE["crosshead"])
    normals = skin.normals(bent)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1.0)
    assert normals[skin.points[:, 0] == 0][:, 0] == pytest.approx(0.0, abs=1e-12)
    corner = np.isclose(skin.points, [X, Y, 1.70]).all(axis=1)
    flat = skin.normals(skin.points)[corner]
    assert sorted(map(tuple, np.round(flat, 9) + 0.0)) == [(0, 0, 1), (0, 1, 0), (1, 0, 0)]


def test_contour_leaves_out_holes_and_plate_borders(quarter):
    grid, info = quarter
    skin = whole(take_skin(grid, crosshead_cells(grid), info.stacks[0].symmetry, []), ("x", "y"))
    a, b = np.swapaxes(skin.points[skin.outer_contour()], 0, 1)
    # The twelve edges of a block.
    assert np.linalg.norm(b - a, axis=1).sum() == pytest.approx(8 * (X + Y) + 4 * DEPTH)


HOLES = np.pi * HOLE**2


@pytest.mark.parametrize(
    ("cut", "volume", "section"),
    [
        (Cut(0, 0.0), (2 * X * Y - 2 * HOLES) * DEPTH, 2 * Y * DEPTH),
        (Cut(0, 0.2), ((X - 0.2) * 2 * Y - 2 * HOLES) * DEPTH, 2 * Y * DEPTH),
        (Cut(1, -0.15), ((Y + 0.15) * 2 * X - 2 * HOLES) * DEPTH, 2 * X * DEPTH),
        (Cut(2, 1.52), (4 * X * Y - 4 * HOLES) * 0.22, 4 * X * Y - 4 * HOLES),
    ],
)
def test_cut_closes_the_solid_with_its_section(quarter, cut, volume, section):
    grid, info = quarter
    cells, symmetry = crosshead_cells(grid), info.stacks[0].symmetry
    skin = take_skin(grid, cells, symmetry, ["displacement"])
    opened = cut_open(grid, cells, skin, symmetry, cut, 2 * X)
    side = 1.0 if cut.axis < 2 else -1.0
    assert (side * (opened.points[:, cut.axis] - cut.at)).min() == pytest.approx(0, abs=2e-6)
    on_plane = (np.abs(opened.points[opened.triangles][..., cut.axis] - cut.at) < 3e-6).all(axis=1)
    # Holes are drawn as inscribed polygons, which leaves them up to 1 % too small.
    assert opened.areas()[on_plane].sum() == pytest.approx(section, rel=5e-4)
    # The section's sense of turning is not fixed: with the plane moved through the origin it adds
    # nothing to the volume, and the rest of the surface gives all of it.
    at = np.where(np.arange(3) == cut.axis, cut.at, 0.0)
    rest = replace(opened, triangles=opened.triangles[~on_plane], points=opened.points - at)
    assert enclosed(rest) == pytest.approx(volume, rel=5e-4)
    # The invented deflection, interpolated along cut edges, is still that of the place.
    x, y = opened.points[:, 0], opened.points[:, 1]
    w = 0.32e-3 * (1 - (x / ROD[0]) ** 2 + 0.3 * (1 - (y / ROD[1]) ** 2))
    shown = opened.data["displacement"][:, 2] - REFERENCE["crosshead"]
    assert shown == pytest.approx(w, abs=8e-6)


# ---- numbers in the picture ---------------------------------------------------------------------


@given(st.floats(1e-9, 1.0), st.floats(0.1, 20.0))
def test_magnification_is_round_and_near_what_is_wanted(largest, size):
    factor = magnification(largest, size)
    mantissa = float(f"{factor:e}".split("e")[0])
    assert mantissa in (1.0, 2.0, 5.0)
    # Neighbours among 1, 2, 5 are at most 2.5 apart, so half that, as a ratio, is missed at most.
    assert 0.06 / 2.5**0.5 - 1e-9 <= factor * largest / size <= 0.06 * 2.5**0.5 + 1e-9


def test_nothing_moves_nothing_is_magnified():
    assert magnification(0.0, 1.0) == 1.0


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.booleans())
def test_scale_has_round_ticks_over_the_values(values, signed):
    values = np.array(values) if signed else np.abs(values)
    scale = scale_for(values, np.ones(len(values)), signed)
    assert 1 <= len(scale.ticks) - 1 <= 12
    assert scale.low == (-scale.high if signed else 0.0)
    assert scale.high >= np.abs(values).max() * (1 - 1e-9) or scale.clipped


def test_one_singular_spot_does_not_take_the_colours():
    values = np.append(np.linspace(0, 80.0, 2000), 900.0)
    scale = scale_for(values, np.append(np.full(2000, 1.0), 1e-3), signed=False)
    assert scale.clipped
    assert scale.high == 80.0
    assert scale.text(scale.ticks[-1]) == "≥ 80"


@given(st.floats(1e-8, 1e8))
def test_round_up(value):
    result = round_up(value)
    assert value * (1 - 1e-8) <= result <= 2.5 * value
    assert float(f"{result:.6e}".split("e")[0]) in (1.0, 2.0, 2.5, 5.0)


@pytest.mark.parametrize("signed", [False, True])
def test_colours_change_evenly_and_read_in_grey(signed):
    # Lightness L* from sRGB: IEC 61966-2-1 and CIE 15 (from memory).
    scale = scale_for(np.array([-1.0, 1.0]), np.ones(2), signed)
    rgb = sheet.colours(scale)(np.linspace(0, 1, 65))[:, :3]
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    light = 116 * np.cbrt(luminance) - 16
    steps = np.diff(light)
    if signed:
        assert (steps[:31] > 0).all()
        assert (steps[33:] < 0).all()
    else:
        assert (steps < 0).all()
        assert steps.min() > 2 * steps.mean()
        assert light[0] - light[-1] > 75


# ---- requests -----------------------------------------------------------------------------------


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


def test_parts_are_found_by_name(quarter):
    _, info = quarter
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
def test_unknown_part_suggests_the_nearest(quarter, text, hint):
    with pytest.raises(UsageError, match="Did you mean") as caught:
        find_part(quarter[1], text)
    assert hint in str(caught.value).split("Allowed")[0]


def test_fields_are_found_by_name(quarter):
    data = quarter[0].point_data
    for name in ("von-mises", "VON_MISES", "von mises"):
        assert find_field(name, data).name == "von_mises"
    assert find_field("principal_3", data).name == "principal 3"
    assert find_field("xz", data).name == "stress xz"
    with pytest.raises(UsageError, match="Did you mean 'deflection'"):
        find_field("deflexion", data)
    with pytest.raises(UsageError, match="no field 'utilisation'"):
        find_field("utilisation", ["von_mises"])


def test_deflection_is_relative_to_the_nuts(quarter):
    grid, info = quarter
    field = find_field("deflection", grid.point_data)
    body = press.bodies(grid, info, [field.source])[0]
    values = field.values(body.skin.data["displacement"], body.info.reference)
    at_rod = np.hypot(body.skin.points[:, 0] - ROD[0], body.skin.points[:, 1] - ROD[1]) < 0.0501
    # The invented deflection is zero at the rods' axes and 0.416 mm in the middle.
    assert np.abs(values[at_rod]).max() < 0.13
    assert values.max() == pytest.approx(0.416, rel=1e-6)


# ---- camera and layout --------------------------------------------------------------------------


def test_camera_shows_all_points_and_knows_what_is_hidden():
    rng = np.random.default_rng(2)
    points = rng.uniform(-1, 1, (500, 3)) * [3, 1, 0.5]
    camera = render.Camera.fitting(points, (0.5, -1, 0.4), (800, 600))
    pixels = camera.pixels(points)
    assert pixels.min() > 0
    assert (pixels.max(axis=0) < [800, 600]).all()
    top = render.Camera.fitting(points, (0.001, 0, 1), (800, 600))
    triangle = np.array([[-1.0, -1, 0], [1, -1, 0], [0, 1, 0]]), np.array([[0, 1, 2]])
    assert top.hides(np.array([0.0, 0, -0.1]), *triangle, 1e-3)
    assert not top.hides(np.array([0.0, 0, 0.1]), *triangle, 1e-3)
    assert not top.hides(np.array([5.0, 0, -0.1]), *triangle, 1e-3)


def test_label_goes_to_the_nearest_free_ground():
    taken = np.zeros((300, 400), dtype=np.int64)
    taken[50:250, 50:250] = 1
    x, y = sheet.free_place(taken, (230, 150), (100, 40))
    assert taken[y : y + 40, x : x + 100].sum() == 0
    assert 250 <= x <= 256
    assert y <= 150 <= y + 40


@settings(max_examples=60)
@given(st.lists(st.floats(0, 100), min_size=1, max_size=8))
def test_labels_are_spread_apart_and_stay_in_order(wanted):
    placed = charts.spread(np.array(wanted), 12.0, 0.0, 100.0)
    order = np.argsort(wanted, kind="stable")
    assert (np.diff(placed[order]) >= 12.0 - 1e-9).all()
    assert placed.min() >= -1e-9
    assert placed.max() <= 100 + 1e-9


def test_labels_with_room_stay_where_they_are():
    wanted = np.array([70.0, 10.0, 40.0])
    assert charts.spread(wanted, 12.0, 0.0, 100.0) == pytest.approx(wanted)


def check_texts(figure):
    """No text leaves the figure, no two texts overlap."""
    renderer = figure.canvas.get_renderer()
    figure.draw(renderer)
    artists = list(figure.texts)
    for axes in figure.axes:
        artists += axes.texts
        for axis in (axes.xaxis, axes.yaxis):
            low, high = axis.get_view_interval()
            artists += [t.label1 for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
            artists += [t.label2 for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
        artists += [axes.title, axes._left_title, axes.xaxis.label, axes.yaxis.label]
    boxes = {
        id(artist): (artist.get_text(), artist.get_window_extent(renderer))
        for artist in artists
        if artist.get_text().strip() and artist.get_visible()
    }
    width, height = figure.canvas.get_width_height()
    for words, box in boxes.values():
        inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= width and box.y1 <= height
        assert inside, f"{words!r} is clipped"
    for (one, a), (two, b) in combinations(boxes.values(), 2):
        wide = min(a.x1, b.x1) - max(a.x0, b.x0)
        high = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert wide <= 1 or high <= 1, f"{one!r} collides with {two!r}"


@pytest.mark.parametrize("name", ["von_mises", "deflection", "utilisation"])
def test_sheet_has_no_clipped_or_colliding_words(quarter, name):
    grid, info = quarter
    info = replace(info, title="A press with a long name " * 6)
    stack = info.stacks[0]
    peak = replace(stack.peak, words="at the edge of the rod hole, upper face")
    info = replace(info, stacks=(replace(stack, peak=peak), info.stacks[1]))
    field = find_field(name, grid.point_data)
    seen = press.bodies(grid, info, [field.source])
    drawing = press.draw_field(render.Stage(sheet.VIEW), seen, info, field, press.FROM_FRONT)
    assert "magnified 100×" in drawing.caption
    assert "quarter mirrored at x = 0 and y = 0" in drawing.caption
    assert len(drawing.labels) == (2 if name in ("von_mises", "deflection") else 0)
    check_texts(drawing.sheet(info.title, press.headline(field)).compose())


# ---- pictures -----------------------------------------------------------------------------------


def check_picture(path, size, colours=400):
    """Check that the file is a picture of this size that shows something amid empty margins."""
    image = matplotlib.image.imread(path)[:, :, :3]
    assert image.shape[:2] == size[::-1]
    assert image.std() > 0.03
    shades = np.round(image * 255).astype(np.int64) @ [65536, 256, 1]
    assert len(np.unique(shades)) > colours
    border = np.concatenate([image[:8].reshape(-1, 3), image[:, :8].reshape(-1, 3)])
    assert np.ptp(border, axis=0).max() == 0
    return image


def test_all_pictures_of_a_run(quarter, tmp_path):
    grid, info = quarter
    made = all_pictures(grid, info, tmp_path)
    assert sorted(made) == ["bed_face", "crosshead_face", "deflection", "mesh", "stress"]
    images = [check_picture(path, sheet.SIZE) for path in made.values()]
    for one, two in combinations(images, 2):
        assert np.abs(one - two).max() > 0.5


def test_colour_in_the_picture_is_that_of_the_scale(quarter, tmp_path):
    # A uniform field must show the colour of its value on the face that looks at the light.
    grid, info = quarter
    plain = grid.copy()
    plain.point_data["von_mises"] = np.full(grid.n_points, 100e6)
    plain.point_data["displacement"] = np.zeros((grid.n_points, 3))
    info = replace(info, stacks=tuple(replace(s, peak=None, reference=0.0) for s in info.stacks))
    path = press.face_picture(plain, info, "bed", tmp_path / "face.png")
    image = matplotlib.image.imread(path)[:, :, :3]
    middle = image[500:540, 900:940].reshape(-1, 3).mean(axis=0)
    wanted = np.array(sheet.colours(scale_for(np.array([100.0]), np.ones(1), False))(1.0)[:3])
    assert middle == pytest.approx(wanted, abs=0.06)


def test_comparison_picture(tmp_path):
    rows = [
        ComparisonRow(
            stack, t, f * 180e6 * (0.08 / t) ** 1.6, -f * 4e-4 * (0.08 / t) ** 2.3,
            f * 15e3 * t / 0.08, 4e6, 1e-5, 200e6 * f, 5e-4,
        )
        for stack, f in (("crosshead", 1.0), ("bed", 0.98))
        for t in (0.06, 0.08, 0.10, 0.12)
    ]  # fmt: skip
    path = comparison_picture(rows, tmp_path / "comparison.png")
    check_picture(path, charts.SIZE, colours=60)
    figure = charts.comparison_figure(rows, "Thickness comparison")
    check_texts(figure)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles == ["Peak stress (MPa)", "Mid-span deflection (mm)", "Mass (t)"]
    stress = figure.axes[0]
    assert stress.get_ylim()[1] > 180 * (8 / 6) ** 1.6
    limits = [line for line in stress.lines if len(set(line.get_ydata())) == 1]
    assert sorted(line.get_ydata()[0] for line in limits) == pytest.approx([196.0, 200.0])


def test_comparison_of_nothing_is_refused(tmp_path):
    with pytest.raises(ValueError, match="at least one row"):
        comparison_picture([], tmp_path / "none.png")


# ---- view ---------------------------------------------------------------------------------------


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
    stage = render.Stage(sheet.VIEW)
    drawing = view_module.draw(
        stage, grid, info, view_module.Request(field, find_part(info, None), None)
    )
    bare = len(stage.plotter.renderer.actors)
    view_module.dress_window(drawing, info.title)
    assert len(stage.plotter.renderer.actors) >= bare + 6
    assert len(stage.plotter.scalar_bars) == 1
    assert stage.shoot().std() > 5


# ---- preflight ----------------------------------------------------------------------------------


def test_preflight_passes_here():
    render.preflight.cache_clear()
    render.preflight()


@pytest.mark.parametrize(
    ("probe", "words"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "signal 11"),
        ("raise ImportError('libGL.so.1: cannot open shared object file')", "libGL.so.1"),
        ("print('drawn False')", "stayed empty"),
    ],
)
def test_preflight_turns_a_crash_into_advice(monkeypatch, probe, words):
    render.preflight.cache_clear()
    monkeypatch.setattr(render, "_PROBE", probe)
    with pytest.raises(RenderingError, match=words) as caught:
        render.preflight()
    assert "apt-get install" in str(caught.value)
    assert isinstance(caught.value, PlatestackError)
    render.preflight.cache_clear()


def test_broken_summary_is_told_in_a_sentence(tmp_path):
    for text in ("{", "[]", "{}", '{"version": 1, "crosshead": 3}'):
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
