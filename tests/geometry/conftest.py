"""A stack as each share of itself."""

from __future__ import annotations

import pytest
from meshes import COARSE

from platestack.geometry import mesher
from platestack.geometry.symmetry import FORCED


@pytest.fixture(scope="session")
def shares(small_press):
    """The small bed meshed as quarter, halves and whole."""
    return {
        wish: mesher.make(small_press.bed, small_press.rods, FORCED[wish], COARSE)
        for wish in FORCED
    }
