"""What to change where a limit is exceeded: one value of the case, the least change that holds.

Each value that may help is raised (or lowered) step by step along what is sold or usual, and
checked by the quick figures. Where a full solution stands within its band there, it is taken to
stand as far within the band of the changed press.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from platestack.fea.checks import all_checks
from platestack.fea.checks.cost import priced
from platestack.fea.hand.record import Check
from platestack.fea.jobs.options.variation import Option
from platestack.fea.jobs.quick import QuickCheck, key, quick, worst
from platestack.fea.results.summary.changes import ChangeRecord
from platestack.fea.results.summary.records import Figure
from platestack.fea.solid.model import Solution
from platestack.geometry import layout, rules, tables
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, PRESSURE, fixed, show

MARGIN = 0.95
"""Of a limit that a solution decides: what the quick figures must promise of the changed press."""
STEPS = 8
"""Of one value; further it is another press."""
THICKER = 1.5
"""Most of platens and saddles, over what they are."""
RODS = tuple(
    d / 1e3 for d in (20, 24, 30, 36, 42, 48, 56, 64, 72, 80, 90, 100, 110, 125, 140, 160, 180,
                      200, 220, 250, 280)
)  # fmt: skip
"""Diameters of bar as sold (m): common sizes, no source."""


@dataclass(frozen=True)
class Change:
    """One value changed so that a limit holds by the quick figures, and what that costs."""

    check: str
    """Name of the limit that is exceeded."""
    words: str
    """The value, now and then."""
    case: Case
    """The whole case with the value changed."""
    use: float
    """Of the limit, as expected then."""
    mass: float
    """Of the press, more (kg)."""
    cost: float | None
    """More, by the prices of the case; None without prices."""


@dataclass(frozen=True)
class _Step:
    words: str
    case: Case


@dataclass
class _Judge:
    """Uses of limits in changed presses, from what stands in the press as it is."""

    now: Mapping[str, float]
    bands: Mapping[str, QuickCheck]

    @classmethod
    def of(cls, case: Case, press: Press, checks: Iterable[Check]) -> _Judge:
        now = {about: check.utilisation for about, check in worst(checks).items()}
        return cls(now, _bands(case, press))

    def uses(self, case: Case) -> dict[str, float] | None:
        """Use of each limit of a changed press, with the margin; None if it cannot be built."""
        try:
            if rules.check(case):
                return None
            then = _bands(case, layout.build(case))
        except PlatestackError:
            return None
        return {about: self._use(about, then[about]) for about in then}

    def exact(self, about: str) -> bool:
        """Whether a limit is known without a solution."""
        return about in self.bands and self.bands[about].high - self.bands[about].low < 1e-9

    def _use(self, about: str, then: QuickCheck) -> float:
        before, now = self.bands.get(about), self.now.get(about)
        if before is None or now is None or not math.isfinite(before.high + then.high):
            return then.high
        if self.exact(about):
            return then.check.utilisation
        at = (now - before.low) / (before.high - before.low)
        if at < 0 or at > 1:  # out of its band: in proportion
            end = (before.low, then.low) if at < 0 else (before.high, then.high)
            return now * end[1] / end[0] / MARGIN if end[0] > 0 else then.high
        return (then.low + at * (then.high - then.low)) / MARGIN


def _bands(case: Case, press: Press) -> dict[str, QuickCheck]:
    found = quick(case, press)
    names = {one.check.name: one for one in found}
    return {a: names[check.name] for a, check in worst(one.check for one in found).items()}


def changes(case: Case, press: Press, checks: Iterable[Check]) -> list[Change]:
    """For each limit exceeded by `checks` the cheapest single change, or nothing where none helps.

    A change that breaks a limit that held is none. Without prices the lightest is the cheapest;
    another grade, whose price a case does not give, comes last.
    """
    checks = list(checks)
    exceeded = {key(c.name): c for c in reversed(checks) if c.utilisation > 1}
    if not exceeded:
        return []
    try:
        judge = _Judge.of(case, press, checks)
    except PlatestackError:  # no beam: no quick figures
        return []
    mass, cost = press.mass, _cost(case, press)
    best: dict[str, tuple[float, Change]] = {}
    for ladder in _ladders(case, press):
        for about, (step, use) in _climb(ladder, judge, set(exceeded)).items():
            then = layout.build(step.case)
            more = None if cost is None else (_cost(step.case, then) or 0.0) - cost
            made = Change(exceeded[about].name, step.words, step.case, use, then.mass - mass, more)
            price = made.mass if more is None else more
            if ".grade:" in step.words:  # prices are not by grade: only where nothing else helps
                made, price = replace(made, cost=None), math.inf
            if about not in best or price < best[about][0] - 1e-9:
                best[about] = (price, made)
    return [best[about][1] for about in exceeded if about in best][::-1]


def recorded(solution: Solution) -> list[ChangeRecord]:
    """What to change of a solved press, as its summary keeps it."""
    found = changes(solution.case, solution.press, all_checks(solution))
    prices = solution.case.prices
    return [
        ChangeRecord(
            check=one.check,
            words=one.words,
            utilisation=one.use,
            mass=Figure(value=one.mass, unit="kg", note="more of the whole press"),
            cost=Figure(value=one.cost, unit=prices.currency if prices else ""),
        )
        for one in found
    ]


def _climb(ladder: list[_Step], judge: _Judge, wanted: set[str]) -> dict[str, tuple[_Step, float]]:
    """The first step of a ladder at which each wanted limit holds, and its use there."""
    found: dict[str, tuple[_Step, float]] = {}
    for tried, step in enumerate(ladder):
        uses = judge.uses(step.case)
        if uses is None:
            continue
        then = {a: use * (1 if judge.exact(a) else MARGIN) for a, use in uses.items()}
        broken = any(use > 1 >= judge.now.get(a, use) and use > judge.now.get(a, use) * 1.001
                     for a, use in then.items())  # fmt: skip
        for about in wanted - found.keys():
            if about in uses and uses[about] <= 1 and not broken:
                found[about] = (step, then[about])
        # What two steps do not lower no further step will.
        helps = any(uses.get(a, 0.0) < judge.now[a] * 0.999 for a in wanted - found.keys())
        if wanted == found.keys() or (tried > 0 and not helps):
            break
    return found


def _cost(case: Case, press: Press) -> float | None:
    bill = priced(press, case)
    return None if bill is None else bill.total


def _ladders(case: Case, press: Press) -> Iterator[list[_Step]]:
    """Every value that may be changed, as the steps it may take."""
    for name in ("crosshead", "bed"):
        yield from _of_stack(case, name)
    yield from _of_rods(case, press)
    yield from _of_cylinder(case, press)


def _of_stack(case: Case, name: str) -> Iterator[list[_Step]]:
    """Thickness (more, less) and number of plates, platen and saddle, grade."""
    own = getattr(case, name)

    def step(words: str, **update: object) -> _Step:
        return _Step(f"{name}.{words}", case.model_copy(
            update={name: own.model_copy(update=update)}))  # fmt: skip

    def thick(by: int) -> Iterator[_Step]:
        for n in range(1, STEPS + 1):
            sizes = [_stock(entry.thickness, by * n) for entry in own.plates]
            if None in sizes:
                return
            plates = tuple(
                e.model_copy(update={"thickness": t})
                for e, t in zip(own.plates, sizes, strict=True)
            )
            yield step(f"plates: {_pile(plates)} in place of {_pile(own.plates)}", plates=plates)

    yield list(thick(1))
    yield list(thick(-1))
    thickest = max(own.plates, key=lambda entry: entry.thickness)
    for by in (1, -1) if own.layout == "flat" else ():
        ladder = []
        for n in range(1, 4):
            if thickest.count + by * n < 1:
                break
            more = thickest.model_copy(update={"count": thickest.count + by * n})
            plates = tuple(more if e is thickest else e for e in own.plates)
            words = f"plates: {_pile(plates)} in place of {_pile(own.plates)}"
            ladder.append(step(words, plates=plates))
        yield ladder
    for part in ("platen", "saddle"):
        one = getattr(own, part)
        if one is not None:
            yield [
                step(f"{part}.thickness: {_length(t)} in place of {_length(one.thickness)}",
                     **{part: one.model_copy(update={"thickness": t})})
                for n in range(1, STEPS + 1)
                if (t := _stock(one.thickness, n)) and t <= THICKER * one.thickness
            ]  # fmt: skip
    stronger = _stronger(tables.grade_names, tables.structural_grade, own.grade,
                         thickest.thickness)  # fmt: skip
    found, known = tables.subgrade(own.grade, 0.0)
    yield [
        step(f'grade: "{one.name}" in place of "{own.grade}"', grade=one.name)
        for one in (tables.tougher(found) if known else ())
    ]
    for grade in stronger:
        yield [step(f'grade: "{grade}" in place of "{own.grade}"', grade=grade)]


def _of_rods(case: Case, press: Press) -> Iterator[list[_Step]]:
    """Diameter, grade, washer, nut, preload."""
    own, rod = case.rods, press.rods[0]

    def step(words: str, **update: object) -> _Step:
        changed = own.model_copy(update=update)
        return _Step(f"rods.{words}", case.model_copy(update={"rods": changed}))

    larger = [d for d in RODS if d > own.diameter + 1e-9][:STEPS]
    yield [
        _Step(f"rods.diameter: {_length(d)} in place of {_length(own.diameter)}",
              Option((("rod-diameter", d),)).apply(case))
        for d in larger if _buildable(case, d)
    ]  # fmt: skip
    for grade in _stronger(tables.rod_grade_names, tables.rod_grade, own.grade, own.diameter):
        yield [step(f'grade: "{grade}" in place of "{own.grade}"', grade=grade)]
    for what, now in (("washer_diameter", rod.bearing_outer), ("nut_height", rod.nut_height)):
        yield [
            step(f"{what}: {_length(t)} in place of {_length(now)}", **{what: t})
            for n in range(1, STEPS + 1) if (t := _round(now * (1 + 0.08 * n)))
        ]  # fmt: skip
    for seat in ("sleeve", "shoulder") if own.seat == "none" else ():
        yield [step(f'seat: "{seat}" in place of "none"', seat=seat)]
    for by in (0.1, -0.1) if rod.preload else ():
        yield [
            step(f"preload: {fixed(force, 'N', 0)} in place of {fixed(rod.preload, 'N', 0)}",
                 preload=force)
            for n in range(1, 6) if (force := 1e3 * round(rod.preload * (1 + by * n) / 1e3)) > 0
        ]  # fmt: skip


def _of_cylinder(case: Case, press: Press) -> Iterator[list[_Step]]:
    """Wall, bottom and other sizes of the cylinder, and the pressure."""
    made, wish = press.cylinder, case.cylinder

    def step(words: str, **update: object) -> _Step:
        return _Step(f"cylinder.{words}", case.model_copy(
            update={"cylinder": wish.model_copy(update=update)}))  # fmt: skip

    sizes = {} if made is None else {
        "outer_diameter": made.outer_diameter, "bottom_thickness": made.bottom,
        "piston_length": made.piston, "gland_length": made.gland,
        "thread_length": made.thread_length,
    }  # fmt: skip
    for what, now in sizes.items():
        part = 0.03 if what == "outer_diameter" else 0.08
        yield [
            step(f"{what}: {_length(t)} in place of {_length(now)}", **{what: t})
            for n in range(1, STEPS + 1) if (t := _round(now * (1 + part * n)))
        ]  # fmt: skip
    pressure = case.press.working_pressure
    for by in (0.04, -0.04):
        yield [
            _Step(f"press.working_pressure: {show(p, PRESSURE)} in place of "
                  f"{show(pressure, PRESSURE)}", case.model_copy(
                update={"press": case.press.model_copy(update={"working_pressure": p})}))
            for n in range(1, STEPS + 1) if (p := 1e5 * round(pressure * (1 + by * n) / 1e5))
        ]  # fmt: skip


def _buildable(case: Case, diameter: float) -> bool:
    try:
        return not rules.check(Option((("rod-diameter", diameter),)).apply(case))
    except PlatestackError:
        return False


def _stronger(
    names_in: Callable[[str], Iterable[str]],
    grade_of: Callable[[str], tables.Grade],
    now: str,
    size: float,
) -> Iterator[str]:
    """Grades of the same market of more yield strength at this size, the weakest first."""

    def strength(name: str) -> float:
        try:
            return grade_of(name).yield_strength(size)
        except tables.TableError:
            return 0.0

    least = strength(now)
    own = grade_of(now).system if least else ""
    better = [name for name in names_in(own) if strength(name) > least > 0]
    yield from sorted(better, key=strength)[:2]


def _stock(thickness: float, by: int) -> float | None:
    """Stock thickness so many steps above (below) one; None beyond what is sold."""
    stock = tables.stock_thicknesses()
    above = [t for t in stock if t > thickness + 1e-9]
    below = [t for t in stock if t < thickness - 1e-9][::-1]
    chosen = above if by > 0 else below
    return chosen[abs(by) - 1] if len(chosen) >= abs(by) else None


def _pile(plates: Iterable) -> str:
    return " + ".join(f"{e.count} x {_length(e.thickness)}" for e in plates)


def _length(length: float) -> str:
    return show(length, LENGTH)


def _round(length: float) -> float:
    """To 5 mm up, as people choose sizes."""
    return math.ceil(length * 200 - 1e-9) / 200
