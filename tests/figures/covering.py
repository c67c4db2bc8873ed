"""Which fast tests run which line of the core, and how long each takes alone.

Tests run once, file by file, under coverage, whose context is the test, or the fixture that is made
for several; what a fixture runs counts for each test that uses it. What is found of a file of tests
is kept until it or what it runs changes, so that a collection broken off goes on where it was.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from tests.figures import trying

SHARED = "fixture "
TOGETHER = 12
"""So many files of tests are collected together."""
LONG = 8
"""Lines of a long statement, of which the first alone is seen to run."""


class Noter:
    """A plugin of pytest: contexts for coverage, seconds of tests and of shared fixtures."""

    def __init__(self, coverage: Any):
        self.coverage = coverage
        self.context: list[str] = [""]
        self.seconds: dict[str, float] = {}
        self.uses: dict[str, list[str]] = {}
        self.made = 0.0
        self.failed: set[str] = set()

    def _within(self, name: str, seconds: dict[str, float]) -> Iterator[Any]:
        self.context.append(name)
        self.coverage.switch_context(name)
        start, before = time.perf_counter(), self.made
        try:
            return (yield)
        finally:
            self.context.pop()
            self.coverage.switch_context(self.context[-1])
            spent = time.perf_counter() - start
            inside, self.made = self.made - before, before + spent
            seconds[name] = seconds.get(name, 0.0) + spent - inside

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        for item in items:
            found = item._fixtureinfo.name2fixturedefs.values()
            own = [name_of(each[-1]) for each in found if each[-1].scope != "function"]
            self.uses[item.nodeid] = own

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed or report.skipped:
            self.failed.add(report.nodeid)


def name_of(fixture: Any) -> str:
    """The context of a fixture that is made for several tests."""
    return f"{SHARED}{fixture.baseid}::{fixture.argname}"


def _hooks() -> None:
    import pytest

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self: Noter, item: Any) -> Iterator[Any]:
        return (yield from self._within(item.nodeid, self.seconds))

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self: Noter, fixturedef: Any) -> Iterator[Any]:
        if fixturedef.scope == "function":
            return (yield)
        return (yield from self._within(name_of(fixturedef), self.seconds))

    Noter.pytest_runtest_protocol = pytest_runtest_protocol  # type: ignore[attr-defined]
    Noter.pytest_fixture_setup = pytest_fixture_setup  # type: ignore[attr-defined]


def collect(tree: Path, files: list[str]) -> dict[str, dict[str, Any]]:
    """Run files of tests in this process; seconds, uses and lines by context, of each file."""
    import coverage
    import pytest

    _hooks()
    inside = [str(tree / part / "*") for part in ("fea", "geometry")]
    watch = coverage.Coverage(data_file=None, include=inside, config_file=False)
    noter = Noter(watch)
    watch.start()
    words = ["--assert=plain", "-p", "no:cacheprovider", "-o", "addopts="]
    pytest.main([*words, *trying.PLAIN, *files], plugins=[noter])
    watch.stop()
    data = watch.get_data()
    lines: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for path in data.measured_files():
        own = str(Path(path).relative_to(tree))
        for line, contexts in data.contexts_by_lineno(path).items():
            for context in contexts:
                if context:
                    lines[context][own].append(line)
    return {file: _part(tree, file, noter, lines) for file in files}


def _part(
    tree: Path, file: str, noter: Noter, lines: dict[str, dict[str, list[int]]]
) -> dict[str, Any]:
    """What was collected of one file, with the fixtures that it uses."""
    uses = {test: used for test, used in noter.uses.items() if test.startswith(f"{file}::")}
    own = {*uses, *(fixture for used in uses.values() for fixture in used)}
    ran = {context: found for context, found in lines.items() if context in own}
    return {
        "digests": {path: digest(tree / path) for path in {file, *_files(ran)}},
        "seconds": {name: spent for name, spent in noter.seconds.items() if name in own},
        "uses": uses, "failed": sorted(noter.failed & own), "lines": ran,
    }  # fmt: skip


def digest(path: Path) -> str:
    """A digest of a file, by which a change is seen; "" where there is none."""
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.exists() else ""


def _files(lines: dict[str, dict[str, list[int]]]) -> set[str]:
    return {path for files in lines.values() for path in files}


def is_known(tree: Path, folder: Path, file: str) -> bool:
    """Whether a file of tests was collected, and neither it nor what it runs has changed since."""
    place = kept(folder, file)
    if not place.exists():
        return False
    digests = json.loads(place.read_text("utf-8"))["digests"]
    return all(digest(tree / path) == was for path, was in digests.items())


class Covering:
    """What was collected, asked by line."""

    def __init__(self, tree: Path, folder: Path):
        self.seconds: dict[str, float] = {}
        """Of a test with all fixtures it shares with others."""
        self.own: dict[str, float] = {}
        self.shared: dict[str, list[str]] = {}
        self.fixtures: dict[str, float] = defaultdict(float)
        self.users: dict[str, set[str]] = defaultdict(set)
        self.lines: dict[str, dict[str, set[int]]] = defaultdict(lambda: defaultdict(set))
        """By fixture and file."""
        self.tests: dict[tuple[str, int], set[str]] = defaultdict(set)
        found = [json.loads(path.read_text("utf-8")) for path in sorted(folder.glob("*.json"))]
        for one in found:
            self._add_times(one)
        for one in found:
            self._add_lines(one["lines"])
        for test, own in self.own.items():
            self.seconds[test] = own + sum(self.fixtures[use] for use in self.shared[test])
        self.sources = {
            str(path.relative_to(tree)): path.read_text("utf-8").splitlines()
            for part in ("fea", "geometry") for path in (tree / part).rglob("*.py")
        }  # fmt: skip

    def _add_times(self, found: dict[str, Any]) -> None:
        for name, took in found["seconds"].items():
            if name.startswith(SHARED):
                self.fixtures[name] = max(took, self.fixtures[name])
        for test, uses in found["uses"].items():
            if test not in found["failed"] and test in found["seconds"]:
                self.own[test] = found["seconds"][test]
                self.shared[test] = uses
                for use in uses:
                    self.users[use].add(test)

    def _add_lines(self, contexts: dict[str, dict[str, list[int]]]) -> None:
        for context, files in contexts.items():
            shared = context.startswith(SHARED)
            tests = self.users[context] if shared else {context} & self.own.keys()
            for path, lines in files.items():
                for line in lines:
                    self.tests[path, line] |= tests
                if shared:
                    self.lines[context][path] |= set(lines)

    def forget_failing(self, tests: set[str]) -> set[str]:
        """Which of some tests fail while nothing is changed; they are not asked again."""
        order = sorted(tests & self.seconds.keys())
        failing = set(trying.forked(lambda: trying.run(order).failed) or ()) if order else set()
        for found in self.tests.values():
            found -= failing
        return failing

    def of(self, path: str, line: int, names: tuple[str, ...]) -> set[str]:
        """Tests that run a line.

        Of a line that is not seen to run they are those that run a line with one of the names,
        in its module or where that is imported.
        """
        found = set(self.tests.get((path, line), ()))
        if names:
            word = re.compile(r"\b(" + "|".join(map(re.escape, names)) + r")\b")
            module = re.compile(rf"\bimport\b.*\b{Path(path).stem}\b|\b{Path(path).stem} import\b")
            for own, text in self.sources.items():
                if own != path and not any(map(module.search, text)):
                    continue
                for number, words in enumerate(text, 1):
                    if word.search(words):
                        found |= self.tests.get((own, number), set())
        back = line
        while not found and line - back < LONG and back > 1:  # the first line of a long statement
            back -= 1
            found = set(self.tests.get((path, back), ()))
        return found

    def within(
        self, tests: set[str], seconds: float, ready: set[str]
    ) -> tuple[list[str], list[float]]:
        """The quickest of some tests that take so long together, and how long each takes.

        One at least; a fixture takes its time once, one that is `ready` none.
        """
        there = set(ready)

        def cost(test: str) -> float:
            needed = {use for use in self.shared[test] if use not in there}
            return self.own[test] + sum(self.fixtures[use] for use in needed)

        order: list[str] = []
        costs: list[float] = []
        for test in sorted(tests, key=lambda test: (cost(test), test)):
            if not order or sum(costs) + cost(test) <= seconds:
                order.append(test)
                costs.append(cost(test))
                there.update(self.shared[test])
        return order, costs


def kept(folder: Path, file: str) -> Path:
    """Where that which is known of a file of tests is kept."""
    return folder / (file.replace("/", "-").removesuffix(".py") + ".json")


def refresh(
    tree: Path, folder: Path, files: list[str], forked: Callable[..., Any], end: float
) -> None:
    """Collect what is not yet known of files of tests, some at a time in a process of its own.

    Those of a directory share what is slow to make.
    """
    left = [file for file in files if not is_known(tree, folder, file)]
    while left and time.monotonic() < end:
        group = [file for file in left if Path(file).parent == Path(left[0]).parent][:TOGETHER]
        left = [file for file in left if file not in group]
        start = time.perf_counter()
        for file, found in (forked(lambda group=group: collect(tree, group)) or {}).items():
            kept(folder, file).write_text(json.dumps(found), "utf-8")
        spent = time.perf_counter() - start
        print(f"{spent:.0f} s, {len(left)} left: {' '.join(group)}", file=sys.stderr, flush=True)
