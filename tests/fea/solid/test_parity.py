"""Even and odd motions of a mirrored stack: signs, and stiffness against the whole stack's."""

from __future__ import annotations

import numpy as np
import pytest

from platestack.fea.solid import stack
from platestack.fea.solid.frame.parity import parities
from platestack.fea.solid.frame.stations import condense
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes

COARSE = Sizes(0.15, round_divisions=8, ring_divisions=1, patch_divisions=8)
SIX = 'count = 6\npitch = ["260 mm", "440 mm"]'


@pytest.mark.parametrize("powers", [(0, 2), (1, 0), (2, 1), (3, 1)])
@pytest.mark.parametrize("planes", ["x", "y", "xy"])
def test_heights_and_tilts_follow_from_their_image(powers, planes):
    """A height x^a y^b is odd at x = 0 for odd a; its values and slopes are known everywhere."""
    a, b = powers

    def height(x, y):
        return x**a * y**b

    def slopes(x, y):
        return a * x ** max(a - 1, 0) * y**b, b * x**a * y ** max(b - 1, 0)

    own = {axis for axis, power in enumerate(powers) if power % 2}
    mine = [parity for parity in parities(frozenset(planes)) if parity.holds(own)]
    assert len(mine) == 1
    for at in [(0.3, 0.2), (-0.3, 0.2), (0.3, -0.2), (-0.3, -0.2), (0.0, 0.2), (-0.3, 0.0)]:
        image = [abs(c) if "xy"[axis] in planes else c for axis, c in enumerate(at)]
        assert mine[0].sign(at) * height(*image) == pytest.approx(height(*at))
        for axis in (0, 1):
            expected = slopes(*at)[axis]
            assert mine[0].sign(at, axis) * slopes(*image)[axis] == pytest.approx(expected)


def test_a_quarter_stands_for_the_whole_stack(four_rods, monkeypatch):
    """Its stiffness is that of the whole stack's mesh, and resists no rigid motion at all.

    Two of six rods stand on a mirror plane.
    """
    text = four_rods(rods=SIX).replace('width = "400 mm"', 'width = "600 mm"')
    text = text.replace("2 x 60 mm", "120 mm")
    case = case_file.parse(text, "flat.toml")
    press = layout.build(case)
    monkeypatch.setattr(stack, "default_sizes", lambda *_: COARSE)
    wish = case.mesh.model_copy(update={"symmetry": "whole"})
    whole = case.model_copy(update={"mesh": wish})
    part, all_of_it = (condense(press, press.bed, c, lambda step: None) for c in (case, whole))
    scale = np.sqrt(np.diag(all_of_it.flexibility))
    apart = np.abs(part.flexibility - all_of_it.flexibility) / np.outer(scale, scale)
    assert apart.max() < 0.02  # two coarse meshes
    assert apart[:6, :6].max() < 2e-4
    x, y = np.array([rod.at for rod in press.rods]).T
    one, none, count = np.ones(len(x)), np.zeros(len(x)), len(x)
    for motion in (
        [*one, *none, *none, 1, 0, 0],
        [*x, *(1, 0) * count, 0, 1, 0],
        [*y, *(0, 1) * count, 0, 0, 1],
    ):
        moved = np.array(motion, dtype=float)
        size = np.abs(part.stiffness) @ np.abs(moved)
        assert np.abs(part.stiffness @ moved) == pytest.approx(0.0, abs=1e-7 * size.max())
