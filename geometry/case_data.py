"""Cases from programs: numbers in SI become texts with units; one value is found by its key path.

A key path is written as in messages: ``bed.plates[2].thickness`` is the second plate, counted from
1. Plates that the case gives together, as in ``"3 x 80 mm"``, are counted one by one.
"""

from __future__ import annotations

import copy
import numbers
import re
import typing
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from platestack.geometry.errors import CaseError, Problem
from platestack.geometry.units import Kind

_STEP = re.compile(r"([A-Za-z_][\w-]*)|\[(-?\d+)\]")


def steps(path: str, file: str = "case") -> list[str | int]:
    """Keys and indices (from 0) of a key path. Raises `CaseError`.

    >>> steps("bed.plates[2].thickness")
    ['bed', 'plates', 1, 'thickness']
    """
    found: list[str | int] = []
    for part in path.split("."):
        matches = list(_STEP.finditer(part))
        if "".join(match[0] for match in matches) != part or not part or not matches[0][1]:
            allowed = "allowed: a key path such as bed.plates[2].thickness"
            raise CaseError(file, [Problem("", f'the key "{path:.200}"', allowed)])
        for match in matches:
            if match[2] is not None and int(match[2]) < 1:
                raise CaseError(file, [Problem(path, match[0], "allowed: a number from 1 on")])
            found.append(match[1] or int(match[2]) - 1)
    return found


def changed(data: Mapping[str, Any], path: str, value: Any, file: str = "case") -> dict[str, Any]:
    """Return a copy of a case's plain data with another value at a key path; tables are made.

    Raises
    ------
    CaseError
        If the path leads nowhere. Whether its key and value are allowed is not looked at.
    """
    whole = copy.deepcopy(dict(data))
    here: Any = whole
    path_steps = steps(path, file)
    for number, (step, following) in enumerate(
        zip(path_steps, [*path_steps[1:], None], strict=True)
    ):
        last = following is None
        if isinstance(step, int):
            _in_range(here, step, path, file)
        elif not isinstance(here, dict):
            raise CaseError(file, [Problem(path, f"{step} of a value", "allowed: a table's key")])
        if last:
            here[step] = value
            continue
        if isinstance(step, str) and step not in here:
            here[step] = [] if isinstance(following, int) else {}
        if step == "plates" and isinstance(following, int) and number:
            here[step] = [plate for entry in _listed(here[step]) for plate in _each(entry)]
        here = here[step]
    return whole


def looked_up(case: BaseModel, path: str, file: str = "case") -> Any:
    """Value at a key path of a checked case, SI, defaults included. Raises `CaseError`."""
    here: Any = case
    for step in steps(path, file):
        if isinstance(step, int):
            if here and isinstance(here, tuple) and hasattr(here[0], "count"):
                here = [plate for plate in here for _ in range(plate.count)]
            _in_range(here, step, path, file)
            here = here[step]
        elif isinstance(here, dict) and step in here:
            here = here[step]
        elif isinstance(here, BaseModel) and step in type(here).model_fields:
            here = getattr(here, step)
        else:
            known = type(here).model_fields if isinstance(here, BaseModel) else ()
            allowed = f"allowed: {', '.join(sorted(known)) or 'no key below this value'}"
            raise CaseError(file, [Problem(path, f'the key "{step}"', allowed)])
    return here


def with_units(data: Any, *models: type[BaseModel]) -> Any:
    """Give numbers their SI unit, as text, where `models` expect a quantity; the rest as it is.

    >>> from platestack.geometry.schema import Case
    >>> with_units({"press": {"capacity": 2.5e6}, "rods": {"count": 4}}, Case)
    {'press': {'capacity': '2500000.0 N'}, 'rods': {'count': 4}}
    """
    if not isinstance(data, Mapping):
        return data
    made = {}
    for key, value in data.items():
        infos = [model.model_fields[key] for model in models if key in model.model_fields]
        parts = [part for info in infos for part in (info.annotation, *info.metadata)]
        made[key] = _with_units(value, parts)
    return made


def _with_units(value: Any, annotations: list[Any]) -> Any:
    if isinstance(value, Mapping):
        inner = list(dict.fromkeys(_found(annotations, BaseModel)))
        if any(typing.get_origin(part) is dict for part in annotations):  # names of the user's own
            return {key: with_units(item, *inner) for key, item in value.items()}
        return with_units(value, *inner)
    if isinstance(value, list | tuple):
        return [_with_units(item, annotations) for item in value]
    kind = next(iter(_found(annotations, Kind)), None)
    if kind is not None and isinstance(value, numbers.Real) and not isinstance(value, bool):
        return f"{float(value)!r} {kind.unit}"
    return value


def _found(annotations: typing.Iterable[Any], wanted: type) -> Iterator[Any]:
    """All kinds of quantity, or all models, named in type annotations."""
    for part in annotations:
        if isinstance(part, wanted) or (isinstance(part, type) and issubclass(part, wanted)):
            yield part
        else:
            yield from _found(typing.get_args(part), wanted)


def _listed(entries: Any) -> list[Any]:
    return [entries] if isinstance(entries, str) else list(entries)


def _each(entry: Any) -> list[Any]:
    """Plates of one entry, each with a table of its own; what is no entry is left to be refused."""
    if isinstance(entry, str):
        count, cross, thickness = entry.replace("×", "x").partition("x")
        if not cross or not count.strip().isdecimal():
            return [{"thickness": entry}]
        return [{"thickness": thickness.strip()} for _ in range(min(int(count), 1000))]
    if isinstance(entry, dict) and isinstance(entry.get("count"), int):
        rest = {key: value for key, value in entry.items() if key != "count"}
        return [copy.deepcopy(rest) for _ in range(min(entry["count"], 1000))]
    return [entry]


def _in_range(entries: Any, index: int, path: str, file: str) -> None:
    if not isinstance(entries, list | tuple):
        raise CaseError(file, [Problem(path, f"[{index + 1}] of a value", "allowed: of a list")])
    if index >= len(entries):
        allowed = (
            f"allowed: 1 to {len(entries)}" if entries else "allowed: an entry; the list is empty"
        )
        raise CaseError(file, [Problem(path, f"[{index + 1}]", allowed)])
