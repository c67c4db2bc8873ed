"""Rules between values that need more than one edit of a sound case to break.

Expected: statics (rods in one line hold no moment across it) and mirror images.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.geometry import case as case_file
from platestack.geometry.errors import CaseError
from platestack.geometry.layout import line_of

DIAGONAL = 'positions = [["-170 mm", "-20 mm"], ["170 mm", "20 mm"]]'


def problems(text: str) -> list[tuple[str, str]]:
    """Key and allowed values of each mistake."""
    with pytest.raises(CaseError) as caught:
        case_file.parse(text)
    return [(problem.key, problem.allowed) for problem in caught.value.problems]


# --- rods in one line

number = st.floats(-1, 1)


@given(number, number, st.floats(0, math.pi), st.lists(number, min_size=2, max_size=8))
def test_points_on_a_line_have_one(x, y, turn, places):
    points = [(x + s * math.cos(turn), y + s * math.sin(turn)) for s in places]
    across = line_of(points)
    if max(places) - min(places) > 1e-6:
        assert across is not None
        assert math.hypot(*across) == pytest.approx(1)
        along = across[0] * math.cos(turn) + across[1] * math.sin(turn)
        assert along == pytest.approx(0, abs=1e-6)


@given(st.floats(0.1, 1), st.floats(0.001, 1))
def test_corners_of_a_rectangle_have_none(a, b):
    assert line_of([(i * a, j * b) for i in (-1, 1) for j in (-1, 1)]) is None


def test_one_place_has_none():
    assert line_of([(0.1, 0.2)]) is None
    assert line_of([(0.1, 0.2), (0.1, 0.2)]) is None


@pytest.mark.parametrize("pitch", ['pitch = "350 mm"', DIAGONAL])
def test_a_load_off_the_line_of_two_rods_is_refused(small_text, pitch):
    text = small_text.replace('pitch = "350 mm"', pitch)
    work = 'diameter = "20 mm"\noffset = ["{} mm", "{} mm"]'
    case_file.parse(text.replace('diameter = "80 mm"', work.format(0, 0)))
    found = problems(text.replace('diameter = "80 mm"', work.format(0, 8)))
    assert any(key == "workpiece.offset" and "tipping" in allowed for key, allowed in found)


def test_a_load_on_the_line_of_two_diagonal_rods_is_carried(small_text):
    text = small_text.replace('pitch = "350 mm"', DIAGONAL)
    work = 'diameter = "20 mm"\noffset = ["85 mm", "10 mm"]'
    case_file.parse(text.replace('diameter = "80 mm"', work))


def test_rods_all_in_one_place_are_refused(small_text):
    one = 'positions = [["0 mm", "0 mm"], ["0 mm", "0 mm"]]'
    found = problems(small_text.replace('pitch = "350 mm"', one))
    assert {"rods", "rods.positions"} <= {key for key, _ in found}


@pytest.mark.parametrize(
    ("given", "more"), [('nut_height = "4 mm"', "4.5 mm"), ('nut_across_flats = "44 mm"', "45 mm")]
)
def test_a_nut_that_no_thread_fits_is_refused(small_text, given, more):
    """M45 has a pitch of 4.5 mm (ISO 261)."""
    found = problems(small_text.replace("[rods]", f"[rods]\n{given}"))
    key = "rods." + given.split()[0]
    assert any(name == key and allowed.endswith(more) for name, allowed in found)


# --- mirrors


@pytest.mark.parametrize("wish", ["auto", "quarter", "half x", "half y", "whole"])
def test_mirrors_that_the_press_has_may_be_forced(small_text, wish):
    assert case_file.parse(f'{small_text}\n[mesh]\nsymmetry = "{wish}"').mesh.symmetry == wish


@settings(max_examples=30, deadline=None)
@given(x=st.integers(-60, 60), y=st.integers(-30, 30))
def test_a_mirror_is_refused_where_an_opening_breaks_it(small_text, x, y):
    opening = f'shape = "round"\ndiameter = "10 mm"\nat = ["{x} mm", "{y} mm"]'
    lacking = {"quarter": x or y, "half x": x, "half y": y}
    for wish, broken in lacking.items():
        text = f'{small_text}\n[mesh]\nsymmetry = "{wish}"\n[[crosshead.openings]]\n{opening}'
        text = text.replace("[ram]", '[ram]\ninner_diameter = "150 mm"\nouter_diameter = "170 mm"')
        try:
            case_file.parse(text)
            keys = set()
        except CaseError as error:
            keys = {problem.key for problem in error.problems}
        assert ("mesh.symmetry" in keys) == bool(broken)


GROOVE = """[[cylinder.grooves]]
part = "{}"
at = "{}"
width = "7.1 mm"
depth = "{}"
holds = "O-ring"
"""


@pytest.mark.parametrize(
    ("part", "at", "depth", "words"),
    [
        # The piston of the small case is 125 / 3 mm long; its gland too, half of it thread.
        ("piston", "40 mm", "2 mm", "O-ring, at: given 40 mm; allowed: within 1 mm and 33.57 mm"),
        ("gland outside", "18 mm", "2 mm", "O-ring, at: given 18 mm"),
        ("gland bore", "5 mm", "7 mm", "depth: given 7 mm; allowed: less than half of the wall"),
    ],
)
def test_grooves_stay_within_their_parts(small_text, part, at, depth, words):
    assert case_file.parse(small_text + GROOVE.format(part, "10 mm", "1 mm"))
    with pytest.raises(CaseError) as refused:
        case_file.parse(small_text + GROOVE.format(part, at, depth))
    assert words in str(refused.value)


def test_grooves_stay_clear_of_each_other(small_text):
    two = GROOVE.format("piston", "10 mm", "2 mm") + GROOVE.format("piston", "17.5 mm", "2 mm")
    with pytest.raises(CaseError, match=r"allowed: within 18\.1 mm and"):
        case_file.parse(small_text + two)


def test_a_revision_is_short(small_text):
    told = problems(small_text + '[drawings]\nrevision = "first draft"')
    assert told == [
        ("drawings.revision", "allowed: up to four capitals or digits, such as A or 02")
    ]
    assert case_file.parse(small_text + '[drawings]\nrevision = "02"').drawings.revision == "02"
