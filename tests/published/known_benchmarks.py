"""Standard benchmarks (NAFEMS LE1 and LE10), and a block like a crosshead.

Each function returns a `Problem`: a body solved with the project's elements, and readings with
their published or converged values.
"""

from __future__ import annotations

import functools

import gmsh
import numpy as np
import test_block_with_holes as a8
from appraisal import Problem, mises, moved, peak
from solid import Solid, meshed, plane, refine_near, round_curves
from test_nafems import INNER, OUTER, elliptic, on_ellipse

from platestack.fea.solid.stress import adapt
from platestack.fea.solid.stress.estimate import Estimate
from platestack.geometry.mesh import SizeField, StackMesh, quality
from platestack.geometry.mesher import sizes

YOUNG, POISSON = 210e9, 0.3


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


@functools.cache
def le10_refined(passes: int, line: float = 0.1) -> Problem:
    """LE10 refined towards D by the estimates, its line support kept at one size.

    Elements within 0.3 m of the line do not steer: there the stress has no limit.
    """
    if passes == 0:
        return le10(0.4, line)
    problem = le10_refined(passes - 1, line)
    solid = problem.solid
    value, stated, found = problem.solved.read(problem.readings[0])
    cells = solid.space.cells
    corners = solid.nodes[cells[:, :4]]
    off = np.hypot(corners[..., 0] / OUTER[0], corners[..., 1] / OUTER[1]) < 0.9
    parts = np.where(off.all(axis=1), found.parts, 0.0)
    goal = Estimate(found.error, parts, stated), 0.005 * value
    return le10(0.4, line, adapt.wanted_sizes(as_mesh(solid), [goal], 60_000))


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
