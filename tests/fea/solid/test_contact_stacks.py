"""Real stacks whose plates may part: balance of forces and energy, penalty, connectors.

Expected values are statics and the first law; for connectors the closed form of partial composite
action (see `fea.hand.connectors`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from coarse import coarse_sizes

from platestack.fea.checks.connectors import connector_facts
from platestack.fea.numerics.system import System
from platestack.fea.solid import contact, interfaces
from platestack.fea.solid.contact import balance
from platestack.fea.solid.pressing import Pressing
from platestack.fea.solid.statics import Statics
from platestack.fea.support.errors import NotConverged
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.symmetry import symmetry_of

RODS = '[rods]\nseat = "shoulder"\nseat_diameter = "70 mm"\npreload = "150 kN"\n'
CLAMPED = '[bed]\ninterface = { kind = "clamped", friction = 0.2 }\n'
LOOSE = '[bed]\ninterface = { kind = "loose" }\n'


def pressed(press, mesh, **changes) -> Pressing:
    """The bed, changed so, tightened and pressed."""
    return Pressing(press, replace(press.bed, **changes), mesh, lambda step: None)


@pytest.fixture(scope="module")
def bed(small_text):
    """Press and coarse mesh of the small press, its rods tightened against shoulders."""
    text = small_text.replace("[bed]\n", CLAMPED).replace("[rods]\n", RODS)
    press = layout.build(case_file.parse(text, "tightened.toml"))
    symmetry = symmetry_of(press.bed, press.rods)
    return press, mesher.make(press.bed, press.rods, symmetry, coarse_sizes(press))


def across(pressing: Pressing) -> list[tuple[float, float]]:
    """Of each interface: force (N) that it passes up, and what the plates below it ask for."""
    faces, state = pressing.faces, pressing.pressed
    found, system = state.contact, state.solver.system
    ties, mesh = system.free_ties, pressing.mesh
    kept = ties.stiffness * (ties.rows @ pressing.pressed.displacement)
    acting = (pressing.patch_load + state.held.preload - ties.rows.T @ kept)[2::3]
    pairs = []
    for number in range(len(faces.names)):
        own = faces.owner == number
        force = (faces.area[own] * found.state.pressure[own] * faces.normal[own, 2:]).sum()
        height = mesh.nodes[faces.lower[own][0, 0], 2]
        below = mesh.nodes[mesh.tets[:, :4], 2].mean(axis=1) < height
        pairs.append((force, float(acting[np.unique(mesh.tets[below])].sum())))
    return pairs


@pytest.mark.parametrize("kind", ["loose", "clamped"])
def test_forces_balance_across_the_interface(bed, kind):
    press, mesh = bed
    for force, asked in across(pressed(press, mesh, interface=kind)):
        assert force == pytest.approx(asked, abs=1e-6 * press.capacity / mesh.share)
        assert force > 0.1 * press.capacity / mesh.share


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["loose", "clamped"])
def test_demo_balances_and_its_penalty_changes_nothing(press_of, coarse_mesh, kind, monkeypatch):
    """Forces across each interface to 1e-6; ten times the penalty up and down within 0.1 %."""
    press, mesh = press_of("demo"), coarse_mesh("demo", "bed")
    moved = []
    for factor in (0.1, 1.0, 10.0):
        monkeypatch.setattr(contact, "STIFFNESS", 2.0 * factor)
        found = pressed(press, mesh, interface=kind, friction=0.2 if kind == "clamped" else 0.0)
        moved.append(found.deflection()[0])
        assert -found.pressed.contact.nodal.opening.min() < 0.01 * moved[-1]
        for force, asked in across(found):
            assert force == pytest.approx(asked, abs=1e-6 * press.capacity / mesh.share)
    assert moved == pytest.approx([moved[1]] * 3, rel=1e-3)


@pytest.mark.slow
def test_energy_of_a_load_cycle_is_stored_or_rubbed_away(bed):
    """Tightened, pressed, released: ∫ F du = stored + friction, within 1 % of the way up's work."""
    press, mesh = bed
    whole = pressed(press, mesh)
    held, faces, steps = whole.held, whole.faces, 8

    def solve(ties, load, before=None):
        system = System(whole.matrix, held.fixed, ties)
        return system, contact.solve(system, whole.space, faces, load, before=before)

    _, found = solve(held.squeezing, held.squeeze)
    held = held.tightened(found.displacement)
    still = held.preload
    work = stored = rubbed = before = 0.0
    works = []
    for part in np.concatenate([np.arange(1, steps + 1), np.arange(steps - 1, -1, -1)]) / steps:
        system, new = solve(held.ties, still + part * whole.patch_load, found)
        change, mean = new.displacement - found.displacement, new.displacement + found.displacement
        work += (part + before) / 2 * float(whole.patch_load @ change)
        stored += float(change @ (system.apply(mean) / 2 - still))
        rubbed, found, before = rubbed + new.dissipated, new, part
        works.append(work)
    assert work == pytest.approx(stored + rubbed, abs=0.01 * works[steps - 1])
    assert rubbed > 0.1 * works[steps - 1]


def test_dowels_join_plates_as_the_closed_form_says(small_text):
    """Deflection over that of the loose stack, against layers that do not shear: within 7 %."""
    dowels = '[bed.connectors]\nkind = "dowels"\ndiameter = "20 mm"\ncount = {}\n'
    made = {}
    for count in (12, 60):
        text = small_text.replace("[bed]\n", LOOSE) + dowels.format(count)
        case = case_file.parse(text, "dowels.toml")
        made[count] = Statics(case, layout.build(case), {}, 0.0)
    press = made[12].press
    symmetry = symmetry_of(press.bed, press.rods)
    mesh = mesher.make(press.bed, press.rods, symmetry, coarse_sizes(press))
    loose = pressed(press, mesh, connectors=None).deflection()[0]
    for one in made.values():
        (fact,) = connector_facts(one)
        part = pressed(one.press, mesh).deflection()[0] / loose
        assert part == pytest.approx(fact.value, rel=0.07)
        assert part < 0.95


def test_seams_hold_plates_together(small_text):
    """Between loose and welded, and no gap opens at the edges that are seamed."""
    seams = '[bed.connectors]\nkind = "seams"\nthroat = "8 mm"\n'
    press = layout.build(case_file.parse(small_text.replace("[bed]\n", LOOSE) + seams, "s.toml"))
    symmetry = symmetry_of(press.bed, press.rods)
    mesh = mesher.make(press.bed, press.rods, symmetry, coarse_sizes(press))
    joined, loose = pressed(press, mesh), pressed(press, mesh, connectors=None)
    welded = pressed(press, mesh, interface="welded", connectors=None)
    soft, stiff = loose.deflection()[0], welded.deflection()[0]
    assert stiff < joined.deflection()[0] < (soft + stiff) / 2 + 0.3 * (soft - stiff)
    assert (
        joined.pressed.interfaces[0].largest_opening < loose.pressed.interfaces[0].largest_opening
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["crosshead", "bed"])
def test_upright_plates_that_nothing_squeezes_are_loose_but_for_their_friction(
    name, press_of, coarse_mesh
):
    """Friction can only stiffen, and next to no friction is none: bounds from both sides."""
    press, mesh = press_of("on_edge"), coarse_mesh("on_edge", name)
    stack = press.crosshead if name == "crosshead" else press.bed

    def bent(kind, friction=0.0):
        changed = replace(stack, interface=kind, friction=friction)
        return Pressing(press, changed, mesh, lambda step: None)

    loose, slippery, rough = bent("loose"), bent("clamped", 1e-4), bent("clamped", 0.2)
    welded = bent("welded").deflection()[0]
    assert slippery.deflection()[0] == pytest.approx(loose.deflection()[0], rel=1e-3)
    assert welded < rough.deflection()[0] < 0.98 * loose.deflection()[0]
    assert rough.released() is None


def test_what_nothing_holds_is_named(bed, monkeypatch):
    """The message says which plates are apart, or where forces do not balance, and what to try."""
    press, mesh = bed
    monkeypatch.setattr(balance, "MOST_ITERATIONS", 2)
    with pytest.raises(NotConverged) as caught:
        pressed(press, mesh, interface="loose")
    said = str(caught.value)
    assert "worst between plate 1 and plate 2" in said
    assert "mesh.size" in said
    assert "rods.preload" in said
    monkeypatch.setattr(balance, "MOST_ITERATIONS", 1)
    with pytest.raises(NotConverged) as caught:
        pressed(press, mesh, interface="loose", gap=replace(press.bed.gap, uniform=0.1))
    assert "Nothing presses plate 1 and plate 2 together" in str(caught.value)


def test_what_never_comes_near_a_balance_is_given_up(bed, monkeypatch):
    """Long before the iterations end; what has come near goes on."""
    press, mesh = bed
    monkeypatch.setattr(balance, "HOPELESS", 2)
    monkeypatch.setattr(balance, "NEAR", 0.0)
    with pytest.raises(NotConverged, match=r"after \d iterations.*plate 1 and plate 2"):
        pressed(press, mesh, interface="loose")
    monkeypatch.setattr(balance, "NEAR", 1.0)
    assert pressed(press, mesh, interface="loose").pressed.iterations > 10


def test_two_seams_resist_sliding_by_their_length(small_text):
    """Both sides of the press count, whatever share is modelled: work of a slide, by statics."""
    seams = '[bed.connectors]\nkind = "seams"\nthroat = "8 mm"\n'
    press = layout.build(case_file.parse(small_text.replace("[bed]\n", LOOSE) + seams, "s.toml"))
    symmetry = symmetry_of(press.bed, press.rods)
    mesh, pairs = interfaces.opened(
        press.bed, mesher.make(press.bed, press.rods, symmetry, coarse_sizes(press))
    )
    faces = interfaces.faces_of(press.bed, mesh, pairs)
    joining = interfaces.joining(press, press.bed, mesh, faces)
    upper = np.zeros(len(mesh.nodes), dtype=bool)
    upper[mesh.tets[mesh.plate == mesh.plate_names.index(press.bed.plates[1].name)]] = True
    length = press.bed.plates[0].outline.length
    shear = 210e9 / (2 * 1.3)
    for axis in range(3):
        slide = np.multiply.outer(upper, np.eye(3)[axis]).ravel()
        # One fillet's flow over its slip is G / sqrt 2, a throat sheared over the leg's height.
        assert slide @ joining @ slide * mesh.share == pytest.approx(
            2 * length * shear / np.sqrt(2), rel=1e-9
        )
