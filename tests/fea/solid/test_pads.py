"""Washers and the cylinder's end as bodies: forces through them, bounds, what stands after a run.

Expected values: statics; evenly pressed and rigid ends as bounds; independence of the load in
receding contact (Dundurs & Stippes, J. Appl. Mech. 37 (1970) 965, not verified).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from platestack.fea.hand.beam import beam_check
from platestack.fea.jobs import run
from platestack.fea.jobs.proof import readings
from platestack.fea.results import run_directory
from platestack.fea.solid import model
from platestack.fea.solid.contact.faces import at_points
from platestack.fea.solid.pressing import PressedState, Pressing
from platestack.fea.solid.reduced.affine import AffineProblem, NotAffineError
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.mesh import Sizes
from platestack.geometry.mesher import make
from platestack.geometry.parts import Press, Stack
from platestack.geometry.symmetry import symmetry_of

CASES = Path(__file__).parents[3] / "cases"
COARSE = Sizes(0.06, round_divisions=10, ring_divisions=1, patch_divisions=5)
CAPACITY = 30 * 9806.65
FLANGE = """outer_diameter = "175 mm"
inner_diameter = "125 mm"
flange = { outer_diameter = "175 mm", thickness = "10 mm" }
"""
WALL = '[cylinder]\nouter_diameter = "140 mm"\n'


def built(text: str) -> Press:
    return layout.build(case_file.parse(text, "pads.toml"))


def pressing(press: Press, stack: Stack, symmetry=None, sizes: Sizes = COARSE) -> Pressing:
    planes = symmetry_of(stack, press.rods) if symmetry is None else symmetry
    mesh = make(stack, press.rods, planes, sizes)
    return Pressing(press, stack, mesh, lambda step: None)


def of_modulus(stack: Stack, factor: float) -> Stack:
    """The stack with pads of another stiffness."""
    pads = []
    for pad in stack.pads:
        steel = replace(pad.body.material, young=factor * pad.body.material.young)
        pads.append(replace(pad, body=replace(pad.body, material=steel)))
    return replace(stack, pads=tuple(pads))


def carried(found: Pressing, at: PressedState | None = None) -> dict[str, np.ndarray]:
    """Force and moments (x, y, 1) p (N, N m) through each pad at capacity, of the model's share."""
    faces, state = found.faces, (at or found.pressed).contact.state
    each = faces.area * state.pressure
    x, y = np.moveaxis(at_points(faces.places), 2, 0)[:2]
    return {
        name: np.array([(each * arm)[faces.owner == i].sum() for arm in (np.ones_like(x), x, y)])
        for i, name in enumerate(faces.names)
    }


@pytest.mark.parametrize(
    ("washers", "cylinder"),
    [("loose", "clamped"), pytest.param("clamped", "loose", marks=pytest.mark.slow)],
)
def test_all_force_goes_through_the_pads(padded, washers, cylinder):
    """A quarter of capacity through the end of the cylinder, half of a rod's through its washer.

    Without friction so does the moment of a rod's force about the press axis.
    """
    press = built(padded(washers, cylinder, plates="loose"))
    found = pressing(press, press.crosshead)
    through = carried(found)
    (rod,) = found.pressed.rods
    assert through["plate 1 | cylinder bottom"][0] == pytest.approx(CAPACITY / 4, rel=1e-6)
    washer = through["plate 2 | washer of rod 2"]
    assert washer[0] == pytest.approx(rod.frame / 2, rel=1e-6)
    if washers == "loose":
        assert washer[1] == pytest.approx(rod.frame / 2 * 0.175, rel=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("cylinder", ["even", "loose", "welded"])
def test_the_band_of_beam_theory_holds_with_them(padded, cylinder):
    press = built(padded("loose", cylinder))
    found = pressing(press, press.crosshead)
    check = beam_check(press.crosshead, press.rods, press.capacity)
    assert check.agrees(found.deflection()[0], 0.0)
    assert ("cylinder's end" in " ".join(check.reasons)) == (cylinder != "even")


def test_tall_washers_do_not_turn_the_press_over(padded):
    """Welded tubes of 400 mm in place of washers: what is outward is told by the plates."""
    text = padded("welded").replace("[rods]", '[rods]\nwasher_thickness = "400 mm"')
    press = built(text)
    found = pressing(press, press.crosshead)
    assert found.held.outward == 1
    assert found.balance < 1e-6


@pytest.mark.slow
def test_preload_goes_through_washers(four_rods):
    """Tightened, each presses with the preload; at capacity with what the nut bears."""
    rods = 'count = 4\npitch = ["520 mm", "250 mm"]\nseat = "sleeve"\npreload = "200 kN"\n'
    text = four_rods(rods=rods + 'washer_interface = { kind = "clamped" }')
    press = built(text)
    found = pressing(press, press.bed)
    (rod,) = found.pressed.rods
    force = carried(found)["plate 1 | washer of rod 4"][0]
    assert rod.nut > 200e3
    assert force == pytest.approx(rod.nut, rel=1e-6)
    assert carried(found, found.tightened)["plate 1 | washer of rod 4"][0] == pytest.approx(
        200e3, rel=1e-6
    )


@pytest.mark.slow
def test_a_steel_end_lies_between_even_and_rigid(padded):
    """And a rigid welded one lets the crosshead bend least of all."""

    def bends(kind: str, factor: float = 1.0) -> float:
        press = built(padded(cylinder=kind))
        return pressing(press, of_modulus(press.crosshead, factor)).deflection()[0]

    even = bends("even")
    assert bends("loose", 1e-4) == pytest.approx(even, rel=2e-4)
    loose, rigid = bends("loose"), bends("loose", 1e3)
    assert rigid < 0.95 * even
    assert rigid < loose < even
    assert bends("welded", 1e3) < bends("welded") < loose


@pytest.mark.slow
def test_a_flange_lifts_off_outside_the_wall_whatever_the_load(padded):
    press = built(padded(cylinder="loose", ram=FLANGE) + WALL)
    sizes = Sizes(0.06, round_divisions=16, ring_divisions=3, patch_divisions=5)
    found, light = (
        pressing(replace(press, capacity=load), press.crosshead, sizes=sizes)
        for load in (CAPACITY, CAPACITY / 10)
    )
    whole, part = found.pressed.interfaces[-1], light.pressed.interfaces[-1]
    assert whole.name == "plate 1 | flange"
    assert 0.4 < whole.closed < 0.95
    assert part.closed == pytest.approx(whole.closed, abs=0.01)
    assert light.deflection()[0] == pytest.approx(found.deflection()[0] / 10, rel=1e-3)
    # Pressed under the wall, which ends at 140 mm, and open at the rim.
    radius = np.hypot(*whole.map.points[:, :2].T)
    assert not whole.map.pressure[radius > 0.0874].any()
    assert whole.map.pressure[radius < 0.069].all()
    assert whole.map.gap[whole.map.pressure > 0].max() < 1e-6


@pytest.mark.slow
def test_pads_that_nothing_holds_sideways_do_not_matter(padded):
    """The whole model, where loose washers float in the plane, says what the quarter says."""
    ratios = []
    for planes in (frozenset(("x", "y")), frozenset()):
        both = []
        for kind in ("even", "loose"):
            press = built(padded(kind, kind))
            both.append(pressing(press, press.crosshead, planes).deflection()[0])
        ratios.append(both[1] / both[0])
    assert ratios[1] == pytest.approx(ratios[0], abs=2e-3)


def test_peaks_are_named_by_part(padded, solve_coarse):
    case = case_file.parse(padded("loose", "welded"), "pads.toml")
    solved = solve_coarse(case, "crosshead")["crosshead"]
    peaks = {peak.plate.name: peak for peak in solved.peaks}
    assert set(peaks) == {"plate 1", "plate 2", "washer of rod 2", "cylinder bottom"}
    washer = peaks["washer of rod 2"]
    assert washer.place.startswith("washer of rod 2, ")
    # 650 MPa: yield of the rod's steel.
    assert washer.allowed == pytest.approx(650e6 / 1.5)
    assert washer.von_mises > 294199.5 / 2 / (np.pi / 4 * (0.07875**2 - 0.048**2))


@pytest.fixture(scope="module")
def padded_run(padded, solve_coarse, tmp_path_factory):
    """Results directory of the small press with loose washers and a welded end, coarse."""
    place = tmp_path_factory.mktemp("pads")
    file = place / "padded.toml"
    text = padded("loose", "welded", plates="loose") + '\n[mesh]\nsize = "60 mm"\n'
    file.write_text(text, encoding="utf-8")

    def solved(case, report):
        press = layout.build(case)
        return model.Solution(case, press, solve_coarse(case), 0.0)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "analyse", solved)
        run.run(file, place / "out", lambda step: None, drawn=False)
    return place / "out"


def test_a_run_records_them_and_is_read_back(padded_run):
    found = run_directory.reopen(padded_run)
    summary = found.summary
    assert [plate.name for plate in summary.crosshead.plates] == ["plate 1", "plate 2"]
    names = [pad.name for pad in summary.crosshead.pads]
    assert names == ["washer of rod 1", "washer of rod 2", "cylinder bottom"]
    assert summary.crosshead.pads[0].peak_von_mises is None  # a mirrored twin
    kinds = {name: (r.kind, r.pad) for name, r in summary.crosshead.interfaces.items()}
    assert kinds == {
        "plate 1 | plate 2": ("loose", False),
        "plate 1 | cylinder bottom": ("welded", True),
        "plate 2 | washer of rod 2": ("loose", True),
    }
    assert any("washer of rod 2: peak von Mises stress" in check.name for check in summary.checks)
    assert not any("washer" in c.name and "fatigue of cut" in c.name for c in summary.checks)
    assert summary.crosshead.peak_von_mises.place.startswith("plate")
    bodies = sum(len(stack.bodies) for stack in found.press.stacks)
    run_directory.read_fields(padded_run, bodies)


def test_instruments_of_the_proof_test_stand_on_plates(padded_run):
    read = readings.read(run_directory.reopen(padded_run))
    dial = next(r for r in read if r.name == "crosshead dial outer face")
    nut_face = run_directory.reopen(padded_run).press.crosshead.nut_face
    assert dial.at[2] == pytest.approx(nut_face, abs=1e-9)


def test_they_have_no_reduced_model(padded):
    press = built(padded("welded", "welded"))
    mesh = make(press.bed, press.rods, frozenset(("x", "y")), COARSE)
    with pytest.raises(NotAffineError, match="on which nuts and cylinder press evenly"):
        AffineProblem.of(press, press.bed, mesh)


@pytest.mark.slow
def test_upright_plates_bear_them(padded):
    """On saddles and platen: a rod's force through its washer, less bending where it is welded."""
    text = (CASES / "on_edge" / "on_edge.toml").read_text(encoding="utf-8")
    bent = {}
    for kind in ("even", "loose", "welded"):
        press = built(padded(kind, kind, case=text))
        found = pressing(press, press.crosshead)
        bent[kind] = found.deflection()[0]
        if kind == "loose":
            pads = ("washer", "cylinder bottom")
            through = {n: f for n, f in carried(found).items() if any(pad in n for pad in pads)}
            force = 160 * 9806.65 / 4
            assert set(through) == {"platen | cylinder bottom", "saddle 2 | washer of rod 4"}
            assert [one[0] for one in through.values()] == pytest.approx([force, force], rel=1e-6)
    assert bent["welded"] < bent["even"] < bent["loose"]


@pytest.mark.slow
def test_the_flange_of_the_demo_lies_between_its_bounds(padded):
    """Loose, it bears less evenly than its area and never more narrowly than its wall alone."""
    text = (CASES / "demo" / "demo.toml").read_text(encoding="utf-8")

    def bends(kind: str, outer: int = 480, factor: float = 1.0) -> float:
        own = padded(case=text, cylinder=kind, ram=f'flange = {{ outer_diameter = "{outer} mm", '
                     'thickness = "50 mm" }\n' if outer > 400 else "")  # fmt: skip
        own = own.replace('outer_diameter = "400 mm"', f'outer_diameter = "{outer} mm"')
        press = built(own + '\n[cylinder]\nouter_diameter = "400 mm"\n')
        sizes = Sizes(0.08, round_divisions=10, ring_divisions=2, patch_divisions=5)
        return pressing(press, of_modulus(press.crosshead, factor), sizes=sizes).deflection()[0]

    loose, even, wall = bends("loose"), bends("even"), bends("even", 400)
    assert bends("loose", factor=1e3) < 0.85 * even
    assert even < loose < wall
    assert bends("welded") < bends("clamped") < loose
