"""Contrast of the page's colours in both schemes: WCAG 2.2, 1.4.3 (text) and 1.4.11 (controls)."""

from __future__ import annotations

import re

import pytest

from tests.figures.page_server import ROOT

STYLE = (ROOT / "fea" / "app" / "page" / "static" / "page.css").read_text(encoding="utf-8")
SCHEMES = [
    dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    for block in re.findall(r":root \{([^}]*)\}", STYLE)
]
TEXT = [
    *((letters, ground) for letters in ("ink", "soft", "mark", "bad", "good")
      for ground in ("sheet", "ground")),
    ("on-mark", "mark"),
]  # fmt: skip
CONTROLS = [("edge", "sheet"), ("edge", "ground"), ("mark", "sheet"), ("fill", "track"),
            ("bad", "track")]  # fmt: skip


def luminance(colour):
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(
        4.48, abs=0.005
    )  # WebAIM, not verified against the standard


def test_there_are_two_schemes():
    assert len(SCHEMES) == 2
    assert SCHEMES[0].keys() >= SCHEMES[1].keys() >= {name for pair in TEXT for name in pair}


@pytest.mark.parametrize("scheme", SCHEMES, ids=["light", "dark"])
def test_colours_can_be_told_apart(scheme):
    found = {
        pair: (contrast(scheme[pair[0]], scheme[pair[1]]), least)
        for pairs, least in ((TEXT, 4.5), (CONTROLS, 3.0))
        for pair in pairs
    }
    print({pair: round(ratio, 1) for pair, (ratio, _) in found.items()})
    assert {pair: ratio for pair, (ratio, least) in found.items() if ratio < least} == {}
