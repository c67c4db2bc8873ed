"""Formulas of `fea.hand` put out of true one at a time, and the test that notices.

``python -m tests.figures.formulas [part of a name ...]`` notes in one run which tests call which
public function, property or method; then each returns 3 % more in a process forked for it, in which
the tests that call it run until one fails. It prints the test that noticed, and ends with 1 if some
formula has none.
"""

from __future__ import annotations

import contextlib
import dataclasses
import functools
import importlib
import json
import os
import pkgutil
import sys
import time
from collections.abc import Callable, Iterator
from types import FunctionType, ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, settings

from platestack.fea import hand

TESTS = (
    "tests/published/test_cylinder.py", "tests/published/test_rings_and_springs.py",
    "tests/published/test_bolts_and_connectors.py", "tests/published/test_threads_and_fatigue.py",
    "tests/fea/hand/test_beam.py", "tests/fea/hand/test_beam_effects.py",
    "tests/fea/hand/test_beam_band.py",
    "tests/fea/checks/test_rods_by_hand.py", "tests/fea/checks/test_room_and_cost.py",
    "tests/fea/jobs/test_erection.py", "tests/fea/checks/test_plate_strength.py",
    "tests/fea/checks/test_connectors_and_fixing.py", "tests/fea/checks/test_gland_and_return.py",
    "tests/fea/checks/test_small_press_by_hand.py", "tests/fea/checks/test_joining.py",
    "tests/published/test_cracks.py", "tests/published/test_stability.py",
    "tests/published/test_limit_loads.py", "tests/fea/checks/test_use.py",
)  # fmt: skip
OUT = 1.03
MOST = 60
"""Tests tried on one formula, those of published values and the quickest first."""
NO_FORMULAS = {
    # Names, parts and places, not figures of their own; the beams that use them are tried.
    "record", "situation", "section.breaks", "section.turned", "erection.plan", "cost.bill",
}  # fmt: skip


class Watch:
    """What is called by which test, and what is out of true in this process."""

    def __init__(self) -> None:
        self.wrong, self.test = "", ""
        self.changed = False
        self.calls: dict[str, set[str]] = {}
        self.seconds: dict[str, float] = {}
        self.failed: list[str] = []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        self.test, start = item.nodeid, time.perf_counter()
        try:
            return (yield)
        finally:
            self.test, self.seconds[item.nodeid] = "", time.perf_counter() - start

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def over(self, key: str, inner: Callable[..., Any]) -> Callable[..., Any]:
        """The function, noted and put out of true where it is the wrong one."""

        @functools.wraps(inner)
        def outer(*args: Any, **more: Any) -> Any:
            value = inner(*args, **more)
            if self.test:
                self.calls.setdefault(key, set()).add(self.test)
            return self.more(value) if key == self.wrong else value

        return outer

    def more(self, value: Any) -> Any:
        """The same with every real number in it larger."""
        array = isinstance(value, np.ndarray) and value.dtype.kind == "f"
        if array or isinstance(value, float | np.floating):
            self.changed = True
            return OUT * value
        if isinstance(value, list | tuple):
            return type(value)(map(self.more, value))
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            names = [field.name for field in dataclasses.fields(value) if field.init]
            return dataclasses.replace(
                value, **{name: self.more(getattr(value, name)) for name in names}
            )
        return value


def watched(watch: Watch) -> list[str]:
    """Put all public formulas of `fea.hand` under watch, wherever they were imported to."""
    swapped: dict[int, Callable[..., Any]] = {}
    keys = []
    for info in pkgutil.iter_modules(hand.__path__):
        module = importlib.import_module(f"platestack.fea.hand.{info.name}")
        for name, value in list(vars(module).items()):
            if name.startswith("_") or getattr(value, "__module__", "") != module.__name__:
                continue
            key = f"{info.name}.{name}"
            if isinstance(value, FunctionType):
                swapped[id(value)] = watch.over(key, value)
                keys.append(key)
            elif isinstance(value, type):
                keys += list(_methods(watch, key, value))
    for module in [m for m in sys.modules.values() if isinstance(m, ModuleType)]:
        if module.__name__.startswith("platestack"):
            for name, value in list(vars(module).items()):
                if id(value) in swapped:
                    setattr(module, name, swapped[id(value)])
    return keys


def _methods(watch: Watch, key: str, owner: type) -> Iterator[str]:
    for name, value in list(vars(owner).items()):
        own = f"{key}.{name}"
        if name.startswith("_"):
            continue
        if isinstance(value, property) and value.fget is not None:
            setattr(owner, name, property(watch.over(own, value.fget)))
            yield own
        elif isinstance(value, functools.cached_property):
            cached = functools.cached_property(watch.over(own, value.func))
            cached.__set_name__(owner, name)
            setattr(owner, name, cached)
            yield own
        elif isinstance(value, FunctionType):
            setattr(owner, name, watch.over(own, value))
            yield own


def forked(work: Callable[[], Any]) -> Any:
    """What some work returns, done in a process of its own."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        with (
            os.fdopen(writer, "w") as pipe,
            open(os.devnull, "w") as silence,
            contextlib.redirect_stdout(silence),
            contextlib.redirect_stderr(silence),
        ):
            json.dump(work(), pipe)
        os._exit(0)
    os.close(writer)
    with os.fdopen(reader) as pipe:
        told = pipe.read()
    os.waitpid(child, 0)
    return json.loads(told)


def run(watch: Watch, tests: list[str]) -> list[str]:
    """Run tests until one fails; the names of those that did."""
    ignored = "ignore::pytest.PytestAssertRewriteWarning"
    pytest.main(["-x", "-p", "no:cacheprovider", "-W", ignored, *tests], plugins=[watch])
    return watch.failed


def main() -> int:
    """Try every formula whose name has one of the words given."""
    settings.register_profile("once", phases=[Phase.explicit, Phase.generate], database=None)
    settings.load_profile("once")
    for name in (
        "platestack.fea.app.cli",
        "platestack.fea.jobs.sizing",
        "platestack.fea.checks",
        "platestack.fea.jobs.tightening",
        "platestack.fea.jobs.proof",
    ):
        importlib.import_module(name)
    watch, words = Watch(), sys.argv[1:]
    keys = watched(watch)

    def noted() -> tuple[list[str], dict[str, list[str]], dict[str, float]]:
        failed = run(watch, list(TESTS))
        return failed, {key: sorted(tests) for key, tests in watch.calls.items()}, watch.seconds

    failed, calls, seconds = forked(noted)
    if failed:
        print(f"fails as it is: {failed[0]}")
        return 1
    missed = tried = 0
    for key in keys:
        module, _, rest = key.partition(".")
        if {module, f"{module}.{rest}"} & NO_FORMULAS or not all(word in key for word in words):
            continue
        tests = sorted(calls.get(key, ()), key=lambda one: ("published" not in one, seconds[one]))

        def wrong(key: str = key, tests: list[str] = tests) -> tuple[list[str], bool]:
            watch.wrong = key
            return run(watch, tests[:MOST]), watch.changed

        noticed, changed = forked(wrong) if tests else ([], True)
        if not changed:
            continue
        tried += 1
        missed += not noticed
        print(f"{key:<42} {noticed[0] if noticed else 'NOT NOTICED'}", flush=True)
    print(f"{tried} formulas tried, {missed} not noticed")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
