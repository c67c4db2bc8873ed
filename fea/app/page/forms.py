"""The form of a case, from the schema: a new table of the case file appears here by itself."""

from __future__ import annotations

import inspect
import types
import typing
from typing import Any

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from platestack.geometry.schema import Case
from platestack.geometry.units import Kind, allowed, show


def form() -> dict[str, Any]:
    """Describe the whole case as nested ``{kind, ...}`` entries, ready for JSON.

    Kinds: ``table`` (fields), ``map`` (tables by name), ``list`` (item), ``one of`` (tables by
    their shape), ``quantity``, ``choice``, ``number`` and ``text``.
    """
    return _table(Case)


def _table(model: type[BaseModel]) -> dict[str, Any]:
    fields = []
    for name, info in model.model_fields.items():
        entry = _entry(info.annotation, info.metadata)
        entry |= {"name": name, "required": info.is_required()}
        default = info.default
        if default is not PydanticUndefined and isinstance(default, str | int | float):
            kind = next((m for m in info.metadata if isinstance(m, Kind)), None)
            entry["default"] = show(float(default), kind) if kind else str(default)
        fields.append(entry)
    words = (inspect.getdoc(model) or "").partition("\n\n")[0].replace("\n", " ")
    return {"kind": "table", "fields": fields, "words": words}


def _entry(annotation: Any, metadata: typing.Iterable[Any] = ()) -> dict[str, Any]:
    origin, parts = typing.get_origin(annotation), typing.get_args(annotation)
    metadata = list(metadata)
    if origin is typing.Annotated:
        return _entry(parts[0], [*metadata, *parts[1:]])
    unit = next((m for m in metadata if isinstance(m, Kind)), None)
    table = isinstance(annotation, type) and issubclass(annotation, BaseModel)
    if unit is not None and not table:
        return {"kind": "quantity", "example": unit.example, "allowed": allowed(unit)}
    if origin in (types.UnionType, typing.Union):
        kept = [part for part in parts if part is not type(None)]
        if len(kept) == 1:
            return _entry(kept[0], metadata)
        return {"kind": "one of", "tables": {_shape(part): _table(part) for part in kept}}
    if origin is typing.Literal:
        whole = all(isinstance(part, int) for part in parts)
        return {"kind": "choice", "choices": [str(part) for part in parts], "whole": whole}
    if origin is tuple:
        fixed = None if parts[-1] is Ellipsis else len(parts)
        return {"kind": "list", "item": _entry(parts[0]), "length": fixed}
    if origin is dict:
        return {"kind": "map", "item": _entry(parts[1])}
    if inspect.isclass(annotation) and issubclass(annotation, BaseModel):
        return _table(annotation)
    if annotation in (int, float):
        bounds = [
            f"{word} {getattr(m, key)}"
            for m in _flat(metadata)
            for key, word in _BOUNDS.items()
            if getattr(m, key, None) is not None
        ]
        return {"kind": "number", "whole": annotation is int, "allowed": ", ".join(bounds)}
    return {"kind": "yes or no"} if annotation is bool else {"kind": "text"}


_BOUNDS = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}


def _flat(metadata: list[Any]) -> list[Any]:
    """Bounds may stand in a `Field` or by themselves."""
    return [inner for m in metadata for inner in getattr(m, "metadata", None) or [m]]


def _shape(table: Any) -> str:
    return str(typing.get_args(table.model_fields["shape"].annotation)[0])
