"""The free choices of a proposal, and the case that they make."""

from __future__ import annotations

import functools
import math
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from platestack.fea.checks.hydraulics import derived_stages
from platestack.fea.jobs.duty.duty import Duty
from platestack.fea.jobs.duty.usual import bores as sold_bores
from platestack.fea.jobs.duty.usual import capacity, down, thread_names, usual
from platestack.fea.jobs.sizing import frame
from platestack.geometry import cylinder, layout, stock, tables
from platestack.geometry.errors import UsageError
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case, PlateEntry, Prices, Section
from platestack.geometry.schema.prices import Rate
from platestack.geometry.units import (
    FLOW,
    FORCE,
    LENGTH,
    MASS,
    OFFSET,
    PRESSURE,
    SLOPE,
    TEMPERATURE,
    Kind,
    show,
    using,
)

SEATS = ("sleeve", "shoulder", "inner nuts")
"""What rods may be tightened against, which also carries the crosshead."""


@dataclass(frozen=True)
class StackPlates:
    """Plates of one stack: how many, how thick as bought, how high if they stand on edge (m)."""

    count: int
    thickness: float
    height: float | None = None


@dataclass(frozen=True)
class PressPlan:
    """A press as the few sizes that are chosen; the rest follows (SI)."""

    duty: Duty
    bore: float
    rod: float
    outer: float
    crosshead: StackPlates
    bed: StackPlates
    least: Mapping[str, float] = field(default_factory=dict)
    """Least thickness (m) of platens and saddles, by stack and role: "bed platen"."""
    seat: str = SEATS[0]
    preload: float | None = None
    """Of each rod (N); None before it is chosen."""
    seat_diameter: float | None = None
    """As wide as plates and sleeve need (m); None where the usual one does."""
    grade: str | None = None
    """Of the plates where they need a tougher one than the duty's."""
    warm: float | None = None
    """Temperature (°C) that the shop must keep, where no sub-grade is tough enough without."""

    @property
    def pressure(self) -> float:
        """Working pressure (Pa): what the bore needs, rounded up, within the duty's."""
        needed = self.duty.capacity / (math.pi / 4 * self.bore**2)
        step = usual(self.duty.units).pressure
        return min(math.ceil(needed / step - 1e-6) * step, self.duty.allowed_pressure)

    @functools.cached_property
    def frame(self) -> frame.PlanSize:
        """Sizes in plan. Raises `UsageError` if those of the duty are too small."""
        with using(self.duty.units):
            return _in_plan(self)

    @functools.cached_property
    def tables(self) -> dict[str, Any]:
        """The tables of the case file as data."""
        with using(self.duty.units):
            return _tables(self)

    @functools.cached_property
    def case(self) -> Case:
        """The case; rules between its values are not checked."""
        return Case.model_validate(self.tables)

    @functools.cached_property
    def press(self) -> Press:
        """All parts in place. Raises `tables.TableError`."""
        return layout.build(self.case)

    def stack_of(self, name: str, plates: StackPlates) -> tuple[Press, Stack]:
        """Crosshead or bed of other plates (its frame unchanged), and the press it is in."""
        section = getattr(self.case, name)
        entries = tuple(map(PlateEntry.model_validate, _plates(plates, self.duty)))
        update: dict[str, Any] = {"plates": entries}
        if plates.height is not None:
            update["height"] = plates.height
        changed = {name: section.model_copy(update=update)}
        press = layout.build(self.case.model_copy(update=changed))
        return press, getattr(press, name)

    @property
    def choices(self) -> tuple[float | StackPlates, ...]:
        """What the plates bend by: seats change no layout, and do not count in the beams."""
        return self.bore, self.outer, self.rod, self.crosshead, self.bed

    @property
    def tightened(self) -> tuple[str, float | None, float | None]:
        """What tells this plan from others with the same `choices`."""
        return self.seat, self.preload, self.seat_diameter

    def with_stacks(self, crosshead: StackPlates, bed: StackPlates) -> PressPlan:
        """The same with other plates."""
        return replace(self, crosshead=crosshead, bed=bed)


def _in_plan(plan: PressPlan) -> frame.PlanSize:
    """Sizes in plan of what the cylinder, the rods and the duty ask for."""
    own = plan.duty.cylinder
    flange = own.flange.outer_diameter if own and own.flange else 0.0
    widest = max(plan.outer, flange, plan.duty.workpiece or 0.0)
    if plan.duty.layout == "flat":
        return frame.flat(plan.duty, widest, plan.rod)
    made = plan.bed.count, plan.bed.thickness
    return frame.on_edge(plan.duty, widest, plan.rod, *made)


def start(
    duty: Duty, bore: float, rod: float, least: Mapping[str, float] | None = None
) -> PressPlan:
    """A plan with cylinder and rods, and any plates."""
    plates = StackPlates(4, 0.05, 0.2 if duty.layout == "on edge" else None)
    guess = PressPlan(duty, bore, rod, 2 * bore, plates, plates, least or {})
    if duty.cylinder is not None:
        return replace(guess, outer=duty.cylinder.outer_diameter)
    roomy = replace(guess, duty=anywhere(duty))
    return replace(guess, outer=cylinder.least_outer(roomy.case, bore))


def anywhere(duty: Duty) -> Duty:
    """The same duty on a flat bed of any size."""
    return duty.model_copy(update={"length": None, "width": None, "layout": "flat"})


def bores(duty: Duty) -> list[float]:
    """Bores (m) that give the capacity within the pressure allowed: ISO 3320, then whole 20 mm.

    Raises `UsageError` if there is none up to 3 m.
    """
    needed = math.sqrt(4 * duty.capacity / (math.pi * duty.allowed_pressure))
    if duty.cylinder is not None:
        if duty.cylinder.bore < needed * (1 - 1e-4):
            raise UsageError(
                f"cylinder.bore: given {show(duty.cylinder.bore, LENGTH)}; allowed: at least "
                f"{show(needed, LENGTH)} for the capacity at "
                f"{show(duty.allowed_pressure, PRESSURE)}; more pressure, or less capacity"
            )
        return [duty.cylinder.bore]
    found = [bore for bore in sold_bores() if bore >= needed * (1 - 1e-4)]
    if not found:
        raise UsageError(
            f"--pressure: {show(duty.allowed_pressure, PRESSURE)} needs a bore of "
            f"{show(needed, LENGTH)}; allowed: more pressure or less capacity, for a bore up to 3 m"
        )
    return found


def rod_sizes(duty: Duty) -> list[float]:
    """Rods that carry a listed thread of the same diameter, rising (m); or those that are there."""
    if duty.own_rods is not None:
        return [duty.own_rods.diameter]
    sizes = (tables.thread(name).d for name in thread_names())
    return [d for d in sizes if d >= 0.016]


def _tables(plan: PressPlan) -> dict[str, Any]:
    duty, made = plan.duty, plan.frame
    limits: dict[str, Any] = {
        "deflection": show(duty.deflection, SLOPE),
        "yield_safety_factor": duty.yield_safety_factor,
        "rod_safety_factor": duty.rod_safety_factor,
        "cycles": duty.cycles,
    }
    if duty.ceiling is not None:
        limits["ceiling"] = length(duty.ceiling)
    if duty.hoist is not None:
        limits["hoist"] = show(duty.hoist, MASS, 6)
    work = duty.workpiece or down(0.7 * plan.bore, 1)
    pitch = [length(p) for p in made.pitch]
    return {
        **({} if duty.units == "SI" else {"units": duty.units}),
        "press": {
            "name": duty.name or f"Press, {capacity(duty.capacity)}",
            "capacity": capacity(duty.capacity),
            "working_pressure": show(plan.pressure, PRESSURE, 6),
            "daylight": length(duty.daylight),
            "stroke": length(duty.ram_travel),
        },
        "limits": limits,
        "crosshead": _stack(plan, "crosshead", plan.crosshead),
        "bed": _stack(plan, "bed", plan.bed),
        "rods": {
            "count": duty.rods,
            "pitch": pitch if len(pitch) > 1 else pitch[0],
            "diameter": length(plan.rod),
            **_own_rods(duty),
            "seat": plan.seat,
            **({} if plan.seat_diameter is None else {"seat_diameter": length(plan.seat_diameter)}),
            **({} if plan.preload is None else {"preload": show(plan.preload, FORCE, 8)}),
        },
        "ram": {"diameter": length(plan.bore), "outer_diameter": length(plan.outer), **_hold(duty)},
        "workpiece": {"shape": "disc", "diameter": length(work)},
        **({} if duty.pump is None else {"hydraulics": {"stages": _stages(plan, duty.pump)}}),
        **({"shop": shop} if (shop := _shop(plan)) else {}),
        **({} if duty.units != "US" else {"cutting": {"face_allowance": length(usual().face)}}),
        "prices": (usual().prices if duty.prices is None else _prices(duty.prices))
        | _own_rod_prices(duty),
        **({"stock": [written(plate) for plate in duty.stock]} if duty.stock else {}),
    }


def _shop(plan: PressPlan) -> dict[str, str]:
    duty = plan.duty
    hook = {} if duty.hook is None else {"hook_height": length(duty.hook)}
    cold = duty.lowest_temperature if plan.warm is None else plan.warm
    return hook | ({} if cold is None else {"lowest_temperature": show(cold, TEMPERATURE)})


def _own_rods(duty: Duty) -> dict[str, Any]:
    own = duty.own_rods
    made: dict[str, Any] = {"grade": (own and own.grade) or usual().rod_grade}
    return made | ({"thread": own.thread} if own and own.thread else {})


def _hold(duty: Duty) -> dict[str, Any]:
    """How an own cylinder bears on its stack, and what holds it."""
    own = duty.cylinder
    if own is None:
        return {}
    parts = {name: getattr(own, name) for name in ("flange", "fixing")}
    made = {name: written(part) for name, part in parts.items() if part is not None}
    return made | ({"closed_length": length(own.closed_length)} if own.closed_length else {})


def _own_rod_prices(duty: Duty) -> dict[str, str]:
    """What is there costs nothing."""
    free = {"cylinder": duty.cylinder, "rod": duty.own_rods}
    return {name: "0 per piece" for name, own in free.items() if own is not None}


def written(section: Section) -> dict[str, Any]:
    """A table of a duty or case as the file writes it: what was given, with units."""
    made: dict[str, Any] = {}
    for name in type(section).model_fields:
        if name not in section.model_fields_set or getattr(section, name) is None:
            continue
        value, field = getattr(section, name), type(section).model_fields[name]
        kind = next((m for m in _kinds(field) if isinstance(m, Kind)), None)
        if isinstance(value, Section):
            made[name] = written(value)
        elif isinstance(value, Rate):
            made[name] = str(value)
        elif isinstance(value, tuple):
            made[name] = [
                written(v) if isinstance(v, Section) else show(v, OFFSET, 7) for v in value
            ]
        else:
            made[name] = show(value, kind, 8) if kind else value
    return made


def _kinds(field: Any) -> list[Any]:
    """Metadata of a field's annotation, also where it may be None."""
    parts = typing.get_args(field.annotation)
    return [*field.metadata, *(m for part in parts for m in getattr(part, "__metadata__", ()))]


def _stages(plan: PressPlan, pump: float) -> list[dict[str, str]]:
    """The pump that is there: its pressures, and flows as for one that is derived."""
    stages = derived_stages(math.pi / 4 * plan.bore**2, plan.pressure * cylinder.RELIEF, pump)
    return [{"flow": show(s.flow, FLOW, 6), "pressure": show(s.pressure, PRESSURE, 6)}
            for s in stages]  # fmt: skip


def _stack(plan: PressPlan, name: str, plates: StackPlates) -> dict[str, Any]:
    duty, made = plan.duty, plan.frame

    def machined(role: str, customary: float) -> dict[str, str]:
        """A plate with both faces machined, from stock."""
        least = max(customary, plan.least.get(f"{name} {role}", 0.0))
        blank = frame.stock(least + 2 * usual().face, stock.thicknesses(duty.stock))
        return {"thickness": length(blank - 2 * usual().face), "blank": length(blank)}

    own: dict[str, Any] = {"layout": duty.layout, "length": length(made.length)}
    if made.edge is None:
        own["width"] = length(made.width)
        own |= {"corners": "chamfered", "corner_size": length(made.corner)}
    else:
        assert plates.height is not None
        own["height"] = length(plates.height)
    own |= {
        "grade": plan.grade or duty.grade,
        "plates": _plates(plates, duty),
        "interface": {"kind": duty.interface},
    }
    if made.edge is not None:
        own["gaps"] = [length(gap) for gap in made.edge.gaps]
        own["platen"] = machined("platen", made.edge.platen)
        own["saddle"] = machined("saddle", made.edge.saddle)
        if duty.rods > 4:
            a = made.pitch[0] / 2
            at = (-a / 2, a / 2) if duty.rods == 6 else (-2 * a / 3, 0.0, 2 * a / 3)
            own["spacers"] = {"at": [length(x) for x in at]}
    return own


def _plates(plates: StackPlates, duty: Duty) -> list[dict[str, Any]]:
    """Entries of stock plates in a stack: its two outer faces, lying flat, are machined."""
    inner: dict[str, Any] = {"thickness": length(plates.thickness), "count": plates.count}
    found = stock.of_thickness(duty.stock, plates.thickness)
    if found and found[0].openings:
        inner["openings"] = [written(hole) for hole in found[0].openings]
    if plates.height is not None:
        return [inner]
    blank, thickness = length(plates.thickness), length(plates.thickness - usual().face)
    outer = inner | {"thickness": thickness, "blank": blank, "count": 1}
    if plates.count <= 2:
        return [outer | {"count": plates.count}]
    return [outer, inner | {"count": plates.count - 2}, outer]


def _prices(prices: Prices) -> dict[str, Any]:
    given = {key: getattr(prices, key) for key in Prices.model_fields}
    return {
        key: str(value) if isinstance(value, Rate) else value
        for key, value in given.items()
        if key in prices.model_fields_set and value is not None
    }


def length(value: float) -> str:
    """A length as the case writes it."""
    return show(value, LENGTH, 7)
