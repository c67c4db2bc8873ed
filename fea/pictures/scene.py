"""What a picture has to know beside the field: names, mirrors, places, rods; what is asked for."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from platestack.geometry import units
from platestack.geometry.errors import UsageError
from platestack.geometry.parts import Press

Point = tuple[float, float, float]
Axis = Literal["x", "y"]
AXES = "xyz"
STACKS = ("crosshead", "bed")


@dataclass(frozen=True)
class Mark:
    """A place worth a label: value in SI (Pa or m), place in press coordinates (m), and words."""

    value: float
    at: Point
    words: str = ""


@dataclass(frozen=True)
class PatchInfo:
    """The loaded area: shape, centre, outer diameter or sides, inner diameter (m)."""

    shape: str
    at: tuple[float, float]
    length: float
    width: float
    inner: float = 0.0


@dataclass(frozen=True)
class BoltInfo:
    """A clamp bolt: where it stands in the plane of the plates, and its thread's diameter (m)."""

    at: tuple[float, float]
    diameter: float


@dataclass(frozen=True)
class InterfaceInfo:
    """Name and kind of an interface, and the parts of its area that are open, stick and slide."""

    name: str
    kind: str
    open: float = 0.0
    sticking: float = 0.0
    sliding: float = 0.0


@dataclass(frozen=True)
class StackInfo:
    """One stack: which planes were modelled as mirrors, and what to mark.

    `reference` is the mean vertical displacement of the nut-bearing annuli (m); deflection and
    bent shape are shown relative to it. `mid_span` holds the mid-span deflection (m).
    """

    name: str
    symmetry: tuple[Axis, ...] = ()
    reference: float = 0.0
    peak: Mark | None = None
    mid_span: Mark | None = None
    interfaces: tuple[InterfaceInfo, ...] = ()
    patch: PatchInfo | None = None
    bolts: tuple[BoltInfo, ...] = ()
    on_edge: bool = False


@dataclass(frozen=True)
class PartInfo:
    """A plate: the cell data ``plate`` of a grid is an index into a list of these."""

    stack: str
    name: str
    role: str = "plate"


@dataclass(frozen=True)
class Bar:
    """An upright at (x, y) from z0 to z1; `diameter` is the one across flats for a nut (m)."""

    x: float
    y: float
    z0: float
    z1: float
    diameter: float


@dataclass(frozen=True)
class SceneInfo:
    """All of the press that pictures show beside a field.

    The cell data ``stack`` of a grid is an index into `stacks`. Rods and nuts are those of the
    whole press, whatever the symmetry.
    """

    title: str
    stacks: tuple[StackInfo, ...]
    parts: tuple[PartInfo, ...] = ()
    rods: tuple[Bar, ...] = ()
    nuts: tuple[Bar, ...] = ()


@dataclass(frozen=True)
class Selection:
    """A stack by its index, and a plate in it by its index; None stands for all."""

    stack: int | None = None
    plate: int | None = None


@dataclass(frozen=True)
class Cut:
    """A plane where coordinate `axis` (0, 1, 2) equals `at` (m)."""

    axis: int
    at: float

    def words(self) -> str:
        """Return the plane in the unit that reports use."""
        return f"{AXES[self.axis]} = {units.show(self.at, units.OFFSET)}"


def scene_info(summary: Mapping[str, Any]) -> SceneInfo:
    """Take from a run's ``summary.json`` what its pictures need.

    A stack without a peak or a mid-span deflection gets no mark.
    """
    return SceneInfo(
        title=str(summary["press"]),
        stacks=tuple(_stack_info(name, summary[name]) for name in STACKS),
        parts=tuple(
            PartInfo(name, plate["name"], plate["role"])
            for name in STACKS
            for plate in (*summary[name]["plates"], *summary[name].get("pads", ()))
        ),
        rods=(
            *(
                _bar(rod["at"], rod["ends"][0], rod["ends"][1], _number(rod["diameter"]))
                for rod in summary["rods"]
            ),
            *(bar for rod in summary["rods"] for bar in _between(rod)),
        ),
        nuts=tuple(nut for rod in summary["rods"] for nut in _nuts(rod)),
    )


def mesh_scene(press: Press, symmetry: Mapping[str, Iterable[Axis]]) -> SceneInfo:
    """Return what a picture of meshes needs, before anything is solved."""
    return SceneInfo(
        title=press.name,
        stacks=tuple(StackInfo(name, tuple(symmetry[name])) for name in STACKS),
        parts=tuple(
            PartInfo(stack.name, plate.name, plate.role)
            for stack in press.stacks
            for plate in stack.bodies
        ),
    )


def _nuts(rod: Mapping[str, Any]) -> tuple[Bar, Bar]:
    low, high = rod["ends"]
    projection = _number(rod.get("projection", 0.0))
    low, high = low + projection, high - projection
    height, flats = _number(rod["nut_height"]), _number(rod["nut_across_flats"])
    return (
        _bar(rod["at"], low, low + height, flats),
        _bar(rod["at"], high - height, high, flats),
    )


def _between(rod: Mapping[str, Any]) -> tuple[Bar, ...]:
    """The sleeve round a rod, or its thicker shank between shoulders."""
    if rod.get("seat") not in ("sleeve", "shoulder") or not rod.get("seat_ends"):
        return ()
    low, high = rod["seat_ends"]
    return (_bar(rod["at"], low, high, _number(rod["seat_diameter"])),)


def _number(entry: Any) -> float:
    """A number of a summary, plain as in memory or with its unit as in the file."""
    return float(entry["value"] if isinstance(entry, Mapping) else entry)


def _bar(at: Sequence[float], z0: float, z1: float, diameter: float) -> Bar:
    return Bar(at[0], at[1], z0, z1, diameter)


def _stack_info(name: str, record: Mapping[str, Any]) -> StackInfo:
    return StackInfo(
        name=name,
        symmetry=tuple(record.get("symmetry", ())),
        reference=float(record.get("nut_displacement", {}).get("value", 0.0)),
        peak=_mark(record.get("peak_von_mises")),
        mid_span=_mark(record.get("mid_span_deflection")),
        interfaces=tuple(
            _interface(name, entry) for name, entry in record.get("interfaces", {}).items()
        ),
        patch=_patch(record.get("loaded_patch")),
        bolts=tuple(
            BoltInfo((float(bolt["at"][0]), float(bolt["at"][1])), _number(bolt["diameter"]))
            for bolt in record.get("clamp_bolts", ())
        ),
        on_edge=record.get("layout") == "on edge",
    )


def _interface(name: str, record: Mapping[str, Any]) -> InterfaceInfo:
    parts = ((record.get(key) or {}).get("value") for key in ("open", "sticking", "sliding"))
    return InterfaceInfo(name, str(record["kind"]), *(float(part or 0.0) for part in parts))


def _patch(record: Mapping[str, Any] | None) -> PatchInfo | None:
    if record is None:
        return None
    at = float(record["at"][0]), float(record["at"][1])
    sides = (_number(record[key]) for key in ("length", "width", "inner"))
    return PatchInfo(str(record["shape"]), at, *sides)


def _mark(number: Mapping[str, Any] | None) -> Mark | None:
    """Make a mark of a number record that says where it was found."""
    if not number or "at" not in number or number.get("value") is None:
        return None
    x, y, z = (float(c) for c in number["at"])
    return Mark(float(number["value"]), (x, y, z), str(number.get("place", "")))


def find_part(info: SceneInfo, text: str | None) -> Selection:
    """Find ``"crosshead"``, ``"bed"`` or ``"crosshead/plate 2"``; None selects everything.

    Raises
    ------
    UsageError
        For a name that the run does not have, with the nearest ones and the list of all.
    """
    if text is None:
        return Selection()
    names: dict[str, Selection] = {s.name: Selection(i) for i, s in enumerate(info.stacks)}
    for index, part in enumerate(info.parts):
        stack = names.get(part.stack)
        if stack is not None:
            names[f"{part.stack}/{part.name}"] = Selection(stack.stack, index)
    wanted = re.sub(r"\s*/\s*", "/", " ".join(text.split())).casefold()
    for name, selection in names.items():
        if name.casefold() == wanted:
            return selection
    raise UsageError(unknown("part", text, list(names)))


def unknown(what: str, given: str, allowed: Sequence[str]) -> str:
    """Word the message about a name that is not among those allowed, the nearest ones first."""
    folded = {name.casefold(): name for name in allowed}
    tails = {name.rpartition("/")[2]: full for name, full in folded.items()}
    near = difflib.get_close_matches(given.casefold(), list(folded), n=3, cutoff=0.6)
    close = [folded[name] for name in near]
    close += [tails[t] for t in difflib.get_close_matches(given.casefold(), list(tails), 1, 0.8)]
    close = list(dict.fromkeys(close))
    hint = f" Did you mean {' or '.join(repr(name) for name in close)}?" if close else ""
    return f"no {what} {given!r}.{hint} Allowed: {', '.join(allowed)}."


def parse_cut(text: str) -> Cut:
    """Read a cutting plane such as ``"x=0 mm"``, ``"y=0"`` or ``"z = 1.2 m"``.

    Only zero may stand without its unit.

    Raises
    ------
    UsageError
        If this is no plane; the message says what is allowed.
    """
    match = re.fullmatch(r"\s*([xyzXYZ])\s*=\s*(.+?)\s*", text)
    if not match:
        raise UsageError(
            f"no cutting plane {text!r}; allowed: x, y or z, an equals sign and a length, "
            "such as 'x = 0 mm' or 'z = 1.2 m'"
        )
    axis, place = match.groups()
    if re.fullmatch(r"[+-]?0*\.?0+|[+-]?0+\.", place):
        return Cut(AXES.index(axis.lower()), 0.0)
    try:
        return Cut(AXES.index(axis.lower()), units.parse(place, units.OFFSET))
    except units.UnitError as error:
        raise UsageError(f"cutting plane {text!r}: {error}") from error
