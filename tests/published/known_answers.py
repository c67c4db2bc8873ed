"""Elastic bodies whose displacements and stresses are known, on meshes as coarse as one asks for.

Each function returns a `Problem`: a body solved with the project's elements, and readings with
their exact values. Loads are the tractions of the exact solution, so that nothing but the elements
is in error. Where ν = 0, plane stress is exact in three dimensions.
"""

from __future__ import annotations

from collections.abc import Callable

import gmsh
import numpy as np
import test_block_with_holes as a8
from appraisal import Problem, Reading, Solved, energy, mises, moved, peak
from scipy.linalg import expm
from skfem import MeshTet
from solid import Solid, block, meshed, plane, refine_near, round_curves
from test_nafems import INNER, OUTER, elliptic, on_ellipse

from fea import adapt
from fea.estimate import Estimate
from geometry.mesh import SizeField, StackMesh, quality
from geometry.mesher import sizes

YOUNG, POISSON = 210e9, 0.3


def tractions(solid: Solid, faces: np.ndarray, normal: np.ndarray, stress: Callable) -> np.ndarray:
    """Nodal forces (n, 3) of a stress field (..., 3, 3) on faces with a normal (3,)."""
    return solid.varying_traction(faces, lambda x: stress(x) @ normal)


def tensor(xx, yy, zz, xy, yz, xz) -> np.ndarray:
    xx, yy, zz, xy, yz, xz = np.broadcast_arrays(xx, yy, zz, xy, yz, xz)
    rows = ((xx, xy, xz), (xy, yy, yz), (xz, yz, zz))
    return np.stack([np.stack(row, axis=-1) for row in rows], axis=-2)


# Plates with holes.


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
    N. I. Muskhelishvili (κ = 3 − 4ν/(1 + ν) in plane stress), from memory.
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


# Round bodies.


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


# Beams and plates of bricks cut into tetrahedra.


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


# Standard benchmarks, and a block like a crosshead.


def le1(around: int) -> Problem:
    """NAFEMS LE1, the elliptic membrane; converged σyy at D from sixth-order elements (A2).

    With ν = 0 it is in plane stress exactly; the stress does not depend on ν (Michell 1899).
    """
    solid = Solid(meshed(elliptic([0.05], [1], around)), YOUNG, 0.0)
    return Problem(
        f"LE1, {around} a quarter",
        solid,
        -solid.pressure(solid.faces(on_ellipse(*OUTER)), 10e6),
        solid.held(x=plane("x"), y=plane("y"), z=plane("z")),
        None,
        (peak(92.66e6, 0.01e6),),
    )


D_STRESS = -5.38e6
"""Published σyy at D of LE10, rounded."""


def le10(size: float, line: float, wanted: SizeField | None = None) -> Problem:
    """NAFEMS LE10, the thick plate: elements of a `size`, or as wanted; `line` on its support.

    At D the only stresses are σyy and the pressure of 1 MPa, for D lies on a free surface and in a
    plane of symmetry.
    """

    def build() -> None:
        occ = gmsh.model.occ
        rings = [(2, occ.addDisk(0, 0, 0, *axes)) for axes in (OUTER, INNER)]
        face, _ = occ.cut(rings[:1], rings[1:])
        face, _ = occ.intersect(face, [(2, occ.addRectangle(0, 0, 0, 4, 4))])
        for _ in range(2):
            face = [occ.extrude(face, 0, 0, 0.3)[0]]
        occ.synchronize()
        edge = [
            tag
            for tag in round_curves()
            if np.allclose(gmsh.model.occ.getCenterOfMass(1, tag)[2], 0.3)
            and gmsh.model.getBoundingBox(1, tag)[3] > 3
        ]
        refine_near(edge, line, size, 0.4)
        if wanted is not None:
            field = gmsh.model.mesh.field
            both = field.add("Min")
            field.setNumbers(both, "FieldsList", [2, sizes._view_field(wanted)])
            field.setAsBackgroundMesh(both)
        gmsh.option.setNumber("Mesh.Algorithm3D", 10)

    solid = Solid(meshed(build), YOUNG, POISSON)
    outer = on_outer
    yy, zz = D_STRESS, -1e6
    return Problem(
        f"LE10, {len(solid.space.cells)} elements",
        solid,
        solid.traction(solid.faces(plane("z", 0.6)), (0.0, 0.0, zz)),
        solid.held(
            x=lambda x: plane("x")(x) | outer(x),
            y=lambda x: plane("y")(x) | outer(x),
            z=lambda x: outer(x) & plane("z", 0.3)(x),
        ),
        None,
        (mises("at D", (2.0, 0.0, 0.6), float(np.sqrt(yy**2 - yy * zz + zz**2)), 0.005e6),),
    )


def on_outer(x: np.ndarray) -> np.ndarray:
    return np.abs((x[..., 0] / OUTER[0]) ** 2 + (x[..., 1] / OUTER[1]) ** 2 - 1) < 1e-6


def le10_refined(passes: int, line: float = 0.1) -> Problem:
    """LE10 refined towards D by the estimates, its line support kept at one size.

    Elements within 0.3 m of the line do not steer: there the stress has no limit.
    """
    problem = le10(0.4, line)
    for _ in range(passes):
        solid = problem.solid
        value, stated, found = Solved(problem).read(problem.readings[0])
        cells = solid.space.cells
        corners = solid.nodes[cells[:, :4]]
        off = np.hypot(corners[..., 0] / OUTER[0], corners[..., 1] / OUTER[1]) < 0.9
        parts = np.where(off.all(axis=1), found.parts, 0.0)
        wanted = adapt.wanted_sizes(
            as_mesh(solid), [(Estimate(found.error, parts, stated), 0.005 * value)], 60_000
        )
        problem = le10(0.4, line, wanted)
    return problem


def as_mesh(solid: Solid) -> StackMesh:
    """Dress a solid's mesh as one of a stack with one plate."""
    cells = solid.space.cells
    plate = np.zeros(len(cells), dtype=int)
    shape = quality(solid.nodes, cells)
    return StackMesh(solid.nodes, cells, plate, ("body",), {}, frozenset(), shape, 0.0)


def holed_block(fine: float) -> Problem:
    """Block with four holes under an annular load, on rigid annuli (check A8); N and mm.

    Their outer edges are singular: the deflection converges to first order. The reference is an
    extrapolation from two meshes of another library, trusted to a fifth of a percent.
    """

    def build() -> None:
        a8.build()
        refine_near(round_curves(), fine, 80.0, 0.6)

    solid = Solid(meshed(build), a8.YOUNG, POISSON)
    top, bottom = plane("z", a8.SIZE[2]), plane("z")
    loaded = solid.faces(lambda x: bottom(x) & a8.annulus(x, (0.0, 0.0), *a8.RAM))
    pressure = a8.FORCE / (np.pi / 4 * (a8.RAM[1] ** 2 - a8.RAM[0] ** 2))
    xx, yy = 39.3, 22.56
    return Problem(
        f"holed block, rims {fine:.0f}",
        solid,
        solid.traction(loaded, (0.0, 0.0, pressure)),
        solid.held(
            x=plane("x"),
            y=plane("y"),
            z=lambda x: top(x) & a8.annulus(x, a8.ROD, a8.HOLE, a8.NUT),
        ),
        None,
        (
            moved("centre, loaded face", (0, 0, 0), 2, 0.1033, 2e-4),
            moved("centre, far face", (0, 0, 200), 2, 0.1027, 2e-4),
            mises("centre, far face", (0, 0, 200), float(np.sqrt(xx**2 - xx * yy + yy**2)), 0.05),
        ),
    )
