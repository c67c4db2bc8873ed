"""Tightening on whole meshes: ``python -m tests.figures.tightening [part of a name ...] [--fine]``.

For each case of ours with seats, and for variants whose rods act on each other more: how many
rounds to equal forces take to come within 5 %, how many passes the schedule takes, and how both end
when they are carried out on both stacks' whole meshes, solved anew for each rod, with contact where
plates may part. Each rod is brought to the force on the sheet, as with a jack. The limit is what a
rod may bear on the way, for its thread and its sleeve; the highest part of it that a rod bears on
the whole mesh is given, and of the sleeve's own limit by the force in the sleeve. Last come the
three passes on which rods bear least: a lower limit cannot be met in three.

Not covered: seats of the rods' own, which the whole model does not know (the frame says there that
rods hardly act on each other); equal rounds, and a third pass, where plates may part, as contact
takes ten times as long; plates with friction (`tests/fea/jobs/test_whole_press.py` has them); rods
that bend; errors of setting a rod; settling. Meshes are coarse; ``--fine`` takes smaller elements.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import numpy as np

from platestack.fea.jobs.tightening import (
    Bench,
    TighteningPass,
    Unreachable,
    equal_rounds,
    schedule,
)
from platestack.fea.jobs.tightening.passes import least_limit, scatter
from platestack.fea.jobs.tightening.sheet import FEW, PARTING, WANTED, may_bear, order
from platestack.fea.solid import stack
from platestack.fea.solid.frame.press import PressFrame, of_case
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes
from tests.fea.whole_press import WholePress

CASES = Path(__file__).parents[2] / "cases"
COARSE = Sizes(0.5, round_divisions=5, ring_divisions=1, patch_divisions=2, growth=0.8)
FINE = Sizes(0.2, round_divisions=10, ring_divisions=2, patch_divisions=4, growth=0.6)

LOOSE = 'interface = { kind = "loose" }'
WELDED = 'interface = { kind = "welded" }'
PLATES = 'plates = "3 x 110 mm"'


def changed(name: str, *changes: tuple[str, str]) -> str:
    """Text of a case of ours with some words replaced; each must be there."""
    text = (CASES / name / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        if old not in text:
            raise ValueError(f"{name}: nothing reads {old}")
        text = text.replace(old, new)
    return text


def demo(outer: int, plates: str, kind: str) -> str:
    """Text of the demo of 200 tf, 900 mm high between the stacks, with long thin sleeves."""
    return changed(
        "demo",
        ('capacity = "250 tf"', 'capacity = "200 tf"'),
        ('daylight = "450 mm"', 'daylight = "900 mm"'),
        ('seat_diameter = "140 mm"', f'seat_diameter = "{outer} mm"'),
        (PLATES, f'plates = "{plates}"'),
        (LOOSE, kind),
    )


# Rods wider apart, to clear ram and platen.
EIGHT = changed(
    "large",
    ("count = 6", "count = 8"),
    ('"880 mm"', '"1000 mm"'),
    ('daylight = "900 mm"', 'daylight = "1800 mm"'),
    ('"8 x 90 mm"', '"3 x 200 mm"'),
    ('["7 x 90 mm", "120 mm"]', '"3 x 200 mm"'),
    ("[rods]\n", '[rods]\nseat = "sleeve"\nseat_diameter = "175 mm"\n'),
    ("[rods]\n", '[rods]\nsleeve_bore = "160 mm"\npreload = "1200 kN"\n'),
)

PRESSES = {
    "demo": changed("demo"),
    "off_centre": changed("off_centre"),
    "demo, long sleeves, welded": demo(106, "2 x 180 mm", WELDED),
    "demo, long sleeves, loose": demo(106, "2 x 180 mm", LOOSE),
    "demo, long sleeves, thin": demo(106, "2 x 90 mm", WELDED),
    "large, eight rods": EIGHT,
}


@dataclass(frozen=True)
class Trial:
    """A press, and what its frame says of tightening it."""

    frame: PressFrame
    bench: Bench
    targets: np.ndarray
    limits: np.ndarray
    groups: tuple[tuple[int, ...], ...]

    @classmethod
    def of(cls, case: case_file.Case) -> Trial:
        """Condense both stacks of a case, in the state of preload."""
        press = layout.build(case)
        frame = of_case(press, case, lambda step: None, "preload")
        targets = np.array([end.rod.preload for end in frame.ends])
        bench = Bench(frame.frame, len(frame.ends), frame.weight)
        return cls(frame, bench, targets, may_bear(frame), order(frame, 1))

    @property
    def fewest(self) -> int:
        """Passes at least, as on the sheet."""
        parting = any(one.interface != "welded" for one in self.frame.press.stacks)
        return PARTING if parting else 1

    def planned(self, passes: int | None = None) -> tuple[TighteningPass, ...]:
        """The schedule as on the sheet; with a number of passes, however much rods bear."""
        limits = self.limits if passes is None else 100 * self.targets
        return schedule(
            self.bench, self.targets, self.groups, limits, passes=passes, fewest=self.fewest
        )

    @property
    def softness(self) -> float:
        """Compliance of a sleeve over that of its rod."""
        rod = self.frame.press.rods[0]
        return rod.stiffness * rod.between / (rod.material.young * rod.sleeve_area)


@dataclass(frozen=True)
class Carried:
    """What came of it on the whole meshes: scatter after each pass, highest parts of the limits."""

    scatter: tuple[float, ...]
    rod: float
    sleeve: float


def carried_out(
    whole: WholePress,
    trial: Trial,
    passes: Sequence[TighteningPass],
    targets: np.ndarray | None = None,
) -> Carried:
    """Bring each rod to its force in a plan, or to its target, as with a jack."""
    whole.loosen()
    press, found, most = trial.frame.press, [], [0.0, 0.0]
    sleeves = np.array(
        [r.sleeve_area * r.material.yield_strength / press.yield_safety_factor for r in press.rods]
    )
    for one in passes:
        for step in one.steps:
            to = step.set_to if targets is None else tuple(targets[list(step.rods)])
            forces = whole.pull(step.rods, to)
            most[0] = max(most[0], float((forces / trial.limits).max()))
            most[1] = max(most[1], float((whole.squeezed / sleeves).max()))
        found.append(scatter(forces, trial.targets))
    return Carried(tuple(found), *most)


def figures(text: str) -> Iterator[str]:
    """Lines on one press, as they are found."""
    start = time.perf_counter()
    case = case_file.parse(text, "case.toml")
    trial = Trial.of(case)
    targets = trial.targets
    rounds = equal_rounds(trial.bench, targets, trial.groups, WANTED)
    yield (
        f"  {len(targets)} nuts at {targets[0] / 1e3:,.0f} kN, limit "
        f"{min(trial.limits / targets):.2f} times that"
    )
    yield f"  equal rounds by the frame {_words(rounds, trial)}"
    try:
        plan = trial.planned()
    except Unreachable as error:
        yield f"  no schedule: {error}"
        return
    yield f"  schedule by the frame {_words(plan, trial)}"
    if trial.frame.press.rods[0].seat != "sleeve":
        yield "  seats of the rods' own: not carried out"
        return
    least = least_limit(trial.bench, targets, trial.groups, targets, FEW)
    yield (
        f"  three passes take a rod to {least:.3f} times its preload at least; sleeves are "
        f"{trial.softness:.2f} times as compliant as rods"
    )
    whole = WholePress(trial.frame.press, case)
    ways: list[tuple[str, Sequence[TighteningPass], np.ndarray | None]] = [("schedule", plan, None)]
    if trial.fewest < PARTING:
        ways.append(("equal rounds", rounds, targets))
        if len(plan) != FEW:
            ways.append(("gentlest of three passes", trial.planned(FEW), None))
    for name, passes, aim in ways:
        done = carried_out(whole, trial, passes, aim)
        yield (
            f"  {name} on the whole mesh {_percent(done.scatter)}; "
            f"{done.rod:.2f} of the limit, {done.sleeve:.2f} of the sleeve's"
        )
    yield f"  {whole.solves} solves, {time.perf_counter() - start:.0f} s"


def _percent(parts: Sequence[float]) -> str:
    return f"{len(parts)} (" + ", ".join(f"{part:.1%}" for part in parts) + ")"


def _words(plan: Sequence[TighteningPass], trial: Trial) -> str:
    use = max(one.use(trial.limits) for one in plan)
    return f"{_percent([scatter(o.forces, trial.targets) for o in plan])}; {use:.2f} of the limit"


def main() -> None:
    """Print the figures of every press whose name has one of the words given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("words", nargs="*")
    parser.add_argument("--fine", action="store_true")
    given = parser.parse_args()
    sizes = FINE if given.fine else COARSE
    with mock.patch.object(stack, "default_sizes", return_value=sizes):
        for name, text in PRESSES.items():
            if not given.words or any(word in name for word in given.words):
                print(name, flush=True)
                for line in figures(text):
                    print(line, flush=True)


if __name__ == "__main__":
    main()
