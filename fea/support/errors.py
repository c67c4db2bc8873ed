"""Errors of the numerics: one tree, each message says what to do."""

from platestack.geometry.errors import PlatestackError


class SolveError(PlatestackError):
    """A linear system could not be solved."""


class NotConverged(SolveError):
    """The iteration stopped before it reached the tolerance.

    `iterations` were made; `residual` is the relative residual reached, `tol` the one asked for.
    """

    def __init__(self, iterations: int, residual: float, tol: float, advice: str) -> None:
        self.iterations = iterations
        self.residual = residual
        self.tol = tol
        super().__init__(
            f"not converged: relative residual {residual:.2e} after {iterations} iterations, "
            f"asked for {tol:.2e}. {advice}"
        )


class Singular(SolveError):
    """The structure can move without straining: supports or ties are missing."""
