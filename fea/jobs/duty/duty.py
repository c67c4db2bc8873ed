"""The duty: what a press is to do, and what must not be exceeded."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from platestack.fea.jobs.duty.own import OwnCylinder, OwnRods
from platestack.fea.jobs.duty.usual import usual
from platestack.geometry import case as case_file
from platestack.geometry import tables, units
from platestack.geometry.cylinder import RELIEF
from platestack.geometry.errors import CaseError, Problem
from platestack.geometry.schema import Limits, Prices, Section, StockPlate
from platestack.geometry.schema.quantities import (
    Force,
    Length,
    Mass,
    Name,
    Pressure,
    Slope,
    Temperature,
)
from platestack.geometry.units import INCH, LENGTH, SystemName, UnitError, parse, show

COUNTS = (2, 4, 6, 8)


class Duty(Section):
    """From here `fea.jobs.sizing` proposes a press; what is left out is chosen."""

    units: SystemName = "SI"
    """Of the case, of what is sold and of round sizes."""
    name: Name | None = None
    capacity: Force
    pressure: Pressure | None = None
    """Largest oil pressure at capacity."""
    pump: Pressure | None = None
    """Of the pump's last stage, which is to reach the proof pressure of the press too."""
    daylight: Length
    stroke: Length | None = None
    length: Length | None = None
    """Of bed and crosshead along x; without it as small as cylinder and rods allow."""
    width: Length | None = None
    rods: Literal[2, 4, 6, 8] = 4
    layout: Literal["flat", "on edge"] = "flat"
    interface: Literal["loose", "welded"] = "loose"
    seat: Literal["sleeve", "shoulder", "inner nuts"] | None = None
    """What rods are tightened against and the crosshead rests on; without it, the lightest."""
    grade: Name = ""
    """Of the plates; without it S355J2 (A572 Gr 50 in US units), or as tough as the cold needs."""
    thickest: Length = 0.0
    """Plate that can be had and cut; without it a torch's usual reach."""
    stock: tuple[StockPlate, ...] = ()
    """The only plates that can be had, where there are some."""
    cylinder: OwnCylinder | None = None
    own_rods: OwnRods | None = None
    workpiece: Length | None = None
    """Diameter of the smallest workpiece that takes the whole force; 0.7 bores."""
    ceiling: Length | None = None
    hook: Length | None = None
    """Highest place of the hook above the floor."""
    hoist: Mass | None = None
    lowest_temperature: Temperature | None = None
    """Of the plates while the press is used; that of the case's default without it."""
    cycles: Annotated[int, Field(strict=True, ge=1, le=1_000_000_000)] = 20_000
    deflection: Slope = 1e-3
    yield_safety_factor: Annotated[float, Field(strict=True, ge=1.0, le=10.0)] = 1.5
    rod_safety_factor: Annotated[float, Field(strict=True, ge=1.0, le=10.0)] = 2.0
    budget: Annotated[float, Field(strict=True, gt=0.0, le=1e12)] | None = None
    """In the currency of the prices."""
    prices: Prices | None = None

    @model_validator(mode="wrap")
    @classmethod
    def _of_market(cls, given: Any, handler: Any) -> Any:
        """What is usual where the duty is written; it does not count as given."""
        if not isinstance(given, dict):
            return handler(given)
        market = usual("US" if given.get("units") == "US" else "SI")
        customary = {"grade": market.plate_grade, "thickest": f"{market.thickest} m"}
        made = handler(customary | given)
        made.model_fields_set.difference_update(customary.keys() - given.keys())
        return made

    @field_validator("grade")
    @classmethod
    def _listed(cls, grade: str) -> str:
        tables.structural_grade(grade)
        return grade

    @property
    def allowed_pressure(self) -> float:
        """Largest working pressure (Pa): a pump has to open the relief valve and do the proof."""
        if self.pressure is not None:
            return self.pressure
        assert self.pump is not None
        return self.pump / max(RELIEF, Limits().proof_factor)

    @property
    def ram_travel(self) -> float:
        """Stroke (m): given, or 55 % of the daylight and at least 100 mm (common practice)."""
        if self.units == "US":
            return self.stroke or max(4 * INCH, round(self.daylight * 0.55 / INCH) * INCH)
        return self.stroke or max(0.1, round(self.daylight * 0.55, 2))


def read(file: Path | None, given: dict[str, Any]) -> Duty:
    """Read a duty from a TOML file, from options, or both: options count more.

    Parameters
    ----------
    file : Path or None
        Keys as the fields of `Duty`, and the table ``[prices]``.
    given : dict
        Options by field name; None where not given.

    Raises
    ------
    CaseError
        With one line for each mistake.
    """
    name = str(file) if file else "size"
    data = case_file.toml(case_file.text_of(file), name) if file else {}
    options = {key: value for key, value in given.items() if value is not None}
    if plates := options.pop("plates", None):
        options["stock"] = [{"thickness": part.strip()} for part in plates.split(",")]
    given = {"units": units.system(), **data, **options}
    problems = _together(given)
    try:
        with units.using(given["units"] if given["units"] in units.NAMES else "SI"):
            duty = case_file.validated(Duty, given, name)
    except CaseError as error:
        problems = [*error.problems, *problems]
    if problems:
        raise CaseError(name, [_told(problem, options, file) for problem in problems])
    return duty


def _together(given: dict[str, Any]) -> list[Problem]:
    """Wishes that do not go together, whatever else is wrong."""
    problems = []
    if "pressure" in given and "pump" in given:
        problems.append(
            Problem(
                "pressure", "pump too", "allowed: one of pressure (of the oil at capacity) or pump"
            )
        )
    if "pressure" not in given and "pump" not in given:
        words = 'allowed: one of pressure (of the oil at capacity) or pump; for example "28 MPa"'
        problems.append(Problem("pressure", "", words))
    with suppress(UnitError):
        stroke, daylight = (parse(given.get(key), LENGTH) for key in ("stroke", "daylight"))
        if stroke > daylight:
            problems.append(
                Problem("stroke", show(stroke, LENGTH), f"allowed: up to daylight, "
                        f"{show(daylight, LENGTH)}")
            )  # fmt: skip
    return problems


def _told(problem: Problem, options: dict[str, Any], file: Path | None) -> Problem:
    """A mistake under the name by which the user gave the value."""
    if problem.key not in options and (file or problem.given):
        return problem
    return Problem(f"--{problem.key.replace('_', '-')}", problem.given, problem.allowed)
