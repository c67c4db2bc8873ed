"""Growth of time, memory and iterations with size: ``python -m tests.bench.growth``.

The fastest of three runs counts, since other work on the machine only ever slows one down. Each
size runs in a process of its own; the peak includes the interpreter, its libraries and the mesh,
as a user would see it.
"""

import argparse
import json
import subprocess
import sys
import time

import numpy as np

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from tests.bench.measure import MESHES, memory, reset_peak
from tests.bench.model import cached, problem

SIZES = (0.04, 0.0235, 0.0142, 0.0126, 0.0101)


def one(size: float) -> None:
    """Print one size's figures as JSON: the fastest of three runs, after a small one."""
    small = cached(0.1, MESHES)
    space = QuadraticSpace(small.mesh)
    system, loads = problem(small, space)
    solvers.solve(system, space, loads, "multigrid")
    case = cached(size, MESHES)
    case.mesh.f2e  # noqa: B018  (scikit-fem's faces belong to the mesh, not to the solve)
    reset_peak()
    runs = []
    for _ in range(3):
        start = time.perf_counter()
        space = QuadraticSpace(case.mesh)
        system, loads = problem(case, space)
        assembled = time.perf_counter() - start
        record = solvers.solve(system, space, loads, "multigrid")
        runs.append((assembled, record.setup_seconds, record.seconds))
        figures: dict[str, float] = {"unknowns": system.size, "iterations": record.iterations}
        del space, system, loads, record
    best = min(runs, key=sum)
    figures |= dict(zip(("assemble", "setup", "solve"), best, strict=True))
    print(json.dumps(figures | {"peak": memory()[1]}))


def main() -> None:
    """Print the table and the fitted exponents."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--one", type=float, help="element size [m], in this process")
    parser.add_argument("--sizes", type=float, nargs="*", default=SIZES)
    args = parser.parse_args()
    if args.one:
        one(args.one)
        return
    print(f"{'unknowns':>10}{'assemble':>10}{'set-up':>9}{'solve':>9}{'iter':>6}{'peak MB':>9}")
    rows = []
    for size in args.sizes:
        command = [sys.executable, "-m", "tests.bench.growth", "--one", str(size)]
        run = subprocess.run(command, check=True, capture_output=True, text=True)
        row = json.loads(run.stdout.splitlines()[-1])
        rows.append(row)
        print(
            f"{row['unknowns']:>10,}{row['assemble']:>10.2f}{row['setup']:>9.2f}"
            f"{row['solve']:>9.2f}{row['iterations']:>6}{row['peak']:>9.0f}",
            flush=True,
        )
    large = [row for row in rows if row["unknowns"] > 1e5]
    n = np.log([row["unknowns"] for row in large])
    total = [row["assemble"] + row["setup"] + row["solve"] for row in large]
    if len(large) > 1:
        for name, values in (("time", total), ("memory", [row["peak"] for row in large])):
            print(f"{name} grows as n^{np.polyfit(n, np.log(values), 1)[0]:.2f} above 100k")


if __name__ == "__main__":
    main()
