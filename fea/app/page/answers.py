"""What the page asks while a case is edited: is it sound, how does it look, what would it do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from platestack.fea.app import case_text as text
from platestack.fea.app.page.drawing import elevation
from platestack.fea.app.page.instant import Instant
from platestack.fea.checks import KINDS
from platestack.fea.checks.as_one import ideal
from platestack.fea.checks.cost import priced
from platestack.fea.hand.beam import NotABeam, beam_check
from platestack.fea.hand.record import Check, worst_first
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.jobs.sizing.by_hand import Reserve
from platestack.fea.solid.reduced import Told
from platestack.fea.solid.statics import Statics, single
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses, rules
from platestack.geometry.errors import CaseError, PlatestackError, Problem
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, show

STACKS = ("crosshead", "bed")
MOST_LIMITS = 12
Thicknesses = Mapping[str, list[float]]
"""By stack: the thickness (m) of each entry of ``plates``."""

WAYS = {
    "welded": "Plates act as one. Timoshenko beam on the rods; a full solve is expected in the "
    "range shown.",
    "loose": "Plates slide on each other. Sum of Timoshenko beams on the rods, without contact; a "
    "full solve is expected in the range shown.",
    "clamped": "Friction holds the plates partly. Beam theory knows the two ends only: the figure "
    "is that of welded plates, the range goes on to loose ones. Only a full solve says where "
    "between.",
}
REDUCED = (
    "Reduced model of the full solve. The bound is that of the deflection's difference to a full "
    "solve on the mesh that the model was made on, whose own error comes on top; the stress is the "
    "peak and has no bound."
)


def check(data: dict[str, Any], before: str, instant: Instant) -> dict[str, Any]:
    """Look at a case: its text, its mistakes, and if there are none its drawing and its plates.

    `before` is the text that the data were edited from; its comments are kept.
    """
    made = text.written(data, before)
    try:
        case = case_file.parse(made)
    except CaseError as error:
        return {"text": made, "problems": [vars(problem) for problem in error.problems]}
    press = layout.build(case)
    return {
        "text": made,
        "case": text.digest(case),
        "problems": [],
        "drawing": elevation(press),
        "thicknesses": {name: [p.thickness for p in getattr(case, name).plates] for name in STACKS},
        "counts": {name: [p.count for p in getattr(case, name).plates] for name in STACKS},
        "prediction": predict(case, press, instant.told(case, press)),
        "defaults": [*case_file.defaults(case), *press.assumed],
    }


def predict(case: Case, press: Press, told: Mapping[str, Told]) -> dict[str, Any]:
    """Tell at once what a press leads to (SI), how that was found, and how close to limits it is.

    `told` is what reduced models say of stacks that have one.
    """
    bill = priced(press, case)
    return {
        "stacks": {s.name: _stack(press, s, told.get(s.name)) for s in press.stacks},
        "ideal": ideal(press),
        "mass": masses.together("press", masses.pieces(press)).mass,
        "height": press.height,
        "cost": None if bill is None else {
            "total": bill.total, "currency": bill.currency, "missing": list(bill.missing)
        },
        "limits": limits(case, press),
    }  # fmt: skip


def _stack(press: Press, stack: Stack, told: Told | None) -> dict[str, Any]:
    """Figures of one stack; what is not known is null."""
    allowed = min(p.material.yield_strength for p in stack.plates) / press.yield_safety_factor
    found: dict[str, Any] = {
        "mass": stack.mass,
        "stress_limit": allowed,
        "deflection_limit": stack.deflection_limit,
        "way": WAYS[stack.interface],
        "reducible": stack.interface == "welded" and stack.layout == "flat" and not stack.pads,
        "by": "beam",
        "deflection": None,
        "range": None,
        "stress": None,
    }
    try:
        beam = beam_check(stack, press.rods, press.capacity)
    except NotABeam as error:
        found["way"] = str(error)
    else:
        found |= {
            "deflection": beam.actual.expected,
            "range": [edge * beam.actual.mid_span_deflection for edge in beam.band],
            "stress": beam.actual.bending_stress,
        }
    if told is not None:
        found |= {
            "deflection": told.deflection,
            "range": [told.deflection - told.bound, told.deflection + told.bound],
            "stress": max(peak for peak in told.peaks if not math.isnan(peak)),
            "by": "reduced model",
            "way": REDUCED,
        }
    return found


def limits(case: Case, press: Press) -> list[dict[str, Any]]:
    """Demand against limit by beam theory and hand formulas, the closest first."""
    try:
        beams = by_hand.beams(press)
        statics = Statics(case, press, {}, 0.0, single(beams))
        found: list[Check] = [check for kind in KINDS for check in kind(statics)]
        for stack in press.stacks:
            found += by_hand.stack_checks(stack, press, beams[stack.name], Reserve(), case.limits)
    except PlatestackError:
        return []
    return [
        {
            "name": c.name,
            "use": c.utilisation,
            "limit": c.limit_name,
            "sense": c.sense,
            "note": c.note,
        }
        for c in worst_first(found)[:MOST_LIMITS]
    ]


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
