"""Solve linear systems of elasticity: multigrid conjugate gradients, or a direct factor."""

import logging
import time
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, Protocol

import numpy as np
import numpy.typing as npt

from platestack.fea.numerics.bending import Bending
from platestack.fea.numerics.direct import Direct
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.krylov import (
    Iteration,
    Operator,
    Progress,
    conjugate_gradients,
    length,
)
from platestack.fea.numerics.multigrid import Hierarchy, Settings
from platestack.fea.numerics.system import System
from platestack.fea.support.errors import NotConverged, Singular

FloatArray = npt.NDArray[np.float64]
Method = Literal["auto", "multigrid", "direct"]

log = logging.getLogger(__name__)

SMALL = 3_000
"""Unknowns up to which `auto` takes the direct solver."""

TOLERANCE = 1e-8
MAX_ITERATIONS = 200

PATIENCE = 45
"""Iterations after which thin plates get a coarse space of their own (`fea.numerics.bending`)."""

SLENDER, LIMP = 1e-6, 1e-3
"""Residual that is left at most where rounding leaves more than was asked for, as in very slender
structures; and what rounding leaves of a structure that hardly resists."""

TOO_THIN = (
    "Rounding leaves no less of what bends so easily: make the thinnest plates thicker, or shorten "
    "what they span."
)

RESCUED = 60_000
"""Unknowns up to which a factor is tried where the iteration does not end."""


@dataclass(frozen=True)
class Solve:
    """Solution of one or several right-hand sides.

    displacement: (3n,) or (3n, k) [m], as the loads were given; iterations: of conjugate
    gradients, the most over the right-hand sides (0 if direct); residual: the largest true
    relative residual |loads - K u| / |loads| over free components, computed from the solution;
    seconds: time of the solve without set-up; setup_seconds: time of the solver's set-up.
    """

    displacement: FloatArray
    iterations: int
    residual: float
    seconds: float
    setup_seconds: float


class Solver(Protocol):
    """What `multigrid` and `direct` return: a system made ready to be solved repeatedly."""

    @property
    def system(self) -> System:
        """The system that is solved."""

    def solve(
        self,
        loads: FloatArray,
        *,
        tol: float = TOLERANCE,
        guess: FloatArray | None = None,
        max_iterations: int = MAX_ITERATIONS,
        progress: Progress | None = None,
    ) -> Solve:
        """Displacements under `loads` (3n,) or (3n, k) [N]; loads on fixed components are dropped.

        `guess`, of the same shape, is where the iteration starts. `progress(iteration, residual)`
        is called at each step.

        Raises
        ------
            NotConverged: the true residual is above `tol`.
        """


class MultigridSolver:
    """Conjugate gradients preconditioned by a multigrid cycle.

    `slow` once thin plates made it so: their bending is then taken out from the start.
    """

    def __init__(
        self,
        system: System,
        space: QuadraticSpace,
        hierarchy: Hierarchy,
        setup_seconds: float,
        slow: bool = False,
    ) -> None:
        self.system = system
        self._space = space
        self.hierarchy = hierarchy
        self.setup_seconds = setup_seconds
        self.slow = slow

    def retarget(self, system: System) -> "MultigridSolver":
        """A solver of a changed `system` that keeps this one's preconditioner.

        For small changes, such as other contact terms: no set-up, some more iterations.
        """
        return MultigridSolver(system, self._space, self.hierarchy, 0.0, self.slow)

    def copied(self, system: System) -> "MultigridSolver":
        """The solver of a system with other ties; its hierarchy can be added to."""
        hierarchy = self.hierarchy.copied(system.free_ties)
        return MultigridSolver(system, self._space, hierarchy, 0.0, self.slow)

    def solve(
        self,
        loads: FloatArray,
        *,
        tol: float = TOLERANCE,
        guess: FloatArray | None = None,
        max_iterations: int = MAX_ITERATIONS,
        progress: Progress | None = None,
    ) -> Solve:
        """See `Solver.solve`."""
        started = time.perf_counter()

        def one(load: FloatArray, first: FloatArray | None) -> Iteration:
            return self._iterated(load, first, tol, max_iterations, progress)

        results = [one(*pair) for pair in _columns(self.system, loads, guess)]
        return _record(
            self.system, loads, results, tol, time.perf_counter() - started, self.setup_seconds,
            "Try another mesh.size, or look for what is out of proportion: a plate, wall or "
            "opening far smaller than the rest, or a part that is held by next to nothing.",
        )  # fmt: skip

    @property
    def cycle(self) -> Operator:
        """The multigrid cycle; where thin plates made it `slow`, with their bending taken out."""
        if self.slow and self._bending is not None:
            return self._bending.around(self.system.apply, self.hierarchy)
        return self.hierarchy

    @cached_property
    def _bending(self) -> Bending | None:
        return Bending.of(self.system, self._space)

    def _iterated(
        self,
        load: FloatArray,
        first: FloatArray | None,
        tol: float,
        most: int,
        progress: Progress | None,
    ) -> Iteration:
        """Conjugate gradients; where they are slow, with the bending of thin plates taken out."""

        def run(preconditioner: Operator, first: FloatArray | None, most: int) -> Iteration:
            return conjugate_gradients(
                self.system.apply,
                load,
                preconditioner,
                tol=tol,
                max_iterations=most,
                guess=first,
                progress=progress,
            )

        found = Iteration(np.zeros_like(load) if first is None else first, 0, np.inf)
        if not (self.slow and self._bending):
            found = run(self.hierarchy, first, min(most, PATIENCE))
        if found.residual <= tol or most <= PATIENCE:
            return found
        cycle: Operator = self.hierarchy
        if self._bending is not None:
            cycle, self.slow = self._bending.around(self.system.apply, cycle), True
            log.info(f"thin plates get {self._bending.count:,} splines of bending")
        while found.residual > tol and found.iterations < most:
            more = run(cycle, found.solution, min(PATIENCE, most - found.iterations))
            found = replace(more, iterations=found.iterations + more.iterations)
            if found.residual * length(load) <= self.system.rounding(found.solution):
                return found
            if not more.iterations:
                break
        if found.residual <= tol or most < MAX_ITERATIONS or self.system.size > RESCUED:
            return found
        log.info(f"no end after {found.iterations} iterations: solved by a factor")
        return _factored(self.system, Direct(self.system), load)


class DirectSolver:
    """Solutions from a sparse factor."""

    def __init__(self, system: System, factor: Direct, setup_seconds: float) -> None:
        self.system = system
        self.factor = factor
        self.setup_seconds = setup_seconds

    def solve(
        self,
        loads: FloatArray,
        *,
        tol: float = TOLERANCE,
        guess: FloatArray | None = None,
        max_iterations: int = MAX_ITERATIONS,
        progress: Progress | None = None,
    ) -> Solve:
        """See `Solver.solve`; `guess`, `max_iterations` and `progress` have no effect."""
        started = time.perf_counter()
        results = [
            _factored(self.system, self.factor, load)
            for load, _ in _columns(self.system, loads, None)
        ]
        return _record(
            self.system, loads, results, tol, time.perf_counter() - started, self.setup_seconds,
            "A direct solve is this far off only if the matrix is nearly singular: "
            "check that supports and ties hold every part.",
        )  # fmt: skip


def multigrid(
    system: System,
    space: QuadraticSpace,
    settings: Settings | None = None,
    like: MultigridSolver | None = None,
) -> MultigridSolver:
    """Set up the multigrid solver of `system`, whose matrix is on `space`.

    Half of the work falls away with a solver that is `like` it: of the same matrix and supports.

    Raises
    ------
        Singular: a rigid motion is held by nothing.
    """
    started = time.perf_counter()
    kin = None
    if like and like.system.matrix is system.matrix and (like.system.free == system.free).all():
        kin = like.hierarchy
    hierarchy = Hierarchy(system, space, settings or Settings(), kin)
    spent = time.perf_counter() - started
    return MultigridSolver(system, space, hierarchy, spent, like is not None and like.slow)


def direct(system: System) -> DirectSolver:
    """Factorise `system`.

    Raises
    ------
        Singular: a rigid motion is held by nothing.
    """
    started = time.perf_counter()
    return DirectSolver(system, Direct(system), time.perf_counter() - started)


def solver(system: System, space: QuadraticSpace, method: Method = "auto") -> Solver:
    """The solver of the asked-for `method`; "auto" is direct for small systems."""
    if method == "auto":
        method = "direct" if system.size <= SMALL else "multigrid"
    if method == "direct":
        return direct(system)
    if method == "multigrid":
        return multigrid(system, space)
    raise ValueError(f"method must be auto, multigrid or direct, not {method!r}")


def solve(
    system: System,
    space: QuadraticSpace,
    loads: FloatArray,
    method: Method = "auto",
    *,
    tol: float = TOLERANCE,
    guess: FloatArray | None = None,
    max_iterations: int = MAX_ITERATIONS,
    progress: Progress | None = None,
) -> Solve:
    """Solve `system` once: set-up and solution. See `Solver.solve` for the arguments."""
    ready = solver(system, space, method)
    return ready.solve(
        loads, tol=tol, guess=guess, max_iterations=max_iterations, progress=progress
    )


def _columns(
    system: System, loads: FloatArray, guess: FloatArray | None
) -> list[tuple[FloatArray, FloatArray | None]]:
    """Right-hand sides and first guesses as vectors, zero on fixed components."""
    if loads.ndim not in (1, 2) or loads.shape[0] != system.size:
        raise ValueError(f"loads must be ({system.size},) or ({system.size}, k), not {loads.shape}")
    if guess is not None and guess.shape != loads.shape:
        raise ValueError(f"guess must have the loads' shape {loads.shape}, not {guess.shape}")
    if not np.isfinite(loads).all():
        raise ValueError("loads must be finite")

    def columns(values: FloatArray) -> list[FloatArray]:
        return list(np.where(system.free, np.atleast_2d(values.T), 0.0))

    right = columns(loads)
    first = [None] * len(right) if guess is None else columns(guess)
    return list(zip(right, first, strict=True))


def _factored(system: System, factor: Direct, load: FloatArray) -> Iteration:
    """A solution by a factor, with its true residual."""
    x = factor(load)
    norm = length(load)
    rest = length(load - system.apply(x))
    return Iteration(x, 0, rest / norm if norm else rest)


def _record(
    system: System,
    loads: FloatArray,
    results: list[Iteration],
    tol: float,
    seconds: float,
    setup_seconds: float,
    advice: str,
) -> Solve:
    iterations = max((r.iterations for r in results), default=0)
    residual = max((r.residual for r in results), default=0.0)
    columns = [r.solution for r in results]
    if not residual <= tol:
        right = np.atleast_2d(np.where(system.free, loads.T, 0.0))
        floor = max(
            system.rounding(x) / (length(b) or 1.0) for x, b in zip(columns, right, strict=True)
        )
        if floor > LIMP:
            raise Singular(
                "the loads move a part hardly straining it: nothing holds it, or nearly so. Add "
                "supports, symmetry planes or ties, or make it thicker"
            )
        if not residual <= min(floor, SLENDER):
            raise NotConverged(iterations, residual, tol, TOO_THIN if residual <= floor else advice)
        log.info(f"residual {residual:.1e} in place of {tol:.0e}: no more than rounding leaves")
    displacement = columns[0] if loads.ndim == 1 else np.stack(columns, axis=1)
    return Solve(displacement, iterations, residual, seconds, setup_seconds)
