"""Assembly against scikit-fem's generic form and NGSolve's: ``python -m tests.bench.assembly``."""

import argparse

import ngsolve as ng
from skfem import Basis, ElementTetP2, ElementVector
from skfem.models.elasticity import linear_elasticity

from platestack.fea.numerics.elasticity import QuadraticSpace, lame
from tests.bench.measure import MESHES, alternate, table
from tests.bench.model import POISSON, YOUNG, cached
from tests.bench.ngs import Yardstick, ng_mesh


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", type=float, default=0.0235, help="element size [m]")
    parser.add_argument("--repeats", type=int, default=5)
    args = parser.parse_args()
    case = cached(args.size, MESHES)
    space = QuadraticSpace(case.mesh)
    yardstick = Yardstick(ng_mesh(case))
    ng.SetNumThreads(2)

    def generic() -> None:
        basis = Basis(case.mesh, ElementVector(ElementTetP2()))
        linear_elasticity(*lame(YOUNG, POISSON)).assemble(basis)

    def threaded() -> None:
        with ng.TaskManager():
            yardstick.assemble()

    ways = {
        "ours, numbering and pattern included": lambda: QuadraticSpace(case.mesh).stiffness(
            YOUNG, POISSON
        ),
        "ours, pattern reused": lambda: space.stiffness(YOUNG, POISSON),
        "scikit-fem, basis included": generic,
        "NGSolve, two threads": threaded,
    }
    print(f"{3 * len(space.nodes):,} unknowns, {len(space.cells):,} elements")
    print(table(alternate(ways, args.repeats), "ours, numbering and pattern included"))


if __name__ == "__main__":
    main()
