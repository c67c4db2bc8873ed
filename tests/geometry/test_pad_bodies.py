"""Washers and the cylinder's end as bodies: where they are, what their mesh is, what is refused.

Areas, volumes and masses by hand from the case's lengths.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from platestack.fea.solid import forecast
from platestack.fea.solid.readings import face_weights
from platestack.fea.solid.stack import mesh_plan
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.errors import CaseError
from platestack.geometry.mesh import Sizes
from platestack.geometry.split import split

COARSE = Sizes(0.06, round_divisions=10, ring_divisions=1, patch_divisions=5)


def press_of(text: str):
    return layout.build(case_file.parse(text, "pads.toml"))


@pytest.fixture(scope="module")
def pressed(padded):
    """Crosshead of the small press with loose washers and a clamped flange, and its mesh."""
    press = press_of(padded("loose", "clamped", FLANGE))
    mesh = mesher.make(press.crosshead, press.rods, frozenset(("x", "y")), COARSE)
    return press, mesh


FLANGE = """outer_diameter = "175 mm"
inner_diameter = "125 mm"
flange = { outer_diameter = "175 mm", thickness = "30 mm" }
"""


def area_of(mesh, faces: np.ndarray) -> float:
    return float(face_weights(mesh.nodes, faces).sum()) * mesh.share


def test_pads_have_the_mass_of_their_ring(pressed):
    _, mesh = pressed
    corners = mesh.nodes[mesh.tets[:, :4]]
    volumes = np.abs(np.linalg.det(corners[:, 1:] - corners[:, :1])) / 6
    wanted = {
        "washer of rod 2": math.pi / 4 * (0.07875**2 - 0.048**2) * 0.009 / 2,
        "flange": math.pi / 4 * (0.175**2 - 0.125**2) * 0.030 / 4,
    }
    for name, volume in wanted.items():
        own = mesh.plate == mesh.plate_names.index(name)
        # Straight elements inside curved rims: arcs of 36° at most.
        assert volumes[own].sum() == pytest.approx(volume, rel=0.05)
    assert not (mesh.plate == mesh.plate_names.index("washer of rod 1")).any()


def test_they_are_not_weighed_twice(padded, small_press):
    press = press_of(padded("loose", "loose"))
    assert press.mass == small_press.mass
    assert press.crosshead.mass == small_press.crosshead.mass


def test_another_steel_of_the_washers_counts(small_text):
    light = '[materials.light]\nyield_strength = "200 MPa"\ntensile_strength = "300 MPa"\n'
    text = small_text.replace("[rods]", '[rods]\nwasher_grade = "light"')
    press = press_of(text + light + 'density = "2700 kg/m^3"\nyoung = "70 GPa"\n')
    ring = math.pi / 4 * (0.07875**2 - 0.048**2) * 0.009
    assert press.rods[0].washer_mass == pytest.approx(2700 * ring)


def test_forces_act_on_the_far_faces(pressed):
    """The nut inside its hexagon, the wall of 125/156.25 mm; both as far off as pads are thick."""
    press, mesh = pressed
    stack, rod = press.crosshead, press.rods[0]
    nut, ram = mesh.pressed("nut of rod 2"), mesh.pressed("ram")
    assert np.allclose(mesh.nodes[nut, 2], stack.nut_face + 0.009)
    assert np.allclose(mesh.nodes[ram, 2], stack.load_face - 0.030)
    ring = math.pi / 4 * (rod.nut_across_flats**2 - 0.048**2)
    assert area_of(mesh, nut) == pytest.approx(2 * ring, rel=5e-3)  # of two rods
    assert area_of(mesh, ram) == pytest.approx(math.pi / 4 * (0.15625**2 - 0.125**2), rel=5e-3)


def test_once_opened_the_areas_stay_with_the_stack(pressed):
    _, mesh = pressed
    opened, pairs = split(mesh, [name for name in mesh.interfaces if name != "plate 1 | plate 2"])
    assert {pair.name for pair in pairs} == {"plate 2 | washer of rod 2", "plate 1 | flange"}
    of_stack = np.unique(opened.tets[opened.of_plates])
    for name in ("nut of rod 2", "ram"):
        assert len(opened.faces[name]) == len(mesh.faces[name])
        assert np.isin(opened.faces[name], of_stack).all()
        assert not np.isin(opened.pressed(name), of_stack).any()


def test_a_flange_on_a_platen_leaves_the_areas_with_the_platen(padded):
    """The area under a pad on the platen is the platen's, that under the platen the plate's."""
    text = padded("even", "loose", 'mounted = "bed"\n', "loose")
    platen = '[bed.platen]\nthickness = "30 mm"\nlength = "240 mm"\n'
    press = press_of(text.replace("[rods]", platen + "[rods]"))
    mesh = mesher.make(press.bed, press.rods, frozenset(("x", "y")), COARSE)
    opened, pairs = split(mesh, mesh.interfaces)
    platen = np.unique(opened.tets[opened.plate == opened.plate_names.index("platen")])
    assert len(pairs) == 3
    assert len(opened.faces["ram"])
    assert np.isin(opened.faces["ram"], platen).all()


def test_thin_washers_are_meshed_thicker_and_squeezed_back(padded):
    text = padded("loose").replace("[rods]", '[rods]\nwasher_thickness = "0.5 mm"')
    press = press_of(text)
    for stack in press.stacks:
        mesh = mesher.make(stack, press.rods, frozenset(("x", "y")), COARSE)
        own = mesh.nodes[mesh.tets[mesh.plate == len(mesh.plate_names) - 1], 2]
        ends = sorted((stack.nut_face, stack.nut_face + stack.direction * 0.5e-3))
        assert [own.min(), own.max()] == pytest.approx(ends, abs=1e-9)
        assert mesh.quality.least_jacobian > 0


def test_the_forecast_counts_them(padded):
    """Within the 35 % that forecasts of a first mesh hold elsewhere."""
    case = case_file.parse(padded("loose", "loose"), "pads.toml")
    press = layout.build(case)
    stack = press.crosshead
    mesh = mesher.make(stack, press.rods, *mesh_plan(press, stack, case))
    opened, _ = split(mesh, [name for name in mesh.interfaces if name != "plate 1 | plate 2"])
    expected = forecast.of(press, case).stacks
    assert expected["crosshead"].first == pytest.approx(opened.unknowns, rel=0.35)
    # Loose for its washers alone.
    assert expected["bed"].per_unknown == forecast.PER_UNKNOWN["loose"]


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        ('[rods]\nwasher_interface = { kind = "glued" }', "rods.washer_interface.kind", "'loose'"),
        (
            '[rods]\nwasher_interface = "loose"',
            "rods.washer_interface",
            "a table, of friction, kind",
        ),
        ("[rods]\nwasher_interface = { friction = -1.0 }", "washer_interface.friction", "0"),
        ('[rods]\nwasher_grade = "S9"', "rods.washer_grade", "S355J2"),
        (
            '[rods]\nwasher_interface = { kind = "loose" }\nnut_across_flats = "48 mm"',
            "rods.nut_across_flats",
            "more than the rod hole",
        ),
    ],
)
def test_bad_washers_are_told_in_a_line(small_text, text, key, words):
    with pytest.raises(CaseError) as told:
        case_file.parse(small_text.replace("[rods]", text), "bad.toml")
    lines = str(told.value).splitlines()
    assert len(lines) == 1
    assert key in lines[0]
    assert words in lines[0]


def test_a_wall_beside_the_ring_that_bears_is_refused(padded):
    bad = padded("even", "loose", 'inner_diameter = "160 mm"\nouter_diameter = "175 mm"')
    bad += '\n[cylinder]\nouter_diameter = "158 mm"\n'
    with pytest.raises(CaseError, match=r"ram\.interface.*does not stand on the ring that bears"):
        case_file.parse(bad, "bad.toml")
