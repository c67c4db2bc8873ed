"""Contact against closed forms: the patch test, and Coulomb's limit.

Sources: the patch test for contact, Crisfield, Int. J. Numer. Meth. Engng 48 (2000) 435 (from
memory); Coulomb's law. Expected values are formulas of statics.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from published.pressed import YOUNG, Pile, blocks, plane, shaken
from scipy.sparse import csr_matrix

from platestack.fea.numerics import solvers
from platestack.fea.numerics.system import Ties
from platestack.fea.solid import contact


def tilted_pile(tilt: float, friction: float = 0.0) -> Pile:
    """Three blocks with irregular meshes inside, their interfaces tilted by the slope `tilt`."""
    x, y = np.linspace(0, 1.0, 4), np.linspace(0, 0.8, 4)
    heights = [np.linspace(0, 0.3, 3), np.linspace(0.3, 0.5, 3), np.linspace(0.5, 1.0, 3)]
    levels = np.array([0.0, 0.3, 0.5, 1.0])

    def moved(points: np.ndarray) -> np.ndarray:
        sides = (points <= 0) | (points >= [1.0, 0.8, 1.0])
        sides[:, 2] |= (np.abs(points[:, 2, None] - levels) < 1e-9).any(axis=1)
        points = shaken(points, 0.04, sides)
        # Tilts what lies inside; top and bottom stay level.
        blend = 1 - np.abs(np.interp(points[:, 2], levels, [-1, 0, 0, 1]))
        points[:, 2] += tilt * (points[:, 0] - 0.5) * blend
        return points

    return Pile(blocks(x, y, heights, moved), friction)


@pytest.mark.parametrize(("tilt", "friction"), [(0.0, 0.0), (0.0, 0.3), (0.15, 0.3)])
def test_uniform_pressure_passes_interfaces(tilt, friction):
    """Without friction flat only; a tilted interface holds below the angle of friction.

    At the settings of a run.
    """
    pile = tilted_pile(tilt, friction)
    pressure = 1e6
    load = pile.force(plane("z", 1.0), (0.0, 0.0, -0.8 * pressure))
    fixed = pile.held(x=plane("x"), y=plane("y"), z=plane("z"))
    found = contact.solve(pile.system(fixed), pile.space, pile.faces, load)
    # Stress -p zz throughout; on a normal n it presses p nz² and shears p nz |nx|.
    normal = pile.faces.normal
    across, along = normal[:, 2] ** 2, np.abs(normal[:, 2] * normal[:, 0])
    expected = pressure * across[:, None]
    expected = np.broadcast_to(expected, pile.faces.area.shape)
    assert found.state.pressure == pytest.approx(expected, rel=1e-6)
    size = np.linalg.norm(found.state.friction, axis=2)
    assert size == pytest.approx(
        np.broadcast_to(pressure * along[:, None], size.shape), abs=1e-6 * pressure
    )
    for name in pile.faces.names:
        assert pile.resultant(found, name)[2] == pytest.approx(0.8 * pressure, rel=1e-6)


def two_blocks(penalty: float | None = None) -> tuple[Pile, np.ndarray]:
    """A block of 0.1 m x 0.1 m x 0.05 m on another that is held below; supports (n, 3)."""
    side = np.linspace(0, 0.1, 4)
    mesh = blocks(side, side, [np.linspace(0, 0.05, 3), np.linspace(0.05, 0.1, 3)])
    pile = Pile(mesh, 0.15, penalty=penalty)
    low = plane("z")
    return pile, pile.held(x=low, y=low, z=low)


def test_a_block_sticks_below_the_coulomb_limit_and_slides_at_it():
    """N = 400 kN, μ = 0.15: holds at 59 kN, gives way when a spring asks for more than 60 kN."""
    pile, fixed = two_blocks()
    top = plane("z", 0.1)
    press = pile.force(top, (0.0, 0.0, -400e3))
    low = plane("z", 0.05)
    # A pull along x just above the interface leaves nearly no moment.
    weights = pile.force(low, (1.0, 0.0, 0.0), plate=1)
    stiffness = 1e9
    system = pile.system(fixed, Ties(csr_matrix(weights), np.array([stiffness])))
    pressed = pile.solve(system, press)
    for asked, expected in ((50e3, 50e3), (80e3, 60e3)):
        load = press + asked * weights
        found = pile.solve(system, load, before=pressed)
        # What elasticity and friction put up is what acts.
        resisted = contact.resisted(system, pile.faces, found)
        assert resisted == pytest.approx(np.where(system.free, load, 0.0), abs=1e-3 * asked)
        friction = pile.resultant(found, pile.faces.names[0])
        drawn = asked - stiffness * float(weights @ found.displacement)
        assert abs(friction[0]) == pytest.approx(drawn, rel=1e-3)
        moved = float(weights @ found.displacement)
        if asked < 60e3:
            assert moved < 5e-6
        else:
            assert drawn == pytest.approx(expected, rel=0.01)
            assert moved == pytest.approx((asked - expected) / stiffness, rel=0.05)
            assert found.dissipated > 0


def test_the_penalty_changes_no_answer():
    """Ten times up and down: pressing changes by less than 0.1 %."""
    moved = []
    for factor in (0.1, 1.0, 10.0):
        pile, fixed = two_blocks(factor * 2 * 210e9 / 0.05)
        load = pile.force(plane("z", 0.1), (0.0, 0.0, -400e3))
        found = pile.solve(pile.system(fixed), load)
        moved.append(float(load @ found.displacement))
        assert found.complementarity < 1e-2
    assert moved == pytest.approx([moved[1]] * 3, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("count", [2, 3, 5])
def test_loose_leaves_are_softer_by_the_square_of_their_number(count):
    """Cantilever, length 15 depths: n leaves bend as n³ thinner beams that share the load."""
    depth, length = 0.1, 1.5
    x = np.linspace(0, length, 31)
    y = np.linspace(0, 0.05, 2)
    edges = np.linspace(0, depth, count + 1)
    heights = [np.linspace(a, b, 2) for a, b in pairwise(edges)]
    moved = []
    for opened in (None, ()):
        pile = Pile(blocks(x, y, heights), opened=opened, poisson=0.0)
        fixed = pile.held(x=plane("x"), y=plane("y"), z=plane("x"))
        # Spread over the free end, so that every leaf takes its share.
        load = pile.force(plane("x", length), (0.0, 0.0, -1e3))
        system = pile.system(fixed)
        if opened is None:
            u = pile.solve(system, load, tol=1e-7).displacement
        else:
            u = solvers.solve(system, pile.space, load, "direct", tol=1e-6).displacement
        moved.append(float(load @ u))
    assert moved[0] / moved[1] == pytest.approx(count**2, rel=0.02)


def test_friction_takes_up_what_a_load_cycle_loses():
    """Press, pull to and fro past slip: the loop's area is what friction takes up, within 1 %.

    The block is stiff (1.6e10 N/m in shear) beside the spring k. A cycle of the drawn force
    between ±F, with F above μN, slides by 2 (F - μN) / k each way: loss μN · 4 (F - μN) / k.
    """
    pile, fixed = two_blocks()
    weights = pile.force(plane("z", 0.05), (1.0, 0.0, 0.0), plate=1)
    stiffness, limit, asked = 1e7, 60e3, 80e3
    system = pile.system(fixed, Ties(csr_matrix(weights), np.array([stiffness])))
    press = pile.force(plane("z", 0.1), (0.0, 0.0, -400e3))
    # The path is straight between these, since sliding begins at ±(2 μN - F) = ±40 kN.
    last = asked
    found = pile.solve(system, press)
    found = pile.solve(system, press + last * weights, before=found)
    work = lost = 0.0
    for pull in (-40e3, -asked, 40e3, asked):
        before, found = found, pile.solve(system, press + pull * weights, before=found)
        moved = found.displacement - before.displacement
        work += float((press + (last + pull) / 2 * weights) @ moved)
        lost += found.dissipated
        last = pull
    assert lost == pytest.approx(limit * 4 * (asked - limit) / stiffness, rel=0.01)
    assert work == pytest.approx(lost, rel=0.01)


@pytest.mark.slow
def test_five_leaves_of_150_thicknesses_length():
    """Cantilever of five loose leaves: P L³ / (3 Σ E I)."""
    leaf, length, width = 0.02, 3.0, 0.05
    heights = [np.array([i, i + 1]) * leaf for i in range(5)]
    pile = Pile(blocks(np.linspace(0, length, 61), np.array([0, width]), heights), poisson=0.0)
    load = pile.force(plane("x", length), (0.0, 0.0, -1e3))
    fixed = pile.held(x=plane("x"), y=plane("y"), z=plane("x"))
    found = pile.solve(pile.system(fixed), load, tol=1e-7)
    bending = 5 * YOUNG * width * leaf**3 / 12
    moved = float(load @ found.displacement) / 1e3
    assert moved == pytest.approx(1e3 * length**3 / (3 * bending), rel=0.01)
