"""What is slow to make and used by many tests, made once, so that every fork has it.

A fork uses it where the change is in none of the lines that made it.
"""

from __future__ import annotations

import contextlib
import inspect
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.figures import covering, trying

SLOW, FILES = 5.0, 3
"""Seconds that it takes at least, and how many files of tests use it at least."""


class Ready:
    """A plugin of pytest: keeps what the fixtures wanted return, later gives what may be used."""

    def __init__(self, known: covering.Covering):
        self._known = known
        self._values: dict[str, Any] = {}
        self._needs: dict[str, list[str]] = {}
        self._wanted = {
            name for name, took in known.fixtures.items()
            if took >= SLOW and len({test.split("::")[0] for test in known.users[name]}) >= FILES
        }  # fmt: skip
        self.usable: set[str] = set()

    def make(self) -> None:
        """Make what is wanted, by running the quickest test that uses each."""
        cost = self._known.seconds.__getitem__
        order = [min(self._known.users[name], key=cost) for name in sorted(self._wanted)]
        if order:
            with contextlib.redirect_stdout(io.StringIO()):
                trying.run(order, plugin=self)

    def choose(self, path: str, line: int) -> None:
        """Choose what may be used where a line is changed."""
        self.usable = {name for name in self._values if not self._runs(name, path, line)}

    def _runs(self, name: str, path: str, line: int) -> bool:
        near = range(line - covering.LONG, line + 1)
        own = self._known.lines[name].get(path, ())
        return any(one in own for one in near) or any(
            self._runs(need, path, line) for need in self._needs[name]
        )

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Iterator[Any]:
        """Note what a shared fixture needs and returns."""
        value = yield
        if fixturedef.scope != "function":
            name = covering.name_of(fixturedef)
            needs = map(request._get_active_fixturedef, fixturedef.argnames)
            self._needs[name] = [covering.name_of(one) for one in needs if one.argname != "request"]
            lasts = not inspect.isgeneratorfunction(fixturedef.func)
            if name in self._wanted and lasts and not isinstance(value, Path):
                self._values[name] = value
        return value

    def given(self) -> object:
        """A plugin of pytest that gives what may be used in place of making it."""
        return _Given({name: self._values[name] for name in self.usable})


class _Given:
    def __init__(self, values: dict[str, Any]):
        self._values = values

    @pytest.hookimpl(tryfirst=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Any:
        name = covering.name_of(fixturedef)
        if name not in self._values:
            return None
        fixturedef.cached_result = self._values[name], fixturedef.cache_key(request), None
        return self._values[name]
