"""Thin plates: coefficients of Kirchhoff's theory.

S. P. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., 1959: Table 8
(simply supported square, uniform load), Table 23 (central force), Tables 35 and 37 (clamped),
chapter 3 (circular plates; closed forms). Coefficients recomputed by series; D = E t³ / 12(1 − ν²).

a / t = 100 (square) and 50 (circle), ν = 0.3. Solid elements add shear: (t/a)² times about 5.

| id | inputs | expected | tolerance | reason |
| --- | --- | --- | --- | --- |
| B1 | square, supported, q | w = 0.0040624 q a⁴/D, M = 0.047886 q a² | 0.5, 1 % | mesh; M from surface stress |
| B2 | square, supported, P | w = 0.0116008 P a²/D | 1 % | P on a patch a/100 wide |
| B3 | square, clamped, q | w = 0.00126532 q a⁴/D; M = 0.02291, −0.05131 q a² | 0.5, 1.5 % | mesh |
| B4 | square, clamped, P | w = 0.00560 P a²/D | 1 % | three figures |
| B5 | circle, q | w = (5 + ν)/64(1 + ν), 1/64; M = (3 + ν)/16, (1 + ν)/16, −1/8 | 0.5, 1.5 % | mesh |
| B6 | circle, P on a disc a/20 | Kirchhoff, with the disc's term | 0.5 % | mesh |
"""  # noqa: E501

from __future__ import annotations

from dataclasses import dataclass

import gmsh
import numpy as np
import pytest
from solid import Answer, Solid, block, meshed, plane, refine_near, round_curves

YOUNG, NU = 210e9, 0.3


def rigidity(thickness: float) -> float:
    return YOUNG * thickness**3 / (12 * (1 - NU**2))


def moment(answer: Answer, component: int, x: float, y: float, thickness: float) -> float:
    """Moment per length from the stress at both faces: σ t² / 6."""
    top, bottom = (answer.solid.node(x, y, sign * thickness / 2) for sign in (1, -1))
    stress = answer.stress[top, component] - answer.stress[bottom, component]
    return float(stress / 2 * thickness**2 / 6)


# Squares: a quarter, side 1, from the centre to the edges at 1/2.

THIN = 0.01
CELLS = 28
EVEN = np.linspace(0.0, 1.0, CELLS + 1)
SIDE = 0.5 * (EVEN - 0.7 * np.sin(2 * np.pi * EVEN) / (2 * np.pi))
"""Denser near the centre and the edges, where the stress changes fast."""


@pytest.fixture(scope="module")
def square() -> Solid:
    side = SIDE
    return Solid(block(side, side, np.array([-THIN / 2, THIN / 2])), YOUNG, NU)


def bend_square(square: Solid, patch: float, clamped: bool) -> Answer:
    """Unit force, down, spread over a square patch about the centre; edges held."""
    loaded = square.faces(
        lambda x: plane("z", THIN / 2)(x) & (x[..., :2].max(axis=-1) < patch / 2 + 1e-9)
    )
    forces = square.traction(loaded, (0.0, 0.0, -1 / patch**2))
    assert forces[:, 2].sum() == pytest.approx(-0.25)
    x_edge, y_edge = plane("x", 0.5), plane("y", 0.5)

    def edges(x: np.ndarray) -> np.ndarray:
        return x_edge(x) | y_edge(x)

    # Supported: an edge keeps its line, it does not slide along itself, and may turn.
    fixed = square.held(
        x=lambda x: plane("x")(x) | (edges(x) if clamped else y_edge(x)),
        y=lambda x: plane("y")(x) | (edges(x) if clamped else x_edge(x)),
        z=edges,
    )
    return square.solve(forces, fixed, method="direct")


def sag(answer: Answer) -> float:
    return float(-answer.displacement[answer.solid.node(0.0, 0.0, -THIN / 2), 2])


def test_b1_supported_square_under_uniform_load(square):
    answer = bend_square(square, 1.0, clamped=False)
    assert sag(answer) * rigidity(THIN) == pytest.approx(0.0040624, rel=5e-3)
    assert -moment(answer, 0, 0.0, 0.0, THIN) == pytest.approx(0.047886, rel=0.01)


def test_b3_clamped_square_under_uniform_load(square):
    answer = bend_square(square, 1.0, clamped=True)
    assert sag(answer) * rigidity(THIN) == pytest.approx(0.00126532, rel=5e-3)
    assert -moment(answer, 0, 0.0, 0.0, THIN) == pytest.approx(0.02291, rel=0.015)
    assert -moment(answer, 0, 0.5, 0.0, THIN) == pytest.approx(-0.05131, rel=0.015)


@pytest.mark.parametrize(("clamped", "coefficient"), [(False, 0.0116008), (True, 0.00560)])
def test_b2_b4_square_under_a_central_force(square, clamped, coefficient):
    answer = bend_square(square, 2 * SIDE[1], clamped)
    assert sag(answer) * rigidity(THIN) == pytest.approx(coefficient, rel=0.01)


# Circles: a quarter, radius 1.


@dataclass(frozen=True)
class Circle:
    solid: Solid
    thickness: float = 0.02
    patch: float = 0.05


@pytest.fixture(scope="module")
def circle() -> Circle:
    made = Circle.__dataclass_fields__
    thickness, patch = made["thickness"].default, made["patch"].default

    def build() -> None:
        occ = gmsh.model.occ
        quarter = [(2, occ.addDisk(0, 0, -thickness / 2, radius, radius)) for radius in (1, patch)]
        square = [(2, occ.addRectangle(0, 0, -thickness / 2, 2, 2))]
        discs, _ = occ.intersect(quarter, square)
        faces, _ = occ.fragment(discs[:1], discs[1:])
        occ.extrude(faces, 0, 0, thickness, numElements=[1])
        occ.synchronize()
        refine_near(round_curves(), patch / 4, 0.06, growth=0.12)

    return Circle(Solid(meshed(build), YOUNG, NU))


def bend_circle(circle: Circle, radius: float, clamped: bool) -> Answer:
    """Unit force, down, spread over a disc about the centre."""
    solid, thickness = circle.solid, circle.thickness
    loaded = solid.faces(
        lambda x: (
            plane("z", thickness / 2)(x) & (np.hypot(x[..., 0], x[..., 1]) < radius * (1 + 1e-6))
        )
    )
    forces = solid.traction(loaded, (0.0, 0.0, -1 / (np.pi * radius**2)))
    assert forces[:, 2].sum() == pytest.approx(-0.25, rel=1e-4)

    def edge(x: np.ndarray) -> np.ndarray:
        return np.abs(np.hypot(x[..., 0], x[..., 1]) - 1) < 1e-4

    fixed = solid.held(
        x=lambda x: plane("x")(x) | (edge(x) & clamped),
        y=lambda x: plane("y")(x) | (edge(x) & clamped),
        z=edge,
    )
    return solid.solve(forces, fixed, method="direct")


def circle_sag(answer: Answer, circle: Circle) -> float:
    node = answer.solid.node(0.0, 0.0, -circle.thickness / 2)
    return float(-answer.displacement[node, 2] * rigidity(circle.thickness))


@pytest.mark.parametrize(
    ("clamped", "deflection", "centre"),
    [(False, (5 + NU) / (64 * (1 + NU)), (3 + NU) / 16), (True, 1 / 64, (1 + NU) / 16)],
)
def test_b5_circle_under_uniform_load(circle, clamped, deflection, centre):
    """The force is 1, so that q = 1/π."""
    answer = bend_circle(circle, 1.0, clamped)
    assert circle_sag(answer, circle) * np.pi == pytest.approx(deflection, rel=5e-3)
    found = -moment(answer, 0, 0.0, 0.0, circle.thickness) * np.pi
    assert found == pytest.approx(centre, rel=0.015)
    if clamped:
        # From the reactions: at the edge the stress of a solid has no limit.
        x, y, z = answer.solid.nodes.T
        rim = np.hypot(x, y) > 0.999
        # The quarter's rim, π/2 long; the symmetry planes hold none of the radial moment.
        radial = x * answer.reaction[:, 0] + y * answer.reaction[:, 1]
        edge = np.sum((radial * z)[rim]) / (np.pi / 2) * np.pi
        assert edge == pytest.approx(1 / 8, rel=5e-3)


@pytest.mark.parametrize("clamped", [False, True])
def test_b6_b8_circle_under_a_central_force(circle, clamped):
    """Art. 16 for a disc of radius c; as c → 0 the quoted 0.0505011 and 0.0198944 P a²/D."""
    c = circle.patch
    if clamped:
        bracket, point = 1 + c**2 * np.log(c) - 0.75 * c**2, 0.0198944
    else:
        bracket = (3 + NU) / (1 + NU) + c**2 * np.log(c) - (7 + 3 * NU) / (4 * (1 + NU)) * c**2
        point = 0.0505011
    expected = bracket / (16 * np.pi)
    assert expected == pytest.approx(point, rel=0.01)
    answer = bend_circle(circle, c, clamped)
    # What shear adds below a concentrated force: P / (4πκGt) (ln(a/c) + 1/2), κ = 5/6.
    shear = (np.log(1 / c) + 0.5) / (4 * np.pi * 5 / 6 * circle.thickness)
    shear *= 2 * (1 + NU) / YOUNG * rigidity(circle.thickness)
    assert shear < 0.01 * expected
    assert circle_sag(answer, circle) == pytest.approx(expected + shear, rel=5e-3)
