"""Layers joined by connectors, solid against the closed form of partial composite action.

Source: the γ-method's differential equation (EN 1995-1-1 Annex B; N. M. Newmark, C. P. Siess,
I. M. Viest, Proc. SESA 9 (1951) 75), solved for a half-sine by `fea.hand.connectors`, whose own
tests hold it against published values. The solid shears too, which adds up to 1.5 % here:
w_s / w_b = EI β² / (κ G A), κ = 5/6, for the stiffest beam below.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from published.pressed import YOUNG, Pile, blocks, plane

from platestack.fea.hand.connectors import Layer, effective_stiffness
from platestack.fea.numerics.system import System
from platestack.fea.solid import readings
from platestack.fea.solid.contact import connection

SPAN, WIDTH = 2.0, 0.05


def beam(thicknesses: tuple[float, ...]) -> Pile:
    """Half of a simply supported beam of loose layers, its middle at x = 0."""
    levels = np.concatenate([[0.0], np.cumsum(thicknesses)])
    heights = [np.linspace(a, b, 2) for a, b in pairwise(levels)]
    x, y = np.linspace(0, SPAN / 2, 25), np.linspace(0, WIDTH, 2)
    return Pile(blocks(x, y, heights), poisson=0.0)


def deflection(pile: Pile, joining) -> tuple[float, float]:
    """Deflection at mid-span under a half-sine pressure on top of 10 kPa, and its line load."""
    top = float(pile.nodes[:, 2].max())
    weights = readings.face_weights(pile.nodes, pile.surface(plane("z", top)))
    wave = np.cos(np.pi * pile.nodes[:, 0] / SPAN)
    load = np.multiply.outer(-1e4 * weights * wave, (0.0, 0.0, 1.0)).ravel()
    across = lambda p: plane("y")(p) | plane("y", WIDTH)(p)  # noqa: E731
    fixed = pile.held(x=plane("x"), y=across, z=plane("x", SPAN / 2))
    found = pile.solve(System(pile.matrix + joining, fixed), load)
    middle = (pile.nodes[:, 0] < 1e-9) & (pile.nodes[:, 2] < 1e-9)
    return -float(found.displacement[2::3][middle].mean()), 1e4 * WIDTH


@pytest.mark.parametrize("kind", ["dowels", "seams"])
@pytest.mark.parametrize("thicknesses", [(0.05, 0.05), (0.03, 0.06), (0.03, 0.03, 0.03)])
@pytest.mark.parametrize("stiffness", [0.1, 1.0, 10.0])
def test_partial_connection_by_the_gamma_method(kind, thicknesses, stiffness):
    pile = beam(thicknesses)
    # γ = 1/(1 + π² EA / (k L²)) of a leaf on a stiff base would be 0.09, 0.5, 0.91.
    slip = stiffness * np.pi**2 * YOUNG * min(thicknesses) * WIDTH / SPAN**2
    if kind == "dowels":
        joining = connection.smeared(pile.faces, np.full(pile.faces.area.shape, slip / WIDTH))
    else:
        y = pile.faces.places[..., 1]
        edges = (np.abs(y - WIDTH / 2) > WIDTH / 2 - 1e-9)[:, connection.EDGES]
        # Along one edge both ends and the middle have one y.
        along = edges.all(axis=2) & (np.ptp(y[:, connection.EDGES], axis=2) < 1e-9)
        joining = connection.seams(pile.faces, along, slip / 2)
    moved, line = deflection(pile, joining)
    layers = [Layer(t, WIDTH, YOUNG) for t in thicknesses]
    bending, _ = effective_stiffness(layers, [slip] * (len(layers) - 1), SPAN)
    assert moved == pytest.approx(line * (SPAN / np.pi) ** 4 / bending, rel=0.03)
