"""Clamp bolts in the solid: pressure cone, friction that carries shear, bolts that come loose.

Expected values: statics; Rötscher's cones with the angle of VDI 2230-1:2015 (eq. 44, not verified);
two leaves of beam theory with friction as a couple of forces, derived here.
"""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError
from pathlib import Path

import numpy as np
import pytest
from skfem import MeshTet2

from platestack.fea.checks.clamping import bolts_at_work
from platestack.fea.checks.joining import joining_facts
from platestack.fea.hand import bolts as hand
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid import clamping, contact, interfaces, loads, readings, stack
from platestack.fea.solid.contact.faces import at_points
from platestack.fea.solid.model import Solution
from platestack.fea.solid.pressing import Pressing
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.errors import CaseError
from platestack.geometry.mesh import Sizes
from platestack.geometry.mesher import make
from platestack.geometry.split import split
from platestack.geometry.symmetry import symmetry_of

CASES = Path(__file__).parents[3] / "cases"
BOLT = '[[bed.clamp_bolts]]\nat = ["{} mm", "{} mm"]\nthread = "M20"\n{}\n'


def bolted(text: str, places, more: str = "", interface: str = "welded") -> str:
    text = text.replace("[bed]", f'[bed]\ninterface = {{ kind = "{interface}" }}')
    return text + "".join(BOLT.format(x, y, more) for x, y in places)


def pressing(text: str, sizes: Sizes, symmetry=None) -> Pressing:
    press = layout.build(case_file.parse(text, "bolts.toml"))
    planes = symmetry_of(press.bed, press.rods) if symmetry is None else symmetry
    mesh = make(press.bed, press.rods, planes, sizes)
    return Pressing(press, press.bed, mesh, lambda step: None)


COARSE = Sizes(0.06, round_divisions=10, ring_divisions=1, patch_divisions=5)


def test_annuli_on_every_kind_of_stack():
    """Area of head and nut on the mesh, also under a platen, on edge and cut by mirrors."""
    for name, places in (("demo", [(300, 0), (-300, 0)]), ("on_edge", [(200, 0)])):
        text = (CASES / name / f"{name}.toml").read_text(encoding="utf-8")
        text += "".join(BOLT.format(x, y, "").replace("M20", "M30") for x, y in places)
        press = layout.build(case_file.parse(text, "bolts.toml"))
        bed = press.bed
        sizes = Sizes(0.15, round_divisions=10, ring_divisions=1, patch_divisions=5)
        whole = make(bed, press.rods, symmetry_of(bed, press.rods), sizes)
        opened, _ = split(whole, whole.interfaces)
        one = bed.bolts[0]
        ring = math.pi / 4 * (one.bearing_outer**2 - one.hole**2)
        for end in ("low", "high"):
            faces = opened.faces.get(f"{one.name} {end}")
            if name == "on_edge" and "y" in whole.symmetry and end == "low":
                assert faces is None
                continue
            share = 0.5 if name == "demo" and "y" in whole.symmetry else 1.0
            area = readings.face_weights(opened.nodes, faces).sum()
            assert area == pytest.approx(share * ring, rel=5e-3)
            # No node of it belongs to the platen that covers it.
            platen = opened.plate_names.index("platen")
            assert not np.isin(faces, opened.tets[opened.plate == platen]).any()
        found = clamping.clamps(opened, bed)
        stretched = np.zeros_like(opened.nodes)
        along = "xyz".index(one.normal)
        stretched[:, along] = 1e-3 * opened.nodes[:, along]
        cut = 0.5 if name == "on_edge" and "y" in whole.symmetry else 1.0
        wide = cut * 1e-3 * (one.high - one.low)
        assert found.rows @ stretched.ravel() == pytest.approx(wide, rel=1e-6)
        assert found.rows @ np.ones(opened.unknowns) == pytest.approx(
            1.0 if name == "on_edge" and "y" in whole.symmetry else 0.0, abs=1e-9
        )


def test_cone_of_a_bolt(small_text):
    """All of its force crosses the interface, in a cone; the joint closes as VDI 2230 has it."""
    text = bolted(small_text, [(100, 0), (-100, 0)], 'preload = "160 kN"', "loose")
    press = layout.build(case_file.parse(text, "bolts.toml"))
    bed, (bolt, _) = press.bed, press.bed.bolts
    sizes = Sizes(0.05, round_divisions=16, ring_divisions=2, patch_divisions=5)
    mesh, pairs = interfaces.opened(bed, make(bed, press.rods, symmetry_of(bed, press.rods), sizes))
    space = QuadraticSpace(MeshTet2(mesh.nodes.T, mesh.tets.T))
    held, clamps = loads.supports(mesh, press.rods), clamping.clamps(mesh, bed)
    system = System(space.stiffness(210e9, 0.3), held.fixed, held.rest)
    faces = interfaces.faces_of(bed, mesh, pairs)
    found = contact.solve(system, space, faces, clamps.load)
    assert clamps.initial == pytest.approx(50e3)  # 160 kN over 1.6, half of it cut by y = 0
    force = faces.area * found.state.pressure
    assert force.sum() == pytest.approx(50e3, rel=1e-5)
    at = at_points(faces.places)
    off = np.hypot(at[..., 0] - 0.1, at[..., 1])
    outer, hole, depth = bolt.bearing_outer, bolt.hole, 0.1
    # tan φ of a through bolt: 0.362 + 0.032 ln(l/2 dw) + 0.153 ln(D'A/dw), D'A as for wide plates.
    tangent = 0.362 + 0.032 * math.log(depth / 2 / outer) + 0.153 * math.log(1 + depth / outer)
    cone = outer + depth * tangent
    within = float(force[off < cone / 2].sum() / force.sum())
    pressed = 2 * off[found.state.pressure > 0.01 * found.state.pressure.max()].max()
    closing = -float((clamps.rows @ found.displacement)[0]) / 100e3
    plates = hand.plate_resilience(outer, hole, depth, 210e9, tangent)
    print(f"cone {cone:.4f} m: {within:.3f} of the force within; pressed out to {pressed:.4f} m; "
          f"closing {closing:.4e} m/N, by the cone {plates:.4e}")  # fmt: skip
    # The cone is a substitute of equal stiffness; true pressure reaches a little farther.
    assert 0.8 < within < 1
    assert cone < pressed < 1.6 * cone
    # A uniform pressure sinks in by 32/3π² = 1.08 times what a rigid face of the same force does
    # (circle on a half-space: Johnson, Contact Mechanics, 3.4), and the cone is good to some 5 %.
    assert 0.97 < closing / plates < 1.15


@pytest.mark.slow
def test_quarter_and_whole_agree(small_text):
    text = bolted(small_text, [(90, 60), (-90, 60), (90, -60), (-90, -60)])
    quarter = pressing(text, COARSE)
    whole = pressing(text, COARSE, symmetry=frozenset())
    assert [one.bolt.name for one in quarter.pressed.bolts] == ["clamp bolt 1"]
    for one in whole.pressed.bolts:
        assert one.rest == pytest.approx(quarter.pressed.bolts[0].rest, rel=1e-9)
        assert one.added == pytest.approx(quarter.pressed.bolts[0].added, abs=2e-4 * one.rest)
    assert whole.deflection()[0] == pytest.approx(quarter.deflection()[0], rel=0.01)


def test_bolts_of_a_welded_stack_change_nothing_that_pressing_adds(small_text):
    low, high = (
        pressing(bolted(small_text, [(90, 60), (-90, 60)], f'preload = "{force} kN"'), COARSE)
        for force in (20, 120)
    )
    assert low.deflection()[0] == pytest.approx(high.deflection()[0], rel=1e-6)
    assert high.pressed.bolts[0].added == pytest.approx(low.pressed.bolts[0].added, abs=1.0)


def test_a_bolt_that_loses_its_preload_comes_loose(small_text, solve_coarse):
    """Beside the patch the stack grows thinner under load; a bolt hardly tightened cannot push.

    All the way to the check, of a clamped stack, whose solution goes on to the state after release.
    """
    text = bolted(small_text, [(60, 0), (-60, 0)], 'preload = "0.2 kN"', "clamped")
    case = case_file.parse(text, "b.toml")
    slack = solve_coarse(case, "bed")["bed"]
    assert slack.residual_deflection is not None
    assert [one.working for one in slack.bolts] == [0.0]
    found = bolts_at_work(Solution(case, layout.build(case), {"bed": slack}, 0.0))
    lost = next(check for check in found if "takes off" in check.name)
    assert lost.value == 1.0
    assert lost.utilisation > 1
    assert "has come loose" in lost.note
    (firm,) = pressing(text.replace("0.2 kN", "40 kN"), COARSE).pressed.bolts
    assert 0 < firm.working < 0.99 * firm.rest


def test_states_are_frozen(small_text):
    """What is read of a state is the same after the stack was loaded further."""
    found = pressing(
        bolted(small_text, [(60, 0), (-60, 0)], 'preload = "0.2 kN"', "clamped"), COARSE
    )
    tightened, pressed = found.tightened, found.pressed
    read = pressed.bolts, pressed.rods, pressed.displacement.copy()
    released = found.released()
    assert (found.pressed, found.tightened) == (pressed, tightened)
    assert (pressed.bolts, pressed.rods) == read[:2]
    assert (pressed.displacement == read[2]).all()
    assert released.bolts[0].working > 0.5 * released.bolts[0].rest
    assert pressed.bolts[0].working == 0.0
    with pytest.raises(ValueError, match="read-only"):
        pressed.displacement += 1
    with pytest.raises(FrozenInstanceError):
        pressed.bolts = released.bolts


LONG = """
[press]
name = "Long and thin"
capacity = "2 tf"
working_pressure = "10 MPa"
daylight = "200 mm"
stroke = "50 mm"
[crosshead]
length = "1500 mm"
width = "160 mm"
plates = "2 x 30 mm"
[bed]
length = "1500 mm"
width = "160 mm"
plates = "2 x 30 mm"
[rods]
count = 2
pitch = "1300 mm"
diameter = "40 mm"
[ram]
diameter = "60 mm"
[workpiece]
diameter = "60 mm"
"""


@pytest.mark.slow
def test_friction_of_bolts_is_a_couple_of_forces():
    """Two long leaves that slip: bolts at ±a hold μ F each, and take μ F t off the moment between.

    What that lifts at mid-span: μ F t (L²/8 − (L/2 − a)²/2) / Σ E I (area of the moment diagram).
    The hand calculation says the same of the force held, less its partial factor.
    """
    found, forces = [], []
    for preload in ("8 kN", "160 kN"):
        text = bolted(LONG, [(400, 0), (-400, 0)], f'preload = "{preload}"', "clamped")
        done = pressing(text, Sizes(0.06, 10, 1, 5))
        found.append(done.deflection()[0])
        forces.append(done.pressed.bolts[0].rest)
    couple = 0.2 * (forces[1] - forces[0]) * 0.03
    leaves = 2 * 210e9 * 0.16 * 0.03**3 / 12
    lifted = couple * (1.3**2 / 8 - (0.65 - 0.4) ** 2 / 2) / leaves
    print(f"lifted {found[0] - found[1]:.4e} m, by hand {lifted:.4e} m")
    assert found[0] - found[1] == pytest.approx(lifted, rel=0.05)
    case = case_file.parse(text, "long.toml")
    facts = joining_facts(Solution(case, layout.build(case), {}, 0.0))
    held = next(fact for fact in facts if "held by friction" in fact.name)
    assert held.value == pytest.approx(0.2 * forces[1] / hand.SLIP_FACTOR, rel=1e-9)


@pytest.mark.slow
def test_bolts_raise_the_share_of_composite_action(small_text, solve_coarse):
    sleeves = small_text.replace('diameter = "45 mm"', 'diameter = "45 mm"\nseat = "sleeve"')
    shares = []
    for force in ("1 kN", "150 kN"):
        places = [(x, y) for x in (-110, 110) for y in (-60, 60)]
        text = bolted(sleeves, places, f'preload = "{force}"\nproperty_class = "10.9"', "clamped")
        solved = solve_coarse(case_file.parse(text, "bolts.toml"), "bed")["bed"]
        shares.append(solved.composite)
    print(f"share {shares[0]:.3f} with bolts hardly tight, {shares[1]:.3f} with 150 kN each")
    assert 0 <= shares[0] < shares[1] - 0.01 < 1


@pytest.mark.parametrize(
    ("places", "more", "words"),
    [
        ([(45, 0)], "", "clear of the workpiece patch"),
        ([(140, 0)], 'washer_diameter = "37 mm"', "clear of the nut of rod 2"),
        ([(100, 40), (120, 40)], 'washer_diameter = "37 mm"', "clear of those of clamp bolt 1"),
        ([(100, 40)], 'hole = "30 mm"', "washer_diameter: given 27.7 mm; allowed: larger"),
        ([(100, 77)], 'washer_diameter = "37 mm"', "lies off the plate"),
    ],
)
def test_heads_and_nuts_need_room(small_text, places, more, words):
    with pytest.raises(CaseError) as caught:
        case_file.parse(bolted(small_text, places, more), "bolts.toml")
    assert words in str(caught.value)


def test_stiffness_and_force_at_rest(small_text):
    press = layout.build(
        case_file.parse(bolted(small_text, [(90, 60), (-90, 60)], 'tightening = "hydraulic"'), "b")
    )
    bolt = press.bed.bolts[0]
    # M20, class 8.8, μ = 0.12: 130 kN (VDI 2230, not verified against the standard), over 1.4.
    assert clamping.most_preload(bolt) == pytest.approx(130e3, rel=0.01)
    assert clamping.least_preload(bolt) == pytest.approx(130e3 / 1.4, rel=0.01)
    mesh = stack.mesh_stack(press, press.bed, case_file.parse(small_text, "s"))
    found = clamping.clamps(mesh, press.bed)
    # 100 mm of M20 with 2 × (0.5 d of thread and 0.4 d of nut), E = 210 GPa.
    shank, core = math.pi / 4 * 0.02**2, math.pi / 4 * tables.thread("M20").d3 ** 2
    soft = (0.1 / shank + 2 * (0.01 / core + 0.008 / shank)) / 210e9
    assert 1 / found.stiffness == pytest.approx(soft, rel=1e-9)
    assert found.without({bolt.name for bolt in found.bolts}).load.any() == 0
