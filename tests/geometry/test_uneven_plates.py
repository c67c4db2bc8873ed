"""Bow and waves of plates in the case file, and the standard's flatness.

Source of the flatness: EN 10029:1991 Table 4, class N, steel type L (not verified).
"""

from __future__ import annotations

import pytest

from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError


def parsed(small_text: str, interface: str):
    table = f"[bed]\ninterface = {{ {interface} }}\n"
    return case_file.parse(small_text.replace("[bed]\n", table), "uneven.toml")


def test_bow_and_waves_are_read(small_text):
    given = 'kind = "loose", gap = "0.1 mm", bow = "-0.4 mm", waviness = "0.2 mm"'
    press = layout.build(parsed(small_text, given))
    gap = press.bed.gap
    assert (gap.uniform, gap.bow, gap.length) == pytest.approx((1e-4, -4e-4, 0.46))
    assert (gap.waviness, gap.wave_length) == pytest.approx((2e-4, 0.5))
    assert press.crosshead.gap.bow == 0


def test_flatness_of_the_standard_is_assumed_as_bow(small_text):
    """Plates of 50 mm, shorter than 1 m: 5 mm."""
    press = layout.build(parsed(small_text, 'kind = "loose", flatness = "EN 10029 class N"'))
    assert press.bed.gap.bow == pytest.approx(5e-3)
    assert dict(press.assumed)["bed.interface.bow"].startswith("5 mm (EN 10029 class N")


@pytest.mark.parametrize(
    ("given", "plates", "told"),
    [
        ('kind = "loose", bow = "1 mm", flatness = "EN 10029 class N"', "2 x 50 mm", "bow does"),
        ('kind = "loose", bow = "200 mm"', "2 x 50 mm", "-100 to 100 mm"),
        ('kind = "loose", waviness = "-1 mm"', "2 x 50 mm", "0 to 100 mm"),
        ('kind = "loose", flatness = "flat"', "2 x 50 mm", "EN 10029 class N"),
        ('kind = "loose", flatness = "EN 10029 class N"', "2 x 12 mm", "outside the table"),
    ],
)
def test_mistakes_are_told_in_a_line(small_text, given, plates, told):
    text = small_text.replace('plates = "2 x 50 mm"', f'plates = "{plates}"')
    with pytest.raises(PlatestackError, match=told) as caught:
        parsed(text, given)
    assert "bed.interface" in str(caught.value)
