"""States between plates that are what they say: no force across gaps, nothing out of balance.

The reference is a solver of its own (`tests.figures.stiff_contact`); the rest is statics and the
conditions of contact, p >= 0, g >= 0, p g = 0.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from types import SimpleNamespace

import numpy as np
import pytest
import tomlkit
from coarse import coarse_sizes

from platestack.fea.solid import contact, pressing, stack
from platestack.fea.solid.contact import balance
from platestack.fea.solid.contact.law import SOFTEST, Law
from platestack.fea.solid.pressing import PressedState, Pressing
from platestack.fea.solid.stress.estimate import Estimate
from platestack.fea.support.errors import NotConverged
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.mesh import Sizes
from platestack.geometry.symmetry import symmetry_of
from tests.figures import states, stiff_contact

BOWED = '[bed]\ninterface = {{ kind = "{kind}", friction = 0.2, bow = "{bow}" }}\n'
RODS = '[rods]\nseat = "shoulder"\nseat_diameter = "70 mm"\npreload = "150 kN"\n'


def pressed(text: str, kind: str, bow: str) -> Pressing:
    """The coarse bed of the small press, its plates bowed."""
    given = BOWED.format(kind=kind, bow=bow)
    if kind == "loose":
        given = given.replace(", friction = 0.2", "")
    text = text.replace("[bed]\n", given).replace("[rods]\n", RODS)
    press = layout.build(case_file.parse(text, "bowed.toml"))
    symmetry = symmetry_of(press.bed, press.rods)
    mesh = mesher.make(press.bed, press.rods, symmetry, coarse_sizes(press))
    return Pressing(press, press.bed, mesh, lambda step: None)


def crossing(pressing: Pressing, state: PressedState, gap: float) -> float:
    """Part of the force between the plates that crosses gaps wider than `gap` (m)."""
    found = state.contact.state
    force = pressing.faces.area * found.pressure
    return float(force[found.opening > gap].sum() / force.sum())


@pytest.mark.parametrize(
    ("pressures", "floats"), [((1e6, 1e5), False), ((1e6, 1e-3), True), ((0.0, 0.0), True)]
)
def test_a_plate_floats_where_rounding_alone_passes(pressures, floats):
    """Two interfaces of one face each, two points of 0.01 m² on each."""
    faces = SimpleNamespace(area=np.full((2, 2), 0.01), owner=np.arange(2), names=("a", "b"))
    found = SimpleNamespace(state=SimpleNamespace(pressure=np.outer(pressures, np.ones(2))))
    assert Pressing._floating(SimpleNamespace(faces=faces), found) is floats


@pytest.fixture(scope="module")
def bowed(small_text) -> Pressing:
    return pressed(small_text, "clamped", "3 mm")


def test_no_force_crosses_a_gap(bowed):
    """In any of the states, of plates that preload presses together at their ends alone."""
    for state in (bowed.tightened, bowed.pressed, bowed.released()):
        assert crossing(bowed, state, 2e-6) < 1e-3
        assert state.complementarity <= 2 * contact.NEGLIGIBLE
        assert state.contact.across_gaps < 1e-3
    assert bowed.work > 0
    assert bowed.deflection()[0] > 0
    assert bowed.pressed.interfaces[0].largest_opening > 1e-4


@pytest.fixture(scope="module")
def loose(small_text) -> Pressing:
    return pressed(small_text, "loose", "1 mm")


@pytest.mark.parametrize("bow", ["1 mm", "-1 mm"])
def test_loose_bowed_plates_bend_as_a_stiff_penalty_says(small_text, loose, bow):
    """No multipliers, sparse factors, its own Newton steps: within 0.5 %."""
    found = loose if bow == "1 mm" else pressed(small_text, "loose", bow)
    assert found.deflection()[0] == pytest.approx(stiff_contact.deflection(found), rel=5e-3)


def test_clamped_bowed_plates_bend_as_a_stiff_penalty_says(bowed):
    """Tightened, then pressed, with Tresca's friction and Haslinger's bound: within 0.5 %."""
    assert bowed.deflection()[0] == pytest.approx(stiff_contact.deflection(bowed), rel=5e-3)


@pytest.mark.parametrize("soft", ["as given", "on the way"])
def test_a_soft_penalty_is_made_harder(small_text, loose, monkeypatch, soft):
    """A tenth of the usual penalty, or a ten thousandth of the given one: few updates are enough.

    As soft as it was, 25 updates leave 1.5e-3 of the work, or more than can be accepted.
    """
    if soft == "as given":
        monkeypatch.setattr(contact, "STIFFNESS", contact.STIFFNESS / 10)
    else:
        begun = balance._begun

        def softened(system, *more):
            law, at = begun(system, *more)
            law.penalty *= SOFTEST
            return law, at.again(system, law)

        monkeypatch.setattr(balance, "_begun", softened)
    found = pressed(small_text, "loose", "1 mm")
    for state in (found.tightened, found.pressed):
        assert state.contact.updates < balance.MOST_UPDATES / 2
        assert state.contact.slope[..., 0, 0].max() >= found.faces.penalty
        assert state.complementarity <= 2 * contact.NEGLIGIBLE
    error = found.contact_error + loose.contact_error
    assert found.deflection()[0] == pytest.approx(loose.deflection()[0], abs=error)


def test_a_load_step_in_parts_ends_where_one_does(small_text, loose, monkeypatch):
    """The first step of each load is refused; loose plates remember nothing of the way."""
    whole = loose.deflection()[0]
    solve, refused, taken = contact.solve, [], []

    def stubborn(system, space, faces, load, **more):
        if len(refused) == len(taken):
            refused.append(load)
            raise NotConverged(1, 1.0, 1e-6, "refused once")
        found = solve(system, space, faces, load, **more)
        if load is refused[-1]:
            taken.append(load)
        return found

    monkeypatch.setattr(contact, "solve", stubborn)
    found = pressed(small_text, "loose", "1 mm")
    error = found.contact_error + loose.contact_error
    assert error < 1e-2 * whole
    assert found.deflection()[0] == pytest.approx(whole, abs=error)
    assert len(taken) >= 2


def test_an_untrue_state_is_refused(small_text, monkeypatch):
    """It is said between which plates, and nothing is handed out."""
    monkeypatch.setattr(balance, "TOLERABLE", 1e-9)
    monkeypatch.setattr(pressing, "PARTS", (1,))  # in parts it is refused as well, and takes long
    with pytest.raises(NotConverged, match=r"complementarity error.*plate 1 and plate 2"):
        pressed(small_text, "loose", "1 mm")


def test_force_that_crosses_gaps_is_refused(small_text, monkeypatch):
    """Forces balance under a penalty so soft that what preload left presses on, and none asks."""
    monkeypatch.setattr(pressing, "PARTS", (1,))
    monkeypatch.setattr(Law, "works", lambda law, state: (0.0, 0.0))
    monkeypatch.setattr(Law, "softened", False)
    begun = balance._begun

    def softened(system, faces, load, before):
        law, at = begun(system, faces, load, before)
        law.penalty *= 1.0 if before is None else SOFTEST
        return law, at.again(system, law)

    monkeypatch.setattr(balance, "_begun", softened)
    with pytest.raises(NotConverged, match=r"force across gaps.*plate 1 and plate 2"):
        pressed(small_text, "clamped", "3 mm")


def test_what_contact_leaves_is_in_the_error_of_deflection(small_text, monkeypatch):
    """Plates bowed by 1 mm, where contact may leave twenty times as much, against a tenth."""
    solve, found = contact.solve, []
    for part in (20.0, 0.1):
        left = partial(solve, penetration=part * contact.NEGLIGIBLE)
        monkeypatch.setattr(contact, "solve", left)
        found.append(pressed(small_text, "loose", "1 mm"))
    rough, near = found
    off = abs(rough.deflection()[0] - near.deflection()[0])
    assert near.contact_error < off <= rough.contact_error
    reading = SimpleNamespace(_pressing=rough, _estimate=lambda row: Estimate(0.0, row, 1e-6))
    stated = stack._Reading._error_of_deflection(reading, np.zeros(0))
    assert stated.size == pytest.approx(1e-6 + rough.contact_error)


def test_force_across_a_gap_is_counted(bowed):
    """A pressure that is left where plates have parted: all of it where nothing else presses."""
    law, found = Law(bowed.faces), bowed.pressed.contact.state
    ghost = replace(
        found,
        pressure=np.where(found.opening > 1e-4, 1e6, 0.0),
        friction=np.zeros_like(found.friction),
    )
    assert law.across_gaps(ghost, 0.0) == 1.0
    force = bowed.faces.area * ghost.pressure
    assert law.works(ghost) == pytest.approx((0.0, float((force * found.opening).sum())))
    assert law.works(ghost)[1] > 1e-4 * force.sum()


@pytest.mark.slow
def test_drawn_presses_are_within_their_errors():
    made = [states.tried(data, name) for name, data in states.presses(2, 8) if "flat" in name]
    solved = [one for one in made if not one.refused]
    assert len(solved) >= 4
    assert [one.row for one in solved if not one.right] == []


@pytest.mark.slow
def test_three_bowed_plates_bend_down():
    """Plates of 90, 110 and 90 mm bowed by 1 mm, 63 tf: open all over, yet force crossed them."""
    interface = {"kind": "clamped", "friction": 0.2, "bow": "1 mm"}
    section = {"length": "780 mm", "width": "310 mm", "grade": "S355J2",
               "plates": ["90 mm", "110 mm", "90 mm"]}  # fmt: skip
    data = {
        "press": {"name": "Bowed", "capacity": "63 tf", "working_pressure": "25 MPa",
                  "daylight": "400 mm", "stroke": "150 mm"},
        "crosshead": section,
        "bed": dict(section),
        "rods": {"count": 2, "diameter": "60 mm", "pitch": "640 mm"},
        "ram": {"diameter": "180 mm"},
        "workpiece": {"diameter": "110 mm"},
    }  # fmt: skip
    case = states.with_interface(data, interface, "shoulder")
    press = layout.build(case_file.parse(tomlkit.dumps(case), "bowed.toml"))
    sizes = Sizes(0.16, round_divisions=10, ring_divisions=1, patch_divisions=5)
    symmetry = symmetry_of(press.bed, press.rods)
    mesh = mesher.make(press.bed, press.rods, symmetry, sizes)
    found = Pressing(press, press.bed, mesh, lambda step: None)
    for state in (found.tightened, found.pressed):
        assert crossing(found, state, 2e-6) < 1e-3
        assert state.complementarity <= 2 * contact.NEGLIGIBLE
    assert found.work > 0
    # Regression: Newton's method with linear systems, on the same mesh.
    assert found.deflection()[0] == pytest.approx(0.70567e-3, abs=found.contact_error)
