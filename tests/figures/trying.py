"""Tests run on a changed copy of the tree, each time in a process forked with all of it loaded.

In the fork the functions that are there get the changed code; where that cannot be done (what runs
while a module is imported, what is compiled), the fork loads the changed tree anew.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import json
import os
import resource
import select
import shutil
import signal
import sys
import time
from collections.abc import Callable, Iterator
from itertools import accumulate
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

LIBRARIES = (
    "pytest", "hypothesis", "numpy", "scipy.sparse.linalg", "scipy.optimize", "numba", "skfem",
    "pydantic", "gmsh", "typer", "rich.progress", "pint", "tomlkit", "meshio", "ezdxf",
    "shapely", "pyamg", "rectpack", "coverage",
)  # fmt: skip
LEFT_OUT = shutil.ignore_patterns(
    ".venv", ".git", ".*_cache", ".hypothesis", ".mutations", "__pycache__"
)


PLAIN = ("-q", "--strict-markers", "-m", "not slow")
"""Options of pytest in place of those of the project, which start workers."""
FIRST, FIRST_SECONDS = 12, 3.0
"""So many tests, of so many seconds together, are tried before the others are even collected."""

functions: dict[str, list[FunctionType]] = {}
"""Functions of the core by the file that they stand in, but for those that are compiled."""


def prepare(tree: Path, paths: list[Path]) -> None:
    """Load what every fork needs, from the tree; one thread each, since others work here too."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
        os.environ[name] = "1"
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    for name in LIBRARIES:
        importlib.import_module(name)
    os.chdir(tree)
    package = str(tree / ".package")
    sys.path[:] = [package, *(p for p in sys.path if p not in ("", os.getcwd()))]
    os.environ["PYTHONPATH"] = package
    for path in paths:
        importlib.import_module(module_of(path))
    note_functions({str(sys.modules[module_of(path)].__file__) for path in paths})


def note_functions(files: set[str]) -> None:
    """Note the functions that stand in files, here once, since to look for them takes seconds."""
    from numba.core.dispatcher import Dispatcher

    every = gc.get_objects()
    compiled = {id(one.py_func) for one in every if isinstance(one, Dispatcher)}
    for one in every:
        if isinstance(one, FunctionType) and id(one) not in compiled:
            file = one.__code__.co_filename
            if file in files:
                functions.setdefault(file, []).append(one)


def module_of(path: Path) -> str:
    """The name by which a module of the core is imported."""
    return ".".join(("platestack", *path.with_suffix("").parts))


def swap_code(path: Path, old: bytes, new: bytes, anew: bool = False) -> bool:
    """Give the functions of a module the code of another text; else let all be loaded `anew`.

    Whether what was made before is still of the same types.
    """
    file = str(sys.modules[module_of(path)].__file__)
    before, after = (_codes(compile(text, file, "exec")) for text in (old, new))
    changed = {at: code for at, code in after.items() if code != before.get(at)}
    done = set()
    for one in functions.get(file, []):
        at = one.__code__.co_qualname, one.__code__.co_firstlineno
        if at in changed:
            with contextlib.suppress(ValueError):  # another number of variables from outside
                one.__code__ = changed[at]
                done.add(at[0])
    # What holds a changed function is changed too, up to the module; the inmost are what counts.
    names = {at[0] for at in changed} - {"<module>"}
    inmost = {a for a in names if not any(b != a and b.startswith(f"{a}.") for b in names)}
    if not anew and inmost and all(_is_within(name, done) for name in inmost):
        return True
    tests = f"{Path.cwd()}/tests/"
    for name, module in list(sys.modules.items()):
        if name.startswith("platestack") or str(getattr(module, "__file__", "")).startswith(tests):
            del sys.modules[name]
    return False


def _codes(code: CodeType) -> dict[tuple[str, int], CodeType]:
    found = {(code.co_qualname, code.co_firstlineno): code}
    for one in code.co_consts:
        if isinstance(one, CodeType):
            found |= _codes(one)
    return found


def _is_within(name: str, done: set[str]) -> bool:
    """Whether a function, or one that holds it, has its new code."""
    return name in done or any(name.startswith(f"{one}.<locals>") for one in done)


def copied(root: Path, folder: Path) -> Path:
    """A copy of the tree to change, with links where the tree has links."""
    tree = folder / "tree"

    def left_out(place: str, names: list[str]) -> set[str]:
        runs = set(names) - {"README.md"} if Path(place) == root / "results" else set()
        return LEFT_OUT(place, names) | runs

    shutil.copytree(root, tree, symlinks=True, ignore=left_out)
    return tree


def forked(work: Callable[[], Any], limit: float = 3600.0) -> Any:
    """What some work returns, done in a process of its own.

    None if it takes longer than `limit` seconds of a core, or four times as long by the clock, or
    ends in another way than by returning.
    """
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        _alone()
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit) + 1, int(limit) + 2))
        try:
            told = json.dumps(work()).encode()
            with os.fdopen(writer, "wb") as pipe:
                pipe.write(told)
        finally:
            os._exit(0)
    os.close(writer)
    try:
        told = _read(reader, time.monotonic() + 4 * limit)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
    return json.loads(told) if told else None


def _alone() -> None:
    """Make this process the head of a group, heard by nobody."""
    os.setsid()
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    nowhere = os.open(os.devnull, os.O_RDWR)
    for number in (0, 1, 2):
        os.dup2(nowhere, number)


def _read(reader: int, deadline: float) -> bytes:
    """All that a pipe brings until it is closed, or nothing by the deadline."""
    parts = []
    with os.fdopen(reader, "rb", buffering=0) as pipe:
        while True:
            left = deadline - time.monotonic()
            if left <= 0 or not select.select([pipe], [], [], left)[0]:
                return b""
            part = pipe.read(1 << 20)
            if not part:
                return b"".join(parts)
            parts.append(part)


class Watch:
    """A plugin of pytest: runs tests in the order given; which failed, and how many ran."""

    def __init__(self, order: list[str]):
        self.order = {name: i for i, name in enumerate(order)}
        self.failed: list[str] = []
        self.ran = 0

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items.sort(key=lambda item: self.order.get(item.nodeid, len(self.order)))

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.ran += report.when == "call"
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed:
            self.failed.append(f"{report.nodeid} is not loaded")


def tests(order: list[str], seconds: list[float], given: object) -> tuple[str, int]:
    """Run tests here until one fails; its name or "", and how many ran.

    The first few that are quick run by themselves: to collect all the others takes longer.
    """
    first = sum(1 for spent in accumulate(seconds[:FIRST]) if spent < FIRST_SECONDS)
    ran = 0
    for part in filter(None, (order[:first], order[first:])):
        watch = run(part, "-x", plugin=given)
        ran += watch.ran
        if watch.failed:
            return watch.failed[0], ran
    return "", ran


def run(order: list[str], *more: str, plugin: object = None) -> Watch:
    """Run tests here, in an order, with further options of pytest and perhaps a plugin more."""
    import pytest
    from hypothesis import HealthCheck, Phase, settings

    settings.register_profile(
        "once", phases=[Phase.explicit, Phase.generate], database=None, deadline=None,
        derandomize=True, suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    watch = Watch(order)
    words = [*more, "--assert=plain", "-p", "no:cacheprovider", "-o", "addopts=", *PLAIN,
             "--hypothesis-profile=once"]  # fmt: skip
    code = pytest.main([*words, *order], plugins=[watch, *([plugin] if plugin else [])])
    if code not in (0, 1) and not watch.failed:
        watch.failed.append(f"pytest ends with {int(code)}")
    return watch


@contextlib.contextmanager
def changed(place: Path, text: bytes, number: int) -> Iterator[None]:
    """A file with another text, and with a time of its own, by which caches tell it apart."""
    old, status = place.read_bytes(), place.stat()
    place.write_bytes(text)
    os.utime(place, (status.st_atime, int(status.st_mtime) + number))
    try:
        yield
    finally:
        place.write_bytes(old)
        os.utime(place, ns=(status.st_atime_ns, status.st_mtime_ns))
