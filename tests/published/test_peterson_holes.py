"""Stress concentration at a round hole.

R. C. J. Howland, Phil. Trans. R. Soc. A 229 (1930) 49 (table unverified); R. B. Heywood, Designing
by Photoelasticity, 1952 (not verified): Ktn = 2 + (1 − d/W)³; R. E. Peterson, Stress Concentration
Factors; W. C. Young and R. G. Budynas, Roark's Formulas for Stress and Strain, 7th ed., Table 17.1
(both read in secondary copies). "Converged": eighth-order elements of NGSolve, repeated with 7
and 9.

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| C2 | strip in tension, d/W = 0.2, 0.3, 0.5 | converged Ktn | 1 % | quadratic elements |
| C2 | the same | Heywood, Roark's cubic | 3 % | the formulas' own accuracy |
| C2 | the same | Howland's Ktg | 1 % | rounded to three figures |
| C4 | plate in simple bending, d/t = 2, 4; ν = 0.3 | Roark | 5, 2 % | after Reissner; W = 8d |
"""

from __future__ import annotations

from collections.abc import Callable

import gmsh
import numpy as np
import pytest
from solid import Solid, meshed, plane, refine_near, round_curves

CONVERGED = {0.2: 2.5221, 0.3: 2.3621, 0.5: 2.1738}
HOWLAND = {0.2: 3.14, 0.3: 3.36, 0.5: 4.32}
"""On the gross section."""


def strip(
    diameter: float,
    width: float,
    length: float,
    thickness: float,
    layers: int,
    fine: float,
    coarse: float,
) -> Callable[[], None]:
    """A quarter of a plate with a hole at the origin, from z = 0 up, in layers of elements."""

    def build() -> None:
        occ = gmsh.model.occ
        plate = [(2, occ.addRectangle(0, 0, 0, length / 2, width / 2))]
        hole = [(2, occ.addDisk(0, 0, 0, diameter / 2, diameter / 2))]
        face, _ = occ.cut(plate, hole)
        occ.extrude(face, 0, 0, thickness, numElements=[layers])
        occ.synchronize()
        refine_near(round_curves(), fine, coarse)

    return build


@pytest.mark.parametrize("ratio", CONVERGED)
def test_c2_hole_in_a_strip(ratio):
    """W = 1, pulled at its ends 6W apart. With ν = 0 the thin plate is in plane stress exactly.

    (The stress about a hole with no net force on it does not depend on ν: Michell 1899.)
    """
    solid = Solid(meshed(strip(ratio, 1.0, 6.0, ratio / 12, 1, ratio / 40, 0.15)), 210e9, 0.0)
    forces = solid.traction(solid.faces(plane("x", 3.0)), (1.0, 0.0, 0.0))
    answer = solid.solve(forces, solid.held(x=plane("x"), y=plane("y"), z=plane("z")))
    gross = answer.stress[solid.node(0.0, ratio / 2, 0.0), 0]
    net = gross * (1 - ratio)
    assert net == pytest.approx(CONVERGED[ratio], rel=0.01)
    assert net == pytest.approx(2 + (1 - ratio) ** 3, rel=0.03)
    roark = 3 - 3.13 * ratio + 3.66 * ratio**2 - 1.53 * ratio**3
    assert net == pytest.approx(roark, rel=0.03)
    assert gross == pytest.approx(HOWLAND[ratio], rel=0.01)


@pytest.mark.parametrize(
    ("ratio", "quoted", "tolerance"), [(2.0, 2.0277, 0.05), (4.0, 1.8906, 0.02)]
)
def test_c4_hole_in_a_bent_plate(ratio, quoted, tolerance):
    """Half of the thickness, its middle plane antisymmetric: only u_z moves there.

    The formula follows Reissner's plate theory, which leaves three-dimensional elasticity as the
    plate gets thicker: at d/t = 1 it lies 7 % above (finer meshes and wider plates agree).
    """
    diameter, half = 1.0, 0.5 / ratio
    solid = Solid(meshed(strip(diameter, 8.0, 12.0, half, 2, diameter / 24, 0.8)), 210e9, 0.3)

    def bending(points: np.ndarray) -> np.ndarray:
        return np.multiply.outer(points[..., 2] / half, [1.0, 0.0, 0.0])

    forces = solid.varying_traction(solid.faces(plane("x", 6.0)), bending)
    middle = plane("z")
    fixed = solid.held(x=lambda x: plane("x")(x) | middle(x), y=lambda x: plane("y")(x) | middle(x))
    fixed[solid.node(0.0, 4.0, 0.0), 2] = True
    answer = solid.solve(forces, fixed, method="direct")
    fit = 1.79 + 0.25 / (0.39 + ratio) + 0.81 / (1 + ratio**2) - 0.26 / (1 + ratio**3)
    assert fit == pytest.approx(quoted, abs=1e-4)
    found = answer.stress[solid.node(0.0, diameter / 2, half), 0]
    assert found == pytest.approx(fit, rel=tolerance)
