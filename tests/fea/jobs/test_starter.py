"""Starter cases: a dozen duties give cases that parse and hold what was asked for.

Expected values: the answers themselves; ram area and rod preload by hand (statics); limits by the
beam of `fea.hand`.
"""

from __future__ import annotations

import functools
import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platestack.fea.app import starter
from platestack.fea.hand.beam import beam_check
from platestack.fea.jobs import sizing
from platestack.fea.solid import model
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, PlatestackError, UsageError

# Capacity in tf, pressure in MPa, length, width and daylight in mm.
DUTIES = [
    (20, 20, 500, 350, 300),
    (30, 25, 600, 400, 300),
    (50, 25, 700, 500, 400),
    (80, 28, 800, 500, 400),
    (100, 25, 900, 600, 500),
    (160, 28, 1000, 700, 500),
    (200, 32, 1000, 700, 600),
    (250, 32, 1100, 700, 450),
    (315, 32, 1200, 800, 700),
    (400, 32, 1400, 1000, 800),
    (630, 35, 1600, 1100, 900),
    (1000, 40, 2200, 1400, 1000),
]
QUICK = functools.partial(sizing.propose, thorough=False)
"""The first proposal, where its size is not the point."""
RUN = [DUTIES[0], DUTIES[4], DUTIES[7]]


def answers(duty) -> dict[str, str]:
    capacity, pressure, length, width, daylight = duty
    return {
        "capacity": f"{capacity} tf",
        "pressure": f"{pressure} MPa",
        "length": f"{length} mm",
        "width": f"{width} mm",
        "daylight": f"{daylight} mm",
    }


def name_of(duty) -> str:
    return f"{duty[0]} tf"


ALL = [duty if i % 3 == 1 else pytest.param(duty, marks=pytest.mark.slow)
       for i, duty in enumerate(DUTIES)]  # fmt: skip


@pytest.fixture(scope="module")
def starters(tmp_path_factory):
    """Write (once) the starter of a duty: its file, and the words that came with it."""
    place = tmp_path_factory.mktemp("starters")

    @functools.cache
    def write(duty) -> tuple[Path, str]:
        file = place / name_of(duty) / "mine.toml"
        return file, starter.write(file, answers(duty))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sizing, "propose", QUICK)
        yield write


@pytest.mark.parametrize("duty", ALL, ids=name_of)
def test_a_starter_holds_the_answers(duty, starters):
    file, words = starters(duty)
    capacity, pressure, length, width, daylight = duty
    case = case_file.read(file)
    assert case.press.name == f"mine, {capacity} tf"
    assert case.press.capacity == pytest.approx(capacity * 9806.65)
    assert case.press.working_pressure <= pressure * 1e6
    assert case.press.daylight == pytest.approx(daylight / 1000)
    for section in (case.crosshead, case.bed):
        assert (section.length, section.width) == pytest.approx((length / 1000, width / 1000))
    given_texts = tomllib.loads(file.read_text(encoding="utf-8"))
    assert given_texts["press"]["capacity"] == f"{capacity} tf"  # as the user wrote it
    assert str(file) in words
    assert "to be solved in full by a run" in words


@pytest.mark.parametrize("duty", ALL, ids=name_of)
def test_a_starter_holds_its_limits_by_hand(duty, starters):
    case = case_file.read(starters(duty)[0])
    press = layout.build(case)
    # The ram at working pressure gives the capacity.
    area = math.pi / 4 * press.ram_diameter**2
    assert area * case.press.working_pressure >= press.capacity * (1 - 1e-3)
    # Four rods at 1.2 times their share stay under half of their yield strength.
    rod = press.rods[0]
    assert 1.2 * press.capacity / 4 / rod.stress_area <= rod.material.yield_strength / 2
    for stack in press.stacks:
        beam = beam_check(stack, press.rods, press.capacity)
        assert beam.loose.mid_span_deflection <= stack.deflection_limit
        strength = min(p.material.yield_strength for p in stack.plates) / 1.5
        assert beam.loose.bending_stress <= strength


def test_every_table_of_the_case_is_explained(starters):
    text = starters(DUTIES[7])[0].read_text(encoding="utf-8")
    for table in ("press", "limits", "crosshead", "bed", "rods", "ram", "workpiece"):
        assert f"[{table}]" in text
    assert text.count("#") > 20
    assert max(map(len, text.splitlines())) <= 100


@pytest.mark.slow
@pytest.mark.parametrize("duty", RUN, ids=name_of)
def test_a_starter_runs_and_exceeds_nothing(duty, tmp_path):
    from platestack.fea.checks import all_checks

    starter.write(tmp_path / "mine.toml", answers(duty))
    solution = model.analyse(case_file.read(tmp_path / "mine.toml"))
    worst = all_checks(solution)[0]
    assert worst.utilisation <= 1, worst


# --- files


@pytest.fixture
def quick(monkeypatch):
    monkeypatch.setattr(sizing, "propose", QUICK)


def test_an_existing_file_is_kept(quick, tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text("precious")
    with pytest.raises(UsageError, match="it exists; allowed: a new file name, or --force"):
        starter.write(file, answers(DUTIES[0]))
    assert file.read_text() == "precious"
    starter.write(file, answers(DUTIES[0]), replace=True)
    assert case_file.read(file).press.capacity == pytest.approx(20 * 9806.65)
    assert [entry.name for entry in tmp_path.iterdir()] == ["mine.toml"]


def test_directories_are_made(quick, tmp_path):
    starter.write(tmp_path / "a" / "b" / "mine.toml", answers(DUTIES[0]))
    assert (tmp_path / "a" / "b" / "mine.toml").stat().st_mode & 0o777 == 0o644


@pytest.mark.parametrize("place", ["file/mine.toml", "x" * 300])
def test_a_place_that_cannot_be_written_is_told(quick, tmp_path, place):
    (tmp_path / "file").write_text("")
    with pytest.raises(PlatestackError, match="cannot be written") as caught:
        starter.write(tmp_path / place, answers(DUTIES[0]))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "stem",
    ['a "good" press', "back\\slash", "tab\tand\nnewline", "{length}", "Präge #1", "x" * 200],
)
def test_any_file_name_makes_a_sound_case(quick, tmp_path, stem):
    file = tmp_path / f"{stem}.toml"
    starter.write(file, answers(DUTIES[0]))
    assert case_file.read(file).press.name.endswith(", 20 tf")


# --- answers


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({"capacity": "lots"}, '--capacity: given "lots"; not a number'),
        ({"capacity": "250"}, '--capacity: given "250"; the unit is missing'),
        ({"pressure": "32 mm"}, '--pressure: given "32 mm"; '),
        ({"length": ""}, '--length: given ""; '),
        ({"width": "-600 mm"}, '--width: given "-600 mm"; out of range'),
        ({"daylight": "4,5 m"}, '--daylight: given "4,5 m"; the decimal sign is a point'),
    ],
)
def test_a_bad_answer_is_one_line(tmp_path, change, line):
    with pytest.raises(PlatestackError) as caught:
        starter.write(tmp_path / "mine.toml", answers(DUTIES[0]) | change)
    assert caught.value.exit_code == 2
    assert str(caught.value).startswith(f"mine.toml: {line}")
    assert "\n" not in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_each_bad_answer_has_its_line(tmp_path):
    bad = {"capacity": "a", "pressure": "b", "length": "c", "width": "d", "daylight": "e"}
    with pytest.raises(PlatestackError) as caught:
        starter.write(tmp_path / "mine.toml", bad)
    lines = str(caught.value).splitlines()
    assert {line.split(": ")[1] for line in lines} == {f"--{name}" for name in bad}
    assert len(lines) == len(bad)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"length": "120 mm"}, "--length: given 120 mm; allowed: at least"),
        ({"width": "200 mm"}, "--width: given 200 mm"),
        ({"capacity": "90000 tf"}, "--capacity"),
        ({"capacity": "600 tf", "length": "3 m", "width": "500 mm"}, ""),
    ],
)
def test_duties_that_no_proposal_fits(tmp_path, change, words):
    with pytest.raises(UsageError, match="allowed") as caught:
        starter.write(tmp_path / "mine.toml", answers(DUTIES[4]) | change)
    assert words in str(caught.value)
    assert not list(tmp_path.iterdir())


numbers = st.floats(1, 3000).map(lambda x: f"{x:.4g}")


@settings(max_examples=8, deadline=None)
@given(numbers, numbers, numbers, numbers, st.sampled_from(["tf", "kN", "MN"]))
def test_any_sound_answers_give_a_case_or_a_usage_error(tmp_path_factory, force, length, width,
                                                        daylight, unit):  # fmt: skip
    place = tmp_path_factory.mktemp("any") / "mine.toml"
    given_answers = {
        "capacity": f"{force} {unit}",
        "pressure": "30 MPa",
        "length": f"{length} mm",
        "width": f"{width} mm",
        "daylight": f"{daylight} mm",
    }
    try:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sizing, "propose", QUICK)
            starter.write(place, given_answers)
    except (UsageError, CaseError):  # no proposal, or an answer out of range
        assert not place.exists()
    else:
        assert case_file.read(place)
        assert list(place.parent.iterdir()) == [Path(place)]
