"""Mutations of the core drawn by a seed, and the fast test that notices each.

``python -m tests.figures.mutations [--count 300] [--seed 1] [--minutes M] [--only PATH ...]`` needs
the extra `test`. It changes one place after another (`mutating`) in a copy of the tree and runs the
fast tests that run that line (`covering`), the quickest first, until one fails. It prints what was
noticed by which test, and ends with 1 if less than 95 % are. What was found is kept in
`.mutations/`, so that it goes on where it was; `--again` tries once more what was not noticed,
`--table` only prints. `not_noticed.toml` lists mutations that change no result, with the reason.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import json
import signal
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from tests.figures import covering, mutating, trying
from tests.figures.ready import Ready

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / ".mutations"
REASONS = Path(__file__).with_name("not_noticed.toml")
GOAL = 0.95
PATIENCE = 20.0
"""Seconds of tests that are tried on one mutation, by what they took when they were collected."""
NOTICED, SURVIVED, EQUIVALENT = "noticed", "not noticed", "equivalent"


def drawn(seed: int) -> Iterator[mutating.Mutation]:
    """All mutations of the core, in an order by the seed that changes elsewhere keep."""
    paths = mutating.core(ROOT)
    every = [one for path in paths for one in mutating.mutations(ROOT, path)]
    every.sort(key=lambda one: hashlib.sha256(f"{seed} {one.key}".encode()).digest())
    texts = {path: (ROOT / path).read_bytes() for path in map(str, paths)}
    return (one for one in every if one.is_valid(texts[one.path]))


def tests_of_the_tree(only: list[str]) -> list[str]:
    """Files of tests, as paths below the root."""
    every = (str(p.relative_to(ROOT)) for p in (ROOT / "tests").rglob("test_*.py"))
    return sorted(p for p in every if not only or p.startswith(tuple(only)))


def attempt(
    mutation: mutating.Mutation, tree: Path, known: covering.Covering, made: Ready, number: int
) -> dict[str, object]:
    """Try a mutation; a row of the table."""
    every = known.of(mutation.path, mutation.line, mutation.names)
    made.choose(mutation.path, mutation.line)
    order, costs = known.within(every, PATIENCE, set() if mutation.names else made.usable)
    start = time.perf_counter()
    failed, ran = "", 0
    place, limit = tree / mutation.path, 60.0 + 5 * sum(costs)
    old = place.read_bytes()
    new = mutation.applied(old)

    def noticed() -> tuple[str, int]:
        same = trying.swap_code(Path(mutation.path), old, new, bool(mutation.names))
        return trying.tests(order, costs, made.given() if same else None)

    if order:
        with trying.changed(place, new, number):
            told = trying.forked(noticed, limit)
        failed, ran = told if told else (f"no end within {limit:.0f} s of a core", 0)
    return {
        "key": mutation.key, "kind": mutation.kind, "line": mutation.line, "by": failed,
        "verdict": NOTICED if failed else SURVIVED, "tried": ran, "of": len(every),
        "seconds": round(time.perf_counter() - start, 1),
    }  # fmt: skip


def rows() -> dict[str, dict[str, object]]:
    """What was found so far, the last word on each."""
    place = KEPT / "rows.jsonl"
    lines = place.read_text("utf-8").splitlines() if place.exists() else []
    return {row["key"]: row for row in map(json.loads, lines)}


def reasons() -> dict[str, str]:
    """Why mutations that no test can notice change no result, by their keys."""
    if not REASONS.exists():
        return {}
    listed = tomllib.loads(REASONS.read_text("utf-8")).get("mutation", [])
    return {
        " | ".join((one["path"], one["where"], one["before"], one["after"])): one["reason"]
        for one in listed
    }


def verdict(row: dict[str, object], why: dict[str, str]) -> str:
    """A row's verdict; a test that notices counts for more than a reason."""
    if row["verdict"] == SURVIVED and row["key"] in why:
        return EQUIVALENT
    return str(row["verdict"])


def print_table(wanted: list[mutating.Mutation], given: argparse.Namespace) -> float:
    """Print rows and totals; the share that was noticed of those that change a result."""
    found, why = rows(), reasons()
    done = [found[one.key] for one in wanted if one.key in found]
    if given.long:
        for row in done:
            print(f"{verdict(row, why):<12} {row['key']}\n{'':<13}{row['by']}")
    for row in done:
        if not given.long and verdict(row, why) == SURVIVED:
            path, where, before, after = str(row["key"]).split(" | ", 3)
            print(f"NOT NOTICED {path}:{row['line']} {where} ({row['tried']} of {row['of']} tests)")
            print(f"    {before}\n    {after}")
    kinds: dict[str, Counter[str]] = {}
    for row in done:
        kinds.setdefault(str(row["kind"]), Counter())[verdict(row, why)] += 1
    print(f"{'kind':<12}{NOTICED:>12}{SURVIVED:>14}{EQUIVALENT:>14}")
    for kind in sorted(kinds):
        print(f"{kind:<12}" + _counts(kinds[kind]))
    total: Counter[str] = sum(kinds.values(), Counter())
    print(f"{'all':<12}" + _counts(total))
    told = total[NOTICED] + total[SURVIVED]
    share = total[NOTICED] / told if told else 0.0
    print(f"{len(done)} mutations (seed {given.seed}); noticed of those that change a result: "
          f"{share:.1%}")  # fmt: skip
    return share


def _counts(count: Counter[str]) -> str:
    return f"{count[NOTICED]:>12}{count[SURVIVED]:>14}{count[EQUIVALENT]:>14}"


def try_all(wanted: list[mutating.Mutation], given: argparse.Namespace) -> None:
    """Try what has no row yet, until all is done or the time is up."""
    end = time.monotonic() + 60 * given.minutes
    found, why = rows(), reasons()
    left = [
        one for one in wanted
        if one.key not in found
        or (given.again and found[one.key]["verdict"] == SURVIVED and one.key not in why)
    ]  # fmt: skip
    if wanted and not left:
        return
    with tempfile.TemporaryDirectory(prefix="mutations-") as folder:
        tree = trying.copied(ROOT, Path(folder).resolve())
        trying.prepare(tree, mutating.core(ROOT))
        files = tests_of_the_tree(given.tests)
        covering.refresh(tree, KEPT, files, trying.forked, end)
        known = covering.Covering(tree, KEPT)
        made = Ready(known)
        made.make()
        gc.collect()
        gc.freeze()
        complete = all(covering.is_known(tree, KEPT, file) for file in tests_of_the_tree([]))
        done = []
        for number, one in enumerate(left, 1):
            if time.monotonic() > end:
                break
            if not complete and not known.of(one.path, one.line, one.names):
                continue
            row = attempt(one, tree, known, made, number)
            keep(row)
            done.append((one, row))
            print(f"{number} of {len(left)}: {row['verdict']}, {row['seconds']} s, "
                  f"{one.path}:{one.line}", file=sys.stderr, flush=True)  # fmt: skip
        failing = known.forget_failing({str(row["by"]) for _, row in done})
        for number, (one, row) in enumerate(done, len(left) + 1):
            if row["by"] in failing:  # a test that fails as things are notices nothing
                keep(attempt(one, tree, known, made, number))


def keep(row: dict[str, object]) -> None:
    """Add a row to what was found."""
    with (KEPT / "rows.jsonl").open("a", encoding="utf-8") as file:
        file.write(json.dumps(row, ensure_ascii=False) + "\n")


def main() -> int:
    """Try the mutations wanted and print the table."""
    parser = argparse.ArgumentParser(description=str(__doc__).split("\n", 1)[0])
    parser.add_argument("--count", type=int, default=300, help="mutations to draw")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=1e6, help="time after which to stop")
    parser.add_argument(
        "--only",
        nargs="*",
        default=[],
        help="of those drawn, modules by the beginnings of their paths",
    )
    parser.add_argument("--tests", nargs="*", default=[], help="beginnings of tests' paths")
    parser.add_argument("--again", action="store_true", help="try again what was not noticed")
    parser.add_argument("--table", action="store_true", help="print what is known")
    parser.add_argument("--long", action="store_true", help="print each mutation")
    given = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that no fork is left behind
    wanted = [
        one for one in islice(drawn(given.seed), given.count)
        if not given.only or one.path.startswith(tuple(given.only))
    ]  # fmt: skip
    KEPT.mkdir(exist_ok=True)
    if not given.table:
        try_all(wanted, given)
    return int(print_table(wanted, given) < GOAL)


if __name__ == "__main__":
    sys.exit(main())
