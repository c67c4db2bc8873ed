"""Metric threads and hexagon nuts against the values of the standards.

Sources stand at each check; "secondary copy": a public reproduction of the table was read, not the
standard; "not verified against the standard": nothing was read.
"""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from platestack.geometry import tables
from platestack.geometry.tables.source import read

MM = 1e-3

# ISO 724 diameters and ISO 898-1 stress areas by formula (four and two decimals), and the area as
# published in tables (Bickford, Introduction to the Design and Behavior of Bolted Joints, 4th ed.,
# and ISO 898-1; secondary copies): thread, d2, D1, d3 (mm), As by formula, As published (mm2).
THREADS = [
    ("M20x2.5", 18.3762, 17.2937, 16.9328, 244.79, "244.79"),
    ("M24x3", 22.0514, 20.7524, 20.3194, 352.50, "352.50"),
    ("M30x3.5", 27.7267, 26.2111, 25.7060, 560.59, "560.59"),
    ("M30x3", 28.0514, 26.7524, 26.3194, 580.45, "580.4"),
    ("M33x3.5", 30.7267, 29.2111, 28.7060, 693.55, "693.55"),
    ("M36x4", 33.4019, 31.6699, 31.0925, 816.72, "816.72"),
    ("M36x3", 34.0514, 32.7524, 32.3194, 864.94, "864.9"),
    ("M39x4", 36.4019, 34.6699, 34.0925, 975.75, "975.75"),
    ("M42x4.5", 39.0772, 37.1286, 36.4791, 1120.91, "1120.9"),
    ("M42x3", 40.0514, 38.7524, 38.3194, 1205.98, "1206"),
    ("M45x4.5", 42.0772, 40.1286, 39.4791, 1306.00, None),
    ("M48x5", 44.7524, 42.5873, 41.8657, 1473.15, "1473.2"),
    ("M48x3", 46.0514, 44.7524, 44.3194, 1603.56, "1604"),
    ("M52x5", 48.7524, 46.5873, 45.8657, 1757.83, None),
    ("M56x5.5", 52.4276, 50.0461, 49.2522, 2030.02, "2030.0"),
    ("M56x4", 53.4019, 51.6699, 51.0925, 2143.96, None),
    ("M60x5.5", 56.4276, 54.0461, 53.2522, 2362.02, None),
    ("M64x6", 60.1029, 57.5048, 56.6388, 2675.97, "2676.0"),
    ("M64x4", 61.4019, 59.6699, 59.0925, 2850.78, None),
    ("M64x3", 62.0514, 60.7524, 60.3194, 2940.26, "2940"),
    ("M72x6", 68.1029, 65.5048, 64.6388, 3459.75, "3459.8"),
    ("M72x4", 69.4019, 67.6699, 67.0925, 3658.14, None),
    ("M80x6", 76.1029, 73.5048, 72.6388, 4344.05, "4344.1"),
    ("M80x4", 77.4019, 75.6699, 75.0925, 4566.02, None),
    ("M90x6", 86.1029, 83.5048, 82.6388, 5590.81, "5590.8"),
    ("M90x4", 87.4019, 85.6699, 85.0925, 5842.25, None),
    ("M90x3", 88.0514, 86.7524, 86.3194, 5970.04, "5970"),
    ("M100x6", 96.1029, 93.5048, 92.6388, 6994.64, "6994.7"),
    ("M100x4", 97.4019, 95.6699, 95.0925, 7275.56, None),
    ("M100x3", 98.0514, 96.7524, 96.3194, 7418.09, "7418"),
]


@pytest.mark.parametrize(("name", "d2", "d1", "d3", "area", "published"), THREADS)
def test_metric_thread(name, d2, d1, d3, area, published):
    thread = tables.thread(name)
    quoted = 5.1e-5 * MM  # half of the last quoted decimal
    assert thread.d2 == pytest.approx(d2 * MM, abs=quoted)
    assert thread.d1 == pytest.approx(d1 * MM, abs=quoted)
    assert thread.d3 == pytest.approx(d3 * MM, abs=quoted)
    assert thread.stress_area * 1e6 == pytest.approx(area, abs=5.1e-3)
    if published is not None:
        # Half a unit of the last published digit, and a little for rounding twice (M100x6).
        unit = 10.0 ** -len(published.partition(".")[2])
        assert thread.stress_area * 1e6 == pytest.approx(float(published), abs=0.65 * unit)


@pytest.mark.parametrize(("name", "force"), [("M80x6", 2606.4), ("M100x6", 4196.8)])
def test_stress_area_times_600_mpa(name, force):
    # Re As in kN, evaluated by hand from the stress area.
    assert tables.thread(name).stress_area * 600e3 == pytest.approx(force, abs=0.05)


def test_shear_areas_of_m100():
    # Bickford 4th ed., nominal profile, 100 mm engaged: 0.75 pi D1 L = 22032 mm2 on the rod,
    # 0.875 pi d L = 27489 mm2 in the nut.
    thread = tables.thread("M100x6")
    assert 0.75 * math.pi * thread.d1 * 0.1 * 1e6 == pytest.approx(22032, abs=0.5)
    assert 0.875 * math.pi * thread.d * 0.1 * 1e6 == pytest.approx(27489, abs=0.5)


# Coarse pitches of ISO 261; "M20" is the coarse thread. From memory for those not in THREADS.
COARSE = {
    12: 1.75, 14: 2, 16: 2, 18: 2.5, 20: 2.5, 22: 2.5, 24: 3, 27: 3, 30: 3.5, 33: 3.5, 36: 4,
    39: 4, 42: 4.5, 45: 4.5, 48: 5, 52: 5, 56: 5.5, 60: 5.5, 64: 6, 68: 6,
}  # fmt: skip


@pytest.mark.parametrize(("diameter", "pitch"), COARSE.items())
def test_designation_without_pitch_means_coarse(diameter, pitch):
    thread = tables.thread(f"M{diameter}")
    assert (thread.d, thread.pitch) == (diameter / 1e3, pitch / 1e3)
    assert thread.designation == f"M{diameter}"
    assert tables.thread(f"m{diameter} × {pitch:g}") == thread


# Pitches of ISO 261, not verified against the standard: coarse pitch aside, by range of diameter.
FINE = [
    (range(12, 13), (1.5, 1.25, 1)),
    (range(14, 17), (1.5, 1)),
    (range(18, 28), (2, 1.5, 1)),
    (range(30, 31), (3, 2, 1.5, 1)),
    (range(33, 40), (3, 2, 1.5)),
    (range(42, 69), (4, 3, 2, 1.5)),
    (range(72, 81), (6, 4, 3, 2, 1.5)),
    (range(85, 151), (6, 4, 3, 2)),
    (range(160, 201), (6, 4, 3)),
]
LARGE = (72, 76, *range(80, 131, 5), *range(140, 201, 10))


def test_pitches_of_iso_261():
    listed = {d: tuple(pitches) for d, pitches in read("metric_thread.toml")["pitches"]}
    assert tuple(listed) == (*COARSE, *LARGE)
    for d, pitches in listed.items():
        fine = next(pitches for diameters, pitches in FINE if d in diameters)
        assert pitches == ((COARSE[d], *fine) if d in COARSE else fine)


def test_large_thread_without_pitch_takes_6_mm_and_says_so():
    for diameter in (72, 80, 100, 125, 160, 200):
        assert tables.thread(f"M{diameter}").designation == f"M{diameter}x6"


def test_every_listed_thread_comes_back_from_its_designation():
    rows = next(t for t in tables.overview() if "metric threads" in t.title).rows
    assert len(rows) > 150
    for designation, *_ in rows:
        thread = tables.thread(designation)
        assert thread.designation == designation
        assert 0 < thread.d3 < thread.d1 < thread.d2 < thread.d
        # ISO 898-1: As = pi/4 (d - 0.9382 P)^2
        assert thread.stress_area == pytest.approx(
            math.pi / 4 * (thread.d - 0.938194 * thread.pitch) ** 2, rel=1e-6
        )


def test_unknown_thread_suggests_the_nearest():
    with pytest.raises(tables.UnknownName) as caught:
        tables.thread("M81")
    assert caught.value.suggestions[0] == "M80x6"
    with pytest.raises(tables.UnknownName) as caught:
        tables.thread("M80x5.5")
    assert caught.value.suggestions[0] == "M80x6"
    assert "M80x4" in caught.value.allowed


# Across flats s, height m (max), mm. ISO 4032:2012, then DIN 934; secondary copies.
NUTS = {
    12: (18, 10.8), 14: (21, 12.8), 16: (24, 14.8), 18: (27, 15.8), 20: (30, 18), 22: (34, 19.4),
    24: (36, 21.5), 27: (41, 23.8), 30: (46, 25.6), 33: (50, 28.7), 36: (55, 31),
    39: (60, 33.4), 42: (65, 34), 45: (70, 36), 48: (75, 38), 52: (80, 42), 56: (85, 45),
    60: (90, 48), 64: (95, 51),
    68: (100, 54), 72: (105, 58), 76: (110, 61), 80: (115, 64), 85: (120, 68), 90: (130, 72),
    100: (145, 80),
}  # fmt: skip
# Least diameter of the bearing face dw, mm; ISO 4032 and DIN 934, secondary copies.
BEARING = {
    12: 16.6, 14: 19.6, 16: 22.5, 18: 24.9, 20: 27.7, 22: 31.4, 24: 33.3, 27: 38,
    30: 42.8, 33: 46.6, 36: 51.1, 39: 55.9, 42: 60, 45: 64.7,
    48: 69.5, 52: 74.2, 56: 78.7, 60: 83.4, 64: 88.2, 68: 92.9, 72: 97.7, 76: 102.4, 80: 107.2,
    85: 111.9, 90: 121.1, 100: 135.4,
}  # fmt: skip


@pytest.mark.parametrize("d", NUTS)
def test_hexagon_nut(d):
    nut = tables.nut(d / 1e3)
    assert (nut.across_flats, nut.height) == (NUTS[d][0] / 1e3, NUTS[d][1] / 1e3)
    assert nut.bearing_diameter == BEARING[d] / 1e3
    assert nut.certainty is tables.Certainty.SECONDARY


def test_nuts_over_m100():
    # DIN 934:1987, not verified against the standard.
    for d, s, m in [(110, 155, 88), (125, 180, 100), (140, 200, 112), (160, 230, 128)]:
        nut = tables.nut(d / 1e3)
        assert (nut.across_flats, nut.height) == (s / 1e3, m / 1e3)
        assert nut.certainty is tables.Certainty.MEMORY


@pytest.mark.parametrize(
    ("bar", "designation"), [(0.0641, "M64"), (0.0639, "M60"), (0.08, "M80x6"), (0.5, "M200x6")]
)
def test_largest_thread_on_a_bar(bar, designation):
    assert tables.largest_thread(bar).designation == designation


def test_bar_too_thin_for_any_thread():
    for bar in (0.0119, math.nan):
        with pytest.raises(tables.OutOfTable, match="smallest: M12"):
            tables.largest_thread(bar)


@pytest.mark.parametrize("d", [0.0, 0.011, 0.025, 0.3001, -0.08, math.nan, math.inf])
def test_nut_out_of_table(d):
    with pytest.raises(tables.OutOfTable, match="M12 to M160"):
        tables.nut(d)


def test_nut_rule_fits_din_934_as_its_file_says():
    data = read("hex_nut.toml")
    rule = data["rule"]
    for d, s, m, dw in data["series"][1]["rows"] + data["series"][2]["rows"]:
        assert rule["height_ratio"] * d == pytest.approx(m, abs=0.5)
        assert rule["flats_ratio"] * d == pytest.approx(s, abs=rule["flats_step"])
        assert rule["bearing_ratio"] * s == pytest.approx(dw, rel=0.01)


@pytest.mark.parametrize("d", [95, 105, 120, 150])
def test_nut_by_rule_lies_between_its_listed_neighbours(d):
    listed = [80, 90, 100, 110, 125, 140, 160]
    below = tables.nut(max(x for x in listed if x < d) / 1e3)
    above = tables.nut(min(x for x in listed if x > d) / 1e3)
    nut = tables.nut(d / 1e3)
    assert nut.certainty is tables.Certainty.PRACTICE
    assert nut.height == pytest.approx(0.8 * d / 1e3, rel=1e-12)
    # DIN 934 takes the width across flats in steps of 5 mm here.
    assert nut.across_flats * 1e3 % 5 == pytest.approx(0, abs=1e-9)
    assert below.across_flats <= nut.across_flats <= above.across_flats
    assert below.bearing_diameter < nut.bearing_diameter < above.bearing_diameter


@given(st.floats() | st.floats(0.06, 0.31) | st.sampled_from([*NUTS]).map(lambda d: d / 1e3))
@example(0.064 + 1e-6)
def test_nut_of_any_diameter_is_sound_or_out_of_table(d):
    with contextlib.suppress(tables.OutOfTable):
        nut = tables.nut(d)
        assert d - 1e-9 < nut.bearing_diameter < nut.across_flats < 1.7 * d
        assert 0.75 * d < nut.height < 1.0 * d
