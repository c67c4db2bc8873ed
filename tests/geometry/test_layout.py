"""From a case to a press in place.

Expected values: sums of lengths by hand; thread and nut sizes from ISO 261, ISO 724 and ISO 4032;
the defaults are common practice (no source) and are stated beside each check.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.geometry import case as case_file
from platestack.geometry import cylinder, layout, tables
from platestack.geometry.parts import Press
from platestack.geometry.shapes import Groove

CASES = ("small", "demo", "on_edge", "large")
TONNE_FORCE = 9806.65
"""One tf in N: 1000 kg at the standard acceleration of gravity."""


def build(text: str) -> Press:
    return layout.build(case_file.parse(text, "test.toml"))


def plain(
    *,
    daylight: int = 400,
    stroke: int = 200,
    above: tuple[int, ...] = (60, 60),
    below: tuple[int, ...] = (80, 50, 50),
    rods: str = 'count = 4\npitch = ["800 mm", "400 mm"]',
    more: str = "",
) -> str:
    """A plain flat press of 100 tf; lengths in mm."""
    crosshead = ", ".join(f'"{t} mm"' for t in above)
    bed = ", ".join(f'"{t} mm"' for t in below)
    return f"""
[press]
name = "plain"
capacity = "100 tf"
working_pressure = "25 MPa"
daylight = "{daylight} mm"
stroke = "{stroke} mm"
[crosshead]
length = "1100 mm"
width = "700 mm"
plates = [{crosshead}]
[bed]
length = "1100 mm"
width = "700 mm"
plates = [{bed}]
[rods]
diameter = "60 mm"
{rods}
{more}
"""


# --- heights


def test_heights_of_the_small_press_by_hand(small_press):
    # Bed 2 x 50; daylight 250; cylinder 120 + 1.25 x 125 = 276.25; crosshead 2 x 50 (mm).
    bed, crosshead = small_press.bed, small_press.crosshead
    assert (bed.nut_face, bed.load_face) == pytest.approx((0.0, 0.100))
    assert (crosshead.load_face, crosshead.nut_face) == pytest.approx((0.62625, 0.72625))
    assert small_press.closed_length == pytest.approx(0.27625)
    # The rod adds two nuts (of height d for large threads: 45) and two washers (d/5: 9) to 726.25.
    assert small_press.rods[0].free_length == pytest.approx(0.72625)
    assert small_press.height == pytest.approx(0.72625 + 2 * (0.045 + 0.009 + 0.005))
    assert small_press.capacity == pytest.approx(30 * TONNE_FORCE)


plates = st.lists(st.integers(20, 150), min_size=1, max_size=6).map(tuple)


@settings(max_examples=40, deadline=None)
@given(st.integers(100, 2000), st.integers(50, 1000), plates, plates)
def test_heights_add_up(daylight, stroke, above, below):
    stroke = min(stroke, daylight)
    press = build(plain(daylight=daylight, stroke=stroke, above=above, below=below))
    bed, crosshead = press.bed, press.crosshead
    assert bed.depth == pytest.approx(sum(below) / 1000)
    assert crosshead.depth == pytest.approx(sum(above) / 1000)
    opening = crosshead.load_face - bed.load_face
    assert opening == pytest.approx(daylight / 1000 + press.closed_length)
    free = sum(below) / 1000 + opening + sum(above) / 1000
    assert press.rods[0].free_length == pytest.approx(free)
    for stack, thicknesses in ((bed, below), (crosshead, above)):
        assert [p.thickness for p in stack.plates] == pytest.approx([t / 1000 for t in thicknesses])
        for lower, upper in pairwise(stack.plates):
            assert upper.base == pytest.approx(lower.top)


def test_flat_plates_are_listed_from_below():
    press = build(plain(below=(80, 50, 40)))
    assert [p.name for p in press.bed.plates] == ["plate 1", "plate 2", "plate 3"]
    assert [p.base for p in press.bed.plates] == pytest.approx([0.0, 0.08, 0.13])


def test_loaded_faces_look_at_each_other():
    press = build(plain())
    assert press.crosshead.direction == 1
    assert press.bed.direction == -1
    assert press.bed.load_face < press.crosshead.load_face
    assert press.bed.load_face > press.bed.nut_face
    assert press.crosshead.load_face < press.crosshead.nut_face


# --- platens


@pytest.mark.parametrize("stack", ["crosshead", "bed"])
def test_a_platen_lies_on_the_loaded_face(stack):
    slot = '[{ shape = "groove", along = "x", at = "150 mm", width = "20 mm", depth = "30 mm" }]'
    platen = f'thickness = "60 mm"\nlength = "500 mm"\nwidth = "450 mm"\nopenings = {slot}'
    press = build(plain(more=f"[{stack}.platen]\n{platen}"))
    made = getattr(press, stack)
    index = 0 if stack == "crosshead" else -1
    own = made.plates[index]
    assert own.role == "platen"
    assert (own.outline.length, own.outline.width, own.thickness) == (0.5, 0.45, 0.06)
    face = own.base if stack == "crosshead" else own.top
    assert face == pytest.approx(made.load_face)
    assert made.depth == pytest.approx(sum(p.thickness for p in made.plates))
    # Its groove opens towards the work, and rods at ±400, ±200 mm pass beside it.
    assert own.grooved == ("-" if stack == "crosshead" else "+")
    assert [type(hole) for hole in own.holes] == [Groove]


def test_daylight_is_between_platens():
    text = plain(more='[bed.platen]\nthickness = "60 mm"\n[crosshead.platen]\nthickness = "40 mm"')
    press = build(text)
    opening = press.crosshead.load_face - press.bed.load_face - press.closed_length
    assert opening == pytest.approx(0.4)
    assert press.rods[0].free_length == pytest.approx(
        0.18 + 0.06 + 0.4 + press.closed_length + 0.04 + 0.12
    )


# --- of every case


@pytest.mark.parametrize("case", CASES)
def test_no_two_plates_share_space(press_of, case):
    for stack in press_of(case).stacks:
        for i, one in enumerate(stack.plates):
            for two in stack.plates[:i]:
                (low1, high1), (low2, high2) = one.bounds, two.bounds
                overlap = [min(high1[k], high2[k]) - max(low1[k], low2[k]) for k in range(3)]
                assert min(overlap) < 1e-9, (one.name, two.name)


@pytest.mark.parametrize("case", CASES)
def test_each_rod_passes_every_plate_in_a_hole_or_beside_it(press_of, case):
    press = press_of(case)
    for stack in press.stacks:
        for plate in stack.plates:
            for rod in press.rods:
                if plate.normal == "z":
                    beside = plate.outline.clearance(rod.at) < -rod.diameter / 2
                    bored = any(
                        getattr(hole, "purpose", "") == "rod"
                        and math.dist(hole.at, rod.at) < 1e-9
                        and hole.diameter > rod.diameter
                        for hole in plate.holes
                    )
                else:
                    (x0, y0, _), (x1, y1, _) = plate.bounds
                    beside = (
                        max(x0 - rod.at[0], rod.at[0] - x1, y0 - rod.at[1], rod.at[1] - y1)
                        > rod.diameter / 2
                    )
                    bored = False
                assert beside or bored, (stack.name, plate.name, rod.name)


# --- rods


@pytest.mark.parametrize(
    ("rods", "expected"),
    [
        ('count = 2\npitch = "800 mm"', [(-0.4, 0), (0.4, 0)]),
        (
            'count = 4\npitch = ["800 mm", "400 mm"]',
            [(-0.4, -0.2), (0.4, -0.2), (-0.4, 0.2), (0.4, 0.2)],
        ),
        (
            'count = 6\npitch = ["800 mm", "400 mm"]',
            [(x, y) for y in (-0.2, 0.2) for x in (-0.4, 0, 0.4)],
        ),
        (
            'count = 8\npitch = ["900 mm", "400 mm"]',
            [(x, y) for y in (-0.2, 0.2) for x in (-0.45, -0.15, 0.15, 0.45)],
        ),
        (
            'count = 4\npositions = [["-300 mm", "-150 mm"], ["300 mm", "-150 mm"], '
            '["-300 mm", "150 mm"], ["300 mm", "150 mm"]]',
            [(-0.3, -0.15), (0.3, -0.15), (-0.3, 0.15), (0.3, 0.15)],
        ),
    ],
    ids=["two", "four", "six", "eight", "given"],
)
def test_places_of_rods(rods, expected):
    press = build(plain(rods=rods))
    assert len(press.rods) == len(expected)
    got = sorted(rod.at for rod in press.rods)
    for one, two in zip(got, sorted(expected), strict=True):
        assert one == pytest.approx(two)
    assert [rod.name for rod in press.rods] == [f"rod {i + 1}" for i in range(len(expected))]
    xs = [x for x, _ in expected]
    assert layout.span(tuple(rod.at for rod in press.rods)) == pytest.approx(max(xs) - min(xs))


@pytest.mark.parametrize(
    ("diameter", "thread", "d", "pitch", "flats"),
    [
        # Largest coarse thread that the bar can carry (ISO 261 leaves its pitch unwritten);
        # across flats as in ISO 4032, from M68 as in DIN 934.
        (60, "M60", 60, 5.5, 90),
        (65, "M64", 64, 6, 95),
        (80, "M80x6", 80, 6, 115),
        (45, "M45", 45, 4.5, 70),
    ],
)
def test_thread_is_the_largest_on_the_bar(diameter, thread, d, pitch, flats):
    rod = build(plain().replace('diameter = "60 mm"', f'diameter = "{diameter} mm"')).rods[0]
    assert rod.thread == thread
    # ISO 898-1: stress area π/4 (d − 0.9382 P)².
    assert rod.stress_area == pytest.approx(
        math.pi / 4 * (d - 0.9382 * pitch) ** 2 * 1e-6, rel=2e-5
    )
    assert rod.nut_across_flats == pytest.approx(flats / 1000)


def test_defaults_of_rods_by_hand():
    press = build(plain())
    rod = press.rods[0]
    assert rod.hole == pytest.approx(0.063)  # 5 % or 3 mm larger, common practice
    assert rod.bearing_outer == pytest.approx(0.105)  # 1.75 d, common practice
    assert rod.nut_height == pytest.approx(0.060)  # d, more than ISO 4032's 48 mm
    assert rod.washer_thickness == pytest.approx(0.012)  # d / 5
    assert (rod.seat, rod.preload) == ("none", 0.0)  # nothing to tighten it against
    assert rod.material.grade == "42CrMo4+QT"


def test_given_values_of_rods_win():
    rods = (
        'count = 2\npitch = "800 mm"\nthread = "M56x4"\nhole = "70 mm"\nnut_height = "50 mm"\n'
        'nut_across_flats = "88 mm"\nwasher_diameter = "130 mm"\nwasher_thickness = "15 mm"\n'
        'seat = "sleeve"\nseat_diameter = "110 mm"\nsleeve_bore = "75 mm"\npreload = "500 kN"\n'
        'projection = "20 mm"\nthread_length = "90 mm"'
    )
    press = build(plain(rods=rods))
    rod = press.rods[0]
    assert (rod.thread, rod.hole, rod.nut_height, rod.nut_across_flats) == (
        "M56x4",
        0.07,
        0.05,
        0.088,
    )
    assert (rod.bearing_outer, rod.washer_thickness, rod.preload) == (0.13, 0.015, 500e3)
    assert (rod.projection, rod.thread_length) == (0.02, 0.09)
    assert not [key for key, _ in press.assumed if key.startswith("rods.")]


def test_seats_by_hand():
    four = 'pitch = ["800 mm", "400 mm"]\n'
    for seat, outer, nuts in (
        ("inner nuts", 0.105, 4),
        ("shoulder", 0.084, 2),
        ("sleeve", 0.096, 2),
    ):
        press = build(plain(rods=f'{four}seat = "{seat}"'))
        rod = press.rods[0]
        assert rod.preload == pytest.approx(1.2 * 100 * TONNE_FORCE / 4)  # 1.2 working shares
        assert (rod.seat_outer, rod.nuts) == (pytest.approx(outer), nuts)
        assert rod.between == pytest.approx(press.crosshead.load_face - press.bed.load_face)
    assert rod.sleeve_area == pytest.approx(math.pi / 4 * (0.096**2 - 0.063**2))


# --- ram and workpiece


def test_defaults_of_ram_and_workpiece_by_hand():
    press = build(plain())
    # sqrt(4 x 980.665 kN / (π 25 MPa)) = 223.5 mm; the next bore of the series is 250 mm.
    assert press.ram_diameter == pytest.approx(0.250)
    ring = press.crosshead.patch
    assert (ring.shape, ring.length, ring.inner) == ("annulus", 0.3125, 0.25)
    work = press.bed.patch
    assert (work.shape, work.length) == ("disc", 0.125)
    assert (press.crosshead.patch_name, press.bed.patch_name) == ("ram", "workpiece")


def test_a_ram_beyond_the_series_is_a_whole_centimetre():
    """sqrt(4 × 9,806.65 kN / (π 25 MPa)) = 706.7 mm, where bores end at 500 mm."""
    case = case_file.parse(plain())
    strong = case.press.model_copy(update={"capacity": 1000 * TONNE_FORCE})
    case = case.model_copy(update={"press": strong})
    assert layout._ram_diameter(case, layout.Assumptions()) == pytest.approx(0.710)


def test_thread_and_bottom_of_a_small_cylinder():
    """Bore 63 mm for 10 tf at 32 MPa: a pitch of at most a twentieth of it, 3.15 mm."""
    text = plain().replace('"100 tf"', '"10 tf"').replace('"25 MPa"', '"32 MPa"')
    made = build(text).cylinder
    assert made.bore == pytest.approx(0.063)
    assert made.thread_pitch == pytest.approx(0.003)


def test_the_bottom_ends_where_plates_do():
    """EN 10025-2 lists plates up to 400 mm (not verified), whatever the bore would ask."""
    case = case_file.parse(plain())
    assert cylinder._bottom(case, 10.0) == pytest.approx(0.395)
    # 3 (3 + ν) / 8 p (a/t)² within what S355 stands: no step thinner would do.
    bottom = cylinder._bottom(case, 0.25)
    stress = [3 * 3.3 / 8 * 25e6 * (0.125 / t) ** 2 for t in (bottom, bottom - 0.005)]
    yields = tables.structural_grade(cylinder.BOTTOMS[0]).yield_strength(bottom)
    assert stress[0] <= yields / cylinder.reserve(case) < stress[1]


def test_the_cylinder_bears_on_the_wall_it_is_given():
    wall = '[cylinder]\nouter_diameter = "{}"\n'
    wide = build(plain(more=wall.format("380 mm")))
    assert wide.crosshead.patch.length == pytest.approx(0.380)
    assert wide.cylinder.outer_diameter == pytest.approx(0.380)
    # Where its bearing face is turned down, that is said.
    less = build(plain(more='[ram]\nouter_diameter = "350 mm"\n' + wall.format("380 mm")))
    assert less.crosshead.patch.length == pytest.approx(0.350)


def test_ram_in_the_bed_swaps_the_patches():
    press = build(plain(more='[ram]\nmounted = "bed"'))
    assert (press.crosshead.patch_name, press.bed.patch_name) == ("workpiece", "ram")
    assert press.bed.patch.shape == "annulus"
    assert press.crosshead.patch.shape == "disc"


def test_offset_moves_the_workpiece_only():
    press = build(plain(more='[workpiece]\noffset = ["100 mm", "-50 mm"]'))
    assert press.bed.patch.centre == pytest.approx((0.1, -0.05))
    assert press.crosshead.patch.centre == (0.0, 0.0)


def test_what_was_assumed_is_noted():
    assumed = dict(build(plain()).assumed)
    assert assumed["rods.hole"] == "63 mm"
    assert assumed["rods.thread"] == "M60"
    assert assumed["ram.diameter"] == "250 mm"
    assert assumed["ram.closed_length"] == "512.5 mm"  # 200 + 1.25 x 250
    assert assumed["workpiece.diameter"] == "125 mm"


def test_what_was_given_is_not_noted():
    ram = (
        '[ram]\ndiameter = "280 mm"\nouter_diameter = "340 mm"\ninner_diameter = "280 mm"\n'
        'closed_length = "600 mm"\n[workpiece]\ndiameter = "150 mm"'
    )
    keys = {key for key, _ in build(plain(more=ram)).assumed}
    assert not {key for key in keys if key.startswith(("ram.", "workpiece."))}
    assert "rods.hole" in keys


# --- limits and masses


def test_deflection_limit_is_the_slope_times_the_span():
    press = build(plain(more='[limits]\ndeflection = "0.5 mm/m"'))
    assert press.bed.deflection_limit == pytest.approx(0.5e-3 * 0.8)


def test_steel_is_weaker_where_it_is_thicker():
    # EN 10025-2 for S355: 345 MPa from 16 to 40 mm, 335 to 63, 325 to 80, 315 to 100, 295 to 150.
    # The outer ones are machined from 45 and 130 mm.
    press = build(plain(below=(40, 40, 50, 80, 100, 120)))
    strengths = [p.material.yield_strength / 1e6 for p in press.bed.plates]
    assert strengths == pytest.approx([335, 345, 335, 325, 315, 295])


def test_mass_of_a_press_by_hand():
    press = build(plain(above=(60,), below=(60,)))
    plate = (1.1 * 0.7 - 4 * math.pi / 4 * 0.063**2) * 0.06 * 7850
    shank = math.pi / 4 * 0.06**2
    nut = (math.sqrt(3) / 2 * 0.09**2 - shank) * 0.06 * 7850
    rod = shank * (press.rods[0].free_length + 2 * (0.06 + 0.012 + 0.006)) * 7850
    first = press.rods[0]
    washer = math.pi / 4 * (first.bearing_outer**2 - 0.063**2) * 0.012 * 7850
    rods = 4 * (rod + 2 * nut + 2 * washer)
    assert press.mass == pytest.approx(2 * plate + rods + press.cylinder.mass, rel=1e-9)
