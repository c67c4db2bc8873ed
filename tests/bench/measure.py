"""Timing in alternation, and peak memory."""

import gc
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

MESHES = Path("results/bench-meshes")


def alternate(ways: dict[str, Callable[[], Any]], repeats: int) -> dict[str, list[float]]:
    """Seconds of each way, `repeats` times in turn, after one call of each that is not counted.

    Taking turns spreads the machine's other load evenly, so that ratios can be trusted where
    seconds cannot.
    """
    for way in ways.values():
        way()
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(repeats):
        for name, way in ways.items():
            gc.collect()
            start = time.perf_counter()
            way()
            seconds[name].append(time.perf_counter() - start)
    return seconds


def table(seconds: dict[str, list[float]], reference: str) -> str:
    """Median, range, and the ratio to the `reference`, round by round."""
    lines = [f"{'way':<44}{'median s':>10}{'least':>9}{'most':>9}{'ratio':>9}"]
    for name, times in seconds.items():
        ratios = [t / r for t, r in zip(times, seconds[reference], strict=True)]
        lines.append(
            f"{name:<44}{statistics.median(times):>10.3f}{min(times):>9.3f}{max(times):>9.3f}"
            f"{statistics.median(ratios):>9.2f}"
        )
    return "\n".join(lines)


def reset_peak() -> None:
    """Forget the peak memory so far (Linux)."""
    Path("/proc/self/clear_refs").write_text("5")


def memory() -> tuple[float, float]:
    """Resident memory now and at its peak [MB] (Linux)."""
    status = Path("/proc/self/status").read_text().splitlines()
    fields = dict(line.split(":", 1) for line in status if ":" in line)
    return tuple(float(fields[key].split()[0]) / 1024 for key in ("VmRSS", "VmHWM"))  # type: ignore[return-value]
