"""Read a case file: TOML in, a validated `Case` out, or all mistakes at once.

Mistakes are those of single values (unit, range, unknown key), and those of values that do not go
together (`geometry.rules`). Beside the first kind those of the second are found that do not hang on
the values that are wrong.
"""

from __future__ import annotations

import copy
import difflib
import hashlib
import json
import tomllib
import types
import typing
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from platestack.geometry import units
from platestack.geometry.errors import CaseError, PlatestackError, Problem
from platestack.geometry.schema import Case
from platestack.geometry.units import Kind, show
from platestack.geometry.units import parse as parse_quantity

MENDED = 3
"""Times that wrong values are replaced before a case is given up."""
M = typing.TypeVar("M", bound=BaseModel)
LARGEST_FILE = 1_000_000
"""Bytes; a case file has a few thousand."""
LONGEST_LINE = 10_000
"""Characters; a key of a hundred thousand parts would take minutes to read."""


def read(path: str | Path) -> Case:
    """Read and check a case file.

    Raises
    ------
    CaseError
        With one `Problem` for each mistake found.
    """
    return parse(text_of(Path(path)), str(path))


def parse(text: str, file: str = "case") -> Case:
    """Check the text of a case file; `file` is its name in messages. Raises `CaseError`."""
    data = toml(text, file)
    if not data:
        words = "the file is empty; a case has the tables press, crosshead, bed and rods"
        raise CaseError(file, [Problem("", "", words)])
    wished = data.get("units")
    with units.using(wished if wished in units.NAMES else "SI"):
        try:
            case = validated(Case, data, file)
        except CaseError as error:
            raise CaseError(file, [*error.problems, *_beside(data)]) from None
        problems = _against_rules(case)
        if problems:
            raise CaseError(file, problems)
        return case


def toml(text: str, file: str) -> dict[str, Any]:
    """Data of a TOML text. Raises `CaseError`."""
    longest = max(map(len, text.splitlines()), default=0)
    if longest > LONGEST_LINE:
        allowed = f"allowed: up to {LONGEST_LINE} characters"
        raise CaseError(file, [Problem("", f"a line of {longest} characters", allowed)])
    try:
        return tomllib.loads(text)
    except ValueError as error:  # also of numbers with thousands of digits
        raise CaseError(file, [Problem("", "", f"the text is not TOML: {error}")]) from None
    except RecursionError:
        raise CaseError(file, [Problem("", "", "brackets are nested too deep")]) from None


def digest(path: Path) -> str:
    """What a case file says, as SHA-256: the same whatever its comments and layout.

    Raises
    ------
    CaseError
        If it cannot be read.
    """
    return digest_of(text_of(path), str(path))


def digest_of(text: str, file: str = "case") -> str:
    """Return the same of the text of a case file. Raises `CaseError`."""
    data = toml(text, file)
    return hashlib.sha256(json.dumps(data, sort_keys=True, default=str).encode()).hexdigest()


def validated(model: type[M], data: dict[str, Any], file: str) -> M:
    """Data as a model of sound values. Raises `CaseError` with a line for each bad one."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        problems = [_problem(e, data, model) for e in _distinct(error.errors())]
        raise CaseError(file, problems) from None


def _against_rules(case: Case) -> list[Problem]:
    from platestack.geometry import rules  # nobody waits for them whose file cannot be read

    return rules.check(case)


def _beside(data: dict[str, Any]) -> list[Problem]:
    """Mistakes between values, whatever stands in the places whose values are wrong.

    Wrong values are left out, or stand-ins put in their place: once small, once large. What is told
    of both alike does not hang on them.
    """
    told: list[list[Problem]] = []
    for times in (0.5, 2.0):
        tried = copy.deepcopy(data)
        for _ in range(MENDED):
            try:
                case = Case.model_validate(tried)
                break
            except ValidationError as error:
                mended = [_mend(tried, one, times) for one in _distinct(error.errors())]
                if not all(mended):
                    return []
        else:
            return []
        try:
            told.append(_against_rules(case))
        except PlatestackError:
            return []
    return [problem for problem in told[0] if problem in told[1]]


def _mend(data: dict[str, Any], error: ErrorDetails, times: float) -> bool:
    """Take a wrong value of a table out of the data, or put one in that is missing."""
    name, *rest = (step for step in error["loc"] if step != "[key]")
    if not isinstance(name, str):
        return False
    if not rest and name in data and not isinstance(data[name], dict):
        del data[name]
        return True
    if not rest and name not in Case.model_fields and name in data:
        del data[name]  # an unknown table
        return True
    if not rest or not isinstance(rest[0], str) or not isinstance(data.get(name), dict):
        return False
    table, key = data[name], rest[0]
    if error["type"] != "missing":
        return table.pop(key, None) is not None
    field = next(m.model_fields.get(key) for m in _models(Case.model_fields[name].annotation))
    kind = next((m for m in field.metadata if isinstance(m, Kind)), None) if field else None
    if kind is None and key != "name":
        return False
    table[key] = show(times * parse_quantity(kind.example, kind), kind, 6) if kind else "press"
    return True


def text_of(path: Path) -> str:
    """Text of a file: plain, of a sensible size, UTF-8, with the outlines of drawings it names.

    Raises `CaseError`.
    """
    file = str(path)

    def unusable(reason: str) -> CaseError:
        return CaseError(file, [Problem("", "", f"cannot read this file: {reason}")])

    try:
        if path.exists() and not path.is_file() and not path.is_dir():  # it may never end
            raise unusable("it is a pipe or a device; give a plain file")
        with path.open("rb") as opened:
            data = opened.read(LARGEST_FILE + 1)
        if len(data) > LARGEST_FILE:
            raise unusable(f"it has {path.stat().st_size} bytes; allowed: up to {LARGEST_FILE}")
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise unusable("it is not a text in UTF-8") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise unusable(reason[:1].lower() + reason[1:]) from None
    if ".dxf" not in text.casefold():
        return text
    from platestack.geometry import outline_file  # nobody else waits for it

    return outline_file.with_points(text, path.parent, file)


def _distinct(errors: list[ErrorDetails]) -> list[ErrorDetails]:
    """Keep the first error of each place: one mistake, one line."""
    first: dict[tuple[int | str, ...], ErrorDetails] = {}
    for error in errors:
        first.setdefault((*error["loc"], error["type"] == "extra_forbidden"), error)
    return list(first.values())


def _problem(error: ErrorDetails, data: dict[str, Any], model: type[BaseModel]) -> Problem:
    loc = tuple(error["loc"])
    if loc and loc[-1] == "[key]":
        loc = loc[:-1]
    key = _shortened(_key(loc, data), 200)
    kind = error["type"]
    if kind == "extra_forbidden":
        known = _fields_at(loc[:-1], model)
        close = difflib.get_close_matches(str(loc[-1]), known, 1, 0.5)
        hint = f"did you mean {close[0]!r}? " if close else ""
        return Problem(key, "", f"unknown key; {hint}keys of this table: {', '.join(known)}")
    if kind == "missing":
        return Problem(key, "", f"the key is missing{_example(loc, model)}")
    given = _given(error["input"])
    if kind == "model_type":
        return Problem(key, given, f"allowed: a table, of {', '.join(_fields_at(loc, model))}")
    message = error["msg"].removeprefix("Value error, ")
    if kind in ("literal_error", "union_tag_invalid"):
        expected = error["ctx"].get("expected") or error["ctx"].get("expected_tags")
        close = difflib.get_close_matches(
            str(error["input"]),
            str(expected).replace("'", "").replace(" or ", ", ").split(", "),
            1,
            0.5,
        )
        hint = f"did you mean {close[0]!r}? " if close else ""
        return Problem(key, given, f"{hint}allowed: {expected}")
    if kind == "union_tag_not_found":
        return Problem(
            f"{key}.shape",
            "",
            "the key is missing; allowed: 'round', 'rectangle', 'groove' or 'contour'",
        )
    if kind != "value_error":
        message = f"allowed: {message[0].lower()}{message[1:]}"
    return Problem(key, given, message)


def _key(loc: tuple[int | str, ...], data: Any) -> str:
    """Key path as the file has it: tags of unions, which are not keys, are left out."""
    path, here = "", data
    for step in loc:
        if isinstance(step, int):
            path += f"[{step + 1}]"
            here = here[step] if isinstance(here, list) and step < len(here) else None
        else:
            tag = isinstance(here, dict) and here.get("shape") == step and step not in here
            if tag:
                continue
            path += f".{step}" if path else step
            here = here.get(step) if isinstance(here, dict) else None
    return path


def _given(value: Any) -> str:
    """The given value, shortened, as the file writes it."""
    if isinstance(value, dict):
        return f"a table with {', '.join(sorted(map(str, value))[:6]) or 'nothing in it'}"
    try:
        text = json.dumps(value, ensure_ascii=False, default=str)
    except (TypeError, ValueError):
        text = repr(value)
    return _shortened(text, 60)


def _shortened(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3] + "..."


def _fields_at(loc: tuple[int | str, ...], root: type[BaseModel]) -> list[str]:
    """Known keys of the table at `loc`."""
    return sorted({name for model in _models_at(loc, root) for name in model.model_fields})


def _example(loc: tuple[int | str, ...], root: type[BaseModel]) -> str:
    """Name a value that a missing key may have, where its kind has an example."""
    name = str(loc[-1])
    for model in _models_at(loc[:-1], root):
        for mark in model.model_fields[name].metadata if name in model.model_fields else ():
            if isinstance(mark, Kind):
                return f'; for example {name} = "{mark.example}"'
    return ""


def _models_at(loc: tuple[int | str, ...], root: type[BaseModel]) -> list[type[BaseModel]]:
    """Models of the table at `loc`, found by walking the annotations."""
    models: list[type[BaseModel]] = [root]
    for step in loc:
        if isinstance(step, int):
            continue
        following: list[type[BaseModel]] = []
        for model in models:
            if step in model.model_fields:
                following += _models(model.model_fields[step].annotation)
            elif "shape" in model.model_fields:
                tag = typing.get_args(model.model_fields["shape"].annotation)
                following += [model] if step in tag else []
        models = following or models
    return models


def _models(annotation: Any) -> list[type[BaseModel]]:
    """All models named in a type annotation."""
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        return [annotation] if issubclass(annotation, BaseModel) else []
    return [model for part in typing.get_args(annotation) for model in _models(part)]


def defaults(case: Case) -> list[tuple[str, str]]:
    """Key path and value of every setting that the case left at its default."""
    return list(_defaults(case, ""))


def _defaults(section: BaseModel, path: str) -> typing.Iterator[tuple[str, str]]:
    for name, info in type(section).model_fields.items():
        value = getattr(section, name)
        key = f"{path}{name}"
        if isinstance(value, BaseModel):
            yield from _defaults(value, f"{key}.")
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for index, item in enumerate(value):
                yield from _defaults(item, f"{key}[{index + 1}].")
        elif name not in section.model_fields_set and value not in (None, (), {}):
            inner = typing.get_args(info.annotation) if isinstance(value, tuple) else ()
            known = [*info.metadata, *(m for a in inner for m in getattr(a, "__metadata__", ()))]
            kind = next((m for m in known if isinstance(m, Kind)), None)
            unit = next((f" {m}" for m in known if isinstance(m, str)), "")
            each = value if isinstance(value, tuple) else (value,)
            yield key, ", ".join(show(v, kind) if kind else f"{v}{unit}" for v in each)
