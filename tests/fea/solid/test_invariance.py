"""What must not change an answer: size, place, numbering, threads (`tests.figures.invariance`)."""

from __future__ import annotations

import pytest
from figures import invariance
from figures.invariance import CHANGES, SCALES, differences, figures, on_threads, scaled

from platestack.fea.solid import pressing
from platestack.fea.support.errors import Singular


@pytest.fixture(scope="module")
def welded():
    given = invariance.coarse("small", "crosshead", "welded")
    return given, figures(given)


@pytest.mark.parametrize("factor", [0.01, 22.0])
def test_from_millimetres_to_ten_metres(welded, factor):
    """Deflections grow with the size, stresses stay, at the same pressure."""
    given, base = welded
    found = figures(scaled(given, factor))
    assert max(differences(base, found, SCALES, factor).values()) < 1e-9


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_place_and_numbering_change_nothing(welded, change):
    given, base = welded
    assert max(differences(base, figures(change(given))).values()) < 1e-9


@pytest.mark.parametrize(("kind", "counts"), [("welded", (2, 3)), ("clamped", (3,))])
def test_threads_change_not_one_digit(kind, counts):
    """Sums are made in blocks, so that contact and friction take the same steps, too."""
    given = invariance.coarse("small", "crosshead", kind)
    one = on_threads(given, 1)
    for count in counts:
        assert on_threads(given, count) == one


def test_a_stiffer_press_is_told_apart(welded):
    """The comparison can fail: a capacity 1e-8 off is seen."""
    from dataclasses import replace

    given, base = welded
    press = replace(given.press, capacity=given.press.capacity * (1 + 1e-8))
    found = figures(replace(given, press=press))
    assert min(differences(base, found).values()) > 5e-9


@pytest.mark.slow
def test_contact_is_as_invariant_as_it_is_solved():
    """Frictionless plates that float, without a mirror: a point may fall to either side."""
    given = invariance.coarse("small", "bed", "loose")
    base = figures(given)
    for change in CHANGES.values():
        assert max(differences(base, figures(change(given))).values()) < 1e-6
    found = figures(scaled(given, 22.0))
    assert max(differences(base, found, SCALES, 22.0).values()) < 1e-6


def test_a_plate_that_nothing_holds_is_explained(welded, monkeypatch):
    def moving(*_: object) -> None:
        raise Singular("a part can move without straining")

    given, _ = welded
    monkeypatch.setattr(pressing.solvers, "solver", moving)
    with pytest.raises(Singular, match=r"^crosshead: a plate can move freely.*interface\.kind"):
        pressing.Pressing(given.press, given.stack, given.mesh, lambda step: None)
