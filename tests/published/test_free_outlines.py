"""Plates of free outline: an elliptical hole in a solid, tapered plates as beams.

C. E. Inglis, Trans. Inst. Naval Architects 55 (1913) 219 (not verified against the paper; in every
textbook): a hole of half-axes a across and b along the pull has the stress 1 + 2a/b at its ends, in
a plate without end. Tapered beams: the integrals of Timoshenko's beam, re-derived.
"""

from __future__ import annotations

import math
from dataclasses import replace

import gmsh
import numpy as np
import pytest
from solid import Solid, meshed, plane, refine_near, round_curves

from platestack.fea.hand.beam import beam
from platestack.geometry.contour import Corner, closed, mirrored
from platestack.geometry.mesher.solids import plate_solid
from platestack.geometry.shapes import ContourHole, Outline
from tests.fea.sample_stacks import POINT, crosshead, disc, flat, rod

E, G, KAPPA = 210e9, 210e9 / 2.6, 5 / 6


def ellipse(a: float, b: float) -> list[Corner]:
    """A quarter from (a, 0) to (0, b) as a cubic of Bézier's, 3e-4 of its axes from an ellipse."""
    k = 0.5522847498
    return [Corner((a, 0.0)), Corner((0.0, b), control=((a, k * b), (k * a, b)))]


@pytest.mark.parametrize("ratio", [2.0, 3.0])
def test_elliptical_hole(ratio):
    """Half-axis a = 1 across the pull in a plate 32 wide: a thirty-second of its width.

    The plate's width adds less than 1 %: for a circle of this width it adds 0.5 % (Howland).
    """
    hole = ContourHole(closed(mirrored(ellipse(1.0, 1 / ratio), "both")))
    outline = Outline.of(closed(mirrored([Corner((16.0, 24.0))], "both")))
    plate = replace(flat([(1.0, 1.0, 0.1)])[0], outline=outline, holes=(hole,), base=-0.05)
    fine = 1 / ratio**2 / 8

    def build() -> None:
        occ = gmsh.model.occ
        bodies = plate_solid(plate)
        box = occ.addBox(0.0, 0.0, 0.0, 99.0, 99.0, 1.0)
        occ.intersect(bodies, [(3, box)])
        occ.synchronize()
        refine_near(round_curves(), fine, 3.0)

    solid = Solid(meshed(build), E, 0.0)
    pull = solid.traction(solid.faces(plane("y", 24.0)), (0.0, 1.0, 0.0))
    held = solid.held(x=plane("x"), y=plane("y"), z=plane("z"))
    stress = solid.solve(pull, held).stress[solid.node(1.0, 0.0, 0.0), 1]
    assert stress == pytest.approx(1 + 2 * ratio, rel=0.02)


@pytest.mark.parametrize("upright", [False, True])
def test_tapered_beam(upright):
    """Twice as wide (or as high) in the middle as over the supports, 1 m apart, straight edges.

    With s from support to middle and L = l/2: bending F L³ / 2EI ∫ s² / (1 + s)ⁿ ds, n = 1 in
    width and 3 in height; shear F L / 2κGA ∫ ds / (1 + s); I and A over the supports.
    """
    half, t, b, force = 0.5, 0.08, 0.12, 1e5
    ends = (rod((-half, 0.0)), rod((half, 0.0)))
    outline = closed(mirrored([Corner((half + POINT, 0.0)), Corner((half + POINT, b / 2)),
                               Corner((0.0, b))], "both"))  # fmt: skip
    plate = replace(flat([(1.0, b, t)])[0], outline=Outline.of(outline))
    if upright:
        plate = replace(plate, normal="y", base=-t / 2)
    result = beam(crosshead((plate,), disc(POINT)), ends, force, welded=True)
    if upright:
        area, inertia, power = t * b, t * b**3 / 12, math.log(2) - 5 / 8
    else:
        area, inertia, power = t * b, b * t**3 / 12, math.log(2) - 1 / 2
    expected = force * half**3 / (2 * E * inertia) * power
    expected += force * half / (2 * KAPPA * G * area) * math.log(2)
    assert result.mid_span_deflection == pytest.approx(expected, rel=1e-3)


def test_least_mass_of_a_tapered_plate():
    """Equal stress: width as the moment, F/2 x, bends by F l³ / 32EI₀ where it is b in the middle.

    That is 3/2 of what a plate as wide all along bends, for half its mass.
    """
    half, t, b, force = 0.5, 0.02, 0.12, 1e3
    ends = (rod((-half, 0.0)), rod((half, 0.0)))
    rim = 1e-3  # wide over the supports: 1/120 of the middle, whose share is counted
    outline = closed(mirrored([Corner((half + POINT, rim / 2)), Corner((0.0, b / 2))], "both"))
    plain = flat([(1.0, b, t)])[0]
    plate = replace(plain, outline=Outline.of(outline))
    thin = replace(plate.material, poisson=0.3)
    result = beam(
        crosshead((replace(plate, material=thin),), disc(POINT)), ends, force, welded=True
    )
    x = np.linspace(0.0, 1.0, 200_001)
    width = rim + (b - rim) * x
    bent = force * half**3 / (2 * E * t**3 / 12) * np.trapezoid(x**2 / width, x)
    sheared = force * half / (2 * KAPPA * G * t) * np.trapezoid(1 / width, x)
    assert result.mid_span_deflection == pytest.approx(bent + sheared, rel=3e-3)
    assert bent == pytest.approx(force * (2 * half) ** 3 / (32 * E * b * t**3 / 12), rel=0.02)
