"""Steels of plates and rods against the values of the standards.

Sources stand at each check; "secondary copy": a public reproduction of the table was read, not the
standard; "not verified against the standard": nothing was read.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.geometry import tables
from platestack.geometry.tables.source import read

MPA = 1e6
MM = 1e-3

PLATE_GRADES = tables.grade_names()
ROD_GRADES = tables.rod_grade_names()
ALL_GRADES = [tables.structural_grade(name) for name in PLATE_GRADES] + [
    tables.rod_grade(name) for name in ROD_GRADES
]

# EN 10025-2:2004 Table 7, flat products; secondary copy. Upper ends of the thickness bands (mm).
BAND_ENDS = (16, 40, 63, 80, 100, 150, 200, 250, 400)
# Minimum ReH (MPa) in these bands; the last band for J2 (and K2) only.
REH = {
    "S235J2": (235, 225, 215, 215, 215, 195, 185, 175, 165),
    "S275J2": (275, 265, 255, 245, 235, 225, 215, 205, 195),
    "S355J2": (355, 345, 335, 325, 315, 295, 285, 275, 265),
}
# Rm (MPa) at 3 to 100, 100 to 150, 150 to 250, 250 to 400 mm.
RM = {
    "S235J2": ((360, 510), (350, 500), (340, 490), (330, 480)),
    "S275J2": ((410, 560), (400, 540), (380, 540), (380, 540)),
    "S355J2": ((470, 630), (450, 600), (450, 600), (450, 600)),
}
RM_ENDS = (3, 100, 150, 250, 400)


@pytest.mark.parametrize("name", REH)
def test_yield_strength_of_en_10025_2(name):
    grade = tables.structural_grade(name)
    lower = 3.0
    for upper, expected in zip(BAND_ENDS, REH[name], strict=True):
        for thickness in (lower + 1e-3, (lower + upper) / 2, upper):
            assert grade.yield_strength(thickness * MM) == expected * MPA
        lower = upper


@pytest.mark.parametrize("name", RM)
def test_tensile_strength_of_en_10025_2(name):
    grade = tables.structural_grade(name)
    for lower, upper, (low, high) in zip(RM_ENDS, RM_ENDS[1:], RM[name], strict=False):
        inside = [end for end in BAND_ENDS if lower < end < upper]
        for thickness in (lower + 1e-3, *inside, upper):
            assert grade.tensile_strength(thickness * MM) == low * MPA
            assert grade.band(thickness * MM).tensile_max == high * MPA


@pytest.mark.parametrize("series", ["S235", "S275", "S355"])
def test_jr_and_j0_have_the_values_of_j2_but_end_at_250_mm(series):
    # EN 10025-2:2004 Table 7: the column 250 to 400 mm is filled for J2 and K2 only.
    j2 = tables.structural_grade(f"{series}J2")
    for subgrade in ("JR", "J0"):
        assert tables.structural_grade(series + subgrade).bands == j2.bands[:-1]
    assert j2.bands[-1].over == 0.250
    assert j2.bands[-1].up_to == 0.400


def test_k2_goes_as_far_as_j2():
    assert tables.structural_grade("S355K2").bands == tables.structural_grade("S355J2").bands


def test_high_strength_plate():
    # From memory: EN 10025-3:2004 Table 4 and EN 10025-6:2004 Table 5.
    s460 = tables.structural_grade("S460NL")
    assert [s460.yield_strength(t * MM) / MPA for t in (16, 40, 63, 80, 100, 150, 200)] == [
        460, 440, 430, 410, 400, 380, 370,
    ]  # fmt: skip
    for band in s460.bands:
        rm = (540, 720) if band.up_to <= 0.1 else (530, 710)
        assert (band.tensile_strength / MPA, band.tensile_max / MPA) == rm
    # S355N has the strengths of S355JR.
    assert tables.structural_grade("S355N").bands == tables.structural_grade("S355JR").bands
    s690 = tables.structural_grade("S690QL")
    assert [s690.yield_strength(t * MM) / MPA for t in (50, 100, 150)] == [690, 650, 630]
    assert [s690.tensile_strength(t * MM) / MPA for t in (50, 100, 150)] == [770, 760, 710]
    assert s460.certainty is s690.certainty is tables.Certainty.MEMORY


ROD_TABLE = [
    # Saarstahl data sheet 42CrMo4 to DIN EN 10083: Rp0.2 min, Rm.
    ("42CrMo4+QT", 16, 900, 1100, 1300),
    ("42CrMo4+QT", 40, 750, 1000, 1200),
    ("42CrMo4+QT", 100, 650, 900, 1100),
    ("42CrMo4+QT", 160, 550, 800, 950),
    ("42CrMo4+QT", 250, 500, 750, 900),
    # Lucefin technical card C45E to EN 10083-2:2006: quenched and tempered, then normalised.
    ("C45E+QT", 16, 490, 700, 850),
    ("C45E+QT", 40, 430, 650, 800),
    ("C45E+QT", 100, 370, 630, 780),
    ("C45E+N", 16, 340, 620, None),
    ("C45E+N", 100, 305, 580, None),
    ("C45E+N", 250, 275, 560, None),
    # From memory: EN 10083-3:2006.
    ("34CrNiMo6+QT", 16, 1000, 1200, 1400),
    ("34CrNiMo6+QT", 40, 900, 1100, 1300),
    ("34CrNiMo6+QT", 100, 800, 1000, 1200),
    ("34CrNiMo6+QT", 160, 700, 900, 1100),
    ("34CrNiMo6+QT", 250, 600, 800, 950),
]


@pytest.mark.parametrize(("name", "upper", "re", "rm", "rm_max"), ROD_TABLE)
def test_rod_steel(name, upper, re, rm, rm_max):
    grade = tables.rod_grade(name)
    band = grade.band(upper * MM)
    assert grade.dimension == "diameter"
    assert (band.up_to, band.yield_strength) == (upper * MM, re * MPA)
    assert band.tensile_strength == rm * MPA
    assert band.tensile_max == (None if rm_max is None else rm_max * MPA)


@pytest.mark.parametrize(
    ("spelled", "name"),
    [
        ("S355", "S355JR"),
        ("s355j2", "S355J2"),
        ("S355J2+N", "S355J2"),
        (" S355 K2 + AR ", "S355K2"),
        ("1.0577", "S355J2"),
        ("S235JO", "S235J0"),
        ("S355N", "S355N"),
    ],
)
def test_spellings_of_plate_grades(spelled, name):
    assert tables.structural_grade(spelled).name == name


@pytest.mark.parametrize(
    ("spelled", "name"),
    [("42crmo4", "42CrMo4+QT"), ("C45+QT", "C45E+QT"), ("c45 + n", "C45E+N")],
)
def test_spellings_of_rod_grades(spelled, name):
    assert tables.rod_grade(spelled).name == name


def test_unknown_grade_suggests_and_lists():
    with pytest.raises(tables.UnknownName) as caught:
        tables.structural_grade("S35J2")
    assert "S355J2" in caught.value.suggestions
    assert caught.value.allowed == PLATE_GRADES
    assert all(name in str(caught.value) for name in PLATE_GRADES)
    # Listed in two conditions of very different strength: the tool must not choose.
    with pytest.raises(tables.UnknownName) as caught:
        tables.rod_grade("C45")
    assert set(caught.value.suggestions) == {"C45E+QT", "C45E+N"}


def test_out_of_table_names_the_range_and_what_goes_further():
    with pytest.raises(tables.OutOfTable, match=r"300 mm .* 3 to 250 mm .* J2 and K2 only"):
        tables.structural_grade("S355").yield_strength(0.300)


@pytest.mark.parametrize("grade", ALL_GRADES, ids=lambda grade: grade.name)
@pytest.mark.parametrize("wrong", [0.0, -0.05, 0.4001, math.nan, math.inf, -math.inf])
def test_sizes_outside_the_table_are_refused(grade, wrong):
    with pytest.raises(tables.OutOfTable):
        grade.yield_strength(wrong)


def test_table_of_plate_starts_at_3_mm():
    # EN 10025-2:2004 Table 7 gives other tensile strengths below 3 mm; they are not listed.
    grade = tables.structural_grade("S355J2")
    assert grade.tensile_strength(0.003) == 470 * MPA
    with pytest.raises(tables.OutOfTable):
        grade.tensile_strength(0.0029)


@pytest.mark.parametrize("grade", ALL_GRADES, ids=lambda grade: grade.name)
def test_bands_join_and_stand_in_order(grade):
    assert grade.bands[0].over == (0 if grade.dimension == "diameter" else 0.003)
    for band in grade.bands:
        assert 0 <= band.over < band.up_to
        assert 0 < band.yield_strength < band.tensile_strength
        assert band.tensile_max is None or band.tensile_strength < band.tensile_max
    for thin, thick in zip(grade.bands, grade.bands[1:], strict=False):
        assert thin.up_to == thick.over


@pytest.mark.parametrize("file", ["structural_steel.toml", "rod_steel.toml"])
def test_a_grade_ends_where_a_band_ends(file):
    for block in read(file)["series"]:
        ends = {band[1] for band in block["bands"]}
        assert {entry["up_to"] for entry in block["grades"]} <= ends


sizes = st.floats(0.003, 0.4)


@given(st.sampled_from(ALL_GRADES), sizes, sizes)
def test_strength_never_rises_with_size(grade, one, other):
    top = grade.bands[-1].up_to
    thin, thick = sorted((min(one, top), min(other, top)))
    assert grade.yield_strength(thin) >= grade.yield_strength(thick)
    assert grade.tensile_strength(thin) >= grade.tensile_strength(thick)


@given(st.sampled_from(ALL_GRADES), sizes)
def test_every_size_in_range_finds_the_band_that_holds_it(grade, size):
    size = min(size, grade.bands[-1].up_to)
    band = grade.band(size)
    # Lengths are compared to the nanometre, see the next test.
    assert band.over - 1e-9 <= size <= band.up_to + 1e-9


@pytest.mark.parametrize("grade", ALL_GRADES, ids=lambda grade: grade.name)
def test_rounding_of_a_unit_conversion_does_not_change_the_band(grade):
    for band in grade.bands:
        assert grade.band(math.nextafter(band.up_to, 1)) is band
        assert grade.band(math.nextafter(band.up_to, 0)) is band
    for band, following in zip(grade.bands, grade.bands[1:], strict=False):
        assert grade.band(band.up_to + 1e-6) is following


def test_constants_of_steel():
    # EN 1993-1-1:2005 3.2.6 and EN 1991-1-1 (78.5 kN/m3); secondary copies.
    steel = tables.steel_constants()
    assert steel.density == 7850
    assert steel.youngs_modulus == 210e9
    assert steel.poisson_ratio == 0.3
    assert steel.thermal_expansion == 12e-6
    # G = E/2(1+nu); EN 1993-1-1 rounds it to 81 000 MPa.
    assert steel.shear_modulus == pytest.approx(210e9 / 2.6, rel=1e-14)
    assert round(steel.shear_modulus / 1e9) == 81
