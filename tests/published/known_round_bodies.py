"""A cylinder, a sphere and a circular plate under pressure.

Each function returns a `Problem`: a body solved with the project's elements, and readings with
their exact values. Loads are the tractions of the exact solution, so that nothing but the elements
is in error.
"""

from __future__ import annotations

import gmsh
import numpy as np
from appraisal import Problem, energy, moved, peak
from solid import Solid, meshed, plane

YOUNG, POISSON = 210e9, 0.3


def lame(size: float) -> Problem:
    """Thick cylinder with closed ends (G. Lamé 1852; check D1), in N and mm."""
    inner, outer, height, p, young = 160.0, 210.0, 40.0, 25.0, 210e3

    def build() -> None:
        occ = gmsh.model.occ
        ring = [(3, occ.addCylinder(0, 0, 0, 0, 0, height, outer, angle=np.pi / 2))]
        occ.cut(ring, [(3, occ.addCylinder(0, 0, 0, 0, 0, height, inner, angle=np.pi / 2))])
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)

    solid = Solid(meshed(build), young, POISSON)
    axial = p * inner**2 / (outer**2 - inner**2)
    bore = axial * (1 + outer**2 / inner**2)
    bore_moves = inner * (bore - POISSON * (axial - p)) / young
    end_moves = height * axial * (1 - 2 * POISSON) / young
    work = p * np.pi * inner * height / 2 * bore_moves
    work += axial * np.pi * (outer**2 - inner**2) / 4 * end_moves
    inside = solid.faces(lambda x: np.abs(np.hypot(x[..., 0], x[..., 1]) - inner) < 1e-3)
    forces = solid.pressure(inside, p)
    forces += solid.traction(solid.faces(plane("z", height)), (0, 0, axial))
    return Problem(
        f"Lamé cylinder, size {size:.0f}",
        solid,
        forces,
        solid.held(x=plane("x"), y=plane("y"), z=plane("z")),
        None,
        (
            moved("u of the bore", (inner, 0, 0), 0, bore_moves),
            moved("u outside", (outer, 0, 0), 0, outer * (2 - POISSON) * axial / young),
            peak(np.sqrt(3) * axial * outer**2 / inner**2),
            energy(work / 2),
        ),
    )


def sphere(size: float) -> Problem:
    """Thick sphere under internal pressure (Lamé; Timoshenko & Goodier, art. 136); an octant."""
    a, b, p = 1.0, 2.0, 1e6

    def build() -> None:
        occ = gmsh.model.occ
        whole = [(3, occ.addSphere(0, 0, 0, b))]
        shell, _ = occ.cut(whole, [(3, occ.addSphere(0, 0, 0, a))])
        occ.intersect(shell, [(3, occ.addBox(0, 0, 0, b, b, b))])
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)

    solid = Solid(meshed(build), YOUNG, POISSON)
    inside = solid.faces(lambda x: np.abs(np.linalg.norm(x, axis=-1) - a) < 1e-3)

    def radial(r: float) -> float:
        hoop = p * a**3 * (2 * r**3 + b**3) / (2 * r**3 * (b**3 - a**3))
        across = p * a**3 * (r**3 - b**3) / (r**3 * (b**3 - a**3))
        return r * ((1 - POISSON) * hoop - POISSON * across) / YOUNG

    return Problem(
        f"thick sphere, size {size}",
        solid,
        solid.pressure(inside, p),
        solid.held(x=plane("x"), y=plane("y"), z=plane("z")),
        None,
        (
            moved("u of the bore", (0, 0, a), 2, radial(a)),
            moved("u outside", (b, 0, 0), 0, radial(b)),
            peak(1.5 * p * b**3 / (b**3 - a**3)),
            energy(p * np.pi * a**2 / 4 * radial(a)),
        ),
    )


def circular_plate(size: float) -> Problem:
    """Thick circular plate under uniform pressure (Timoshenko & Goodier, art. 134).

    Stresses of third degree in r and z; the moment at the rim vanishes. With q on the face z = c,
    k = 3q / 8c³ and the rim at r = a:

        σz = −q/2 − 3qz/4c + qz³/4c³,  τrz = k r (c² − z²)
        σr = Az + Bzr² + Cz³,  σθ = Az + Dzr² + Cz³
        B = k (3 + ν)/4,  D = k (1 + 3ν)/4,  C = −k (2 + ν)/3,  A = −Ba² − 3Cc²/5
        E w = E w₀ + ∫σz dz − ν (Az² + (B + D) z²r²/2 + Cz⁴/2)
              + r² (kc² − (1 − ν) A/2) − k (1 − ν²) r⁴/16
    """
    a, c, q, nu = 1.0, 0.15, 1e6, POISSON

    def build() -> None:
        occ = gmsh.model.occ
        occ.addCylinder(0, 0, -c, 0, 0, 2 * c, a, angle=np.pi / 2)
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)

    solid = Solid(meshed(build), YOUNG, nu)
    k = 3 * q / (8 * c**3)
    big_b, big_d, big_c = k * (3 + nu) / 4, k * (1 + 3 * nu) / 4, -k * (2 + nu) / 3
    big_a = -big_b * a**2 - 0.6 * big_c * c**2

    def rim(x: np.ndarray) -> np.ndarray:
        z = x[..., 2]
        out = x.copy()
        out[..., 2] = 0.0
        out /= np.linalg.norm(out, axis=-1, keepdims=True)
        traction = out * (big_a * z + big_b * z * a**2 + big_c * z**3)[..., None]
        traction[..., 2] = k * a * (c**2 - z**2)
        return traction

    outer = solid.faces(lambda x: np.abs(np.hypot(x[..., 0], x[..., 1]) - a) < 1e-3)
    forces = solid.varying_traction(outer, rim)
    forces += solid.traction(solid.faces(plane("z", c)), (0, 0, -q))
    fixed = solid.held(x=plane("x"), y=plane("y"))
    fixed[solid.node(0, 0, -c), 2] = True

    def down(r: float, z: float) -> float:
        whole = -q * z / 2 - 3 * q * z**2 / (8 * c) + q * z**4 / (16 * c**3)
        whole -= nu * (big_a * z**2 + (big_b + big_d) * z**2 * r**2 / 2 + big_c * z**4 / 2)
        whole += r**2 * (k * c**2 - (1 - nu) * big_a / 2) - k * (1 - nu**2) * r**4 / 16
        return whole / YOUNG

    low = big_a * -c + big_c * -(c**3)
    return Problem(
        f"circular plate, size {size}",
        solid,
        forces,
        fixed,
        None,
        (
            moved("rim over centre", (a, 0, -c), 2, down(a, -c) - down(0, -c)),
            peak(low),
        ),
    )
