"""The whole list of checks, by beams: what must hold whatever the press."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fea.checks import KINDS
from fea.sizing import by_hand
from fea.statics import Statics, single
from geometry import case as case_file
from geometry import layout, masses

LESS_WITH_PRESSURE = (
    "cylinder: force",  # more pressure presses harder
    "return stroke",  # and returns harder
    "cylinder: room",  # a thicker bottom is derived
)
SIZES = '[cylinder]\nouter_diameter = "170 mm"\nbottom_thickness = "35 mm"\n'


def uses(text: str, pressure: float = 1.0) -> dict[str, float]:
    """Utilisation of every check of a case by beams, at so many times its working pressure."""
    case = case_file.parse(text, "small.toml")
    higher = {"working_pressure": pressure * case.press.working_pressure}
    case = case.model_copy(update={"press": case.press.model_copy(update=higher)})
    press = layout.build(case)
    found = by_hand.beams(press)
    solution = Statics(case, press, {}, 0.0, single(found))
    checks = [check for kind in KINDS for check in kind(solution)]
    for stack in press.stacks:
        reserve = by_hand.Reserve()
        checks += by_hand.stack_checks(stack, press, found[stack.name], reserve, case.limits)
    worst = re.compile(r"rod \d")  # of rods alike, rounding decides which is named
    return {worst.sub("rod", check.name): check.utilisation for check in checks}


@settings(max_examples=10, deadline=None)
@given(st.floats(1.01, 1.8))
def test_more_pressure_never_lowers_a_utilisation(small_text, more):
    ram = '[ram]\nouter_diameter = "170 mm"'  # nor does the wall grow where it bears
    text = small_text.replace("[ram]", ram) + SIZES
    low, high = uses(text), uses(text, more)
    assert low.keys() == high.keys()
    for name, use in low.items():
        if not name.startswith(LESS_WITH_PRESSURE):
            assert high[name] >= use * (1 - 1e-9), name


@settings(max_examples=10, deadline=None)
@given(st.integers(30, 80), st.integers(1, 30), st.sampled_from(["loose", "welded"]))
def test_thicker_plates_never_weaken(small_text, thickness, more, kind):
    """Within a band of strength: thicker steel is weaker steel (EN 10025-2)."""
    own = '[materials.own]\nyield_strength = "355 MPa"\ntensile_strength = "510 MPa"\n'

    def text(t: int) -> str:
        bed = (
            f'[bed]\nlength = "460 mm"\nwidth = "180 mm"\ngrade = "own"\nplates = "2 x {t} mm"\n'
            f'interface = {{ kind = "{kind}" }}\n\n'
        )
        before, rest = small_text.split("[bed]")
        return before + bed + rest[rest.index("[rods]") :] + own

    thin, thick = uses(text(thickness)), uses(text(thickness + more))
    for name, use in thin.items():
        if name.startswith("bed"):
            assert thick[name] <= use * (1 + 1e-9), name


@settings(max_examples=10, deadline=None)
@given(st.integers(30, 120), st.integers(20, 90), st.integers(100, 900))
def test_heights_and_masses_add_up(small_text, above, below, daylight):
    text = small_text.replace('daylight = "250 mm"', f'daylight = "{daylight} mm"')
    head, crosshead, rest = text.partition("[crosshead]")
    crosshead += rest.replace('"2 x 50 mm"', f'"2 x {above} mm"', 1)
    text = head + crosshead.replace('"2 x 50 mm"', f'"2 x {below} mm"', 1)
    text = text.replace("100 kg", "900 kg").replace("1.6 m", "3 m")
    press = layout.build(case_file.parse(text, "small.toml"))
    rod = press.rods[0]
    between = press.daylight + press.closed_length
    stacks = 2e-3 * (above + below)
    nuts = 2 * (rod.nut_height + rod.washer_thickness)
    assert press.height == pytest.approx(stacks + between + nuts)
    assert press.bed.depth + press.crosshead.depth == pytest.approx(stacks)
    assert press.daylight == pytest.approx(daylight / 1000)
    assert sum(piece.mass for piece in masses.pieces(press)) == pytest.approx(press.mass)
