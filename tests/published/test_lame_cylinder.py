"""Thick cylinder under internal pressure: G. Lamé 1852, closed form.

σr, σθ = p ri² / (ro² − ri²) (1 ∓ ro² / r²), σz = p ri² / (ro² − ri²) with closed ends, else 0;
u = r (σθ − ν (σr + σz)) / E. N, mm, MPa.

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| D1 | ri = 160, ro = 210, p = 25, E = 210e3, ν = 0.3, closed | hoop 94.19 / 69.19, von Mises 103.22 | 0.5 % | recovered stress at the surface |
| D1, D2 | closed, open | u = 0.069570, 0.058811; 0.077477 | 0.05 % | curved quadratic elements |
"""  # noqa: E501

from __future__ import annotations

import gmsh
import numpy as np
import pytest
from solid import Solid, meshed, plane

from platestack.fea.solid.stress import recover

INNER, OUTER, HEIGHT, PRESSURE = 160.0, 210.0, 40.0, 25.0
YOUNG, POISSON = 210e3, 0.3


def build() -> None:
    """A quarter of the ring."""
    occ = gmsh.model.occ
    ring = [(3, occ.addCylinder(0, 0, 0, 0, 0, HEIGHT, OUTER, angle=np.pi / 2))]
    bore = [(3, occ.addCylinder(0, 0, 0, 0, 0, HEIGHT, INNER, angle=np.pi / 2))]
    occ.cut(ring, bore)
    occ.synchronize()
    gmsh.option.setNumber("Mesh.MeshSizeMax", 20.0)


@pytest.fixture(scope="module")
def ring() -> Solid:
    return Solid(meshed(build), YOUNG, POISSON)


def at_radius(radius: float):
    return lambda x: np.abs(np.hypot(x[..., 0], x[..., 1]) - radius) < 1e-3


def expected(radius: float, axial: float) -> tuple[float, float, float]:
    """Radial and hoop stress, radial displacement."""
    factor = PRESSURE * INNER**2 / (OUTER**2 - INNER**2)
    radial, hoop = (factor * (1 + sign * OUTER**2 / radius**2) for sign in (-1, 1))
    return radial, hoop, radius * (hoop - POISSON * (radial + axial)) / YOUNG


def solve(ring: Solid, axial: float):
    forces = ring.pressure(ring.faces(at_radius(INNER)), PRESSURE)
    forces += ring.traction(ring.faces(plane("z", HEIGHT)), (0.0, 0.0, axial))
    return ring.solve(forces, ring.held(x=plane("x"), y=plane("y"), z=plane("z")))


def test_d1_closed_ends(ring):
    axial = PRESSURE * INNER**2 / (OUTER**2 - INNER**2)
    answer = solve(ring, axial)
    quoted = {INNER: (94.1892, 0.069570), OUTER: (69.1892, 0.058811)}
    for radius, (hoop_quoted, moved_quoted) in quoted.items():
        radial, hoop, moved = expected(radius, axial)
        assert (hoop, moved) == pytest.approx((hoop_quoted, moved_quoted), rel=1e-5)
        node = ring.node(radius, 0.0, 0.0)
        assert answer.displacement[node, 0] == pytest.approx(moved, rel=5e-4)
        # On y = 0 the hoop is along y, the radius along x.
        assert answer.stress[node, 1] == pytest.approx(hoop, rel=5e-3)
        assert answer.stress[node, 0] == pytest.approx(radial, abs=0.005 * hoop)
        assert answer.stress[node, 2] == pytest.approx(axial, rel=0.02)
    bore = ring.node(INNER, 0.0, 0.0)
    found = recover.von_mises(answer.stress[bore])
    assert found == pytest.approx(103.2209, rel=5e-3)


def test_d2_open_ends(ring):
    answer = solve(ring, 0.0)
    bore = ring.node(INNER, 0.0, 0.0)
    moved = expected(INNER, 0.0)[2]
    assert moved == pytest.approx(0.077477, rel=1e-5)
    assert answer.displacement[bore, 0] == pytest.approx(moved, rel=5e-4)
    assert recover.von_mises(answer.stress[bore]) == pytest.approx(108.8638, rel=5e-3)
