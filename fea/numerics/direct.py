"""Direct solution of a system: MKL's Pardiso where `pypardiso` is installed, else SuperLU.

For small systems and as a cross-check; the time grows with about the square of the unknowns.
"""

import importlib.util
import weakref
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.sparse import block_array, csc_matrix, csr_matrix, diags_array, triu
from scipy.sparse.linalg import splu

from platestack.fea.numerics.system import System
from platestack.fea.support.errors import Singular

FloatArray = npt.NDArray[np.float64]

REFINEMENTS = 2
"""Steps of iterative refinement after a direct solve."""


class Direct:
    """A factor of the system's free part. Calling it with loads (3n,) returns displacements.

    Ties stay sparse as unknown spring forces f in the extended symmetric system

        [ A       s B^T ] [ u   ]   [ b ]
        [ s B    -s^2/k ] [ f/s ] = [ 0 ],     s^2 = k mean(diag A),

    which is regular also where A alone is not. Without ties A is positive definite.
    """

    def __init__(self, system: System) -> None:
        self._system = system
        self._kept = np.flatnonzero(system.free)
        ties = system.free_ties
        inner: Any = csr_matrix(system.total)[self._kept][:, self._kept]
        self.springs = len(ties.stiffness)
        if self.springs:
            size = float(inner.diagonal().mean())
            rows = diags_array(np.sqrt(ties.stiffness * size)) @ ties.rows[:, self._kept]
            corner = diags_array(np.full(self.springs, -size))
            inner = block_array([[inner, rows.T], [rows, corner]])
        definite = self.springs == 0
        self._factor = _pardiso(inner, definite, self) or _superlu(inner)

    def __call__(self, loads: FloatArray) -> FloatArray:
        """Displacements (3n,) of loads (3n,), zero on fixed components."""
        displacement = self._once(loads)
        for _ in range(REFINEMENTS):
            rest = np.where(self._system.free, loads, 0.0) - self._system.apply(displacement)
            displacement += self._once(rest)
        return displacement

    def _once(self, loads: FloatArray) -> FloatArray:
        right = np.concatenate((loads[self._kept], np.zeros(self.springs)))
        solution = self._factor(right)
        if not np.isfinite(solution).all():
            raise Singular(
                "the factor is singular: the structure can move without straining. "
                "Add supports, symmetry planes or ties"
            )
        displacement = np.zeros(self._system.size)
        displacement[self._kept] = solution[: len(self._kept)]
        return displacement


def pardiso_installed() -> bool:
    """Whether MKL's Pardiso can be used."""
    return importlib.util.find_spec("pypardiso") is not None


def _pardiso(matrix: Any, definite: bool, owner: object) -> Any:
    """A solve function from Pardiso, or None where it is not installed.

    Its memory is given back with `owner`.
    """
    if not pardiso_installed():
        return None
    from pypardiso import PyPardisoSolver

    upper = csr_matrix(triu(csr_matrix(matrix), format="csr"))
    upper.sort_indices()
    # Matrix types of the manual: 2 symmetric positive definite, -2 symmetric indefinite.
    solver = PyPardisoSolver(mtype=2 if definite else -2)
    weakref.finalize(owner, solver.free_memory, everything=True)
    try:
        solver.factorize(upper)
    except Exception as error:
        raise Singular(
            f"Pardiso could not factorise the matrix ({error}): the structure may be able to move "
            "without straining. Add supports, symmetry planes or ties"
        ) from error
    return lambda right: solver.solve(upper, right)


def _superlu(matrix: Any) -> Any:
    """A solve function from SuperLU, with an ordering for symmetric patterns."""
    try:
        factor = splu(csc_matrix(matrix), permc_spec="MMD_AT_PLUS_A")
    except RuntimeError as error:
        raise Singular(
            f"SuperLU could not factorise the matrix ({error}): the structure can move without "
            "straining. Add supports, symmetry planes or ties"
        ) from error
    return factor.solve
