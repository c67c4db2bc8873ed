"""Solve, set-up included, against direct and algebraic solvers: ``python -m tests.bench.solve``.

MKL's Pardiso gets the sorted upper triangle with the tie added (mtype 2, positive definite);
pyamg smoothed aggregation on the quadratic matrix with the rigid modes and conjugate gradients.
"""

import argparse
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import pyamg
from pypardiso import PyPardisoSolver
from scipy.sparse import csc_matrix, csr_matrix, triu
from scipy.sparse.linalg import splu

from platestack.fea.numerics import solvers
from platestack.fea.numerics.aggregation import rigid_modes
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from tests.bench.measure import MESHES, alternate, table
from tests.bench.model import cached, problem

FloatArray = npt.NDArray[np.float64]


def explicit(system: System) -> tuple[csr_matrix, npt.NDArray[np.intp]]:
    """The free part as one sparse matrix, ties added, and the numbers of its unknowns."""
    ties = system.free_ties
    springs = csr_matrix(ties.rows.T.multiply(ties.stiffness)) @ ties.rows
    kept = np.flatnonzero(system.free)
    return csr_matrix(csr_matrix(system.total) + springs)[kept][:, kept], kept


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=float, default=0.0235, help="element size [m]")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--superlu", action="store_true", help="only for small meshes")
    parser.add_argument("--no-pyamg", action="store_true")
    args = parser.parse_args()
    case = cached(args.size, MESHES)
    space = QuadraticSpace(case.mesh)
    system, loads = problem(case, space)
    matrix, kept = explicit(system)
    upper = csr_matrix(triu(matrix, format="csr"))
    upper.sort_indices()
    right = loads[kept]
    modes = rigid_modes(space.nodes)[kept]

    def ours() -> FloatArray:
        return solvers.multigrid(system, space).solve(loads).displacement

    def pardiso() -> Any:
        solver = PyPardisoSolver(mtype=2)
        solver.factorize(upper)
        solution = solver.solve(upper, right)
        solver.free_memory(everything=True)
        return solution

    def algebraic() -> Any:
        hierarchy = pyamg.smoothed_aggregation_solver(matrix, B=modes)
        return hierarchy.solve(right, tol=1e-8, accel="cg", maxiter=500)

    ways: dict[str, Callable[[], Any]] = {"ours": ours, "MKL Pardiso, SPD": pardiso}
    if not args.no_pyamg:
        ways["pyamg on the quadratic matrix, CG"] = algebraic
    if args.superlu:
        ways["SuperLU"] = lambda: splu(csc_matrix(matrix), permc_spec="MMD_AT_PLUS_A").solve(right)
    record = solvers.solve(system, space, loads, "multigrid")
    reference = pardiso()
    error = np.linalg.norm(record.displacement[kept] - reference) / np.linalg.norm(reference)
    print(f"{system.size:,} unknowns, {record.iterations} iterations, {error:.1e} off Pardiso's")
    print(table(alternate(ways, args.repeats), "ours"))


if __name__ == "__main__":
    main()
