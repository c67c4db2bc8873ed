"""Accuracy against published values: thick plate, thick cylinder, bent plate, rolling contact."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from skfem import MeshTet2

from platestack.fea.app.selftest.bodies import FACES, Solid, grid, plane, two_blocks
from platestack.fea.app.trials import PublishedComparison
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid import contact, readings
from platestack.geometry.split import split

NAFEMS = "NAFEMS, The Standard NAFEMS Benchmarks, rev. 3 (1990), LE10; secondary copy"
LAME = "G. Lamé 1852, closed form"
PLATES = "Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells (1959), table 8"
HERTZ = "K. L. Johnson, Contact Mechanics (1985), 4.2(c); closed form, not verified"


def compared() -> Iterator[PublishedComparison]:
    """All comparisons, in turn; some ten seconds. One that cannot be made counts as not passed."""
    for body in (_thick_cylinder, _thick_plate, _bent_plate, _rollers):
        try:
            yield from body()
        except Exception as error:  # whatever is the matter, the others are still made
            words = f"{type(error).__name__}: {error}".splitlines()[0]
            yield PublishedComparison(
                (body.__doc__ or "").strip(), math.nan, math.nan, "", 0.0, words
            )


def _thick_cylinder() -> Iterator[PublishedComparison]:
    """A quarter of a cylinder with closed ends under internal pressure."""
    inner, outer, height, pressure = 0.160, 0.210, 0.040, 25e6

    def bent(points: np.ndarray) -> np.ndarray:
        r, turn, z = points.T
        return np.column_stack([r * np.cos(turn), r * np.sin(turn), z])

    solid = Solid(
        grid(
            np.linspace(inner, outer, 4),
            np.linspace(0, math.pi / 2, 13),
            np.linspace(0, height, 3),
            bent,
        )
    )
    radius = np.hypot(solid.nodes[:, 0], solid.nodes[:, 1])
    # Nodes of an arc's elements stand for their share of it; the pressure acts along the radius.
    bore = solid.weights(lambda points: np.abs(np.hypot(*points[:, :2].T) - inner) < 1e-9)
    forces = pressure * bore[:, None] * solid.nodes * [1, 1, 0] / radius[:, None]
    axial = pressure * inner**2 / (outer**2 - inner**2)
    forces[:, 2] += axial * solid.weights(plane(2, height))
    moved = solid.solve(forces, solid.held(plane(0), plane(1), plane(2)))
    hoop = axial * (1 + outer**2 / inner**2)
    radial = inner * (hoop - solid.poisson * (axial - pressure)) / solid.young
    at = solid.node(inner, 0.0, 0.0)
    yield PublishedComparison(
        "thick cylinder, bore displacement", moved[at, 0], radial, "m", 0.002, LAME
    )
    yield PublishedComparison(
        "thick cylinder, hoop stress at the bore",
        solid.stress(moved)[at, 1],
        hoop,
        "Pa",
        0.01,
        LAME,
    )


def _thick_plate() -> Iterator[PublishedComparison]:
    """A quarter of a thick plate between two ellipses, pressed on its top."""
    inner, outer = np.array([2.0, 1.0]), np.array([3.25, 2.75])

    def bent(points: np.ndarray) -> np.ndarray:
        part, turn, z = points.T
        axes = inner + part[:, None] * (outer - inner)
        return np.column_stack([axes * np.column_stack([np.cos(turn), np.sin(turn)]), z])

    part = np.linspace(0, 1, 11) ** 1.3
    turn = math.pi / 2 * np.linspace(0, 1, 17) ** 1.2
    solid = Solid(grid(part, turn, np.linspace(0, 0.6, 7), bent))

    def rim(points: np.ndarray) -> np.ndarray:
        return np.abs(((points[:, :2] / outer) ** 2).sum(axis=1) - 1) < 1e-9

    fixed = solid.held(
        lambda p: plane(0)(p) | rim(p),
        lambda p: plane(1)(p) | rim(p),
        lambda p: plane(2, 0.3)(p) & rim(p),
    )
    forces = np.multiply.outer(solid.weights(plane(2, 0.6)), [0.0, 0.0, -1e6])
    at = solid.node(2.0, 0.0, 0.6)
    stress = solid.stress(solid.solve(forces, fixed))[at, 1]
    yield PublishedComparison(
        "thick elliptic plate, stress at D", stress, -5.38e6, "Pa", 0.02, NAFEMS
    )


def _bent_plate() -> Iterator[PublishedComparison]:
    """A quarter of a simply supported square plate, a fiftieth thick, under uniform pressure."""
    side, thickness, pressure = 1.0, 0.02, 1e4
    along = np.linspace(0, side / 2, 13)
    solid = Solid(grid(along, along, np.linspace(0, thickness, 3)))
    far_x, far_y = plane(0, side / 2), plane(1, side / 2)
    fixed = solid.held(
        lambda p: plane(0)(p) | far_y(p),
        lambda p: plane(1)(p) | far_x(p),
        lambda p: far_x(p) | far_y(p),
    )
    forces = np.multiply.outer(solid.weights(plane(2, thickness)), [0.0, 0.0, -pressure])
    moved = solid.solve(forces, fixed, "direct")
    stiffness = solid.young * thickness**3 / (12 * (1 - solid.poisson**2))
    expected = -0.00406 * pressure * side**4 / stiffness
    middle = moved[solid.node(0.0, 0.0, thickness / 2), 2]
    yield PublishedComparison("square plate, deflection", middle, expected, "m", 0.01, PLATES)


def _rollers() -> Iterator[PublishedComparison]:
    """Half of a cylinder on a block of the same steel, pressed to a known half-width of contact."""
    half, deep, radius = 1e-3, 16e-3, 0.1
    step = half / 8
    side = _graded(1.4 * half, step, deep)
    depth = _graded(0.6 * half, step, deep)
    mesh, pairs = split(
        two_blocks(
            side, np.array([0.0, step]), np.concatenate([deep - depth[:0:-1], deep + depth]), deep
        ),
        ["lower | upper"],
    )
    nodes = mesh.nodes
    space = QuadraticSpace(MeshTet2(nodes.T, mesh.tets.T))
    young, poisson = Solid.young, Solid.poisson
    faces = contact.Interfaces.of(nodes, pairs, 0.0, 0.0, 2 * young / half)
    faces = replace(faces, gap=nodes[faces.lower][..., 0] ** 2 / (2 * radius))
    modulus = young / (2 * (1 - poisson**2))
    force = math.pi * modulus * half**2 / (4 * radius) * step / 2
    skin = mesh.tets[:, FACES].reshape(-1, 6)
    top = readings.face_weights(
        nodes, skin[(np.abs(nodes[skin, 2] - 2 * deep) < 1e-12).all(axis=1)]
    )
    load = np.multiply.outer(top / top.sum(), [0.0, 0.0, -force]).ravel()
    x, y, z = nodes.T
    fixed = np.column_stack([np.abs(x) < 1e-12, np.full(len(nodes), True), np.abs(z) < 1e-12])
    fixed[:, 1] = (np.abs(y) < 1e-12) | (np.abs(y - step) < 1e-12)
    system = System(space.stiffness(young, poisson), fixed)
    found = contact.solve(system, space, faces, load)
    pressed = faces.area * found.state.pressure
    places = np.einsum("qa,ka->kq", readings.TRIANGLE_VALUES, nodes[faces.lower][..., 0])
    width = 2 * math.sqrt((pressed * places**2).sum() / pressed.sum())
    middle = np.abs(nodes[faces.lower][..., 0]) < 1e-12
    peak = 2 * 2 * force / (math.pi * half * step)
    yield PublishedComparison(
        "roller on a block, half-width of contact", width, half, "m", 0.03, HERTZ
    )
    yield PublishedComparison(
        "roller on a block, largest pressure",
        float(found.nodal.pressure[middle].mean()),
        peak,
        "Pa",
        0.03,
        HERTZ,
    )


def _graded(fine_to: float, fine: float, end: float) -> np.ndarray:
    """Grid from 0 to `end`: steps `fine` up to `fine_to`, growing from there."""
    points = list(np.linspace(0, fine_to, round(fine_to / fine) + 1))
    while points[-1] < end:
        points.append(points[-1] + 1.4 * (points[-1] - points[-2]))
    return np.array([*points[:-2], end])
