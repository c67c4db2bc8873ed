"""A thick block with four holes under an annular load, against an independent library.

No published value: the reference was computed with NGSolve 6.2 (third-order elements, 106,000 and
216,000 unknowns, 4 and 2 mm at the edges of the annuli) and extrapolated to first order, as the
edge of a rigid annulus asks for. Where the library is installed it is run again here on a mesh of
its own.

1000 x 700 x 200 mm, holes of 70 mm at (±360, ±220); u_z = 0 on annuli 70/130 mm on the top face;
1.5 MN upwards on the annulus 220/320 mm of the bottom face; E = 210 GPa, ν = 0.3. N, mm, MPa.

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| A8 | as above, quarter | work 75.4 kN mm; u_z at the patch 0.1005 mm, at four points | 1 % | 1st order in the size at the edges |
| A8 | as above | σxx, σyy at (0, 0, 200): 39.3, 22.56 MPa | 1.5 % | recovered stress |
| A8 | the same, run here | NGSolve's work and displacements | 1 % | two meshes, two codes |
"""  # noqa: E501

from __future__ import annotations

from dataclasses import dataclass

import gmsh
import numpy as np
import pytest
from solid import Solid, meshed, plane

SIZE = (1000.0, 700.0, 200.0)
ROD, HOLE, NUT, RAM = (360.0, 220.0), 70.0, 130.0, (220.0, 320.0)
FORCE = 1.5e6
YOUNG, POISSON = 210e3, 0.3
POINTS = {
    (0.0, 0.0, 0.0): 0.1033,
    (0.0, 0.0, 200.0): 0.1027,
    (110.0, 0.0, 0.0): 0.0996,
    (0.0, 110.0, 0.0): 0.1065,
    (500.0, 350.0, 0.0): -0.0331,
}
"""Vertical displacement (mm)."""


@dataclass(frozen=True)
class Found:
    work: float
    """Force times mean displacement of the patch (N mm), of the whole block."""
    patch: float
    points: dict[tuple[float, float, float], float]


def build() -> None:
    """A quarter; the annuli are cut into its faces, the mesh is finest at the nut's edges."""
    occ = gmsh.model.occ
    length, width, height = SIZE
    body = [(3, occ.addBox(0, 0, 0, length / 2, width / 2, height))]
    hole = [(3, occ.addCylinder(*ROD, -1, 0, 0, height + 2, HOLE / 2))]
    body, _ = occ.cut(body, hole)
    circles = [(2, occ.addDisk(*ROD, height, NUT / 2, NUT / 2))]
    circles += [(2, occ.addDisk(0, 0, 0, d / 2, d / 2)) for d in RAM]
    occ.fragment(body, circles)
    occ.synchronize()
    volume = gmsh.model.getEntities(3)
    skin = {tag for _, tag in gmsh.model.getBoundary(volume, oriented=False)}
    rest = [(2, tag) for _, tag in gmsh.model.getEntities(2) if tag not in skin]
    occ.remove(rest, recursive=True)
    occ.synchronize()
    rims, patch = [], []
    for _, tag in gmsh.model.getEntities(1):
        if gmsh.model.getType(1, tag) == "Line":
            continue
        lowest = gmsh.model.getBoundingBox(1, tag)[2]
        (rims if lowest > height - 1 else patch).append(tag)
    field = gmsh.model.mesh.field
    sizes = []
    for curves, fine in ((rims, 1.5), (patch, 22.0)):
        distance = field.add("Distance")
        field.setNumbers(distance, "CurvesList", curves)
        field.setNumber(distance, "Sampling", 100)
        size = field.add("Threshold")
        field.setNumber(size, "InField", distance)
        field.setNumber(size, "SizeMin", fine)
        field.setNumber(size, "SizeMax", 60.0)
        field.setNumber(size, "DistMin", 0.0)
        field.setNumber(size, "DistMax", (60.0 - fine) / 0.45)
        sizes.append(size)
    least = field.add("Min")
    field.setNumbers(least, "FieldsList", sizes)
    field.setAsBackgroundMesh(least)
    for option in ("FromPoints", "FromCurvature"):
        gmsh.option.setNumber(f"Mesh.MeshSize{option}", 0)


def annulus(x: np.ndarray, at: tuple[float, float], inner: float, outer: float) -> np.ndarray:
    radius = np.hypot(x[..., 0] - at[0], x[..., 1] - at[1])
    return (radius > inner / 2 - 1e-3) & (radius < outer / 2 + 1e-3)


@pytest.fixture(scope="module")
def solved():
    solid = Solid(meshed(build), YOUNG, POISSON)
    top, bottom = plane("z", SIZE[2]), plane("z")
    loaded = solid.faces(lambda x: bottom(x) & annulus(x, (0.0, 0.0), *RAM))
    area = np.pi / 4 * (RAM[1] ** 2 - RAM[0] ** 2)
    forces = solid.traction(loaded, (0.0, 0.0, FORCE / area))
    assert forces.sum() == pytest.approx(FORCE / 4, rel=1e-4)
    fixed = solid.held(x=plane("x"), y=plane("y"), z=lambda x: top(x) & annulus(x, ROD, HOLE, NUT))
    return solid.solve(forces, fixed), forces


@pytest.fixture(scope="module")
def found(solved) -> Found:
    answer, forces = solved
    work = 4 * float(np.sum(forces * answer.displacement))
    points = {point: float(answer.displacement[answer.solid.node(*point), 2]) for point in POINTS}
    return Found(work, work / FORCE, points)


def test_a8_stored_reference(solved, found):
    # The work quoted is the strain energy, half of the force's work on the mean displacement.
    assert found.work / 2 == pytest.approx(75.4e3, rel=0.01)
    assert found.patch == pytest.approx(0.1005, rel=0.01)
    for point, expected in POINTS.items():
        assert found.points[point] == pytest.approx(expected, abs=0.001)
    answer, _ = solved
    stress = answer.stress[answer.solid.node(0.0, 0.0, 200.0)]
    assert stress[0] == pytest.approx(39.3, rel=0.015)
    assert stress[1] == pytest.approx(22.56, rel=0.015)


def test_a8_reactions_carry_the_force(solved):
    answer, _ = solved
    assert answer.reaction[:, 2].sum() == pytest.approx(-FORCE / 4, rel=1e-4)


def test_a8_independent_library(found):
    other = independent()
    assert found.work == pytest.approx(other.work, rel=0.01)
    assert found.patch == pytest.approx(other.patch, rel=0.01)
    for point, expected in other.points.items():
        assert found.points[point] == pytest.approx(expected, abs=0.001)


def independent() -> Found:
    """Solve the same quarter with NGSolve: its mesher, cubic elements, its sparse solver."""
    ngsolve = pytest.importorskip("ngsolve")
    from netgen import occ as shapes

    length, width, height = SIZE

    def disc(x: float, y: float, z: float, diameter: float):
        circle = shapes.Circle(shapes.Pnt(x, y, z), shapes.Z, diameter / 2)
        return shapes.Face(shapes.Wire(circle))

    quarter = shapes.Box(shapes.Pnt(0, 0, -1), shapes.Pnt(length, width, height + 1))
    body = shapes.Box(shapes.Pnt(0, 0, 0), shapes.Pnt(length / 2, width / 2, height))
    body -= shapes.Cylinder(shapes.Pnt(*ROD, -1), shapes.Z, HOLE / 2, height + 2)
    nut = disc(*ROD, height, NUT) - disc(*ROD, height, HOLE)
    ram = (disc(0, 0, 0, RAM[1]) - disc(0, 0, 0, RAM[0])) * quarter
    nut.faces.name, ram.faces.name = "nut", "ram"
    nut.edges.maxh = 5.0
    whole = shapes.Glue([body, nut, ram])
    for face in whole.faces:
        if abs(face.center.x) < 1e-6:
            face.name = "x"
        elif abs(face.center.y) < 1e-6:
            face.name = "y"
    mesh = ngsolve.Mesh(shapes.OCCGeometry(whole).GenerateMesh(maxh=60))
    mesh.Curve(3)
    space = ngsolve.VectorH1(mesh, order=3, dirichletx="x", dirichlety="y", dirichletz="nut")
    u, v = space.TnT()
    mu = YOUNG / (2 * (1 + POISSON))
    lam = YOUNG * POISSON / ((1 + POISSON) * (1 - 2 * POISSON))

    def strain(w):
        return ngsolve.Sym(ngsolve.Grad(w))

    form = ngsolve.BilinearForm(space, symmetric=True)
    form += (
        2 * mu * ngsolve.InnerProduct(strain(u), strain(v)) + lam * ngsolve.div(u) * ngsolve.div(v)
    ) * ngsolve.dx
    area = ngsolve.Integrate(ngsolve.CF(1) * ngsolve.ds("ram"), mesh)
    load = ngsolve.LinearForm(space)
    load += FORCE / 4 / area * v[2] * ngsolve.ds("ram")
    with ngsolve.TaskManager():
        form.Assemble()
        load.Assemble()
        moved = ngsolve.GridFunction(space)
        inverse = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
        moved.vec.data = inverse * load.vec
        patch = ngsolve.Integrate(moved[2] * ngsolve.ds("ram"), mesh) / area
    inside = 1e-7
    points = {
        (x, y, z): float(
            moved(mesh(min(x, 500 - inside), min(y, 350 - inside), min(z, height - inside)))[2]
        )
        for x, y, z in POINTS
    }
    return Found(FORCE * patch, patch, points)
