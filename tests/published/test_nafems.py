"""NAFEMS standard benchmarks (G. A. O. Davies, R. T. Fenner and R. W. Lewis, Background to
Benchmarks, NAFEMS 1993; The Standard NAFEMS Benchmarks, rev. 3, 1990). Read in secondary copies.

Both have the ellipses (x/2)² + y² = 1 and (x/3.25)² + (y/2.75)² = 1 (m), E = 210 GPa, ν = 0.3.

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| LE10 | thick plate, 0.6 m, 1 MPa on its top; σyy at D = (2, 0, 0.6) | −5.38 MPa | 2 % | benchmark's own; quadratic elements |
| LE1 | membrane, 0.1 m, 10 MPa outwards on its edge; σyy at D = (2, 0) | 92.7 MPa | 1 % | quadratic elements |
"""  # noqa: D205, E501

from __future__ import annotations

from collections.abc import Callable

import gmsh
import numpy as np
import pytest
from solid import Solid, meshed, plane

INNER, OUTER = (2.0, 1.0), (3.25, 2.75)


def elliptic(heights: list[float], layers: list[int], around: int) -> Callable[[], None]:
    """A quarter of the plate between the ellipses, in layers of given heights, denser near D."""

    def build() -> None:
        occ = gmsh.model.occ
        arcs = []
        for a, b in (INNER, OUTER):
            # gmsh wants the longer half-axis first.
            assert a > b
            arcs.append(occ.addEllipse(0, 0, 0, a, b, angle1=0.0, angle2=np.pi / 2))
        occ.synchronize()
        ends = [
            [tag for _, tag in gmsh.model.getBoundary([(1, arc)], oriented=False)] for arc in arcs
        ]
        by_x = [sorted(pair, key=lambda p: -gmsh.model.getValue(0, p, [])[0]) for pair in ends]
        sides = [occ.addLine(by_x[0][i], by_x[1][i]) for i in (0, 1)]
        face = occ.addPlaneSurface([occ.addCurveLoop([arcs[0], sides[1], arcs[1], sides[0]])])
        occ.synchronize()
        for curve, count, grade in (
            (arcs[0], around, 1.12),
            (arcs[1], around, 1.0),
            (sides[0], around // 2, 1.2),
            (sides[1], around // 2, 1.0),
        ):
            start = gmsh.model.getBoundary([(1, curve)])[0][1]
            near_d = start in (by_x[0][0],)
            gmsh.model.mesh.setTransfiniteCurve(
                curve, count + 1, "Progression", grade if near_d else 1 / grade
            )
        gmsh.model.mesh.setTransfiniteSurface(face)
        whole = [(2, face)]
        for height, count in zip(heights, layers, strict=True):
            made = occ.extrude(whole, 0, 0, height, numElements=[count])
            whole = [made[0]]
        occ.synchronize()

    return build


def on_ellipse(a: float, b: float):
    return lambda x: np.abs((x[..., 0] / a) ** 2 + (x[..., 1] / b) ** 2 - 1) < 2e-3


def test_le10_thick_plate():
    solid = Solid(meshed(elliptic([0.3, 0.3], [4, 4], 20)), 210e9, 0.3)
    forces = solid.traction(solid.faces(plane("z", 0.6)), (0.0, 0.0, -1e6))
    outer = on_ellipse(*OUTER)
    fixed = solid.held(
        x=lambda x: plane("x")(x) | outer(x),
        y=lambda x: plane("y")(x) | outer(x),
        z=lambda x: outer(x) & plane("z", 0.3)(x),
    )
    answer = solid.solve(forces, fixed)
    assert answer.stress[solid.node(2.0, 0.0, 0.6), 1] == pytest.approx(-5.38e6, rel=0.02)


def test_le1_elliptic_membrane():
    """Half of the thickness, its middle a plane of symmetry: the state is plane stress."""
    solid = Solid(meshed(elliptic([0.05], [1], 24)), 210e9, 0.3)
    forces = -solid.pressure(solid.faces(on_ellipse(*OUTER)), 10e6)
    fixed = solid.held(x=plane("x"), y=plane("y"), z=plane("z"))
    answer = solid.solve(forces, fixed)
    assert answer.stress[solid.node(2.0, 0.0, 0.0), 1] == pytest.approx(92.7e6, rel=0.01)
