"""Runs under memory limits: ``python -m tests.figures.memory [GB ...]``, by default 1, 2, 4, 8.

A press that asks for five million unknowns a stack is run with so much address space
(`RLIMIT_AS`). Each run must end by itself: with results that are whole and a statement of what was
done to fit, or without results and one line why.
"""

import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from platestack.fea.results import run_directory

ROOT = Path(__file__).parents[2]
GB = 10**9
GREEDY = (
    "\n[mesh]\nmost_unknowns = 5_000_000\nstress_accuracy = 0.005\ndeflection_accuracy = 0.001\n"
)
CASES = {
    "small": (ROOT / "cases/small/small.toml", ""),
    "large, greedy": (ROOT / "cases/large/large.toml", GREEDY),
    "large, 25 mm": (ROOT / "cases/large/large.toml", '\n[mesh]\nsize = "25 mm"\n'),
}


def main() -> None:
    """Print a line for each case and limit, and what was lost."""
    limits = [float(word) for word in sys.argv[1:]] or [1.0, 2.0, 4.0, 8.0]
    lost = 0
    print(f"{'case':<15}{'limit':>6}  {'exit':>4} {'largest':>10} {'most':>7} {'s':>5}  said")
    for name, (file, more) in CASES.items():
        for limit in limits:
            with tempfile.TemporaryDirectory() as folder:
                lost += not _run(name, file.read_text(encoding="utf-8") + more, limit, folder)
    print(f"\nruns that were killed, left half of their results or gave no reason: {lost}")
    sys.exit(lost > 0)


def _run(name: str, text: str, limit: float, folder: str) -> bool:
    case, out = Path(folder) / "case.toml", Path(folder) / "out"
    case.write_text(text, encoding="utf-8")
    most = int(limit * GB)
    started = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "platestack", "solve", str(case), "--out", str(out)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (most, most)),
    )
    seconds = time.perf_counter() - started
    said = [line for line in (done.stdout + done.stderr).splitlines() if line.strip()]
    unknowns, peak = "-", "-"
    if out.exists():
        summary = run_directory.read(out)
        unknowns = f"{max(int(stack.dofs.value or 0) for stack in summary.stacks.values()):,}"
        found = re.search(r"most memory ([\d,]+) MB", (out / "run.log").read_text())
        peak = found[1] if found else "?"
    told = re.search(r"(The first mesh was|Refinement may).*?\)\.", " ".join(said))
    note = told[0] if told else "" if out.exists() else said[-1]
    print(
        f"{name:<15}{limit:>4g} GB {done.returncode:>5} {unknowns:>10} {peak:>7} {seconds:>5.0f}  "
        f"{note[:180]}",
        flush=True,
    )
    left = [path.name for path in Path(folder).iterdir()]
    whole = done.returncode in (0, 1) and out.exists()
    refused = done.returncode == 3 and sorted(left) == ["case.toml"] and bool(said)
    return whole or refused


if __name__ == "__main__":
    main()
