"""What one command says, another does not contradict: small contradictions that were there once."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from rich.console import Console
from typer.testing import CliRunner

from platestack.fea.app import page
from platestack.fea.app.cli.app import app
from platestack.fea.app.console import offcentre as offcentre_console
from platestack.fea.app.console import optimum as optimum_console
from platestack.fea.app.page import runs
from platestack.fea.checks.rods import rods
from platestack.fea.jobs import offcentre
from platestack.fea.jobs.offcentre import places as offcentre_places
from platestack.fea.jobs.optimum import EvaluatedOption, Optimum, PlateOption
from platestack.fea.jobs.options import writing
from platestack.fea.jobs.options.evaluation import Row, gains
from platestack.fea.jobs.proof import measured, plan
from platestack.fea.pictures.press import mirror_words
from platestack.fea.results import run_directory
from platestack.fea.results.summary import cautions
from platestack.fea.solid import model, pressing
from platestack.fea.solid.stress import places
from platestack.geometry import case as case_file
from platestack.geometry import units
from platestack.geometry.shapes import Gap

# --- off centre


def place(tilt=(0.0, 0.0), use=0.5, guide=0.5, opened=()):
    return offcentre_places.OffsetLoad(
        (0.03, 0.0), (1e5, 1e5), (5e4, 5e4), use, tilt, 3e3, 10.0, guide, opened
    )


def test_a_tilt_beyond_its_limit_is_named_and_ends_with_1(tmp_path, monkeypatch, small_text):
    result = offcentre.OffCentreCapacity(
        "press",
        1e6,
        ("rod 1",),
        5e-4,
        (place(tilt=(0.025, 0.0)),),
        (),
    )
    assert result.exceeded == ("At 30, 0 mm: tilt 25 mm/m is beyond 0.5 mm/m, 50 times",)
    sound = replace(result, places=(place(tilt=(4e-4, 0.0)),))
    assert not sound.exceeded
    monkeypatch.setattr(offcentre.OffCentreCapacity, "limits", ())
    (tmp_path / "case.toml").write_text(small_text, encoding="utf-8")
    for found, code in ((result, 1), (sound, 0)):
        monkeypatch.setattr(offcentre, "work_out", lambda *_, found=found, **__: found)
        told = CliRunner().invoke(
            app, ["offcentre", str(tmp_path / "case.toml"), "--out", str(tmp_path / "out")]
        )
        assert told.exit_code == code, told.exception
        assert ("exceeded" in told.output) == bool(code)


def test_what_solving_leaves_of_nothing_is_shown_as_0():
    stream = io.StringIO()
    found = (place(), replace(place(tilt=(1.4e-7, 0.0)), side=0.2))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(offcentre.OffCentreCapacity, "limits", ())
        patch.setattr(offcentre_console, "out", Console(file=stream, width=200, highlight=False))
        offcentre_console.print_off_centre(
            offcentre.OffCentreCapacity("p", 1e6, ("rod 1",), 5e-4, found, ())
        )
    first, second = (line for line in stream.getvalue().splitlines() if line.startswith("30, 0"))
    assert "0 mm/m" in second
    assert "0.00014" not in second
    assert second.split()[-2:] == ["0", "kN"]
    assert first.split()[-2:] != ["0", "kN"]


def test_each_limit_off_centre_is_named():
    words = place(use=1.2, guide=3.0, opened=("seat of rod 1",)).exceeded(5e-4)
    assert words == [
        "rod tension is 120\N{NO-BREAK SPACE}% of its limit",
        "pressure on the ram guides is 300\N{NO-BREAK SPACE}% of its limit",
        "opens: seat of rod 1",
    ]


# --- optimise and compare


def printed(found) -> str:
    stream = io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        console = Console(file=stream, width=300, highlight=False)
        patch.setattr(optimum_console, "out", console)
        optimum_console.print_optimum(found, "")
    return stream.getvalue()


def test_no_option_holds_is_not_said_beside_a_case_that_does():
    option = PlateOption((2, 0.05), (2, 0.05))
    good, bad = (
        EvaluatedOption(option, 100.0, {"a": 0.9}, True),
        EvaluatedOption(option, 90.0, {"a": 1.2}, True),
    )
    made = Optimum("mass", None, good, {}, (bad,), 0.0, 4, True)
    assert "the case as it is holds them all" in printed(made)
    assert "120\N{NO-BREAK SPACE}% even with" in printed(replace(made, base=bad))


def test_gains_take_numbers_of_any_kind():
    """A prediction's figures are numpy's, whose comparisons are no index of a list."""
    old = Row("base", "predicted", mass=np.float64(100.0), height=np.float64(1.0))
    new = replace(old, mass=np.float64(110.0), height=np.float64(0.9))
    assert gains(old, new) == "10\N{NO-BREAK SPACE}% heavier, 10\N{NO-BREAK SPACE}% lower"


def test_both_comparisons_write_one_form_of_table(tmp_path, small_press):
    row = Row("base", "failed", "no reason", mass=100.0)
    writing.write([row], tmp_path / "rows", "title", currency="EUR")
    [above, *lines] = (
        (tmp_path / "rows" / "comparison.csv").read_text(encoding="utf-8").splitlines()
    )
    assert above.startswith("# urn:platestack:comparison:1; ")
    [head, line] = csv.reader(lines)
    cells = dict(zip(head, line, strict=True))
    assert cells["mass [kg]"] == "100.0"
    for name in ("bed_peak_von_mises [Pa]", "crosshead_mid_span_deflection [m]", "height [m]",
                 "heaviest_lift [kg]", "rod_force [N]", "cost [EUR]", "bed_mass [kg]"):  # fmt: skip
        assert name in cells
    assert not any("utilisation [" in name or "composite [" in name for name in head)


# --- numbers and words


def test_defaults_are_listed_with_their_units(small_case):
    told = dict(case_file.defaults(small_case))
    assert told["cutting.sheet"] == "6000 mm, 2000 mm"
    assert told["workpiece.offset"] == "0 mm, 0 mm"
    assert told["hydraulics.oil_heat"] == "1900.0 J/(kg K)"
    assert not any("(" in words.replace("J/(", "") for words in told.values())


@pytest.mark.parametrize(("value", "words"), [(1.388e-17, "0 mm"), (2e-9, "2e-06 mm")])
def test_what_rounding_leaves_of_a_height_is_no_length(value, words):
    assert units.quantity(value, "m") == words


def test_a_jack_raises_by_nothing_or_by_what_can_be_seen(small_case, small_press):
    from platestack.fea.hand import footing
    from platestack.geometry import masses

    rod = small_press.rods[0]
    whole = masses.together("press", masses.pieces(small_press))
    enough = rod.reach + rod.nut_height + footing.FINGERS
    for less in (0.0, 1e-17, 3e-16):
        made = footing.jacking(small_press, whole, (0.2, 0.1), enough - less)
        assert made.rise == 0.0
    assert footing.jacking(small_press, whole, (0.2, 0.1), enough - 0.01).rise == pytest.approx(
        0.01
    )


def test_the_page_shows_a_run_with_the_rounding_of_the_terminal(small_run):
    summary = run_directory.read(small_run)
    told = {f["name"]: f["text"] for f in runs._figures(summary)}
    assert told["bed: mid-span deflection"] == units.figure(summary.bed.mid_span_deflection)
    assert told["crosshead: mass"] == units.figure(summary.crosshead.mass)
    for name in ("runs", "plates"):
        text = (Path(page.__path__[0]) / "static" / f"{name}.js").read_text(encoding="utf-8")
        assert ".text" in text, name
        # toPrecision alone writes 500 as "5.0e+2".
        assert text.count(".toPrecision(") == len(
            re.findall(r"Number\([^;$`]*?\.toPrecision\(", text)
        )


def test_a_bare_quarter_is_not_called_mirrored():
    stacks = [SimpleNamespace(name="bed", symmetry=["x", "y"])]
    assert mirror_words(stacks) == "Computed quarter mirrored at x = 0 and y = 0."
    alone = mirror_words(stacks, drawn="computed part")
    assert alone == "Computed quarter drawn alone; mirror planes x = 0 and y = 0."


def test_a_place_beside_an_edge_is_told_as_beside_it(press_of):
    press = press_of("demo")
    plate = press.bed.plates[1]
    half, z = plate.outline.width / 2, (plate.base + plate.top) / 2
    at_edge = places.describe(press.bed, press.rods, plate, (0.2, half, z), 0.04)
    beside = places.describe(press.bed, press.rods, plate, (0.2, half - 0.020, z), 0.04)
    assert ", outer edge at +x +y (200, 320," in at_edge
    assert ", 20 mm from the outer edge at +x +y (200, 300," in beside


def test_the_log_names_what_came_loose(caplog):
    seats, bolts = frozenset({"rod 2", "rod 1"}), frozenset({"clamp bolt 1"})
    for lost, slack, words in (
        (seats, frozenset(), "seats open or close at rod 1, rod 2"),
        (frozenset(), bolts, "clamp bolts come loose: clamp bolt 1"),
        (seats, bolts, "seats open or close at rod 1, rod 2; clamp bolts come loose: clamp bolt 1"),
    ):
        assert pressing.opening_words(lost, slack) == words


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        (Gap(), ""),
        (Gap(uniform=1e-4), "uniform"),
        (Gap(bow=1e-3), "bowed"),
        (Gap(uniform=1e-4, waviness=1e-3), "uniform and wavy"),
    ],
)
def test_the_caution_speaks_of_the_gaps_that_were_given(small_press, gap, words):
    loose = {s.name: replace(s, interface="loose", gap=gap) for s in small_press.stacks}
    press = replace(small_press, crosshead=loose["crosshead"], bed=loose["bed"])
    told = cautions.cautions(press)[len(cautions.COMMON_CAUTIONS)]
    assert ("gaps" in told) == bool(words)
    assert told.endswith(f"Initial gaps are taken as {words}.") or not words


# --- forces of the rods


def test_rods_together_bear_the_pressing_force(small_solution):
    """Each stack says something else of each rod; the sums agree, so do the sums of the means."""
    press = small_solution.press
    stacks = dict(small_solution.stacks)
    solved = stacks["bed"]
    # One rod and its image are in the model: let the bed's say a third more.
    stacks["bed"] = replace(
        solved,
        rods={n: replace(r, frame=4 / 3 * r.frame) for n, r in solved.rods.items()},
    )
    uneven = model.Solution(small_solution.case, press, stacks, 0.0)
    rod = press.rods[0]
    shares = uneven.rod_shares(rod)
    assert uneven.rod_force(rod) == pytest.approx(sum(shares.values()) / 2)
    assert max(shares.values()) > uneven.rod_force(rod)
    for force in (small_solution.rod_force, small_solution.nut_force):
        assert sum(force(one) for one in press.rods) == pytest.approx(press.capacity, rel=1e-5)
    # Checks take the force that balances.
    over = next(c for c in rods(uneven) if "overload" in c.name)
    given = {i.name: i.value for i in over.inputs}
    assert given["F_work"] == pytest.approx(uneven.rod_force(rod))


@pytest.mark.parametrize(("seat", "same"), [("sleeve", True), ("shoulder", False)])
def test_nuts_bear_the_same_unless_each_has_a_seat(small_solution, seat, same):
    """What passes through the whole shank is one force; between nut and seat it is each end's."""
    press = small_solution.press
    stacks = dict(small_solution.stacks)
    for name, nut in (("crosshead", 3.0), ("bed", 5.0)):
        rods_there = {n: replace(r, nut=nut) for n, r in stacks[name].rods.items()}
        stacks[name] = replace(stacks[name], rods=rods_there)
    solution = model.Solution(small_solution.case, press, stacks, 0.0)
    rod = replace(press.rods[0], seat=seat)
    found = solution.least_nut_force(rod), solution.nut_force(rod)
    assert found == ((4.0, 4.0) if same else (3.0, 5.0))


# --- proof test


@pytest.mark.parametrize("interface", ["loose", "welded", "clamped"])
@pytest.mark.parametrize("factor", [1.3, 0.7])
def test_reasons_name_friction_only_where_there_is_some(small_run, interface, factor):
    run = run_directory.reopen(small_run)
    test = plan.make(run)
    bed = run.summary.bed
    summary = run.summary.model_copy(
        update={"bed": bed.model_copy(update={"beam": bed.beam.model_copy(
            update={"actual": interface})})}
    )  # fmt: skip
    shares = np.array([step.share for step in test.steps])
    fits = tuple(
        measured.fit(
            measured.Series(
                r, shares * run.press.working_pressure,
                shares * r.value * (factor if r.part == "bed" and r.kind == "dial" else 1.0),
            ),
            run.press.working_pressure,
        )
        for r in test.readings
    )  # fmt: skip
    [said] = measured.reasons(fits, test, summary)
    assert "thickness" in said
    assert "modulus" in said
    if factor > 1:
        assert ("friction" in said) == (interface == "clamped")
    elif interface == "loose":
        assert "which the case leaves out" in said
