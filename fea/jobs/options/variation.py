"""What may be changed about a press, read from words, and the cases that come of it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, get_args

from platestack.geometry import layout, rules, tables
from platestack.geometry.errors import CaseError, UsageError
from platestack.geometry.schema import Case, Interface, StackSection
from platestack.geometry.stock import stacked
from platestack.geometry.units import LENGTH, UnitError, parse, show

MOST = 200
"""Options of one comparison."""
MOST_SWEPT = 100_000
MOST_DRAWN = 4
"""Options side by side in a picture."""
METHODS = ("full", "beam")
"""Ways to evaluate an option: solve it, or beam theory and hand checks only."""

STACKS = ("crosshead", "bed")
_RANGE = re.compile(r"(.+?)\.\.(.+?)(?:\s+step\s+(.+))?")


@dataclass(frozen=True)
class Option:
    """Changes to a case: pairs of what is changed and its new value, SI; none is the base."""

    changes: tuple[tuple[str, Any], ...] = ()

    @property
    def label(self) -> str:
        """The changes in words."""
        return ", ".join(_words(name, value) for name, value in self.changes) or "base"

    def apply(self, case: Case, file: str = "case") -> Case:
        """The changed case.

        Raises
        ------
        CaseError
            If such a press cannot be built.
        """
        for name, value in self.changes:
            case = _change(name)(case, value)
        problems = rules.check(case)
        if problems:
            raise CaseError(f"{file} with {self.label}", problems)
        return case


@dataclass(frozen=True, kw_only=True)
class Other(Option):
    """Another case altogether, such as the same press with its plates on edge."""

    file: str
    case: Case

    @property
    def label(self) -> str:
        """The name of its file."""
        return self.file

    def apply(self, case: Case, file: str = "case") -> Case:
        """The other case."""
        return self.case


def combinations(wishes: Mapping[str, str], most: int = MOST) -> tuple[Option, ...]:
    """Every combination of the wished values, `wishes` being words by the name of the change.

    Raises
    ------
    UsageError
        If a value cannot be read, or there are more than `most` combinations.
    """
    order = list(CHANGES)
    names = sorted(wishes, key=lambda name: order.index(_kind(name)))
    read = {name: values(name, wishes[name]) for name in names}
    count = math.prod(len(found) for found in read.values())
    if count > most:
        raise UsageError(
            f"{count} options result; allowed: up to {most}; take fewer values or a larger step"
        )
    return tuple(
        Option(tuple(zip(read, choice, strict=True))) for choice in product(*read.values())
    )


def varied(texts: Sequence[str]) -> dict[str, str]:
    """Read ``"bed plate 2 = 60 mm, 70 mm"`` as words by the name of a change.

    Raises
    ------
    UsageError
        If one has no "=", or names come twice.
    """
    read: dict[str, str] = {}
    for text in texts:
        name, sign, words = (part.strip() for part in text.partition("="))
        if not sign or not name or name in read:
            raise UsageError(
                f'--vary: given "{text}"; allowed: "NAME = VALUES", each name once, such as '
                '"bed plate 2 = 60..90 mm step 5 mm"'
            )
        read[name] = words
    return read


def distinct(case: Case, chosen: Iterable[Option], file: str = "case") -> tuple[Option, ...]:
    """Those of the options that are not the press of the case itself.

    Raises
    ------
    CaseError
        If an option cannot be built.
    """
    base = layout.build(case)
    return tuple(one for one in chosen if layout.build(one.apply(case, file)) != base)


def values(name: str, text: str) -> tuple[Any, ...]:
    """Read the values of one change: a list, of lengths also ranges and "stock".

    ``"60 mm, 70 mm"``, ``"50..90 mm step 5 mm"``, ``"stock 50..90 mm"``; ``"2, 3, 4"`` plates;
    ``"S355J2, S235JR"``; ``"welded, loose"``.

    Raises
    ------
    UsageError
        With the name of the option, what was given and what is allowed.
    """
    reader = _READERS[_kind(name)]
    shown = f"--{name}" if name in FLAGS else f'"{name}"'
    entries = [entry.strip() for entry in text.split(",") if entry.strip()]
    try:
        found = [value for entry in entries for value in reader(entry)]
    except (UnitError, ValueError) as error:
        raise UsageError(f'{shown}: given "{text}"; {error}') from None
    if not found or len(set(found)) < len(found):
        raise UsageError(f'{shown}: given "{text}"; allowed: one value or more, all different')
    return tuple(found)


def lengths(entry: str) -> tuple[float, ...]:
    """Read a length, a range with its step, or "stock" with a range (m)."""
    stock = entry.startswith("stock")
    match = _RANGE.fullmatch(entry.removeprefix("stock").strip())
    if not match:
        if stock:
            raise ValueError('allowed: "stock" with a range, such as "stock 50..90 mm"')
        return (round(parse(entry, LENGTH), 9),)
    low_text, high_text, step_text = match.groups()
    high = parse(high_text, LENGTH)
    unit = re.sub(r"^[\d.eE+\s-]+", "", high_text)
    bare = re.fullmatch(r"\s*[\d.]+\s*", low_text)
    low = parse(f"{low_text} {unit}" if bare else low_text, LENGTH)
    if low > high:
        raise ValueError("allowed: a range from the smaller to the larger length")
    if stock:
        if step_text:
            raise ValueError("allowed: stock has steps of its own; give no step")
        sold = tables.stock_thicknesses()
        return tuple(t for t in sold if low - 1e-9 <= t <= high + 1e-9)
    if not step_text:
        raise ValueError('allowed: a range with its step, such as "50..90 mm step 5 mm"')
    step = parse(step_text, LENGTH)
    count = int((high - low) / step + 1e-9) + 1
    if count > MOST:
        raise ValueError(f"the range has {count} steps; allowed: up to {MOST}")
    return tuple(round(low + i * step, 9) for i in range(count))


def _counts(entry: str) -> tuple[int, ...]:
    if not (entry.isascii() and entry.isdigit() and 1 <= int(entry) <= 60):
        raise ValueError("allowed: whole numbers of plates, 1 to 60, such as 2, 3, 4")
    return (int(entry),)


def _kinds(entry: str) -> tuple[str, ...]:
    allowed = get_args(Interface.model_fields["kind"].annotation)
    if entry not in allowed:
        raise ValueError(f"allowed: {', '.join(allowed)}")
    return (entry,)


Where = tuple[str, ...]


def _stacks(case: Case, where: Where, change: Callable[[StackSection], dict[str, Any]]) -> Case:
    """Change the named stacks."""
    sections = {name: getattr(case, name) for name in where}
    changed = {n: section.model_copy(update=change(section)) for n, section in sections.items()}
    return case.model_copy(update=changed)


def _thickness(case: Case, value: float, where: Where) -> Case:
    def change(section: StackSection) -> dict[str, Any]:
        if case.stock and section.layout == "flat":  # as bought, its outer faces machined
            count = sum(p.count for p in section.plates)
            face = case.cutting.face_allowance
            return {"plates": stacked(section.plates[0], count, value, face, case.stock)}
        plates = (p.model_copy(update={"thickness": value, "blank": None}) for p in section.plates)
        return {"plates": tuple(plates)}

    return _stacks(case, where, change)


def _plate(case: Case, value: float, where: Where, number: int) -> Case:
    """One plate, counted from below (on edge: from the first) in each of the stacks."""

    def change(section: StackSection) -> dict[str, Any]:
        single = [p.model_copy(update={"count": 1}) for p in section.plates for _ in range(p.count)]
        if number > len(single):
            allowed = "1" if len(single) == 1 else f"1 to {len(single)}"
            raise UsageError(f"plate {number}: a stack has no such plate; allowed: {allowed}")
        update = {"thickness": value, "blank": None}
        single[number - 1] = single[number - 1].model_copy(update=update)
        return {"plates": tuple(single)}

    return _stacks(case, where, change)


def _plates(case: Case, value: int, where: Where) -> Case:
    """So many plates like the first one."""
    return _stacks(
        case, where, lambda s: {"plates": (s.plates[0].model_copy(update={"count": value}),)}
    )


def _grade(case: Case, value: str, where: Where) -> Case:
    def change(section: StackSection) -> dict[str, Any]:
        plates = (p.model_copy(update={"grade": None}) for p in section.plates)
        return {"grade": value, "plates": tuple(plates)}

    return _stacks(case, where, change)


def _interface(case: Case, value: str, where: Where) -> Case:
    return _stacks(
        case, where, lambda s: {"interface": s.interface.model_copy(update={"kind": value})}
    )


def _rod_diameter(case: Case, value: float, where: Where) -> Case:
    """Other rods; thread, hole, nut and washer follow from the diameter again."""
    sizes = ("thread", "hole", "nut_height", "nut_across_flats", "washer_diameter",
             "washer_thickness", "projection", "thread_length")  # fmt: skip
    update = {"diameter": value} | dict.fromkeys(sizes)
    return case.model_copy(update={"rods": case.rods.model_copy(update=update)})


CHANGES: dict[str, Callable[..., Case]] = {
    "plates": _plates,
    "thickness": _thickness,
    "plate": _plate,
    "grade": _grade,
    "interface": _interface,
    "rod-diameter": _rod_diameter,
}
"""What can be changed; applied in this order where several are."""

FLAGS = ("plates", "thickness", "grade", "interface", "rod-diameter")
"""Changes with an option of the command line of their own."""

_NAME = re.compile(
    r"(?:(?P<stack>crosshead|bed) )?(?:(?P<kind>plates|thickness|grade|interface)"
    r"|plate (?P<number>[1-9]\d?))"
)
_READERS: dict[str, Callable[[str], tuple[Any, ...]]] = {
    "plates": _counts,
    "thickness": lengths,
    "plate": lengths,
    "grade": lambda entry: (entry,),
    "interface": _kinds,
    "rod-diameter": lengths,
}


def _named(name: str) -> tuple[str, Where, int | None]:
    """Kind of change, stacks, and number of the plate of a name like "crosshead plate 2"."""
    if name == "rod-diameter":
        return name, STACKS, None
    match = _NAME.fullmatch(name)
    if match is None:
        raise UsageError(
            f'"{name}": cannot be varied; allowed: plates, thickness, plate N, grade, '
            'interface, each also of one stack ("bed plate 2"), and rod-diameter'
        )
    where = (match["stack"],) if match["stack"] else STACKS
    number = int(match["number"]) if match["number"] else None
    return match["kind"] or "plate", where, number


def _kind(name: str) -> str:
    return _named(name)[0]


def _change(name: str) -> Callable[[Case, Any], Case]:
    kind, where, number = _named(name)
    more = () if number is None else (number,)
    return lambda case, value: CHANGES[kind](case, value, where, *more)


def _words(name: str, value: Any) -> str:
    kind, where, number = _named(name)
    of = "" if where == STACKS else f"{where[0]} "
    words = {
        "plates": lambda: f"{value} plates",
        "thickness": lambda: f"plates {show(value, LENGTH)}",
        "plate": lambda: f"plate {number} {show(value, LENGTH)}",
        "rod-diameter": lambda: f"rods {show(value, LENGTH)}",
    }
    return of + (words[kind]() if kind in words else str(value))


def numbers(text: str, last: int) -> tuple[int, ...]:
    """Read ``"0, 4"`` as numbers of options up to `last`, as many as a picture holds.

    Raises
    ------
    UsageError
        If they are not.
    """
    entries = [entry.strip() for entry in text.split(",") if entry.strip()]
    good = all(e.isascii() and e.isdigit() and len(e) < 4 and int(e) <= last for e in entries)
    if not good or len(entries) > MOST_DRAWN or len(set(entries)) < len(entries):
        raise UsageError(
            f'--draw: given "{text}"; allowed: up to {MOST_DRAWN} different numbers '
            f"from 0 to {last}"
        )
    return tuple(int(entry) for entry in entries)
