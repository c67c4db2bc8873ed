"""Beams, slender to deep.

S. P. Timoshenko and J. N. Goodier, Theory of Elasticity, 3rd ed., articles 20 and 21 (bending of a
cantilever loaded at the end; not verified, checked by differentiation); G. R. Cowper, J. Appl.
Mech. 33 (1966) 335 (shear coefficient; not verified against the standard).

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| cantilever | l/h = 12, 4, 1.5; ν = 0; the root moves as in the exact solution | field of art. 21 | 0.2 % | mesh: 3rd-degree field, quadratic elements |
| B9 | P = 1 MN, l = 1 m, b = 0.3 m, h = 0.24 m | 0.337651 mm (Cowper) | 1 % | no warping at mid-span |
| B9, slender to deep | l/h = 10, 4, 2 | P l³/48EI + P l/4κGA | 0.3, 1, 3.5 % | the same, it grows with (h/l)² |
"""  # noqa: E501

from __future__ import annotations

import numpy as np
import pytest
from solid import Solid, block, plane


def grid(length: float, width: float, height: float, cells: int = 6) -> tuple[np.ndarray, ...]:
    """Bricks along x, y and z; z is centred. About as long as high, `cells` over the height."""
    along = max(6, min(40, round(length / height * cells / 1.5)))
    return (
        np.linspace(0.0, length, along + 1),
        np.linspace(0.0, width, 3),
        np.linspace(-height / 2, height / 2, cells + 1),
    )


@pytest.mark.parametrize("slenderness", [12.0, 4.0, 1.5])
def test_cantilever_of_article_21(slenderness):
    """Plane stress is exact in three dimensions where ν = 0.

    x from the loaded end, z down with the force P at x = 0: with c = h/2, I per width b,

        u = −P x² z / 2EI + P z³ / 6IG + (P l² / 2EI − P c² / 2IG) z
        w = P x³ / 6EI − P l² x / 2EI + P l³ / 3EI
    """
    height, width, young = 0.2, 0.1, 210e9
    length, shear = slenderness * height, young / 2
    force, inertia = 1e5, width * height**3 / 12
    solid = Solid(block(*grid(length, width, height)), young, 0.0)
    x, _, z = solid.nodes.T
    ei, gi = young * inertia, shear * inertia
    slope = force * length**2 / (2 * ei) - force * height**2 / (8 * gi)
    u = -force * x**2 * z / (2 * ei) + force * z**3 / (6 * gi) + slope * z
    w = force * x**3 / (6 * ei) - force * length**2 * x / (2 * ei) + force * length**3 / (3 * ei)
    exact = np.stack([u, np.zeros_like(x), w], axis=1)

    def shear_stress(points: np.ndarray) -> np.ndarray:
        """Parabola of the end face; positive along the force."""
        parabola = force / (2 * inertia) * (height**2 / 4 - points[..., 2] ** 2)
        return np.multiply.outer(parabola, [0.0, 0.0, 1.0])

    forces = solid.varying_traction(solid.faces(plane("x")), shear_stress)
    assert forces.sum(axis=0) == pytest.approx([0.0, 0.0, force], abs=1e-6 * force)
    root = plane("x", length)
    answer = solid.solve(forces, solid.held(x=root, y=root, z=root), exact)
    error = np.abs(answer.displacement - exact).max() / np.abs(exact).max()
    assert error < 2e-3
    bending = -answer.stress[solid.node(length / 2, 0.0, height / 2), 0]
    assert bending == pytest.approx(force * length / 2 * height / 2 / inertia, rel=0.01)


def three_point(length: float, width: float, height: float, force: float) -> float:
    """Deflection (m) of the mid-height at mid-span over that at the ends.

    Half of the beam, a plane of symmetry at x = 0; the force enters there and leaves at the end
    face as the parabola of beam theory, so that nothing is dented.
    """
    young, poisson = 210e9, 0.3
    solid = Solid(block(*grid(length / 2, width / 2, height, 8)), young, poisson)

    def shear_stress(points: np.ndarray) -> np.ndarray:
        parabola = 1.5 * force / 2 / (width * height) * (1 - (2 * points[..., 2] / height) ** 2)
        return np.multiply.outer(parabola, [0.0, 0.0, 1.0])

    start, end = solid.faces(plane("x")), solid.faces(plane("x", length / 2))
    forces = solid.varying_traction(end, shear_stress)
    forces -= solid.varying_traction(start, shear_stress)
    fixed = solid.held(x=plane("x"), y=plane("y"))
    fixed[solid.node(0.0, 0.0, 0.0), 2] = True
    answer = solid.solve(forces, fixed)
    # The width's mean, as beam theory has it.
    line = np.flatnonzero(
        plane("x", length / 2)(solid.nodes) & plane("z")(solid.nodes) & plane("y")(solid.nodes)
    )
    middle = np.flatnonzero(
        plane("x")(solid.nodes) & plane("z")(solid.nodes) & plane("y")(solid.nodes)
    )
    return float(answer.displacement[line, 2].mean() - answer.displacement[middle, 2].mean())


def beam(length: float, width: float, height: float, force: float) -> float:
    """Timoshenko's beam with Cowper's κ = 10 (1 + ν) / (12 + 11ν)."""
    young, poisson = 210e9, 0.3
    kappa = 10 * (1 + poisson) / (12 + 11 * poisson)
    inertia, shear = width * height**3 / 12, young / (2 * (1 + poisson))
    bending = force * length**3 / (48 * young * inertia)
    return bending + force * length / (4 * kappa * shear * width * height)


def test_b9_three_point_bending():
    expected = beam(1.0, 0.3, 0.24, 1e6)
    assert expected == pytest.approx(0.337651e-3, rel=1e-5)
    assert three_point(1.0, 0.3, 0.24, 1e6) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("slenderness", "tolerance"), [(10.0, 0.003), (4.0, 0.01), (2.0, 0.035)])
def test_b9_slender_to_deep(slenderness, tolerance):
    size = (slenderness * 0.24, 0.12, 0.24, 1e6)
    assert three_point(*size) == pytest.approx(beam(*size), rel=tolerance)
