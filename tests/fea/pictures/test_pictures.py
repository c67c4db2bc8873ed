"""Pictures: the right words in free places, the right colours, nothing blank."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import matplotlib.image
import numpy as np
import pytest
from picture_checks import check_picture, check_texts
from sample_run import ROD

from platestack.fea.pictures import (
    RenderingError,
    all_pictures,
    press,
    render,
    sheet,
)
from platestack.fea.pictures.fields import find_field, scale_for
from platestack.geometry.errors import PlatestackError


def test_deflection_is_relative_to_the_nuts(sampled):
    grid, info = sampled
    field = find_field("deflection", grid.point_data)
    body = press.bodies(grid, info, [field.source])[0]
    values = field.values(body.skin.data["displacement"], body.info.reference)
    at_rod = np.hypot(body.skin.points[:, 0] - ROD[0], body.skin.points[:, 1] - ROD[1]) < 0.0501
    # The invented deflection is zero at the rods' axes and 0.416 mm in the middle.
    assert np.abs(values[at_rod]).max() < 0.13
    assert values.max() == pytest.approx(0.416, rel=1e-6)


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


@pytest.mark.parametrize("name", ["von_mises", "deflection", "utilisation"])
def test_sheet_has_no_clipped_or_colliding_words(sampled, name):
    grid, info = sampled
    info = replace(info, title="A press with a long name " * 6)
    stack = info.stacks[0]
    peak = replace(stack.peak, words="at the edge of the rod hole, upper face")
    info = replace(info, stacks=(replace(stack, peak=peak), info.stacks[1]))
    field = find_field(name, grid.point_data)
    seen = press.bodies(grid, info, [field.source])
    drawing = press.draw_field(render.RenderWindow(sheet.VIEW), seen, info, field, press.FROM_FRONT)
    assert "magnified 100×" in drawing.caption
    assert "quarter mirrored at x = 0 and y = 0" in drawing.caption
    assert len(drawing.labels) == (2 if name in ("von_mises", "deflection") else 0)
    check_texts(drawing.sheet(info.title, press.headline(field)).compose())


def test_all_pictures_of_a_run(sampled, tmp_path):
    grid, info = sampled
    made = all_pictures(grid, info, tmp_path)
    assert sorted(made) == ["bed_face", "crosshead_face", "deflection", "mesh", "stress"]
    images = [check_picture(path, sheet.SIZE) for path in made.values()]
    for one, two in combinations(images, 2):
        assert np.abs(one - two).max() > 0.5


def test_colour_in_the_picture_is_that_of_the_scale(sampled, tmp_path):
    # A uniform field must show the colour of its value on the face that looks at the light.
    grid, info = sampled
    plain = grid.copy()
    plain.point_data["von_mises"] = np.full(grid.n_points, 100e6)
    plain.point_data["displacement"] = np.zeros((grid.n_points, 3))
    info = replace(info, stacks=tuple(replace(s, peak=None, reference=0.0) for s in info.stacks))
    field = find_field("von_mises", plain.point_data)
    seen = press.bodies(plain, info, [field.source])[1:]
    path = press.face_picture(seen, info, field, tmp_path / "face.png")
    image = matplotlib.image.imread(path)[:, :, :3]
    middle = image[500:540, 900:940].reshape(-1, 3).mean(axis=0)
    wanted = np.array(sheet.colours(scale_for(np.array([100.0]), np.ones(1), False))(1.0)[:3])
    assert middle == pytest.approx(wanted, abs=0.06)


def test_preflight_passes_here():
    render.preflight.cache_clear()
    render.preflight()


def test_preflight_runs_nothing_of_the_working_directory(tmp_path, monkeypatch):
    (tmp_path / "vtkmodules.py").write_text("open('ran', 'w').close()\n")
    monkeypatch.chdir(tmp_path)
    render.preflight.cache_clear()
    render.preflight()
    assert not (tmp_path / "ran").exists()


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
