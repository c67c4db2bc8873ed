"""Form and text are one case: what is edited in the form leaves the comments of the text alone."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.app import case_text as text
from platestack.fea.app.page import answers
from platestack.geometry import case as case_file
from platestack.geometry.errors import CaseError


def test_what_is_written_reads_back(welded_text, small_case):
    made = text.written(text.opened(welded_text, "small.toml"), welded_text)
    assert made == welded_text
    assert case_file.parse(made) == small_case


def test_an_edit_changes_its_own_line_only(small_text):
    commented = small_text.replace('daylight = "250 mm"', 'daylight = "250 mm"  # door of the oven')
    data = text.opened(commented, "small.toml")
    data["press"]["daylight"] = "310 mm"
    data["bed"]["plates"] = ["2 x 60 mm"]
    data["mesh"] = {"size": "20 mm"}
    del data["limits"]["hoist"]
    before, after = commented.splitlines(), text.written(data, commented).splitlines()
    assert [line for line in before if line not in after] == [
        'daylight = "250 mm"  # door of the oven',
        'hoist = "100 kg"',
        'plates = "2 x 50 mm"',
    ]
    assert [line for line in after if line not in before and line] == [
        'daylight = "310 mm"  # door of the oven',
        'plates = ["2 x 60 mm"]',
        "[mesh]",
        'size = "20 mm"',
    ]


def test_sliders_change_the_thickness_and_nothing_else(small_text):
    data = text.opened(small_text, "small.toml")
    data["crosshead"]["plates"] = ["60 mm", {"count": 2, "thickness": "40 mm", "grade": "S275JR"}]
    moved = answers.taken_over(data, {"crosshead": [0.06, 0.0455], "bed": [0.055]})
    assert moved["crosshead"]["plates"] == [
        "60 mm",
        {"count": 2, "thickness": "45.5 mm", "grade": "S275JR"},
    ]
    assert moved["bed"]["plates"] == ["2 x 55 mm"]
    with pytest.raises(CaseError, match="one for each entry"):
        answers.taken_over(data, {"bed": [0.05, 0.05]})


KEYS = st.sampled_from(["a", "b", "press", "two words", "ä", "", "x.y", '"'])
LEAVES = st.one_of(
    st.booleans(), st.integers(-(2**62), 2**62), st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(blacklist_categories=["Cs"]), max_size=8),
)  # fmt: skip
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3)
)
TABLES = st.dictionaries(KEYS, VALUES, max_size=4)


@settings(max_examples=60, deadline=None)
@given(before=TABLES, after=TABLES)
def test_whatever_was_before_the_data_are_what_is_written(before, after):
    old = "# kept?\n" + text.written(before)
    assert tomllib.loads(text.written(after, old)) == tomllib.loads(text.written(after))


def test_too_long_or_no_case(small_text):
    with pytest.raises(CaseError, match="allowed: up to"):
        text.opened("#" * (text.LARGEST + 1), "long")
    with pytest.raises(CaseError, match="not TOML"):
        text.opened("a = " + "9" * 5000, "digits")
    with pytest.raises(CaseError, match="the data are not a case"):
        text.written({"a": object()})
