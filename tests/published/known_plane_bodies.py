"""Plates with holes and a curved bar: plane stress, exact in three dimensions where ν = 0.

Each function returns a `Problem`: a body solved with the project's elements, and readings with
their exact values. Loads are the tractions of the exact solution, so that nothing but the elements
is in error.
"""

from __future__ import annotations

from collections.abc import Callable

import gmsh
import numpy as np
from appraisal import Problem, Reading, energy, mises, moved, peak
from skfem import MeshTet
from solid import Solid, meshed, plane, refine_near, round_curves

YOUNG = 210e9


def tractions(solid: Solid, faces: np.ndarray, normal: np.ndarray, stress: Callable) -> np.ndarray:
    """Nodal forces (n, 3) of a stress field (..., 3, 3) on faces with a normal (3,)."""
    return solid.varying_traction(faces, lambda x: stress(x) @ normal)


def tensor(xx, yy, zz, xy, yz, xz) -> np.ndarray:
    xx, yy, zz, xy, yz, xz = np.broadcast_arrays(xx, yy, zz, xy, yz, xz)
    rows = ((xx, xy, xz), (xy, yy, yz), (xz, yz, zz))
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


def plate_with_hole(
    radius: float, length: float, width: float, fine: float, coarse: float
) -> MeshTet:
    """A quarter, thin, the hole at the origin."""

    def build() -> None:
        occ = gmsh.model.occ
        sheet = [(2, occ.addRectangle(0, 0, 0, length, width))]
        hole = [(2, occ.addDisk(0, 0, 0, radius, radius))]
        face, _ = occ.cut(sheet, hole)
        occ.extrude(face, 0, 0, radius / 3)
        occ.synchronize()
        refine_near(round_curves(), fine, coarse)

    return meshed(build)


def kirsch(divisions: int) -> Problem:
    """Round hole in an infinite plate in tension: G. Kirsch 1898 (Timoshenko & Goodier, art. 35).

    A square of ten radii with the tractions of the infinite plate; ν = 0. Displacement after
    N. I. Muskhelishvili (κ = 3 − 4ν/(1 + ν) in plane stress), not verified against the standard.
    """
    pull, a, side, young = 1e6, 1.0, 10.0, 1e9
    mesh = plate_with_hole(a, side, side, np.pi / 2 * a / divisions, 1.5 * 8 / divisions)
    solid = Solid(mesh, young, 0.0)

    def stress(x: np.ndarray) -> np.ndarray:
        r, t = np.hypot(x[..., 0], x[..., 1]), np.arctan2(x[..., 1], x[..., 0])
        q = (a / r) ** 2
        xx = 1 - q * (1.5 * np.cos(2 * t) + np.cos(4 * t)) + 1.5 * q**2 * np.cos(4 * t)
        yy = -q * (0.5 * np.cos(2 * t) - np.cos(4 * t)) - 1.5 * q**2 * np.cos(4 * t)
        xy = -q * (0.5 * np.sin(2 * t) + np.sin(4 * t)) + 1.5 * q**2 * np.sin(4 * t)
        return pull * tensor(xx, yy, 0.0, xy, 0.0, 0.0)

    forces = sum(
        tractions(solid, solid.faces(plane("xy"[i], side)), np.eye(3)[i], stress) for i in (0, 1)
    )
    kappa, shear = 3.0, young / 2

    def along_x(r: float) -> float:
        return (
            pull
            * a
            / (8 * shear)
            * (r / a * (kappa + 1) + 2 * a / r * (kappa + 2) - 2 * (a / r) ** 3)
        )

    return Problem(
        f"Kirsch, {divisions} a quarter",
        solid,
        forces,
        solid.held(x=plane("x"), y=plane("y"), z=plane("z")),
        None,
        (
            moved("u at the rim", (a, 0, 0), 0, along_x(a)),
            moved("u at ten radii", (side, 0, 0), 0, along_x(side)),
            peak(3 * pull),
            mises("compressed pole", (a, 0, 0), pull),
        ),
    )


def strip(ratio: float, net: float, divisions: int) -> Problem:
    """Strip with a hole, d/W = `ratio`, W = 1, length 6; converged `net` Kt (check C2), ν = 0."""
    mesh = plate_with_hole(ratio / 2, 3.0, 0.5, np.pi / 4 * ratio / divisions, 1.6 / divisions)
    solid = Solid(mesh, YOUNG, 0.0)
    gross = net / (1 - ratio) * 1e6
    return Problem(
        f"strip, d/W = {ratio}, {divisions} a quarter",
        solid,
        solid.traction(solid.faces(plane("x", 3.0)), (1e6, 0.0, 0.0)),
        solid.held(x=plane("x"), y=plane("y"), z=plane("z")),
        None,
        (peak(gross, 3e-5 * gross),),
    )


def curved_bar(size: float) -> Problem:
    """Bar bent along a quarter circle by moments (H. Golovin 1881; Timoshenko & Goodier, art. 29).

    ν = 0. What is read at the end is its turning, as the difference of two displacements.
    """
    a, b, thickness, couple = 1.0, 2.0, 0.4, 1e6

    def build() -> None:
        occ = gmsh.model.occ
        ring = [(3, occ.addCylinder(0, 0, 0, 0, 0, thickness, b, angle=np.pi / 2))]
        occ.cut(ring, [(3, occ.addCylinder(0, 0, 0, 0, 0, thickness, a, angle=np.pi / 2))])
        occ.synchronize()
        gmsh.option.setNumber("Mesh.MeshSizeMax", size)

    solid = Solid(meshed(build), YOUNG, 0.0)
    log = np.log(b / a)
    n = (b**2 - a**2) ** 2 - 4 * a**2 * b**2 * log**2

    def hoop(r: np.ndarray) -> np.ndarray:
        inner = -((a * b / r) ** 2) * log + b**2 * np.log(r / b) + a**2 * np.log(a / r)
        return -4 * couple / n * (inner + b**2 - a**2)

    def stress(x: np.ndarray) -> np.ndarray:
        return tensor(hoop(np.hypot(x[..., 0], x[..., 1])), 0.0, 0.0, 0.0, 0.0, 0.0)

    end = plane("x")
    fixed = solid.held(y=plane("y"), z=plane("z"))
    fixed[solid.node(a, 0, 0), 0] = True
    turn = 2 * np.pi * (-2 * couple / n * (b**2 - a**2)) * (b - a) / YOUNG
    # Along the circle at the end θ = π/2 is along −x.
    return Problem(
        f"curved bar, size {size}",
        solid,
        tractions(solid, solid.faces(end), np.array([-1.0, 0.0, 0.0]), stress),
        fixed,
        None,
        (
            Reading(
                "deflection",
                "turning of the end",
                (((0, b, 0), 0, -1.0), ((0, a, 0), 0, 1.0)),
                turn,
            ),
            peak(abs(float(hoop(np.array(a))))),
            energy(couple * thickness * -turn / (b - a) / 2),
            mises("outer fibre, y = 0", (b, 0, 0), abs(float(hoop(np.array(b))))),
        ),
    )
