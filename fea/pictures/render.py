"""Drawing with VTK: light, camera, surfaces, lines, bars; pixels out. The one module that does."""

from __future__ import annotations

import functools
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from platestack.fea.support.signals import load_pyvista
from platestack.geometry.errors import PlatestackError

Array = np.ndarray

BACKGROUND = "#fbfbf9"
INK = "#23282d"
OUTLINE = "#3d454c"
GHOST = "#8c969e"
STEEL = "#c3c9cf"
NUT = "#a9b1b8"
ACCENT = "#0a6c86"
_MATT = {"ambient": 0.6, "diffuse": 0.46, "specular": 0.0}

_PROBE = """
import vtkmodules.vtkRenderingOpenGL2
from vtkmodules.vtkFiltersSources import vtkCubeSource
from vtkmodules.vtkRenderingCore import (
    vtkActor, vtkPolyDataMapper, vtkRenderer, vtkRenderWindow, vtkWindowToImageFilter)
cube, mapper, actor, renderer = vtkCubeSource(), vtkPolyDataMapper(), vtkActor(), vtkRenderer()
mapper.SetInputConnection(cube.GetOutputPort())
actor.SetMapper(mapper)
renderer.AddActor(actor)
window = vtkRenderWindow()
window.SetOffScreenRendering(1)
window.SetSize(32, 32)
window.AddRenderer(renderer)
window.Render()
grab = vtkWindowToImageFilter()
grab.SetInput(window)
grab.Update()
print("drawn", grab.GetOutput().GetScalarRange()[1] > 0)
"""


class RenderingError(PlatestackError):
    """Pictures cannot be drawn on this machine; the message says what to install."""


def has_display() -> bool:
    """Whether a window can be opened here."""
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _prepare_environment() -> None:
    """Tell VTK not to look for a screen where there is none (it reads this at its first window)."""
    if sys.platform.startswith("linux") and not has_display():
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")


@functools.cache
def preflight() -> None:
    """Draw a tiny scene in a process of its own, once.

    VTK may crash the whole process where the graphics libraries are missing, so this is tried out
    where a crash does no harm.

    Raises
    ------
    RenderingError
        If nothing came of it. A failure is tried again at the next call, a success is not.
    """
    _prepare_environment()
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-c", _PROBE], capture_output=True, text=True, timeout=120
        )
    except subprocess.TimeoutExpired as error:
        raise RenderingError(_advice("the trial did not end within 120 s")) from error
    if done.returncode == 0 and "drawn True" in done.stdout:
        return
    lines = [line.strip() for line in done.stderr.splitlines() if line.strip()]
    cause = (
        f"the trial was ended by signal {-done.returncode}"
        if done.returncode < 0
        else lines[-1] if lines else "the trial picture stayed empty"
    )  # fmt: skip
    raise RenderingError(_advice(cause))


def _advice(cause: str) -> str:
    return (
        f"pictures cannot be drawn here: VTK found no working OpenGL ({cause}). "
        "On Debian or Ubuntu: apt-get install --no-install-recommends libgl1 libegl1. "
        "Elsewhere install Mesa's software renderer (libGL and libEGL)."
    )


@dataclass(frozen=True)
class Camera:
    """A parallel view: unit vectors to the right, up and towards the eye, centre, half height."""

    right: Array
    up: Array
    towards: Array
    centre: Array
    half_height: float
    size: tuple[int, int]

    @classmethod
    def fitting(
        cls, points: Array, direction: Sequence[float], size: tuple[int, int], margin: float = 0.06
    ) -> Camera:
        """Return the view from `direction` (towards the eye) that shows all `points`, z up."""
        towards = np.asarray(direction, dtype=float)
        towards = towards / np.linalg.norm(towards)
        right = np.cross([0.0, 0.0, 1.0], towards)
        right /= np.linalg.norm(right)
        up = np.cross(towards, right)
        spread = points @ np.stack([right, up, towards], axis=1)
        low, high = spread.min(axis=0), spread.max(axis=0)
        middle = (low + high) / 2
        half = (high - low) / 2 * (1 + 2 * margin)
        half_height = max(float(half[1]), float(half[0]) * size[1] / size[0], 1e-9)
        centre = middle @ np.stack([right, up, towards])
        return cls(right, up, towards, centre, half_height, size)

    def pixels(self, points: Array) -> Array:
        """Places in the picture, (n, 2), in pixels from its lower left corner."""
        scale = self.size[1] / (2 * self.half_height)
        flat = (np.atleast_2d(points) - self.centre) @ np.stack([self.right, self.up], axis=1)
        return flat * scale + np.asarray(self.size) / 2

    def hides(self, point: Array, points: Array, triangles: Array, tolerance: float) -> bool:
        """Whether triangles stand between the eye and a point (by more than `tolerance`, m)."""
        axes = np.stack([self.right, self.up, self.towards], axis=1)
        a, b, c = np.swapaxes(((points - point) @ axes)[triangles], 0, 1)
        e, f = b - a, c - a
        area = e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            s = (a[:, 1] * f[:, 0] - a[:, 0] * f[:, 1]) / area
            t = (a[:, 0] * e[:, 1] - a[:, 1] * e[:, 0]) / area
            depth = a[:, 2] + s * e[:, 2] + t * f[:, 2]
            hit = (s >= 0) & (t >= 0) & (s + t <= 1) & (depth > tolerance)
        return bool(hit.any())


class RenderWindow:
    """A scene under construction; `shoot` makes the picture, `show` opens a window."""

    def __init__(self, size: tuple[int, int], window: bool = False):
        """Open an empty scene of `size` pixels; raises RenderingError where VTK cannot draw."""
        preflight()
        self._pv = load_pyvista()  # slow, and only after the environment is settled
        self.plotter = self._pv.Plotter(off_screen=not window, window_size=size, lighting="none")
        self.plotter.set_background(BACKGROUND)
        self.plotter.render_window.SetMultiSamples(8)
        self._lights()

    def _lights(self) -> None:
        """One light from over the viewer's left shoulder, a weak one from the right.

        Both are near the eye and the ambient share is large, so that shading tells the shape and
        hardly changes the colours that are to be read.
        """
        for position, strength in (((-0.35, 0.5, 1.0), 0.75), ((0.6, -0.5, 0.8), 0.32)):
            light = self._pv.Light(light_type="camera light", intensity=strength)
            light.position = position
            light.focal_point = (0.0, 0.0, 0.0)
            self.plotter.add_light(light)

    def _poly(self, points: Array, triangles: Array) -> Any:
        return self._pv.PolyData.from_regular_faces(points, triangles)

    def surface(
        self, points: Array, triangles: Array, normals: Array | None = None,
        values: Array | None = None, colours: Any = None, limits: tuple[float, float] | None = None,
        colour: str = STEEL,
    ) -> Any:  # fmt: skip
        """Add a surface coloured by values at its nodes, by (m, 3) bytes, or plainly.

        Returns VTK's mapper, which a colour scale in a window refers to.
        """
        poly = self._poly(points, triangles)
        look: dict[str, Any] = {"color": colour}
        if values is not None and limits is not None:
            poly.point_data["values"] = values
            look = {"scalars": "values", "cmap": colours, "clim": limits, "n_colors": 512}
        elif colours is not None:
            poly.cell_data["colours"] = colours
            look = {"scalars": "colours", "rgb": True}
        if normals is not None:
            poly.point_data.active_normals = normals
        actor = self.plotter.add_mesh(
            poly, show_scalar_bar=False, smooth_shading=False, **_MATT, **look
        )
        if normals is not None:
            actor.prop.interpolation = "Gouraud"
        # Push surfaces back a little, so that lines lying on them are drawn whole.
        actor.mapper.SetResolveCoincidentTopologyToPolygonOffset()
        actor.mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(1.0, 1.0)
        return actor.mapper

    def lines(
        self, points: Array, segments: Array, colour: str = OUTLINE, width: float = 1.3,
        opacity: float = 1.0,
    ) -> None:  # fmt: skip
        """Add line segments, (k, 2) node numbers; `width` in pixels of the picture."""
        if len(segments) == 0:
            return
        used, local = np.unique(segments, return_inverse=True)
        flat = np.column_stack([np.full(len(segments), 2), local.reshape(-1, 2)]).ravel()
        poly = self._pv.PolyData(points[used], lines=flat)
        self.plotter.add_mesh(poly, color=colour, line_width=width, opacity=opacity, lighting=False)

    def bar(self, path: Array, diameter: float, hexagon: bool = False) -> tuple[Array, Array]:
        """Add a rod along a path (k, 3), or a hexagonal nut of width across flats `diameter`.

        Returns
        -------
        points (n, 3), triangles (m, 3)
            What was drawn.
        """
        radius = diameter / np.sqrt(3) if hexagon else diameter / 2
        points, triangles = prism(path, radius, 6 if hexagon else 40)
        body = self._poly(points, triangles).compute_normals(
            cell_normals=False, split_vertices=True, feature_angle=35.0, auto_orient_normals=True
        )
        actor = self.plotter.add_mesh(
            body, color=NUT if hexagon else STEEL, smooth_shading=False, **_MATT
        )
        actor.prop.interpolation = "Gouraud"
        return points, triangles

    def aim(self, camera: Camera) -> None:
        """Point VTK's camera."""
        view = self.plotter.camera
        reach = 10 * camera.half_height + 10.0
        view.focal_point = camera.centre
        view.position = camera.centre + reach * camera.towards
        view.up = camera.up
        view.parallel_projection = True
        view.parallel_scale = camera.half_height
        self.plotter.renderer.ResetCameraClippingRange()

    def shoot(self) -> Array:
        """Return the picture as (height, width, 3) bytes."""
        image = self.plotter.screenshot(return_img=True)
        self.plotter.close()
        return np.asarray(image)[:, :, :3]


def prism(path: Array, radius: float, sides: int) -> tuple[Array, Array]:
    """Make a closed prism along an upright path: level cross-sections, corners on a circle.

    Parameters
    ----------
    path : (k, 3)
        Centres of the cross-sections in m.
    radius : float
        Distance of the corners from the path in m.

    Returns
    -------
    points (k * sides + 2, 3), triangles (2 * k * sides, 3)
    """
    turn = 2 * np.pi * np.arange(sides) / sides
    ring = radius * np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1)
    points = np.vstack([(path[:, None] + ring).reshape(-1, 3), path[:1], path[-1:]])
    here = np.arange(sides)
    there = (here + 1) % sides
    top, low, high = (len(path) - 1) * sides, len(points) - 2, len(points) - 1
    caps = [
        np.column_stack([there, here, np.full(sides, low)]),
        np.column_stack([top + here, top + there, np.full(sides, high)]),
    ]
    for level in range(0, top, sides):
        a, b = here + level, there + level
        caps += [np.column_stack([a, b, b + sides]), np.column_stack([a, b + sides, a + sides])]
    return points, np.vstack(caps)
