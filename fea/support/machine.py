"""What this machine has for one run: free memory, by whatever limits it first, and its pace."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

import numpy as np
import psutil

MB = 1_000_000

ROOT = Path("/")
"""Where /proc and /sys lie; another place in tests."""

NO_LIMIT = 1 << 60
"""Limits above this are how a system says that there is none."""

PACE = 0.55e-3
"""Processor seconds of `pace`'s work where the times were measured (one core, Zen 4)."""


@dataclass(frozen=True)
class Room:
    """Memory (bytes) that may still be taken, and what sets that bound."""

    free: float
    why: str


def room() -> Room:
    """The tightest of all bounds on this process's memory."""
    return min(_rooms(), key=lambda found: found.free)


def resident() -> int:
    """Memory that this process occupies now (bytes)."""
    return int(psutil.Process().memory_info().rss)


def peak() -> int | None:
    """Most memory that this process has occupied so far (bytes); None where nothing tells."""
    try:
        import resource
    except ImportError:  # Windows
        return getattr(psutil.Process().memory_info(), "peak_wset", None)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return int(most) * (1 if os.uname().sysname == "Darwin" else 1024)


def pace() -> float:
    """How many times slower than the reference one core is; takes some 0.05 s.

    Gathering numbers from all over the memory, as the products of a solution do.
    """
    order = np.random.default_rng(0).permutation(500_000)

    def once() -> float:
        start = time.process_time()
        order[order].sum()
        return time.process_time() - start

    return min(once() for _ in range(20)) / PACE


def _rooms() -> Iterator[Room]:
    yield Room(psutil.virtual_memory().available, "memory free on this machine")
    yield from _process_limits()
    for read in (_unified, _by_controller):
        yield from read()


def _process_limits() -> Iterator[Room]:
    """Limits of the process (`ulimit -v`, `ulimit -d`), less what it has mapped already."""
    try:
        import resource
    except ImportError:  # Windows
        return
    memory = psutil.Process().memory_info()
    for kind, used in (("RLIMIT_AS", memory.vms), ("RLIMIT_DATA", getattr(memory, "data", 0))):
        if not hasattr(resource, kind):
            continue
        soft, _ = resource.getrlimit(getattr(resource, kind))
        if soft != resource.RLIM_INFINITY:
            yield Room(max(soft - used, 0), f"the process's limit {kind}")


def _unified() -> Iterator[Room]:
    """Control groups, version 2: every group from this process's own up to the root."""
    for group in _groups(lambda names: not names):
        folder = ROOT / "sys/fs/cgroup" / group
        yield from _group(folder, "memory.max", "memory.current", "inactive_file")


def _by_controller() -> Iterator[Room]:
    """Control groups, version 1."""
    for group in _groups(lambda names: "memory" in names.split(",")):
        folder = ROOT / "sys/fs/cgroup/memory" / group
        files = "memory.limit_in_bytes", "memory.usage_in_bytes", "total_inactive_file"
        yield from _group(folder, *files)


def _groups(wanted: Callable[[str], bool]) -> Iterator[PurePosixPath]:
    """Paths below the mount: this process's group and those above it."""
    try:
        lines = (ROOT / "proc/self/cgroup").read_text().splitlines()
    except OSError:
        return
    for line in lines:
        _, names, path = line.split(":", 2)
        if wanted(names):
            own = PurePosixPath(path.lstrip("/"))
            yield from (own, *own.parents)


def _group(folder: Path, limit: str, usage: str, reclaimed: str) -> Iterator[Room]:
    """What a group's limit leaves; the cache of files counts as free."""
    try:
        most = (folder / limit).read_text().strip()
        if most == "max" or int(most) >= NO_LIMIT:
            return
        used = int((folder / usage).read_text())
        stat = dict(line.split() for line in (folder / "memory.stat").read_text().splitlines())
    except (OSError, ValueError):
        return
    yield Room(
        max(int(most) - used + int(stat.get(reclaimed, 0)), 0), "the control group's memory limit"
    )
