"""A leaf that is not flat, pressed on to a flat rigid face, against beam theory.

Sources: deflection of a beam on its two ends, 5 q L⁴ / (384 E I) (any handbook of strength of
materials); lift-off of a strip pressed on to a curved face where the
bending moment falls to E I times its curvature (derived here).
"""

from __future__ import annotations

import numpy as np
import pytest
from published.pressed import YOUNG, Pile, blocks, plane

from platestack.geometry.parts import Gap

LENGTH, THICK, WIDTH = 1.0, 0.02, 0.04
HALF = LENGTH / 2
BENDING = YOUNG * WIDTH * THICK**3 / 12
HEIGHT = 1e-3
"""Of the bow (m)."""


@pytest.fixture(scope="module")
def leaf() -> Pile:
    """Half of a leaf on a block."""
    x, y = np.linspace(0, HALF, 41), np.linspace(0, WIDTH, 2)
    heights = [np.linspace(0, 0.02, 2), np.linspace(0.02, 0.02 + THICK, 2)]
    return Pile(blocks(x, y, heights), poisson=0.0)


def pressed(leaf: Pile, bow: float, line: float) -> tuple[np.ndarray, np.ndarray]:
    """Where the leaf, bowed by `bow` (m), is on its face, and its gap (m), under `line` N/m."""
    gap = Gap(bow=bow, length=LENGTH)
    pile = leaf.with_gap(lambda p: gap.at(p[..., 0], np.full(p.shape[:-1], HALF)))
    load = pile.force(plane("z", 0.02 + THICK), (0.0, 0.0, -line * HALF))
    across = lambda p: plane("y")(p) | plane("y", WIDTH)(p)  # noqa: E731
    fixed = pile.held(x=plane("x"), y=across)
    fixed[pile.of_plate(0)] = True
    found = pile.solve(pile.system(fixed), load)
    x, first = np.unique(np.round(pile.nodes[pile.faces.lower][..., 0], 9), return_index=True)
    return x, found.nodal.opening.ravel()[first]


def test_a_leaf_apart_in_the_middle_is_a_beam_until_it_touches(leaf):
    touching = 384 * BENDING * HEIGHT / (5 * LENGTH**4)
    for part in (0.3, 0.9):
        x, gap = pressed(leaf, HEIGHT, part * touching)
        assert gap[x == 0] == pytest.approx((1 - part) * HEIGHT, abs=0.02 * HEIGHT)
        assert gap[(x > 0) & (x < 0.95 * HALF)].min() > 0
    x, gap = pressed(leaf, HEIGHT, 1.1 * touching)
    assert abs(gap[x == 0][0]) < 0.005 * HEIGHT


@pytest.mark.parametrize("free", [0.4, 0.7])
def test_a_leaf_apart_at_its_ends_lies_on_as_far_as_its_moment_reaches(leaf, free):
    """Free over l = √(2 E I κ / q) from its end, κ = 8 a / L²; there it stands κ l² / 4 apart."""
    curvature, length = 8 * HEIGHT / LENGTH**2, free * HALF
    x, gap = pressed(leaf, -HEIGHT, 2 * BENDING * curvature / length**2)
    # The bending moment takes away κ (1 - s)² of the curvature, s being the way out over l.
    s = np.maximum(0.0, (x - (HALF - length)) / length)
    expected = curvature * length**2 * (s**2 / 2 - s / 3 + (1 - (1 - s) ** 4) / 12)
    assert expected[-1] == pytest.approx(curvature * length**2 / 4)
    assert gap == pytest.approx(expected, abs=0.02 * expected[-1])


@pytest.mark.parametrize("sign", [1, -1])
def test_gap_of_a_bow_and_of_waves(sign):
    """Nothing in the middle or at the ends, the bow's height at the other; waves on top."""
    x = np.array([0.0, HALF])
    both = Gap(1e-4, sign * HEIGHT, LENGTH, 2e-4, LENGTH).at(x, np.full(2, HALF))
    middle, end = (HEIGHT, 0.0) if sign > 0 else (0.0, HEIGHT)
    assert both == pytest.approx([1e-4 + middle, 1e-4 + end + 2e-4])
