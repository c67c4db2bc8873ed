"""Assemble and solve to 1e-8 against NGSolve's best: ``python -m tests.bench.total``."""

import argparse
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import ngsolve as ng

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from tests.bench.measure import MESHES, alternate, memory, reset_peak, table
from tests.bench.model import cached, problem
from tests.bench.ngs import Yardstick, ng_mesh


def main() -> None:
    """Print the table of seconds, then of peak memory (each way in a process of its own)."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=float, default=0.0235, help="element size [m]")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--direct", action="store_true", help="sparse Cholesky too")
    parser.add_argument("--memory", choices=("ours", "ngsolve"), help="only this way's memory")
    args = parser.parse_args()
    case = cached(args.size, MESHES)
    ng.SetNumThreads(2)
    outcome: dict[str, Any] = {}

    def ours() -> None:
        space = QuadraticSpace(case.mesh)
        system, loads = problem(case, space)
        outcome["unknowns"] = system.size
        outcome["ours"] = solvers.solve(system, space, loads, "multigrid").iterations

    # Without NGSolve's mesh in memory when our own is measured.
    yardsticks = [] if args.memory == "ours" else [Yardstick(ng_mesh(case))]

    def jacobi() -> None:
        with ng.TaskManager():
            yardsticks[0].iterate("local")

    def cholesky() -> None:
        with ng.TaskManager():
            yardsticks[0].factorise()

    case.mesh.f2e  # noqa: B018  (scikit-fem's faces belong to the mesh, not to the solve)
    if args.memory:
        before = memory()[0]
        reset_peak()
        (jacobi if yardsticks else ours)()
        print(
            f"{args.memory:<10} peak {memory()[1]:7.0f} MB, {memory()[1] - before:7.0f} of it new"
        )
        return
    ways: dict[str, Callable[[], Any]] = {
        "ours": ours,
        "NGSolve, Jacobi CG": jacobi,
    }
    if args.direct:
        ways["NGSolve, sparse Cholesky"] = cholesky
    seconds = alternate(ways, args.repeats)
    print(f"{outcome['unknowns']:,} unknowns; iterations {outcome['ours']}")
    print(table(seconds, "ours"))
    for way in ("ours", "ngsolve"):
        command = [sys.executable, "-m", "tests.bench.total", "--size", str(args.size)]
        subprocess.run([*command, "--memory", way], check=True)


if __name__ == "__main__":
    main()
