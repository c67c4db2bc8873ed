"""How often quick figures cover full ones: ``python -m tests.figures.quick FILE [COUNT] [START]``.

The cases and presses drawn at random are solved on coarse meshes; their checks are kept in FILE
(one line of JSON for each press), so that a second call goes on where the first ended. Printed is,
for each kind of limit that a full solution decides, how often the band of its quick figure covers
that solution, and how many verdicts contradict it without saying that they are open. It ends with 1
where fewer than 95 % are covered or a verdict contradicts.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from platestack.fea.checks import all_checks
from platestack.fea.jobs.quick import quick, verdict, worst
from platestack.fea.solid import stack
from platestack.fea.solid.model import Solution, check_sag
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema import Case
from tests.coarse import coarse_sizes
from tests.figures.drawn_presses import Draw

CASES = Path(__file__).parents[2] / "cases"
COUNT, LEAST_COVERED = 60, 0.95


def cases(count: int, start: int = 0) -> Iterator[tuple[str, Case]]:
    """The cases of the project, then presses drawn at random."""
    for file in sorted(CASES.rglob("*.toml")) if start == 0 else ():
        yield file.stem, case_file.read(file)
    for seed in range(start, start + count):
        yield str(seed), Draw(seed).press()


def solved(case: Case) -> Solution:
    """Both stacks on one coarse mesh each."""
    press = layout.build(case)
    check_sag(press)
    wish = {"deflection_accuracy": 0.5, "stress_accuracy": 0.5}
    once = case.model_copy(update={"mesh": case.mesh.model_copy(update=wish)})
    stack.default_sizes = lambda *_: coarse_sizes(press)  # type: ignore[assignment]
    stacks = {s.name: stack.solve_stack(press, s, once, lambda step: None) for s in press.stacks}
    return Solution(case, press, stacks, 0.0)


def uses(solution: Solution) -> dict[str, float]:
    """Use of each kind of limit, of the worst rod or plate."""
    found = worst(all_checks(solution))
    return {about: check.utilisation for about, check in found.items()}


def compared(case: Case, full: dict[str, float]) -> dict[str, Any]:
    """Which kinds the full solution decides, which of them are covered; what contradicts."""
    found = quick(case, layout.build(case))
    bands = dict(zip(worst(one.check for one in found), worst_bands(found), strict=True))
    decided = [k for k in full if k not in bands or bands[k][0] < bands[k][1] - 1e-12]
    covered = [k for k in decided if k in bands and bands[k][0] <= full[k] <= bands[k][1]]
    wrong = [k for k in bands if k in full
             and (bands[k][0] > 1 >= full[k] or bands[k][1] <= 1 < full[k])]  # fmt: skip
    whole = "exceeded" if max(full.values()) > 1 else "within"
    return {"decided": decided, "covered": covered, "wrong": wrong,
            "contradicts": verdict(found) not in (whole, "open")}  # fmt: skip


def worst_bands(found: list[Any]) -> list[tuple[float, float]]:
    """Band of the worst check of each kind, in the order of `worst`."""
    by_name = {one.check.name: (one.low, one.high) for one in found}
    return [by_name[check.name] for check in worst(one.check for one in found).values()]


def main(file: Path, count: int = COUNT, start: int = 0) -> int:
    """Solve what is not yet in the file; print the table."""
    lines = file.read_text().splitlines() if file.exists() else []
    known = {row["name"]: row for row in map(json.loads, lines)}
    decided: Counter[str] = Counter()
    covered: Counter[str] = Counter()
    wrong: list[str] = []
    presses = 0
    for name, case in cases(count, start):
        if name not in known:
            try:
                known[name] = {"name": name, "uses": uses(solved(case))}
            except PlatestackError as error:
                known[name] = {"name": name, "failed": str(error)}
            with file.open("a") as kept:
                kept.write(json.dumps(known[name]) + "\n")
        if "failed" in known[name]:
            print(f"{name}: {known[name]['failed']}")
            continue
        row = compared(case, known[name]["uses"])
        decided.update(row["decided"])
        covered.update(row["covered"])
        wrong += [f"{name}: {about}" for about in row["wrong"]]
        wrong += [f"{name}: the whole"] if row["contradicts"] else []
        presses += 1
    for about, n in decided.most_common():
        print(f"{about:<55} {covered[about]:>4} of {n:>4}")
    share = covered.total() / max(decided.total(), 1)
    print(f"{presses} presses: {covered.total()} of {decided.total()} figures covered, {share:.1%}")
    print(f"{len(wrong)} verdicts contradict the full solution", *wrong, sep="\n  ")
    return int(share < LEAST_COVERED or bool(wrong))


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), *map(int, sys.argv[2:])))
