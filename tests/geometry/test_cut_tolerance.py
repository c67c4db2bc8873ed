"""Tolerances of cuts against holes, edges and faces.

Values of ISO 9013 are from public reproductions of its tables (secondary copies): a chart of the
squareness ranges in inches, a supplier's table of limit deviations. What follows from them is
worked out by hand beside each check, or by an independent derivation.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.cutting import drawing, tolerance
from platestack.geometry.cutting.work import plan
from platestack.geometry.errors import CaseError
from platestack.geometry.parts import Material, Plate
from platestack.geometry.schema import Cutting
from platestack.geometry.schema.stack import PlateEntry
from platestack.geometry.shapes import Outline

MM = 1e-3
INCH = 25.4e-3
STEEL = Material("any", 210e9, 0.3, 7850.0, 355e6, 470e6, "test")


@pytest.mark.parametrize(
    ("inches", "quality", "expected"),
    [(1, 2, 0.0129), (1, 3, 0.0257), (1, 4, 0.0515), (1, 5, 0.0822),
     (2, 1, 0.0080), (2, 2, 0.0199), (2, 3, 0.0357), (2, 4, 0.0715), (2, 5, 0.1172)],
)  # fmt: skip
def test_squareness_against_a_chart(inches, quality, expected):
    # The chart rounds to 1e-4 inch.
    assert tables.squareness(inches * INCH, quality) == pytest.approx(
        expected * INCH, abs=6e-5 * INCH
    )


@pytest.mark.parametrize(
    ("thickness", "deviations"),
    # Nominal 100, 200, 500, 1500, 3000 mm; ISO 9013:2017 class 1, secondary copy.
    [(40, (0.7, 0.8, 1.0, 1.6, 2.5)), (50, (0.7, 0.8, 1.0, 1.6, 2.5)),
     (80, (1.3, 1.4, 1.7, 2.2, 3.1)), (150, (2.0, 2.1, 2.3, 2.9, 3.8)),
     (151, (2.7, 2.7, 3.0, 3.6, 4.5)), (300, (4.4, 4.4, 4.4, 4.9, 5.9))],
)  # fmt: skip
def test_limit_deviations(thickness, deviations):
    found = [tables.cut_deviation(thickness * MM, n * MM) for n in (100, 200, 500, 1500, 3000)]
    assert found == pytest.approx([d * MM for d in deviations])


def test_edges_of_the_tables():
    # A nominal dimension belongs to the band it begins: 125 and 315 mm in 80 mm of plate.
    assert tables.cut_deviation(0.08, 0.125) == pytest.approx(1.4e-3)
    assert tables.cut_deviation(0.08, 0.1249) == pytest.approx(1.3e-3)
    assert tables.cut_deviation(0.08, 0.315) == pytest.approx(1.7e-3)
    for thickness, nominal in ((0.301, 0.1), (0.002, 0.1), (0.05, 8.0)):
        with pytest.raises(tables.OutOfTable, match="limit deviation"):
            tables.cut_deviation(thickness, nominal)
    with pytest.raises(tables.OutOfTable, match="1 to 5"):
        tables.squareness(0.05, 6)
    assert tables.cut_scope("plasma") == (0.003, 0.15)


@given(st.floats(3, 299), st.floats(10, 7000), st.integers(1, 4))
def test_thicker_and_coarser_is_never_finer(thickness, nominal, quality):
    t, n = thickness * MM, nominal * MM
    assert tables.cut_deviation(t, n) <= tables.cut_deviation(min(t * 1.3, 0.3), n) + 1e-12
    assert tables.cut_deviation(t, n) <= tables.cut_deviation(t, min(n * 1.3, 7.9)) + 1e-12
    assert tables.squareness(t, quality) < tables.squareness(t, quality + 1)
    assert tables.profile_height(t, quality) <= tables.profile_height(t, quality + 1)


def test_passage_by_hand():
    # 79 mm in 70 mm of plate, 260 mm apart: 79 − 1.3 − 2 (0.4 + 0.7) − 1.4 = 74.1 mm.
    assert tolerance.passage(0.079, 0.07, 0.26, Cutting()) == pytest.approx(74.1e-3)
    assert tolerance.passage(0.079, 0.31, 0.26, Cutting()) is None


def test_passage_is_the_worst_of_two_plates():
    # Any two holes within tolerance: the largest circle in the overlap of two circles of radius
    # r1, r2, a apart, has the diameter min(2 r1, 2 r2, r1 + r2 − a).
    diameter, thickness, pitch, cutting = 0.158, 0.09, 1.7, Cutting()
    worst = tolerance.passage(diameter, thickness, pitch, cutting)
    u = tables.squareness(thickness, 3)
    own = tables.cut_deviation(thickness, diameter)
    off = tables.cut_deviation(thickness, pitch) / 2

    def left(size, lean, shift):
        r = (diameter + size) / 2 - lean
        apart = abs(shift[0] - shift[1])
        return np.minimum.reduce([2 * r[0], 2 * r[1], r[0] + r[1] - apart])

    draw = np.random.default_rng(3)
    found = left(draw.uniform(-own, own, (2, 4000)), draw.uniform(0, u, (2, 4000)),
                 draw.uniform(-off, off, (2, 4000)))  # fmt: skip
    assert found.min() >= worst
    extreme = left(np.full((2, 1), -own), np.full((2, 1), u), np.array([[-off], [off]]))
    assert extreme == pytest.approx(worst)


@pytest.fixture(scope="module")
def thin():
    """The large press with plates of 90 mm, and one of 120 mm in its bed."""
    case = case_file.read(Path(__file__).parents[2] / "cases" / "large" / "large.toml")
    plates = {"crosshead": ((0.09, 8),), "bed": ((0.09, 7), (0.12, 1))}
    changed = {
        name: getattr(case, name).model_copy(
            update={  # cut from plates of this thickness, as if nothing were machined off them
                "plates": tuple(
                    PlateEntry(thickness=f"{1e3 * t} mm", blank=f"{1e3 * t} mm", count=n)
                    for t, n in own
                )
            }
        )
        for name, own in plates.items()
    }
    return layout.build(case.model_copy(update=changed))


def test_rods_that_would_not_pass_get_bored_holes(press_of, thin):
    # Saddles: 79 mm is wide enough for 70 mm of plate, but leaves 74.1 mm for a rod of 75 mm.
    saddle = next(w for w in plan(press_of("on_edge"), Cutting()) if w.plate.role == "saddle")
    assert {h.way for h in saddle.holes} == {"bored"}
    # 158 mm in 90 mm, 1.7 m by 0.88 m: 158 − 1.4 − 2·1.3 − 2.2 = 151.8 for 150 mm: as cut.
    # In 120 mm: 158 − 2.1 − 2·1.6 − 2.9 = 149.8: bored.
    works = {w.plate.thickness: w for w in plan(thin, Cutting())
             if w.plate.role == "plate"}  # fmt: skip
    assert {(h.way, round(h.passage, 6)) for h in works[0.09].holes} == {("cut", 0.1518)}
    assert {(h.way, round(h.passage, 6)) for h in works[0.12].holes} == {("bored", 0.1498)}
    # A less square cut closes the passage: u = 0.8 + 0.02·90 = 2.6, so 149.2.
    rough = [w for w in plan(thin, Cutting(squareness=4)) if w.plate.role == "plate"]
    assert {h.way for w in rough for h in w.holes} == {"bored"}


def test_allowance_by_hand(thin):
    # 120 mm: u 1.6, Rz5 0.07 + 0.0012·120 = 0.214, half of 2.1 (150 mm) and of 2.9 (1.9 m).
    thick = next(w for w in plan(thin, Cutting()) if w.plate.thickness == 0.12)
    assert thick.fit.allowance == pytest.approx(1.6e-3 + 0.214e-3 + 1.05e-3 + 1.45e-3)
    assert any("NEEDED" in line for line in drawing.tolerance_notes(thick, Cutting()))
    wider = Cutting(allowance="5 mm")
    thick = next(w for w in plan(thin, wider) if w.plate.thickness == 0.12)
    assert not any("NEEDED" in line for line in drawing.tolerance_notes(thick, wider))


def test_bow_by_integrating_the_bending_moment():
    # A beam on its ends under an even load: the curvature M / EI integrated twice.
    plate = Plate("p", "plate", Outline(1.2, 0.6), 0.08, 0.0, STEEL)
    force, length = 2e5, 1.2
    x = np.linspace(0, length, 20001)
    curvature = force / length * x * (length - x) / 2 / (210e9 * 0.6 * 0.08**3 / 12)
    dx = x[1] - x[0]
    slope = np.concatenate([[0.0], np.cumsum((curvature[1:] + curvature[:-1]) / 2 * dx)])
    sag = np.concatenate([[0.0], np.cumsum((slope[1:] + slope[:-1]) / 2 * dx)])
    sag -= x / length * sag[-1]
    assert tolerance.bow_pressed_out(plate, force) == pytest.approx(-sag.min(), rel=1e-6)


def test_faces_to_neighbours(press_of):
    demo = press_of("demo")
    by = {w.plate.name: w.fit for w in plan(demo, Cutting()) if w.stack == "bed"}
    assert by["plate 1"].flat == tolerance.bow_pressed_out(demo.bed.plates[0], 0.1 * demo.capacity)
    # EN 10029 class N, over 1 m long: 8 mm under 2 m (not verified against the standard).
    assert by["plate 1"].delivered == pytest.approx(8e-3)
    large = press_of("large")
    thin = next(w.fit for w in plan(large, Cutting()) if w.plate.role == "plate")
    assert thin.flat == pytest.approx(1e-3 * 1.7 / 2)  # half of 1 mm/m over 1.7 m
    upright = next(w.fit for w in plan(press_of("on_edge"), Cutting()))
    assert upright.flat is None


def test_plates_beyond_the_standard_are_told(small_text):
    from platestack.geometry import layout

    text = small_text.replace('"2 x 50 mm"', '"2 x 310 mm"')
    assert text != small_text
    press = layout.build(case_file.parse(text))
    work = plan(press, Cutting())[0]
    assert work.fit.squareness is None
    assert any("agree" in line for line in drawing.tolerance_notes(work, Cutting()))
    assert all(h.way != "cut" for h in work.holes)


@pytest.mark.parametrize("given_", ["0", "6", '"3"', "true", "3.0"])
def test_bad_squareness_is_told(small_text, given_):
    with pytest.raises(CaseError, match=r"cutting\.squareness"):
        case_file.parse(small_text + f"[cutting]\nsquareness = {given_}\n")


def test_notes_are_finite_numbers(press_of):
    for name in ("small", "demo", "on_edge", "large"):
        for work in plan(press_of(name), Cutting()):
            fit = work.fit
            known = [v for v in (fit.squareness, fit.allowance, fit.flat) if v is not None]
            assert all(math.isfinite(v) and v > 0 for v in known)
            assert all("None" not in line for line in drawing.notes(work, Cutting()))
