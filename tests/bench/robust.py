"""Iterations to 1e-8 over thick, thin and mixed stacks: ``python -m tests.bench.robust``."""

from dataclasses import replace

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.multigrid import smoother_degree
from platestack.fea.support.errors import NotConverged
from tests.bench.measure import MESHES
from tests.bench.model import Crosshead, cached, problem

CASES: dict[str, tuple[float, tuple[float, ...], float]] = {
    "five plates of 80 mm, coarse": (0.04, (0.08,) * 5, 1.0),
    "five plates of 80 mm": (0.0235, (0.08,) * 5, 1.0),
    "10 mm plate in a 2 m stack, coarse": (0.1, (0.66, 0.66, 0.01, 0.67), 1.0),
    "10 mm plate in a 2 m stack": (0.06, (0.5, 0.5, 0.01, 0.49, 0.5), 1.0),
    "10, 100, 20, 60, 10 mm": (0.04, (0.01, 0.1, 0.02, 0.06, 0.01), 1.0),
    "80 mm plates, heights times 0.3": (0.04, (0.08,) * 5, 0.3),
    "80 mm plates, heights times 3": (0.04, (0.08,) * 5, 3.0),
    "80 mm plates, heights times 10": (0.04, (0.08,) * 5, 10.0),
    "one plate of 10 mm alone": (0.04, (0.01,), 1.0),
    "80 mm plates, heights times 0.1": (0.04, (0.08,) * 5, 0.1),
}
"""Element size [m], thicknesses [m], and the factor by which the mesh is stretched in z after
meshing, which makes all elements flat or long. The last two are single plates 10 and 40 mm thick
spanning 1.2 m: linear elements shear-lock in their bending, which is outside what presses have."""


def stretched(case: Crosshead, factor: float) -> Crosshead:
    """The case with all heights times `factor`."""
    mesh = case.mesh.scaled((1.0, 1.0, factor))
    return replace(case, mesh=mesh, height=case.height * factor)


def main() -> None:
    """Print the table."""
    print(f"{'case':<40}{'unknowns':>10}{'degree':>8}{'iterations':>14}")
    for name, (size, thicknesses, factor) in CASES.items():
        default = thicknesses == (0.08,) * 5
        mesh = cached(size, MESHES) if default else cached(size, MESHES, thicknesses=thicknesses)
        case = stretched(mesh, factor)
        space = QuadraticSpace(case.mesh)
        system, loads = problem(case, space)
        try:
            steps = str(solvers.solve(system, space, loads, "multigrid").iterations)
        except NotConverged as error:
            steps = f"({error.iterations}: {error.residual:.0e})"
        print(f"{name:<40}{system.size:>10,}{smoother_degree(space):>8}{steps:>14}", flush=True)


if __name__ == "__main__":
    main()
