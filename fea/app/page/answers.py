"""What the page asks while a case is edited: is it sound, how does it look, what would it do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from platestack.fea.app import case_text as text
from platestack.fea.app.page.drawing import elevation
from platestack.fea.app.page.instant import InstantService
from platestack.fea.checks.as_one import ideal
from platestack.fea.checks.cost import priced
from platestack.fea.jobs.quick import QuickCheck, quick, verdict
from platestack.fea.solid.reduced import ReducedResult
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses, rules, tables, units
from platestack.geometry.errors import CaseError, PlatestackError, Problem
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, show

STACKS = ("crosshead", "bed")
MOST_LIMITS = 12
LARGEST_USE = 99.0
Thicknesses = Mapping[str, list[float]]
"""By stack: the thickness (m) of each entry of ``plates``."""

WAYS = {
    "welded": "Full composite action. Timoshenko beam on the rods; a full solve is expected in the "
    "range shown.",
    "loose": "Plates slide on each other. Sum of Timoshenko beams on the rods, without contact; a "
    "full solve is expected in the range shown.",
    "clamped": "Friction holds the plates partly. Beam theory knows the two ends only: the figure "
    "is that of welded plates, the range goes on to loose ones. Only a full solve says where "
    "between.",
}
REDUCED = (
    "Reduced model of the full solve. The bound is that of the deflection's difference to a full "
    "solve on the mesh that the model was made on, whose own error comes on top; the stress is by "
    "beam theory."
)


def check(data: dict[str, Any], before: str, instant: InstantService) -> dict[str, Any]:
    """Look at a case: its text, its mistakes, and if there are none its drawing and its plates.

    `before` is the text that the data were edited from; its comments are kept.
    """
    made = text.written(data, before)
    try:
        case = case_file.parse(made)
    except CaseError as error:
        return {"text": made, "problems": [vars(problem) for problem in error.problems]}
    with units.using(case.units):
        return _answer(case, made, instant)


def _answer(case: Case, made: str, instant: InstantService) -> dict[str, Any]:
    """Answer of the server for a sound case."""
    press = layout.build(case)
    return {
        "text": made,
        "shown": units.shown_units(),
        "stock": tables.stock_thicknesses(),
        "case": text.digest(case),
        "problems": [],
        "drawing": elevation(press),
        "thicknesses": {name: [p.thickness for p in getattr(case, name).plates] for name in STACKS},
        "counts": {name: [p.count for p in getattr(case, name).plates] for name in STACKS},
        "prediction": predict(case, press, instant.told(case, press)),
        "defaults": [*case_file.defaults(case), *press.assumed],
    }


def predict(case: Case, press: Press, told: Mapping[str, ReducedResult]) -> dict[str, Any]:
    """Tell at once what a press leads to (SI), how that was found, and how close to limits it is.

    `told` is what reduced models say of stacks that have one.
    """
    bill = priced(press, case)
    found, reason = _quick(case, press)
    found = [_sharpened(one, told) for one in found]
    limits = {one.check.name: one for one in found}
    return {
        "stacks": {s.name: _stack(s, limits, told.get(s.name), reason) for s in press.stacks},
        "ideal": ideal(press),
        "mass": masses.together("press", masses.pieces(press)).mass,
        "height": press.height,
        "cost": None if bill is None else {
            "total": bill.total, "currency": bill.currency, "missing": list(bill.missing)
        },
        "verdict": verdict(found),
        "limits": [
            {
                "name": one.check.name, "use": _shown(one.check.utilisation),
                "low": _shown(one.low), "high": _shown(one.high),
                "verdict": one.verdict, "limit": one.check.limit_name,
                "sense": one.check.sense, "note": one.check.note,
            }
            for one in found[:MOST_LIMITS]
        ],
    }  # fmt: skip


def _shown(use: float) -> float:
    """Use of a limit as JSON can hold it, and as a bar can show it."""
    return min(max(use, 0.0), LARGEST_USE)


def _quick(case: Case, press: Press) -> tuple[list[QuickCheck], str]:
    """Every limit with its band; without any, the reason why beam theory says nothing."""
    try:
        return quick(case, press), ""
    except PlatestackError as error:
        return [], str(error)


def _sharpened(one: QuickCheck, told: Mapping[str, ReducedResult]) -> QuickCheck:
    """The limit of a deflection with the bound of the reduced model, where there is one."""
    own = told.get(one.check.part)
    if own is None or one.check.quantity != "mid-span deflection":
        return one
    limit = one.check.limit
    better = replace(one.check, value=own.deflection, source=REDUCED)
    return QuickCheck(
        better, (own.deflection - own.bound) / limit, (own.deflection + own.bound) / limit
    )


def _stack(
    stack: Stack, limits: Mapping[str, QuickCheck], told: ReducedResult | None, reason: str
) -> dict[str, Any]:
    """Figures of one stack, the same as of its limits; what is not known is null."""
    sag = limits.get(f"{stack.name}: mid-span deflection")
    peak = limits.get(f"{stack.name}: peak von Mises stress")
    found: dict[str, Any] = {
        "mass": stack.mass,
        "deflection_limit": stack.deflection_limit,
        "way": reason or WAYS[stack.interface],
        "reducible": stack.interface == "welded" and stack.layout == "flat" and not stack.pads,
        "by": "beam",
        "deflection": None if sag is None else sag.check.value,
        "range": None if sag is None else [end * sag.check.limit for end in (sag.low, sag.high)],
        "stress": None if peak is None else peak.check.value,
        "stress_limit": None if peak is None else peak.check.limit,
        "stress_range": None
        if peak is None
        else [end * peak.check.limit for end in (peak.low, peak.high)],
    }
    if told is not None:
        found |= {
            "deflection": told.deflection,
            "range": [told.deflection - told.bound, told.deflection + told.bound],
            "by": "reduced model",
            "way": REDUCED,
        }
    return found


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
            entry
            if abs(entry.thickness - value) < 1e-9
            else entry.model_copy(update={"thickness": float(value), "blank": None})
            for entry, value in zip(entries, values, strict=True)
        )
        changed[name] = getattr(case, name).model_copy(update={"plates": plates})
    variant = case.model_copy(update=changed)
    problems = rules.check(variant)
    if problems:
        raise CaseError("thicknesses", problems)
    return variant


def taken_over(data: dict[str, Any], thicknesses: Thicknesses) -> dict[str, Any]:
    """Put other thicknesses (m) into the data of a case; everything else stays as written.

    Raises
    ------
    CaseError
        If the case is not sound, or as `thickened`.
    """
    case = case_file.parse(text.written(data))
    variant = thickened(case, thicknesses)
    with units.using(case.units):
        return _with_plates(data, case, variant, thicknesses)


def _with_plates(
    data: dict[str, Any], case: Case, variant: Case, thicknesses: Thicknesses
) -> dict[str, Any]:
    changed = dict(data)
    for name in thicknesses:
        entries = []
        plates = zip(getattr(case, name).plates, getattr(variant, name).plates, strict=True)
        given = data[name]["plates"]
        for entry, (old, new) in zip(
            [given] if isinstance(given, str) else given, plates, strict=True
        ):
            thickness = show(new.thickness, LENGTH, 6)
            if abs(new.thickness - old.thickness) < 1e-9:
                entries.append(entry)
            elif isinstance(entry, dict):
                kept = {key: value for key, value in entry.items() if key != "blank"}
                entries.append({**kept, "thickness": thickness})
            else:
                entries.append(thickness if new.count == 1 else f"{new.count} x {thickness}")
        changed[name] = {**data[name], "plates": entries}
    return changed
