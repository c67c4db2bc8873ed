"""What the page asks while a case is edited: is it sound, how does it look, what would it do."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

import tomli_w

from fea.hand.beam import NotABeam, beam_check
from fea.page.drawing import elevation
from geometry import case as case_file
from geometry import layout, rules
from geometry.errors import CaseError, Problem
from geometry.parts import Press
from geometry.schema import Case
from geometry.units import LENGTH, show

STACKS = ("crosshead", "bed")
Thicknesses = Mapping[str, list[float]]
"""By stack: the thickness (m) of each entry of ``plates``."""

WAY = (
    "by beam theory: nominal bending stress of the net section and Timoshenko deflection, without "
    "holes' stress concentration, bearing rings and contact; the bound is the band expected of a "
    "full solve"
)


def check(data: dict[str, Any]) -> dict[str, Any]:
    """Look at a case: its text, its mistakes, and if there are none its drawing and its plates."""
    text = written(data)
    try:
        case = case_file.parse(text)
    except CaseError as error:
        return {"text": text, "problems": [vars(problem) for problem in error.problems]}
    press = layout.build(case)
    return {
        "text": text,
        "problems": [],
        "drawing": elevation(press),
        "thicknesses": {name: [p.thickness for p in getattr(case, name).plates] for name in STACKS},
        "prediction": predict(case, {}),
        "defaults": [*case_file.defaults(case), *press.assumed],
    }


def opened(text: str, file: str) -> dict[str, Any]:
    """Read the text of a case file into plain data, mistakes in its values kept for the form.

    Raises
    ------
    CaseError
        If it is not TOML.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise CaseError(
            file, [Problem("", "text that is not TOML", f"allowed: TOML ({error})")]
        ) from None
    for name in STACKS:
        section = data.get(name)
        if isinstance(section, dict) and isinstance(section.get("plates"), str):
            section["plates"] = [section["plates"]]
    return data


def written(data: dict[str, Any]) -> str:
    """Plain data as the text of a case file; what is null is left out.

    Raises
    ------
    CaseError
        If the data cannot be written as TOML.
    """
    try:
        return tomli_w.dumps(_kept(data))
    except (TypeError, ValueError, RecursionError) as error:
        raise CaseError("case", [Problem("", "data", f"allowed: a case ({error})")]) from None


def _kept(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _kept(item) for key, item in value.items() if item is not None}
    if isinstance(value, list):
        return [_kept(item) for item in value if item is not None]
    return value


def predict(case: Case, thicknesses: Thicknesses) -> dict[str, Any]:
    """Tell at once what other thicknesses would lead to (SI), with a bound and how it was found.

    Raises
    ------
    CaseError
        If such a press cannot be built.
    """
    press = layout.build(thickened(case, thicknesses) if thicknesses else case)
    stacks = {stack.name: _by_beam(press, stack.name) for stack in press.stacks}
    return {"stacks": stacks, "mass": press.mass, "height": press.height, "cost": None, "way": WAY}


def _by_beam(press: Press, name: str) -> dict[str, Any]:
    stack = getattr(press, name)
    allowed = min(p.material.yield_strength for p in stack.plates) / press.yield_safety_factor
    limits = {
        "mass": stack.mass,
        "stress_limit": allowed,
        "deflection_limit": stack.deflection_limit,
    }
    try:
        beam = beam_check(stack, press.rods, press.capacity)
    except NotABeam as error:
        return limits | {"deflection": None, "stress": None, "band": None, "note": str(error)}
    deflection = beam.actual.mid_span_deflection
    return limits | {
        "deflection": deflection,
        "band": [edge * deflection for edge in beam.band],
        "stress": beam.actual.bending_stress,
    }


def thickened(case: Case, thicknesses: Thicknesses) -> Case:
    """Return the case with other plate thicknesses (m).

    Raises
    ------
    CaseError
        If the numbers do not fit the plates, or such a press cannot be built.
    """
    changed = {}
    for name, values in thicknesses.items():
        entries = getattr(case, name).plates if name in STACKS else ()
        good = isinstance(values, list) and len(values) == len(entries) > 0 and all(
            isinstance(v, int | float) and LENGTH.low <= v <= LENGTH.high for v in values
        )  # fmt: skip
        if not good:
            allowed = f"allowed: {len(entries)} lengths in m, one for each entry of plates"
            raise CaseError("thicknesses", [Problem(str(name)[:60], str(values)[:60], allowed)])
        plates = tuple(
            entry.model_copy(update={"thickness": float(value)})
            for entry, value in zip(entries, values, strict=True)
        )
        changed[name] = getattr(case, name).model_copy(update={"plates": plates})
    variant = case.model_copy(update=changed)
    problems = rules.check(variant)
    if problems:
        raise CaseError("thicknesses", problems)
    return variant


def taken_over(data: dict[str, Any], case: Case, thicknesses: Thicknesses) -> dict[str, Any]:
    """Put the thicknesses into the data of the case; everything else stays as written."""
    variant = thickened(case, thicknesses)
    changed = dict(data)
    for name in STACKS:
        entries = []
        given = opened(written(data), "case")[name]["plates"]
        for entry, plate in zip(given, getattr(variant, name).plates, strict=True):
            kept = entry if isinstance(entry, dict) else {"count": plate.count}
            entries.append({**kept, "thickness": show(plate.thickness, LENGTH, 6)})
        changed[name] = {**data[name], "plates": entries}
    return changed
