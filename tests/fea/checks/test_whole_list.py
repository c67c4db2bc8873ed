"""The whole list of checks, by beams: what must hold whatever the press, tried on all cases."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.checks import FACTS, KINDS
from platestack.fea.checks.alike import most
from platestack.fea.hand.record import Check
from platestack.fea.jobs.sizing import by_hand
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.statics import Statics, single
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses
from platestack.geometry.parts import TieRod
from platestack.geometry.schema import Case
from platestack.geometry.schema.duty import GivenMaterial

CASES = sorted(path.stem for path in (Path(__file__).parents[3] / "cases").glob("*/*.toml"))
TWO_ROWS = [name for name in CASES if name != "large"]
LESS_WITH_PRESSURE = (
    "cylinder: force",  # more pressure presses harder
    "return stroke",  # and returns harder
    "cylinder: proof by itself",  # at 1.5 times the pressure, above that of the press's capacity
)
LESS_WITH_CAPACITY = ("relief valve: setting below the proof",)  # which is a force
OWN = GivenMaterial(yield_strength="355 MPa", tensile_strength="510 MPa")


@functools.cache
def case_of(name: str) -> Case:
    """A case, with what its cylinder's sizes and its bottom's grade come to.

    No fixture: a failure would print all cases.
    """
    case = case_file.read(Path(__file__).parents[3] / "cases" / name / f"{name}.toml")
    made = layout.build(case).cylinder
    sizes = {"outer_diameter": made.outer_diameter, "bottom_thickness": made.bottom}
    return changed(case, "cylinder", bottom_grade=made.bottom_material.grade, **sizes)


def changed(case: Case, table: str, **values: object) -> Case:
    """The case with other values in one of its tables; rules between them are not checked."""
    return case.model_copy(update={table: getattr(case, table).model_copy(update=values)})


def checks_of(case: Case) -> list[Check]:
    """Every check of a case by beams."""
    press = layout.build(case)
    found = by_hand.beams(press)
    checks = [
        check for kind in KINDS for check in kind(Statics(case, press, {}, 0.0, single(found)))
    ]
    for stack in press.stacks:
        corrections = by_hand.CorrectionFactors()
        checks += by_hand.stack_checks(stack, press, found[stack.name], corrections, case.limits)
    return checks


def uses(case: Case) -> dict[str, float]:
    return {check.name: check.utilisation for check in checks_of(case)}


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(CASES), st.floats(1.01, 1.8))
def test_more_pressure_never_lowers_a_utilisation(name, more):
    case = case_of(name)
    higher = changed(case, "press", working_pressure=more * case.press.working_pressure)
    low, high = uses(case), uses(higher)
    assert low.keys() == high.keys()
    for check, use in low.items():
        if not check.startswith(LESS_WITH_PRESSURE):
            assert high[check] >= use * (1 - 1e-9), check


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(CASES), st.floats(1.01, 1.8))
def test_more_capacity_never_lowers_a_utilisation(name, more):
    """At the same pressure: of plates and rods, which the whole force loads."""
    case = case_of(name)
    low, high = uses(case), uses(changed(case, "press", capacity=more * case.press.capacity))
    assert low.keys() == high.keys()
    for check, use in low.items():
        if not check.startswith(LESS_WITH_CAPACITY):
            assert high[check] >= use * (1 - 1e-9), check


@settings(max_examples=10, deadline=None)
@given(
    st.sampled_from(TWO_ROWS),
    st.sampled_from(["crosshead", "bed"]),
    st.floats(1.01, 1.6),
    st.sampled_from(["loose", "welded"]),
)
def test_thicker_plates_never_weaken(name, which, more, kind):
    """Thicker flat plates, higher ones on edge; of one strength, as thicker steel is weaker steel.

    Not of three rows of rods: stiffer plates leave less to the middle row, under the load, and so
    bear more shear (a tenth, `large` with loose plates half as thick again). Nor of composite
    action: the same dowels make less of thicker plates act as one.
    """
    case = case_of(name)
    own = getattr(case, which)
    given_ = own.interface.model_copy(update={"kind": kind})
    plates = tuple(entry.model_copy(update={"grade": "own"}) for entry in own.plates)
    thin = changed(
        case.model_copy(update={"materials": {"own": OWN}}), which, interface=given_, plates=plates
    )
    if own.layout == "flat":
        plates = tuple(p.model_copy(update={"thickness": more * p.thickness}) for p in plates)
        thick = changed(thin, which, plates=plates)
    else:
        thick = changed(thin, which, height=more * own.height)
    before, after = uses(thin), uses(thick)
    told = [check for check in before if check.startswith(which) and "composite" not in check]
    assert len(told) >= 5
    for check in told:
        assert after[check] <= before[check] * (1 + 1e-9), check


@pytest.mark.parametrize("name", CASES)
def test_heights_add_up(name):
    press = layout.build(case_of(name))
    rod = press.rods[0]
    between = press.daylight + press.closed_length
    assert press.crosshead.load_face - press.bed.load_face == pytest.approx(between)
    nuts = 2 * (rod.nut_height + rod.washer_thickness + rod.projection)
    assert press.height == pytest.approx(press.bed.depth + press.crosshead.depth + between + nuts)
    for stack in press.stacks:
        section = getattr(case_of(name), stack.name)
        if stack.layout == "flat":
            plates = sum(entry.count * entry.thickness for entry in section.plates)
        else:
            plates = section.height + section.saddle.thickness
        platen = section.platen.thickness if section.platen else 0.0
        assert stack.depth == pytest.approx(plates + platen), stack.name
    assert sum(piece.mass for piece in masses.pieces(press)) == pytest.approx(press.mass)


@settings(max_examples=10, deadline=None)
@given(st.integers(30, 120), st.integers(20, 90), st.integers(120, 900))  # the stroke is 120 mm
def test_heights_of_any_small_press(small_text, above, below, daylight):
    text = small_text.replace('daylight = "250 mm"', f'daylight = "{daylight} mm"')
    head, crosshead, rest = text.partition("[crosshead]")
    crosshead += rest.replace('"2 x 50 mm"', f'"2 x {above} mm"', 1)
    text = head + crosshead.replace('"2 x 50 mm"', f'"2 x {below} mm"', 1)
    text = text.replace("100 kg", "900 kg").replace("2.2 m", "3 m")
    press = layout.build(case_file.parse(text, "small.toml"))
    stacks = 2e-3 * (above + below)
    assert press.bed.depth + press.crosshead.depth == pytest.approx(stacks)
    assert press.daylight == pytest.approx(daylight / 1000)


# --- rods alike


class Rounded(Statics):
    """Statics whose rods differ as rounding makes them differ."""

    def _bears(self, rod: TieRod) -> list[RodForces]:
        times = 1 + 1e-9 * self.press.rods.index(rod)
        return [
            replace(one, nut=times * one.nut, frame=times * one.frame)
            for one in super()._bears(rod)
        ]


@pytest.mark.parametrize("name", ["demo", "on_edge", "small"])
def test_of_rods_alike_the_first_is_named(name):
    press = layout.build(case_of(name))
    found = single(by_hand.beams(press))
    even, rounded = (
        [one.name for kind in (*KINDS, *FACTS) for one in kind(made)]
        for made in (kind(case_of(name), press, {}, 0.0, found) for kind in (Statics, Rounded))
    )
    assert rounded == even


@given(st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=8), st.integers(0, 7))
def test_most_is_the_largest_or_the_first_like_it(figures, place):
    best = most(range(len(figures)), lambda i: figures[i])
    scale = max(map(abs, figures))
    assert figures[best] >= max(figures) - 1e-6 * scale
    assert all(figure < max(figures) - 1e-6 * scale for figure in figures[:best])
