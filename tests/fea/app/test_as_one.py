"""Plates are loose unless a case says more; welded ones are judged, or said to be the ideal."""

from __future__ import annotations

import math

import pytest

from platestack.fea.app import case_text as text
from platestack.fea.app.console.summary import print_summary
from platestack.fea.app.page import answers
from platestack.fea.app.page.instant import InstantService
from platestack.fea.app.report import content
from platestack.fea.checks.as_one import COMPOSITE, as_one, ideal
from platestack.fea.checks.connectors import connector_checks
from platestack.fea.results.summary import summarise
from platestack.fea.solid.model import Solution
from platestack.geometry import case as case_file
from platestack.geometry import layout

WELDED = '\ninterface = { kind = "welded" }\n'
SEAMS = 'connectors = { kind = "seams", throat = "12 mm" }\n'


def welded(text: str, more: str = "") -> str:
    """The small case with a bed called welded, and further lines for it."""
    head, bed, rest = text.partition("[bed]\n")
    return head + bed + WELDED + more + rest


def made(text: str) -> Solution:
    """The press of a case, none of its stacks solved."""
    case = case_file.parse(text, "small.toml")
    return Solution(case, layout.build(case), {}, 0.0)


def test_what_is_left_out_is_loose(small_text):
    assert "interface =" not in small_text
    press = made(small_text).press
    assert [stack.interface for stack in press.stacks] == ["loose", "loose"]
    assert ideal(press) == []


def test_a_single_plate_is_one_piece(small_text):
    press = made(small_text.replace('"2 x 50 mm"', '"100 mm"')).press
    assert [stack.interface for stack in press.stacks] == ["welded", "welded"]
    assert ideal(press) == []


BOLT = '\n[[bed.clamp_bolts]]\nat = ["{x} mm", "60 mm"]\nthread = "M20"\n'


@pytest.mark.parametrize(
    ("own", "end", "said"),
    [
        ("", "", ["no clamp bolts, no connectors"]),
        (SEAMS, "", []),
        ("", BOLT.format(x=100) + BOLT.format(x=-100), []),
    ],
)
def test_welded_without_anything_that_joins_is_the_ideal(small_text, own, end, said):
    sentences = ideal(made(welded(small_text, own) + end).press)
    assert len(sentences) == len(said)
    for sentence, words in zip(sentences, said, strict=True):
        assert sentence.startswith("The bed is the ideal")
        assert words in sentence


def test_nothing_shown_makes_plates_on_edge_one(press_of, request):
    place = request.config.rootpath / "cases"
    file = next(place.rglob("on_edge.toml"))
    text = file.read_text(encoding="utf-8").replace('kind = "loose"', 'kind = "welded"')
    sentences = ideal(layout.build(case_file.parse(text)))
    assert len(sentences) == 2
    assert all("on edge" in sentence for sentence in sentences)


@pytest.mark.parametrize("span", [1.0, 4.0])
def test_composite_action_of_two_plates_is_gamma(small_text, span):
    """γ of EN 1995-1-1 Annex B, for a half-sine; a force at mid-span bends nearly so.

    Two seams of G/√2 each on plates of 180 × 50 mm: γ = 1 / (1 + π² E A / (2 k L²)).
    """
    long = small_text.replace('"460 mm"', f'"{360 * span + 110:g} mm"')
    long = long.replace('pitch = "350 mm"', f'pitch = "{350 * span:g} mm"')
    (check,) = as_one(made(welded(long, SEAMS)))
    stiffness = 2 * 210e9 / 2.6 / math.sqrt(2)
    gamma = 1 / (1 + math.pi**2 * 210e9 * 0.18 * 0.05 / 2 / (stiffness * (0.35 * span) ** 2))
    assert check.value == pytest.approx(gamma, rel=0.03)
    assert check.sense == "at least"
    assert check.limit == COMPOSITE
    assert (check.utilisation > 1) == (span == 1.0)  # short plates slide in spite of their seams


def test_connectors_of_welded_plates_bear_the_whole_shear(small_text):
    """As one: V S / I over half the span, F/2 · 1.5 / depth · span / 2 with a force at mid-span."""
    one = welded(small_text, SEAMS)
    (sliding,) = connector_checks(made(one.replace("welded", "loose")))
    (whole,) = connector_checks(made(one))
    force = 30 * 9806.65
    assert whole.value == pytest.approx(force / 2 * 1.5 / 0.1 * 0.35 / 2, rel=0.005)
    assert sliding.value < 0.8 * whole.value
    assert all(math.isfinite(given.value) for given in whole.inputs)


def test_the_result_says_so_at_its_head(small_solution, capsys):
    summary = summarise(small_solution, "small.toml")
    crosshead, bed = summary.ideal
    assert not any("are taken as welded" in words for words in summary.cautions)
    print_summary(summary)
    printed = " ".join(capsys.readouterr().out.split())
    assert printed.index(crosshead) < printed.index(bed) < printed.index("at capacity")
    blocks = content._glance(summary, small_solution.press).blocks
    assert list(blocks[:2]) == [content.Text(words, "caution") for words in summary.ideal]


def test_quick_answers_say_so_too(small_text, call, tmp_path):
    told = answers.check(
        text.opened(welded(small_text), "small.toml"), "", InstantService(tmp_path)
    )
    (sentence,) = told["prediction"]["ideal"]
    (tmp_path / "one.toml").write_text(welded(small_text), encoding="utf-8")
    code, out, _ = call("sweep", "one.toml", "--thickness", "50 mm", "--method", "beam")
    assert code == 0
    assert " ".join(out.split()).startswith(sentence)
