"""Inputs drawn from the schema: plausible, odd, and sound ones with something broken in them.

Data trees are changed at a place of the schema; texts (TOML, CSV, JSON) are damaged as bytes.
"""

from __future__ import annotations

import datetime
import types
import typing
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

import tomlkit
from hypothesis import strategies as st
from pydantic import BaseModel

from platestack.geometry.units import Kind

UNITS = ("mm", "m", "km", "in", "kN", "tf", "N", "MPa", "bar", "GPa", "kg", "t", "mm/m", "L/min",
         "s", "degC", "µm", "kW", "L", "kg/m^3", "mm**2", "furlong", "", "mm mm", "m/0", "dB",
         "e3 mm")  # fmt: skip
NAMES = st.one_of(
    st.sampled_from(("Preß", "机", "a" * 81, " ", "", "\u202e", "\x00", "=1+1", "<b>", "../x",
                     "\n")),
    st.text(max_size=12),
)  # fmt: skip
GRADES = (
    "S235JR",
    "S355J2",
    "S690QL",
    "C45+N",
    "42CrMo4+QT",
    "M64",
    "M45",
    "Tr60x9",
    "8.8",
    "12.9",
    "x",
)


def quantity(kind: Kind) -> st.SearchStrategy[str]:
    """A text of the right kind: about its example, or anywhere in its range, edges included."""
    number = kind.example.split()[0]
    unit = kind.example.split()[1]
    about = st.sampled_from((0.01, 0.1, 0.3, 0.5, 0.8, 0.9, 1.1, 1.25, 2, 3, 10, 100))
    low, high = kind.to_shown(kind.low), kind.to_shown(kind.high)
    return st.one_of(
        about.map(lambda factor: f"{float(number) * factor:.6g} {unit}"),
        st.floats(low, high).map(lambda value: f"{value:.6g} {kind.shown}"),
        st.sampled_from((f"{low:.9g} {kind.shown}", f"{high:.9g} {kind.shown}", f"0 {unit}")),
    )


def plausible(annotation: Any, metadata: typing.Iterable[Any] = ()) -> st.SearchStrategy[Any]:
    """Values of a field of the schema, as a case file writes them."""
    origin, parts, metadata = (
        typing.get_origin(annotation),
        typing.get_args(annotation),
        list(metadata),
    )
    if origin is typing.Annotated:
        return plausible(parts[0], [*metadata, *parts[1:]])
    kind = next((m for m in metadata if isinstance(m, Kind)), None)
    if kind is not None:
        return quantity(kind)
    if origin in (types.UnionType, typing.Union):
        return st.one_of([plausible(part, metadata) for part in parts if part is not type(None)])
    if origin is typing.Literal:
        return st.sampled_from(parts)
    if origin is tuple and parts[-1] is not Ellipsis:
        return st.tuples(*map(plausible, parts)).map(list)
    if origin is tuple:
        return st.lists(plausible(parts[0]), max_size=4)
    if origin is dict:
        return st.dictionaries(NAMES, plausible(parts[1]), max_size=3)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return table(annotation)
    if annotation is int:
        return st.one_of(st.integers(0, 70), st.sampled_from((1, 2, 1000, 10**6, 10**9)))
    if annotation is float:
        return st.one_of(st.floats(0, 3), st.sampled_from((0.0, 1e-9, 1.0, 1.5, 1e9)))
    money = st.one_of(st.floats(0, 1e4), st.just(1e300)).map(lambda x: f"{x:.6g}")
    rates = st.builds("{} per {}".format, money, st.sampled_from(("kg", "t", "m", "m2", "piece")))
    return st.one_of(st.sampled_from(GRADES), rates, NAMES)


def table(model: type[BaseModel]) -> st.SearchStrategy[dict[str, Any]]:
    """Tables of a model: all that is required, and a few of the other keys."""
    fields = model.model_fields.items()
    whole = {n: st.deferred(lambda f=f: plausible(f.annotation, f.metadata)) for n, f in fields}
    needed = {name: whole[name] for name, f in fields if f.is_required()}
    optional = [name for name in whole if name not in needed]
    if not optional:
        return st.fixed_dictionaries(needed)
    some = st.lists(st.sampled_from(optional), max_size=3, unique=True)
    return some.flatmap(lambda names: st.fixed_dictionaries(needed | {n: whole[n] for n in names}))


ODD: st.SearchStrategy[Any] = st.one_of(
    st.sampled_from((0, -1, 10**30, True, False, "", "mm", [], {}, [[]], [{}], {"a": 1}, "nan",
                     "1,5 mm",
                     float("nan"), float("inf"), -0.0, 1e308, "1e999 mm", "-60 mm", "0 x 60 mm",
                     "99 x 1 mm", "2 × 60 mm", "999999 x 60 mm", ["60 mm"] * 61, ["60 mm", 60],
                     datetime.date(1979, 5, 27), datetime.time(7, 32), "٣ mm", "6_0 mm",
                     "0x10 mm")),
    st.builds("{} {}".format, st.one_of(st.floats(), st.integers(-9, 999)), st.sampled_from(UNITS)),
    st.integers(), st.floats(), NAMES,
    st.recursive(st.integers(0, 3), lambda inner: st.lists(inner, max_size=2), max_leaves=6),
)  # fmt: skip


@dataclass(frozen=True)
class Place:
    """A place in a tree: the container, the key or index in it, and what the schema has there."""

    holder: Any
    key: Any
    annotation: Any
    metadata: tuple[Any, ...] = ()

    @property
    def taken(self) -> bool:
        """Whether something stands there."""
        return not isinstance(self.holder, dict) or self.key in self.holder


def places(model: type[BaseModel], data: dict[str, Any]) -> list[Place]:
    """All places of a tree that the schema knows, filled or not."""
    found = []
    for name, field in model.model_fields.items():
        found.append(Place(data, name, field.annotation, tuple(field.metadata)))
        found += _below(field.annotation, data.get(name))
    return found


def _below(annotation: Any, value: Any) -> list[Place]:
    found = []
    for model in _models(annotation):
        if isinstance(value, dict) and set(value) <= set(model.model_fields):
            found += places(model, value)
        for index, item in enumerate(value if isinstance(value, list) else ()):
            if isinstance(item, dict) and set(item) <= set(model.model_fields):
                found += [Place(value, index, model), *places(model, item)]
    return found


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in typing.get_args(annotation) for model in _models(part)]


CHANGES = (
    "plausible",
    "plausible",
    "plausible",
    "odd",
    "delete",
    "unknown",
    "scale",
    "wrap",
    "table",
)


@st.composite
def changed(
    draw: st.DrawFn, model: type[BaseModel], bases: list[dict[str, Any]], most: int = 3
) -> Any:
    """A sound tree with one to `most` changes, some of them sound themselves."""
    data = deepcopy(draw(st.sampled_from(bases)))
    for _ in range(draw(st.integers(1, most))):
        known = places(model, data)
        place = known[draw(st.integers(0, len(known) - 1))]
        how = draw(st.sampled_from(CHANGES))
        old = place.holder[place.key] if place.taken else None
        if how == "plausible":
            place.holder[place.key] = draw(plausible(place.annotation, place.metadata))
        elif how == "odd":
            place.holder[place.key] = draw(ODD)
        elif how == "delete" and place.taken:
            del place.holder[place.key]
        elif how == "unknown" and isinstance(place.holder, dict):
            place.holder[draw(NAMES)] = draw(ODD)
        elif how == "scale" and isinstance(old, str):
            number, _, unit = old.partition(" ")
            factor = draw(st.sampled_from(("-", "1e-3", "1e3", "0.97", "1e300", "e")))
            place.holder[place.key] = (
                f"{float(number) * float(factor):.9g} {unit}"
                if number.replace(".", "").isdigit() and factor[0].isdigit()
                else factor + old
            )
        elif how == "wrap" and place.taken:
            place.holder[place.key] = [old] if draw(st.booleans()) else {str(place.key): old}
        elif how == "table" and (models := _models(place.annotation)):
            place.holder[place.key] = draw(table(models[0]))
    return data


def as_toml(data: dict[str, Any]) -> bytes:
    """The tree as TOML; what TOML cannot say is left to the reader to refuse."""
    return tomlkit.dumps(data).encode("utf-8", "surrogatepass")


LUMPS = (
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\r\n", b"\n[", b"\n]", b'"', b"'''", b"=",
    b",,", b"#",
    b"a = " + b"[" * 5000, b"\na" + b".a" * 400 + b" = 1\n", b"\nx = " + b"9" * 5000 + b"\n",
    b"\nx = 1e" + b"9" * 400 + b"\n", b"\n[press]\n", b"\n[[bed]]\n", b"\n[bed.bed.bed]\n",
    b"\\u0000",
    b'\nname = "\\uD800"\n', b"\n\x7f\n", "\n[мехáника]\n".encode(),
    b"\nx = {a = {a = {a = 1}}}\n",
    b"\nx = 1979-05-27T07:32:00+99:99\n", b"\nx = 0b" + b"1" * 20000 + b"\n", b"nan", b"inf",
    b"1e999",
    b"x" * 200_000, b"[" * 100_000, b"a = {a=" * 3000,
)  # fmt: skip


@st.composite
def damaged(draw: st.DrawFn, texts: st.SearchStrategy[bytes], most: int = 3) -> bytes:
    """A text cut off, spliced, doubled in parts, or with lumps of bytes in it."""
    text = draw(texts)
    for _ in range(draw(st.integers(1, most))):
        start, end = sorted((draw(st.integers(0, len(text))), draw(st.integers(0, len(text)))))
        lump = draw(st.one_of(st.sampled_from(LUMPS), st.binary(max_size=8)))
        how = draw(st.integers(0, 5))
        if how == 0:
            text = text[:start]
        elif how == 1:
            text = text[:start] + lump + text[start:]
        elif how == 2:
            text = text[:start] + text[min(end, start + 9) :]
        elif how == 3:
            text += text[start:end]
        elif how == 4:
            text = text[:start] + lump + text[min(end, start + len(lump)) :]
        else:
            text = text.replace(b"\n", draw(st.sampled_from((b"\r\n", b"\r", b"\n\n", b"\x0b\n"))))
    return text
