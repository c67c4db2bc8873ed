"""The pictures of a run: stress and deflection on the bent shape, the mesh, the loaded faces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from platestack.fea.pictures import sheet
from platestack.fea.pictures.fields import Field, Scale, find_field, magnification, scale_for
from platestack.fea.pictures.render import GHOST, OUTLINE, Camera, RenderWindow
from platestack.fea.pictures.scene import Bar, Mark, SceneInfo, StackInfo
from platestack.fea.pictures.sheet import Label, PictureSheet
from platestack.fea.pictures.surface import Skin, copies, take_skin, whole
from platestack.geometry import units

Array = np.ndarray

FROM_FRONT = (0.62, -1.0, 0.42)
FROM_ABOVE = (0.12, -0.55, 1.0)
FROM_BELOW = (0.12, -0.55, -1.0)
AT_CUT_FACES = (-0.72, -1.0, 0.50)

# Paul Tol's "light" set (SRON/EPS/TN/09-002), told apart with any colour vision.
PLATE_COLOURS = ("#77aadd", "#eedd88", "#ee8866", "#99ddff", "#bbcc33", "#ffaabb", "#44bb99")


@dataclass(frozen=True)
class DrawnStack:
    """One stack ready to draw: the surface of all of it, and what is known about it."""

    skin: Skin
    info: StackInfo


def bodies(
    grid: Any, info: SceneInfo, names: Sequence[str], stacks: Sequence[int] | None = None
) -> tuple[DrawnStack, ...]:
    """Take the surface of each stack once and complete it by its mirror images."""
    owner = np.asarray(grid.cell_data["stack"])
    names = tuple(dict.fromkeys(("displacement", *names)))
    found = []
    for index, stack in enumerate(info.stacks):
        cells = np.flatnonzero(owner == index)
        if len(cells) and (stacks is None or index in stacks):
            skin = take_skin(grid, cells, stack.symmetry, names)
            found.append(DrawnStack(whole(skin, stack.symmetry), stack))
    return tuple(found)


def face_picture(seen: Sequence[DrawnStack], info: SceneInfo, field: Field, path: Path) -> Path:
    """Draw the loaded face of a stack: of the crosshead from below, of the bed from above."""
    below = seen[0].info.name == "crosshead"
    name = seen[0].info.name.capitalize()
    words = f"{name}, loaded face, seen from {'below' if below else 'above'}"
    return field_picture(
        seen, info, field, path, FROM_BELOW if below else FROM_ABOVE, words, bars=False
    )


def all_pictures(grid: Any, info: SceneInfo, folder: Path) -> dict[str, Path]:
    """Write every picture of a run; the surface is taken once.

    Returns
    -------
    dict
        Paths by name: ``stress``, ``deflection``, ``mesh``, ``crosshead_face``, ``bed_face``.
    """
    stress = find_field("von_mises", grid.point_data)
    deflection = find_field("deflection", grid.point_data)
    seen = bodies(grid, info, [stress.source, deflection.source])
    made = {
        "stress": field_picture(seen, info, stress, folder / "stress.png"),
        "deflection": field_picture(seen, info, deflection, folder / "deflection.png"),
        "mesh": mesh_picture(grid, info, folder / "mesh.png"),
    }
    for body in seen:
        name = f"{body.info.name}_face"
        made[name] = face_picture([body], info, stress, folder / f"{name}.png")
    return made


def field_picture(
    seen: Sequence[DrawnStack], info: SceneInfo, field: Field, path: Path,
    direction: Sequence[float] = FROM_FRONT, words: str = "", bars: bool = True,
) -> Path:  # fmt: skip
    """Draw a field on bent stacks, all of it on one sheet."""
    drawing = draw_field(RenderWindow(sheet.VIEW), seen, info, field, direction, bars)
    return drawing.sheet(info.title, words or headline(field)).write(Path(path))


def headline(field: Field) -> str:
    """Return the field's label as a heading; the name von Mises keeps its small v."""
    label = field.label
    return label if label.startswith("von ") else label[:1].upper() + label[1:]


@dataclass(frozen=True)
class Drawing:
    """A field put on a stage, with what its sheet has to say."""

    stage: RenderWindow
    camera: Camera
    scale: Scale
    field: Field
    labels: tuple[Label, ...]
    caption: str
    mapper: Any

    def sheet(self, title: str, subtitle: str) -> PictureSheet:
        """Shoot the picture and lay out the sheet around it."""
        hidden = any(label.hidden for label in self.labels)
        caption = self.caption + (" Dashed ring: hidden place." if hidden else "")
        return PictureSheet(
            title, subtitle, self.stage.shoot(), self.camera, caption, self.scale,
            self.field.label, self.field.unit or "demand / limit", labels=self.labels,
        )  # fmt: skip


def draw_field(
    stage: RenderWindow, seen: Sequence[DrawnStack], info: SceneInfo, field: Field,
    direction: Sequence[float], bars: bool = True, note: str = "", scale: Scale | None = None,
) -> Drawing:  # fmt: skip
    """Put surfaces, outlines, rods and marks on a stage and aim the camera."""
    values = [field.values(body.skin.data[field.source], body.info.reference) for body in seen]
    scale = scale or _scale(seen, values, field)
    factor = _magnification(seen)
    shapes = [body.skin.moved(factor, body.info.reference) for body in seen]
    colours = sheet.colours(scale)
    for body, shape, value in zip(seen, shapes, values, strict=True):
        skin = body.skin
        mapper = stage.surface(
            shape, skin.triangles, skin.normals(shape), value, colours, (scale.low, scale.high)
        )
        stage.lines(shape, skin.outline, OUTLINE, 1.1)
        stage.lines(skin.points, skin.outer_contour(), GHOST, 1.0)
    solids = [(shape, body.skin.triangles) for body, shape in zip(seen, shapes, strict=True)]
    if bars:
        solids += _bars(stage, info, seen, shapes)
    outer = [points for points, _ in solids] + [body.skin.points for body in seen]
    camera = Camera.fitting(np.vstack(outer), direction, sheet.VIEW)
    stage.aim(camera)
    labels = _labels(seen, shapes, solids, camera, field)
    caption = _caption(seen, factor, scale, field, note)
    return Drawing(stage, camera, scale, field, labels, caption, mapper)


def common_scale(seen: Sequence[DrawnStack], field: Field) -> Scale:
    """One scale for bodies of several pictures."""
    values = [field.values(body.skin.data[field.source], body.info.reference) for body in seen]
    return _scale(seen, values, field)


def _scale(seen: Sequence[DrawnStack], values: Sequence[Array], field: Field) -> Scale:
    """One scale for all: mean value and area of each triangle."""
    means = [v[body.skin.triangles].mean(axis=1) for body, v in zip(seen, values, strict=True)]
    areas = [body.skin.areas() for body in seen]
    return scale_for(np.concatenate(means), np.concatenate(areas), field.kind == "signed")


def _magnification(seen: Sequence[DrawnStack]) -> float:
    """Round factor by which the bent shape is exaggerated."""
    moves = (np.linalg.norm(b.skin.relative(b.info.reference), axis=1).max() for b in seen)
    size = max(float(np.ptp(b.skin.points, axis=0).max()) for b in seen)
    return magnification(max(float(move) for move in moves), size)


def _bars(
    stage: RenderWindow, info: SceneInfo, seen: Sequence[DrawnStack], shapes: Sequence[Array]
) -> list[tuple[Array, Array]]:
    """Draw rods and nuts; they go with the plates around them. Returns what was drawn."""
    rest = np.vstack([body.skin.points for body in seen])
    move = np.vstack(list(shapes)) - rest
    faces = sorted(z for b in seen for z in (b.skin.points[:, 2].min(), b.skin.points[:, 2].max()))

    def path(bar: Bar) -> Array:
        between = [z for z in faces if bar.z0 + 1e-6 < z < bar.z1 - 1e-6]
        line = np.array([[bar.x, bar.y, z] for z in (bar.z0, *between, bar.z1)])
        return np.array([place + _nearby(place, rest, move) for place in line])

    rods = [stage.bar(path(bar), bar.diameter) for bar in info.rods]
    return rods + [stage.bar(path(bar), bar.diameter, hexagon=True) for bar in info.nuts]


def _nearby(place: Array, points: Array, move: Array) -> Array:
    """Mean movement of the few nodes nearest to a place."""
    distance = np.linalg.norm(points - place, axis=1)
    count = min(24, len(points))
    return move[np.argpartition(distance, count - 1)[:count]].mean(axis=0)


def _labels(
    seen: Sequence[DrawnStack], shapes: Sequence[Array], solids: Sequence[tuple[Array, Array]],
    camera: Camera, field: Field,
) -> tuple[Label, ...]:  # fmt: skip
    """Labels of the marks that belong to a field."""
    size = max(float(np.ptp(shape, axis=0).max()) for shape in shapes)
    labels = []
    for body, shape in zip(seen, shapes, strict=True):
        mark = {"von_mises": body.info.peak, "deflection": body.info.mid_span}.get(field.name)
        if mark is None:
            continue
        images = []
        for signs in copies(body.info.symmetry):
            place = np.asarray(mark.at) * np.asarray(signs)
            distance = np.linalg.norm(body.skin.points - place, axis=1)
            nearest = int(np.argmin(distance))
            if distance[nearest] > 0.01 * size:
                continue  # not part of what is drawn
            at = place + shape[nearest] - body.skin.points[nearest]
            hidden = any(camera.hides(at, *solid, 4e-3 * size) for solid in solids)
            images.append((hidden, at))
        if not images:
            continue
        # Of the mirror images, one that can be seen, and of those the nearest to the viewer.
        hidden, at = min(images, key=lambda image: (image[0], -float(image[1] @ camera.towards)))
        x, y = camera.pixels(at)[0].tolist()
        labels.append(
            Label((x, y), _mark_words(mark, field, body.info.name), tuple(at.tolist()), hidden)
        )
    return tuple(labels)


def _mark_words(mark: Mark, field: Field, stack: str) -> str:
    if field.name == "deflection":
        # The value counts along the load; the colours count upwards.
        along = "up" if stack == "crosshead" else "down"
        head = f"mid-span {units.show(mark.value, units.OFFSET, 3)} {along}".replace("-", "−")
    else:
        head = f"peak {units.show(mark.value, units.PRESSURE, 3)}"
    return f"{head}\n{mark.words}" if mark.words else head


def _caption(
    seen: Sequence[DrawnStack], factor: float, scale: Scale, field: Field, note: str
) -> str:
    """State magnification, mirrors and what the colours leave out."""
    words = [note] if note else []
    words.append(
        f"Bent shape magnified {_times(factor)}, relative to the nuts; "
        "thin grey lines: unloaded shape."
    )
    words.append(mirror_words([body.info for body in seen]))
    if scale.clipped:
        unit = f" {field.unit}" if field.unit else ""
        words.append(f"Colours end at {scale.high:g}{unit}; small spots lie beyond.")
    return " ".join(word for word in words if word)


def mirror_words(stacks: Sequence[StackInfo], drawn: str = "whole") -> str:
    """Say which part was computed, and that it is drawn alone or completed by its images."""
    done_to_it = "mirrored at" if drawn == "whole" else "drawn alone; mirror planes"
    fraction = {0: "", 1: "half", 2: "quarter"}
    done = {
        s.name: f"computed {fraction[len(s.symmetry)]} {done_to_it} "
        + " and ".join(f"{axis} = 0" for axis in sorted(s.symmetry))
        for s in stacks
        if s.symmetry
    }
    if not done:
        return ""
    if len(done) == len(stacks) and len(set(done.values())) == 1:
        text = next(iter(done.values()))
        return f"{text[0].upper()}{text[1:]}."
    return " ".join(f"{name.capitalize()}: {text}." for name, text in done.items())


def mesh_picture(grid: Any, info: SceneInfo, path: Path) -> Path:
    """Write the mesh of the computed part, coloured by plate, the stacks side by side."""
    stage = RenderWindow(sheet.VIEW)
    owner, plates = (np.asarray(grid.cell_data[name]) for name in ("stack", "plate"))
    mirrors = {axis for stack in info.stacks for axis in stack.symmetry}
    direction = AT_CUT_FACES if "x" in mirrors else FROM_FRONT
    sideways = Camera.fitting(np.zeros((1, 3)), direction, sheet.VIEW).right
    legend: list[tuple[str, str | None]] = []
    outer, names, reach = [], [], 0.0
    for index, stack in enumerate(info.stacks):
        cells = np.flatnonzero(owner == index)
        if len(cells) == 0:
            continue
        skin = take_skin(grid, cells, stack.symmetry, [], with_mirror_faces=True)
        tints = _tints(np.unique(plates[cells]))
        across = skin.points @ sideways
        shift = (reach - float(across.min())) * sideways
        shift = shift - np.array([0.0, 0.0, skin.points[:, 2].min()])
        reach += 1.12 * float(np.ptp(across))
        points = skin.points + shift
        stage.surface(points, skin.triangles, skin.normals(points), colours=tints[skin.plate])
        stage.lines(points, skin.mesh_lines, OUTLINE, 0.7, 0.5)
        stage.lines(points, skin.outline, OUTLINE, 1.6)
        outer.append(points)
        names.append(stack.name.capitalize())
        legend += [("", None)] if legend else []
        legend += _plate_legend(info, stack.name, np.unique(plates[cells]), tints)
    camera = Camera.fitting(np.vstack(outer), direction, sheet.VIEW)
    stage.aim(camera)
    places = [camera.pixels(points) for points in outer]
    above = [(float(p[:, 0].min() + p[:, 0].max()) / 2, float(p[:, 1].max()) + 16) for p in places]
    caption = (
        f"{_thousands(grid.n_cells)} tetrahedra, {_thousands(grid.n_points)} nodes. "
        "The stacks are drawn side by side. " + mirror_words(info.stacks, drawn="computed part")
    )
    page = PictureSheet(
        info.title, "Mesh of the computed part, coloured by plate", stage.shoot(), camera,
        caption, legend=legend, names=list(zip(above, names, strict=True)),
    )  # fmt: skip
    return page.write(Path(path))


def _tints(plates: Array) -> Array:
    """Colours as bytes, (largest plate + 1, 3), neighbouring plates different."""
    table = np.zeros((int(plates.max()) + 1, 3), dtype=np.uint8)
    for place, plate in enumerate(plates):
        tint = PLATE_COLOURS[place % len(PLATE_COLOURS)]
        table[plate] = [int(tint[i : i + 2], 16) for i in (1, 3, 5)]
    return table


def _plate_legend(
    info: SceneInfo, stack: str, plates: Array, tints: Array
) -> list[tuple[str, str | None]]:
    """Name of the stack, then its plates as they lie, the highest first."""
    entries: list[tuple[str, str | None]] = [(stack.capitalize(), None)]
    for plate in plates[::-1]:
        name = info.parts[plate].name if plate < len(info.parts) else f"plate {plate}"
        entries.append((name, "#{:02x}{:02x}{:02x}".format(*tints[plate])))
    return entries


def _times(factor: float) -> str:
    return f"{_thousands(int(factor)) if factor >= 1 else f'{factor:g}'}×"


def _thousands(number: int) -> str:
    return f"{number:,}".replace(",", "\u202f")
