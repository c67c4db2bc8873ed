"""The model problem in NGSolve, on the same mesh and with the same order, as a yardstick.

The rod is a bed of springs over the nut's annulus there (k/area on u_z), which is the nearest that
a sparse matrix can do; the work is the same.
"""

import netgen.meshing as nm
import ngsolve as ng
import numpy as np

from tests.bench.model import EPS, FORCE, POISSON, ROD_STIFFNESS, YOUNG, Crosshead

NAMES = ("other", "x0", "y0", "nut", "ram")


def ng_mesh(case: Crosshead) -> ng.Mesh:
    """The case's mesh, its boundary named."""
    mesh = case.mesh
    boundary = mesh.boundary_facets()
    corners = mesh.p[:, mesh.facets[:, boundary]]
    kind = np.zeros(len(boundary), dtype=int)
    kind[np.abs(corners[0]).max(axis=0) < EPS] = 1
    kind[np.abs(corners[1]).max(axis=0) < EPS] = 2
    kind[np.isin(boundary, case.nut)] = 3
    kind[np.isin(boundary, case.ram)] = 4
    out = nm.Mesh(dim=3)
    points = [out.Add(nm.MeshPoint(nm.Pnt(*p))) for p in mesh.p.T.tolist()]
    for index, name in enumerate(NAMES):
        out.Add(nm.FaceDescriptor(surfnr=index + 1, domin=1, domout=0, bc=index + 1))
        out.SetBCName(index, name)
    out.SetMaterial(1, "steel")
    for facet, index in zip(mesh.facets[:, boundary].T.tolist(), kind.tolist(), strict=True):
        out.Add(nm.Element2D(index + 1, [points[i] for i in facet]))
    turned = mesh.t.T.copy()
    x = mesh.p.T[turned]
    negative = np.linalg.det(x[:, 1:] - x[:, :1]) > 0
    turned[negative, 2:] = turned[negative][:, [3, 2]]
    for cell in turned.tolist():
        out.Add(nm.Element3D(1, [points[i] for i in cell]))
    return ng.Mesh(out)


class Yardstick:
    """NGSolve's space, forms and solvers for one mesh."""

    def __init__(self, mesh: ng.Mesh) -> None:
        self.space = ng.VectorH1(mesh, order=2, dirichletx="x0", dirichlety="y0")
        u, v = self.space.TnT()
        lam = YOUNG * POISSON / ((1 + POISSON) * (1 - 2 * POISSON))
        mu = YOUNG / (2 * (1 + POISSON))

        def strain(w: ng.CoefficientFunction) -> ng.CoefficientFunction:
            return ng.Sym(ng.Grad(w))

        self.energy = (
            2 * mu * ng.InnerProduct(strain(u), strain(v)) + lam * ng.div(u) * ng.div(v)
        ) * ng.dx
        one = ng.CoefficientFunction(1)
        nut = ng.Integrate(one, mesh, definedon=mesh.Boundaries("nut"))
        ram = ng.Integrate(one, mesh, definedon=mesh.Boundaries("ram"))
        self.rod = ROD_STIFFNESS / nut * u[2] * v[2] * ng.ds("nut")
        self.load = FORCE / 4 / ram * v[2] * ng.ds("ram")

    def assemble(self) -> ng.BilinearForm:
        """The stiffness matrix."""
        form = ng.BilinearForm(self.space, symmetric=True)
        form += self.energy + self.rod
        return form.Assemble()

    def iterate(self, preconditioner: str, tol: float = 1e-8) -> tuple[int, float]:
        """Assemble and solve by conjugate gradients; steps, and the largest lift."""
        form = ng.BilinearForm(self.space, symmetric=True)
        form += self.energy + self.rod
        pre = ng.Preconditioner(form, preconditioner)
        form.Assemble()
        load = ng.LinearForm(self.load).Assemble()
        solution = ng.GridFunction(self.space)
        solver = ng.krylovspace.CGSolver(form.mat, pre.mat, tol=tol, maxiter=5000, printrates=False)
        solution.vec.data = solver * load.vec
        return solver.iterations, float(np.abs(np.asarray(solution.vec)).max())

    def factorise(self) -> float:
        """Assemble and solve by sparse Cholesky; the largest component."""
        form = self.assemble()
        load = ng.LinearForm(self.load).Assemble()
        solution = ng.GridFunction(self.space)
        inverse = form.mat.Inverse(self.space.FreeDofs(), inverse="sparsecholesky")
        solution.vec.data = inverse * load.vec
        return float(np.abs(np.asarray(solution.vec)).max())
