"""Contact over part of a face, against closed forms: Hertz, Cattaneo, flat punch, receding contact.

Sources: K. L. Johnson, Contact Mechanics (1985): line contact section 4.2(c),
point contact section 4.2(a), flat punch section 2.8, tangential load on cylinders section 7.2
(formulae from
memory). Receding contact: extent independent of the load, Dundurs & Stippes, J. Appl. Mech. 37
(1970) 965 (unverified). Two blocks stand for half spaces: the round one is a flat one whose gap is
the parabola of its profile, which is Hertz's own assumption.
"""

from __future__ import annotations

import numpy as np
import pytest
from published.pressed import POISSON, YOUNG, Pile, blocks, graded, plane, without

from platestack.fea.numerics import solvers
from platestack.fea.solid import contact

MODULUS = YOUNG / (2 * (1 - POISSON**2))
"""E* of two bodies of the same steel."""

HALF = 1e-3
"""Half-width of contact that the loads are chosen for (m)."""

DEEP = 16 * HALF
"""Depth of each block, and half its length: a sixteenth of it is in contact."""

FRICTION = 0.3


def strip(fine: float, friction: float = 0.0) -> Pile:
    """A slice, plane in strain, of two blocks; elements are `fine` times of the half-width long."""
    side = graded(1.4 * HALF, HALF * fine, DEEP, 1.35)
    depth = graded(0.6 * HALF, HALF * fine, DEEP, 1.45)
    x = np.concatenate([-side[:0:-1], side])
    heights = [DEEP - depth[::-1], DEEP + depth]
    return Pile(
        blocks(x, np.array([0.0, HALF * fine]), heights), friction, penalty=2 * YOUNG / HALF
    )


def punched(x: np.ndarray, thick: float, heights: list[np.ndarray], stiffer: float) -> Pile:
    """A slice with an upper block 2 HALF wide and high, stiffer by a factor."""
    mesh = blocks(x, np.array([0.0, thick]), heights)
    farthest = np.abs(mesh.nodes[mesh.tets[:, :4]]).max(axis=1) - 1e-9
    beside = (farthest[:, 0] > HALF) | (farthest[:, 2] > DEEP + 2 * HALF)
    mesh = without(mesh, beside & (mesh.plate == 1))
    return Pile(mesh, young=YOUNG * np.array([1.0, stiffer]), penalty=2 * stiffer * YOUNG / HALF)


def slice_of(pile: Pile) -> float:
    """Thickness of the slice (m)."""
    return float(np.ptp(pile.nodes[:, 1]))


def supports(pile: Pile) -> np.ndarray:
    """Held below, and across the slice."""
    thick = slice_of(pile)
    low = plane("z")
    return pile.held(x=low, z=low, y=lambda p: plane("y")(p) | plane("y", thick)(p))


def round_gap(radius: float, axes: int):
    """Gap of a parabola along x, or along x and y."""
    return lambda p: (p[..., :axes] ** 2).sum(axis=-1) / (2 * radius)


def untilted(pile: Pile, top, push: float, height: float) -> np.ndarray:
    """A force along x on the top of the upper block; what turns it is taken out again.

    So the pressure below, at the depth `height`, stays as it is.
    """
    weight = pile.force(top, (0.0, 0.0, 1.0))
    x = np.repeat(pile.nodes[:, 0], 3)
    turning = push * height / float((weight * x) @ x) * weight * x
    return pile.force(top, (push, 0.0, 0.0)) + turning


def area(pile: Pile, chosen: np.ndarray) -> float:
    """Area (m²) of the quadrature points chosen, (k, q)."""
    return float((pile.faces.area * chosen).sum())


def spread(pile: Pile, found, axes: int) -> float:
    """Root mean square distance (m) of the pressure from the middle.

    Of Hertz' pressure it is b/2 on a line and a √(2/5) on a disc (second moments of an ellipse):
    a measure of the half-width that no single element at the rim decides.
    """
    force = pile.faces.area * found.state.pressure
    squares = (pile.places[..., :axes] ** 2).sum(axis=-1)
    return float(np.sqrt((force * squares).sum() / force.sum()))


def at(pile: Pile, found, x: float) -> float:
    """Mean pressure (Pa) at the nodes at this x."""
    near = np.abs(pile.nodes[pile.faces.lower][..., 0] - x) < 1e-9
    return float(found.nodal.pressure[near].mean())


@pytest.fixture(scope="module")
def rollers():
    """Cylinders (one of them flat) pressed so that they touch over 2 HALF: pile, load, solution."""
    pile = strip(1 / 8, friction=FRICTION)
    radius = 0.1
    force = np.pi * MODULUS * HALF**2 / (4 * radius) * slice_of(pile)
    pile = pile.with_gap(round_gap(radius, 1))
    load = pile.force(plane("z", 2 * DEEP), (0.0, 0.0, -force))
    system = pile.system(supports(pile))
    return pile, system, load, force, pile.solve(system, load)


@pytest.mark.slow
def test_hertz_line_contact(rollers):
    pile, _, _, force, found = rollers
    peak = 2 * force / (np.pi * HALF * slice_of(pile))
    assert 2 * spread(pile, found, 1) == pytest.approx(HALF, rel=0.03)
    assert at(pile, found, 0.0) == pytest.approx(peak, rel=0.03)
    for part in (0.25, 0.5, 0.75):
        expected = peak * np.sqrt(1 - part**2)
        assert at(pile, found, part * HALF) == pytest.approx(expected, rel=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("part", [0.3, 0.6])
def test_cattaneo_stick_zone(rollers, part):
    """Pressed, then pushed sideways by a part of μP: sticks over 2 c, c = b √(1 - Q/μP).

    At the settings of a run the zone is known to the half of an element on either side, since
    what creeps near its rim is taken to slide; where a tenth as much may creep, to 5 %.
    """
    pile, system, load, force, pressed = rollers
    push = part * FRICTION * force
    sideways = untilted(pile, plane("z", 2 * DEEP), push, DEEP)
    expected = HALF * np.sqrt(1 - part)
    near = np.abs(pile.nodes[pile.faces.lower][..., 0]) < 1e-9
    for left, error in (
        (contact.NEGLIGIBLE, HALF / 16),
        (contact.NEGLIGIBLE / 10, 0.05 * expected),
    ):
        found = pile.solve(system, load + sideways, before=pressed, penetration=left)
        # Without the faint pressure that quadratic functions leave beyond the rim.
        pressed_there = found.state.pressure > 0.02 * found.state.pressure.max()
        sticks = pressed_there & ~found.state.sliding_now
        assert area(pile, sticks) / slice_of(pile) / 2 == pytest.approx(expected, abs=error)
        # In the middle q = μ p0 (1 - c/b), which no single element at the rim of the zone decides.
        rubbing = np.linalg.norm(found.nodal.friction[near], axis=1).mean()
        reach = HALF * (1 - rubbing / (FRICTION * at(pile, found, 0.0)))
        assert reach == pytest.approx(expected, rel=0.05)
        friction = pile.resultant(found, pile.faces.names[0])
        assert abs(friction[0]) == pytest.approx(push, rel=1e-6)


@pytest.mark.slow
def test_flat_punch_on_a_half_plane():
    """A punch a hundred times as stiff: p = P / (π √(a² - x²)), without limit at its edge.

    So within |x| <= s it presses with P (2/π) asin(s/a). Elements shrink to 0.03 a at the edge.
    """
    inner = graded(0.06 * HALF, 0.03 * HALF, HALF, 1.5)
    outer = graded(0.06 * HALF, 0.03 * HALF, DEEP - HALF, 1.5)
    depth = graded(0.06 * HALF, 0.03 * HALF, DEEP, 1.5)
    side = np.concatenate([HALF - inner[::-1], HALF + outer[1:]])
    x = np.concatenate([-side[:0:-1], side])
    heights = [DEEP - depth[::-1], DEEP + depth]
    pile = punched(x, 0.05 * HALF, heights, 100.0)
    force = 1e9 * HALF * slice_of(pile)
    load = pile.force(plane("z", pile.nodes[:, 2].max()), (0.0, 0.0, -force))
    found = pile.solve(pile.system(supports(pile)), load)
    assert found.state.closed.all()
    pressing, off = pile.faces.area * found.state.pressure, np.abs(pile.places[..., 0])
    bounds = side[side < 0.98 * HALF]
    within = np.array([pressing[off < s].sum() for s in bounds]) / force
    expected = 2 / np.pi * np.arcsin(bounds / HALF)
    assert bounds[-1] == pytest.approx(0.97 * HALF)
    # Up to 0.97 a, all together and ring by ring, which are mean pressures of the faces.
    assert within[1:] == pytest.approx(expected[1:], rel=0.03)
    assert np.diff(within) == pytest.approx(np.diff(expected), rel=0.03)
    for part in bounds[bounds < 0.95 * HALF] / HALF:
        expected = 1e9 / (np.pi * np.sqrt(1 - part**2))
        assert at(pile, found, part * HALF) == pytest.approx(expected, rel=0.03)


@pytest.mark.slow
def test_hertz_point_contact():
    """A quarter of a sphere on a plane: a³ = 3 P R / (4 E*), p0 = 3 P / (2 π a²).

    The second moment of Hertz' ellipsoid of pressure is 2 a²/5.
    """
    deep = 10 * HALF
    side = graded(1.25 * HALF, HALF / 6, deep, 1.6)
    depth = graded(0.5 * HALF, HALF / 6, deep, 1.6)
    heights = [deep - depth[::-1], deep + depth]
    pile = Pile(blocks(side, side, heights), penalty=2 * YOUNG / HALF)
    radius = 0.1
    pile = pile.with_gap(round_gap(radius, 2))
    force = 4 * MODULUS * HALF**3 / (3 * radius)
    load = pile.force(plane("z", 2 * deep), (0.0, 0.0, -force / 4))
    fixed = pile.held(x=plane("x"), y=plane("y"), z=plane("z"))
    found = pile.solve(pile.system(fixed), load, tol=1e-7)
    peak = 3 * force / (2 * np.pi * HALF**2)
    centre = (np.abs(pile.nodes[pile.faces.lower][..., :2]) < 1e-9).all(axis=-1)
    assert found.nodal.pressure[centre].mean() == pytest.approx(peak, rel=0.03)
    assert np.sqrt(5 / 2) * spread(pile, found, 2) == pytest.approx(HALF, rel=0.03)


@pytest.mark.slow
def test_mindlin_stick_zone_of_a_sphere():
    """Half of a sphere on a plane, pushed along x: sticks within c, c³ = a³ (1 - Q/μP).

    Section 7.2(b). What friction lacks of μ p is half an ellipsoid over the stick zone, whose
    second moment is 2 c²/5, in each eighth of a turn too; in the middle q = μ p0 (1 - c/a). The
    area of the points that stick is decided by few: elements are a quarter of c, so in an eighth
    of a turn it is known to half of one on either side. (Off by 3 % in all and 6 % in an eighth,
    by -4 % and -6 % with a tenth of the creep; the moments by 1 and 2 % in either case, and as
    much without Poisson's effect, where the closed form is exact.)
    """
    deep, part = 8 * HALF, 0.5
    side = graded(1.2 * HALF, HALF / 5, deep, 1.8)
    depth = graded(0.4 * HALF, HALF / 5, deep, 1.8)
    x = np.concatenate([-side[:0:-1], side])
    heights = [deep - depth[::-1], deep + depth]
    pile = Pile(blocks(x, side, heights), FRICTION, penalty=2 * YOUNG / HALF)
    radius = 0.1
    pile = pile.with_gap(round_gap(radius, 2))
    force = 4 * MODULUS * HALF**3 / (3 * radius) / 2
    top, low = plane("z", 2 * deep), plane("z")
    load = pile.force(top, (0.0, 0.0, -force))
    system = pile.system(pile.held(x=low, y=lambda p: plane("y")(p) | low(p), z=low))
    pressed = pile.solve(system, load)
    push = part * FRICTION * force
    sideways = untilted(pile, top, push, deep)
    found = pile.solve(system, load + sideways, before=pressed)
    expected = HALF * (1 - part) ** (1 / 3)
    pressed_there = found.state.pressure > 0.02 * found.state.pressure.max()
    sticks = pressed_there & ~found.state.sliding_now
    bound, size = FRICTION * found.state.pressure, np.linalg.norm(found.state.friction, axis=2)
    lack = pile.faces.area * (bound - size)
    squares = (pile.places[..., :2] ** 2).sum(axis=-1)
    turn = np.arctan2(pile.places[..., 1], pile.places[..., 0])
    eighths = [(turn >= i * np.pi / 4) & (turn < (i + 1) * np.pi / 4) for i in range(4)]
    parts = [(np.pi, turn >= 0, 0.05 * expected)]
    parts += [(np.pi / 4, eighth, HALF / 5 / 2) for eighth in eighths]
    for angle, inside, error in parts:
        radius = np.sqrt(5 / 2 * (lack * squares)[inside].sum() / lack[inside].sum())
        assert radius == pytest.approx(expected, rel=0.03)
        radius = np.sqrt(2 * area(pile, sticks & inside) / angle)
        assert radius == pytest.approx(expected, abs=error)
    centre = (np.abs(pile.nodes[pile.faces.lower][..., :2]) < 1e-9).all(axis=-1)
    friction = np.linalg.norm(found.nodal.friction[centre], axis=1).mean()
    reach = 1 - friction / (FRICTION * found.nodal.pressure[centre].mean())
    assert HALF * reach == pytest.approx(expected, rel=0.05)


def layer(penalty: float = 1.0) -> tuple[Pile, np.ndarray, np.ndarray]:
    """A plate on a block, pressed over the middle of its top: the ends lift. Pile, supports, load.

    Half of a slice: symmetric at x = 0. The penalty is a multiple of the usual one.
    """
    x = graded(0.2, 0.0125, 0.6, 1.2)
    heights = [np.linspace(0, 0.3, 7), np.linspace(0.3, 0.4, 5)]
    usual = 2 * YOUNG / 0.1
    pile = Pile(blocks(x, np.array([0.0, 0.0125]), heights), penalty=penalty * usual)
    across = lambda p: plane("y")(p) | plane("y", 0.0125)(p)  # noqa: E731
    fixed = pile.held(x=plane("x"), y=across, z=plane("z"))
    pressed = lambda p: plane("z", 0.4)(p) & (p[..., 0] < 0.051)  # noqa: E731
    return pile, fixed, pile.force(pressed, (0.0, 0.0, -1e4))


@pytest.mark.slow
def test_receding_contact_does_not_grow_with_the_load():
    pile, fixed, load = layer()
    system = pile.system(fixed)
    one, ten = (pile.solve(system, factor * load) for factor in (1.0, 10.0))
    closed = [area(pile, found.state.closed) for found in (one, ten)]
    assert 0.1 < closed[0] / pile.faces.area.sum() < 0.5
    assert closed[1] == pytest.approx(closed[0], rel=0.01)
    assert pile.strain_energy(ten) == pytest.approx(100 * pile.strain_energy(one), rel=2e-3)


@pytest.mark.slow
def test_penalty_changes_nothing_where_plates_lift():
    """Ten times up and down: deflection within 0.1 %, penetration below 1 % of it."""
    moved = []
    for penalty in (0.1, 1.0, 10.0):
        pile, fixed, load = layer(penalty)
        found = pile.solve(pile.system(fixed), load)
        moved.append(float(load @ found.displacement) / 1e4)
        assert -found.nodal.opening.min() < 0.01 * moved[-1]
    assert moved == pytest.approx([moved[1]] * 3, rel=1e-3)


@pytest.mark.slow
def test_full_clamping_with_friction_is_welded():
    """Two leaves clamped all over, friction without limit: a cantilever as if of one piece."""
    x, y = np.linspace(0, 0.6, 13), np.linspace(0, 0.05, 2)
    heights = [np.linspace(0, 0.05, 3), np.linspace(0.05, 0.1, 3)]
    mesh = blocks(x, y, heights)
    moved = []
    for opened in (None, ()):
        pile = Pile(mesh, 1e4, opened=opened)
        fixed = pile.held(x=plane("x"), y=plane("x"), z=plane("x"))
        squeeze = pile.force(plane("z", 0.1), (0.0, 0.0, -3e6))
        squeeze += pile.force(plane("z"), (0.0, 0.0, 3e6))
        load = pile.force(plane("x", 0.6), (0.0, 0.0, -1e4))
        system = pile.system(fixed)
        if opened is None:
            rest = pile.solve(system, squeeze)
            pressed = pile.solve(system, squeeze + load, before=rest)
            assert pressed.state.closed.all()
            u = pressed.displacement - rest.displacement
        else:
            u = solvers.solve(system, pile.space, load, "direct").displacement
        moved.append(float(load @ u))
    assert moved[0] == pytest.approx(moved[1], rel=0.01)
