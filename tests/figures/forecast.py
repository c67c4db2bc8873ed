"""How well runs are foretold: ``python -m tests.figures.forecast [case ...]``.

Each case is solved once without refinement, in a process of its own, at several element sizes.
Printed are ratios of what was foretold to what came: unknowns of the first mesh, memory taken, and
processor time, for each stack by itself. Time is that of one thread (`NUMBA_NUM_THREADS=1`).
"""

import subprocess
import sys
import time
from pathlib import Path

from platestack.fea.solid import forecast
from platestack.fea.solid.stack import mesh_plan, solve_stack
from platestack.fea.support import machine
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesher.counting import count
from platestack.geometry.schema import Case
from tests.bench.measure import memory, reset_peak

ROOT = Path(__file__).parents[2]
SIZES: dict[str, tuple[float | None, ...]] = {
    "small": (None, 0.014, 0.008),
    "demo": (None, 0.07, 0.03),
    "on_edge": (None, 0.03),
    "off_centre": (None, 0.08),
    "large": (None, 0.1),
}


def main() -> None:
    """Print the table, a process for each line."""
    print(f"{'case':<12}{'size':>6} {'stack':<10}{'interface':<10}{'unknowns':>10}  "
          f"{'foretold':>8}{'MB':>7}{'foretold':>9}{'s':>7}{'foretold':>9}")  # fmt: skip
    for name in sys.argv[1:] or SIZES:
        for size in SIZES[name]:
            for which in ("crosshead", "bed"):
                words = [sys.executable, "-m", "tests.figures.forecast", "-", name, str(size)]
                subprocess.run([*words, which], check=True, cwd=ROOT)


def measure(name: str, size: float | None, which: str) -> None:
    """Solve one stack and print its line."""
    case = _once(case_file.read(ROOT / "cases" / name / f"{name}.toml"), size)
    press = layout.build(case)
    stack = getattr(press, which)
    # What is compiled or loaded once is not of the case.
    small = _once(case_file.read(ROOT / "cases" / "small" / "small.toml"), None)
    solve_stack(layout.build(small), layout.build(small).bed, small, lambda step: None)
    first = count(stack, press.rods, *mesh_plan(press, stack, case)).unknowns
    reset_peak()
    before, start = memory()[0], time.process_time()
    solved = solve_stack(press, stack, case, lambda step: None)
    taken, spent = memory()[1] - before, time.process_time() - start
    unknowns = solved.mesh.unknowns
    foretold = forecast.PER_UNKNOWN[stack.interface] * unknowns / 2**20
    seconds = forecast.SECONDS[stack.interface] * unknowns * machine.pace()
    shown = "-" if size is None else f"{1e3 * size:.0f}"
    print(
        f"{name:<12}{shown:>6} {which:<10}{stack.interface:<10}{unknowns:>10,}  "
        f"{first / unknowns:>8.2f}"
        f"{taken:>7.0f}{foretold / taken:>9.2f}{spent:>7.1f}{seconds / spent:>9.2f}",
        flush=True,
    )


def _once(case: Case, size: float | None) -> Case:
    """The case without refinement, with elements of a size."""
    wish = {"deflection_accuracy": 0.5, "stress_accuracy": 0.5}
    if size is not None:
        wish["size"] = size
    return case.model_copy(update={"mesh": case.mesh.model_copy(update=wish)})


if __name__ == "__main__":
    if sys.argv[1:2] == ["-"]:
        measure(sys.argv[2], None if sys.argv[3] == "None" else float(sys.argv[3]), sys.argv[4])
    else:
        main()
