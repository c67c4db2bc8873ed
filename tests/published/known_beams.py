"""A beam and a plate of bricks cut into tetrahedra, bent.

Each function returns a `Problem`: a body solved with the project's elements, and readings with
their exact values. Loads are the tractions of the exact solution, so that nothing but the elements
is in error.
"""

from __future__ import annotations

import numpy as np
from appraisal import Problem, energy, mises, moved, peak
from scipy.linalg import expm
from solid import Solid, block, plane

YOUNG, POISSON = 210e9, 0.3


def cantilever(layers: int) -> Problem:
    """Cantilever under an end force (Timoshenko & Goodier, art. 21), h = 0.2, l = 4h; ν = 0."""
    height, width, force = 0.2, 0.1, 1e5
    length, inertia, shear = 4 * height, width * height**3 / 12, YOUNG / 2
    mesh = block(
        np.linspace(0, length, 3 * layers + 1),
        np.linspace(0, width, 2),
        np.linspace(-height / 2, height / 2, layers + 1),
    )
    solid = Solid(mesh, YOUNG, 0.0)
    x, _, z = solid.nodes.T
    ei, gi, c = YOUNG * inertia, shear * inertia, height / 2
    turn = force * length**2 / (2 * ei) - force * c**2 / (2 * gi)
    u = -force * x**2 * z / (2 * ei) + force * z**3 / (6 * gi) + turn * z
    w = force * x**3 / (6 * ei) - force * length**2 * x / (2 * ei) + force * length**3 / (3 * ei)

    def parabola(points: np.ndarray) -> np.ndarray:
        along = force / (2 * inertia) * (c**2 - points[..., 2] ** 2)
        return np.multiply.outer(along, [0.0, 0.0, 1.0])

    root = plane("x", length)
    return Problem(
        f"cantilever, {layers} layers",
        solid,
        solid.varying_traction(solid.faces(plane("x")), parabola),
        solid.held(x=root, y=root, z=root),
        np.stack([u, np.zeros_like(x), w], axis=1),
        (
            moved("end", (0, 0, 0), 2, force * length**3 / (3 * ei)),
            mises("fibre at l/2", (length / 2, 0, c), force * length / 2 * c / inertia),
            peak(force * length * c / inertia),
        ),
    )


def thick_plate(divisions: int) -> Problem:
    """Simply supported square plate, side 1, thickness 0.2, under q sin πx sin πy on its top.

    Exact in three dimensions (N. J. Pagano, J. Compos. Mater. 4 (1970) 20): u = U(z) cos πx sin πy
    and so on leave a linear system along z for displacements and the stresses that act on z.
    Navier's series (check B1) is its thin limit.
    """
    h, q, p = 0.2, 1e6, np.pi
    lam = YOUNG * POISSON / ((1 + POISSON) * (1 - 2 * POISSON))
    mu = YOUNG / (2 * (1 + POISSON))
    m, ratio = lam + 2 * mu, lam / (lam + 2 * mu)
    plain = m - lam * ratio
    # Rows: derivatives by z of U, V, W, τxz, τyz, σz.
    a = np.zeros((6, 6))
    a[0, 2], a[0, 3] = -p, 1 / mu
    a[1, 2], a[1, 4] = -p, 1 / mu
    a[2, 0], a[2, 1], a[2, 5] = ratio * p, ratio * p, 1 / m
    a[3, 0] = a[4, 1] = (plain + mu) * p**2
    a[3, 1] = a[4, 0] = (lam - lam * ratio + mu) * p**2
    a[3, 5] = a[4, 5] = -ratio * p
    a[5, 3] = a[5, 4] = p
    across = expm(a * h)
    below = np.linalg.solve(across[3:, :3], [0.0, 0.0, -q])
    s = a @ np.r_[below, 0.0, 0.0, 0.0]
    big_u, big_v, big_w = below
    xx = -p * (m * big_u + lam * big_v) + lam * s[2]
    yy = -p * (m * big_v + lam * big_u) + lam * s[2]
    assert abs(xx - yy) < 1e-6 * abs(xx)
    side = np.linspace(0.0, 0.5, divisions + 1)
    solid = Solid(block(side, side, np.linspace(0, h, max(2, divisions // 2) + 1)), YOUNG, POISSON)

    def push(x: np.ndarray) -> np.ndarray:
        wave = np.cos(p * x[..., 0]) * np.cos(p * x[..., 1])
        return np.multiply.outer(-q * wave, [0.0, 0.0, 1.0])

    ex, ey = plane("x", 0.5), plane("y", 0.5)
    return Problem(
        f"thick plate, {divisions} a half side",
        solid,
        solid.varying_traction(solid.faces(plane("z", h)), push),
        solid.held(
            x=lambda x: plane("x")(x) | ey(x),
            y=lambda x: plane("y")(x) | ex(x),
            z=lambda x: ex(x) | ey(x),
        ),
        None,
        (
            moved("centre, below", (0, 0, 0), 2, big_w),
            moved("centre, above", (0, 0, h), 2, float((across[:3, :3] @ below)[2])),
            mises("centre, below", (0, 0, 0), abs(xx)),
            energy(-q / 16 * float((across[:3, :3] @ below)[2]) / 2),
        ),
    )
