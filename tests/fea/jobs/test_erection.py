"""The plan of assembly: statics by hand, nothing forgotten, supports where there is room.

Expected values are closed forms of statics and of plane geometry (shapely for areas), or follow
from what is lifted. Yardsticks of the trade are marked in the modules as common practice.
"""

from __future__ import annotations

import csv
import json
import math
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from platestack.fea.app.cli import app
from platestack.fea.hand import erection, footing
from platestack.geometry import case as case_file
from platestack.geometry import layout, masses
from platestack.geometry.masses import Piece

CASES = Path(__file__).parents[3] / "cases"
NAMES = ("small", "demo", "on_edge", "large", "off_centre")
G = 9.80665
"""ISO 80000-3."""


def read(name, seat=None):
    """Text of a case; with `seat`, these lines for the seat of its rods instead of its own."""
    text = (CASES / name / f"{name}.toml").read_text(encoding="utf-8")
    if seat is None:
        return text
    text = re.sub(r"(?m)^(seat|seat_diameter|sleeve_bore) = .*\n", "", text)
    return text.replace("[rods]\n", f"[rods]\n{seat}\n")


def low_room():
    """Text of the case on edge, under a ceiling too low for its rods and its crosshead."""
    text = read("on_edge")
    assert 'ceiling = "4.2 m"' in text
    return text.replace('ceiling = "4.2 m"', 'ceiling = "2.6 m"')


def planned(name="demo", seat=None):
    case = case_file.parse(read(name, seat))
    press = layout.build(case)
    return press, erection.plan(press, case)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("lifted", ["plate by plate", "whole stacks"])
def test_every_part_is_put_on_once(name, lifted):
    text = (CASES / name / f"{name}.toml").read_text(encoding="utf-8")
    case = case_file.parse(text)
    case = case.model_copy(update={"shop": case.shop.model_copy(update={"lifted": lifted})})
    press = layout.build(case)
    made = erection.plan(press, case)
    whole = masses.together("press", masses.pieces(press))
    last = made.steps[-1].whole
    assert last.mass == pytest.approx(whole.mass)
    assert last.centre == pytest.approx(whole.centre)
    assert [s.number for s in made.steps] == list(range(1, len(made.steps) + 1))
    names = [p.name for s in made.steps for p in s.added]
    assert len(names) == len(set(names))


SEATS = [
    ("", "trestle", "the supports"),
    ('seat = "inner nuts"', None, "upper inner nuts"),
    ('seat = "shoulder"', None, "upper shoulders"),
    ('seat = "sleeve"', None, "the sleeves"),
]


@pytest.mark.parametrize(("seat", "support", "carrier"), SEATS)
def test_seats_decide_what_carries_the_crosshead(seat, support, carrier):
    press, made = planned(seat=seat)
    first = next(s for s in made.steps if s.title.startswith("crosshead"))
    assert any(carrier in words for words in first.words)
    names = {s.name for s in first.supports}
    assert ("trestle" in names) == (support is not None)
    assert any("carries the crosshead" in c for c in made.cautions) == (support is not None)
    rods = next(s for s in made.steps if " rods" in s.title)
    standing = press.rods[0].seat in ("inner nuts", "shoulder")
    assert ("packing under a rod" in {s.name for s in rods.supports}) != standing
    rod, lift = press.rods[0], rods.lifts[0]
    # Over the bed: 50 mm, the rod, 0.3 m of slings; what it wears needs no more.
    over = press.bed.load_face - made.floor
    assert lift.hook_height(made.floor) == pytest.approx(over + 0.05 + rod.length + 0.3)
    if rod.seat == "sleeve":
        assert lift.load.mass == pytest.approx(rod.mass + rod.sleeve_mass)
    if press.rods[0].seat == "inner nuts":
        assert lift.load.mass == pytest.approx(rod.mass + 2 * rod.nut_mass)
    end = made.steps[-1]
    assert any("platestack tighten" in w for w in end.words) == (press.rods[0].seat != "none")


def test_the_first_steps_by_hand():
    """Bed of the small press: 460 x 180 x 50 mm with two holes of 48 mm, on feet of 159 mm."""
    _, made = planned("small")
    plate = 7850 * 0.05 * (0.46 * 0.18 - 2 * math.pi / 4 * 0.048**2)
    for index, step in enumerate(made.steps[:2]):
        top = 0.159 + 0.05 * index
        found = {check.name: check for check in step.checks}
        assert step.mass == pytest.approx(plate)
        load = found["load and slings"]
        assert (load.value, load.limit) == pytest.approx((plate + 2, 100))
        # 50 mm clear, the plate, slings at 45° over half its length, and a hoist of half a metre.
        hook = found["ceiling over the highest lift, with hook and hoist"]
        assert (hook.value, hook.limit) == pytest.approx((top + 0.05 + 0.05 + 0.23 + 0.5, 2.2))
        tips = math.degrees(math.atan(0.14 / (0.159 + 0.05 * (index + 1) / 2)))
        assert found["tilt at which it tips"].value == pytest.approx(tips)
    packed = next(s for s in made.steps if "nuts" in s.title and s.kind == "fix")
    nuts = 2 * 0.045 * (math.sqrt(3) / 2 * 0.07**2 - math.pi / 4 * 0.045**2)
    washers = 2 * 0.009 * math.pi / 4 * (0.07875**2 - 0.048**2)
    assert packed.mass == pytest.approx(7850 * (nuts + washers))
    assert made.checks == tuple(check for step in made.steps for check in step.checks)
    assert made.exceeded == any(check.utilisation > 1 for check in made.checks)


@pytest.mark.parametrize("name", ["demo", "on_edge", "large"])
def test_trestles_carry_all_and_stand_free(press_of, name):
    # Independent of the search: areas by shapely, levels by the boxes of the plates at samples.
    from shapely import Point, box

    press, made = planned(name, "")
    step = next(s for s in made.steps if s.kind == "support")
    pair = [s for s in step.supports if s.name == "trestle"]
    assert len(pair) == 2
    crosshead = sum(p.mass for p in press.crosshead.plates) + press.cylinder.mass
    assert sum(s.force for s in pair) == pytest.approx(crosshead * G)
    for one in pair:
        x0, x1 = one.at[0] - one.width / 2, one.at[0] + one.width / 2
        strip = box(x0, -1, x1, 1)
        for rod in press.rods:
            assert strip.distance(Point(rod.at).buffer(rod.diameter / 2)) > 0.009
        assert strip.distance(Point(0, 0).buffer(press.cylinder.outer_diameter / 2)) > 0.009
        for x in (x0 + 1e-6, one.at[0], x1 - 1e-6):
            for stack, pick, z in ((press.bed, 1, one.low), (press.crosshead, 0, one.high)):
                over = [p.bounds[pick][2] for p in stack.plates
                        if p.bounds[0][0] <= x <= p.bounds[1][0]]  # fmt: skip
                assert (max if pick else min)(over) == pytest.approx(z)


def test_no_room_for_trestles_is_told():
    wide = '[cylinder]\nouter_diameter = "740 mm"\n'
    text = read("demo", "")
    text = text.replace('length = "1040 mm"', 'length = "980 mm"')
    text = text.replace('washer_diameter = "160 mm"', 'washer_diameter = "140 mm"')
    case = case_file.parse(text + wide)
    made = erection.plan(layout.build(case), case)
    step = next(s for s in made.steps if s.kind == "support")
    assert "from the floor" in step.title
    assert not any(s.name == "trestle" for s in step.supports)


@given(st.floats(10, 1e5), st.floats(-0.4, 0.4), st.floats(0.5, 2.0))
def test_tilt_and_jacks_by_moments(mass, off, high):
    # A box on a base of ±0.5 m: it tips where its centre of mass stands over the nearer edge.
    load = Piece("load", "any", mass, (off, 0.0, high), (-0.5, -0.5, 0.0), (0.5, 0.5, 2 * high))
    expected = math.degrees(math.atan((0.5 - abs(off)) / high))
    assert footing.tilt(load, (0.5, 0.5), 0.0) == pytest.approx(expected)
    assert footing.tilt(load, (abs(off) / 2, 1.0), 0.0) == (0.0 if off else pytest.approx(0.0))


def test_jacks_balance_the_press(press_of):
    press, made = planned("large")
    for jack in made.jacking:
        # Vertical forces and moments about the press axis: jacks at x_j, the far edge at −b.
        far = jack.load.mass * G - jack.force
        moment = jack.force * jack.at[0] - far * made.base[0]
        assert moment == pytest.approx(jack.load.mass * G * abs(jack.load.centre[0]), abs=1.0)
        assert math.tan(math.radians(jack.tilt)) == pytest.approx(
            jack.rise / (jack.at[0] + made.base[0])
        )
        (check,) = jack.checks()
        high = jack.load.centre[2] - made.floor
        arm = min(half - abs(c) for half, c in zip(made.base, jack.load.centre[:2], strict=True))
        third = math.degrees(math.atan(arm / high)) / 3
        assert (check.value, check.limit) == pytest.approx((jack.tilt, third))
    # Nut 150 mm high, 20 mm for fingers, feet leave 100 mm below the rods: 70 mm to go.
    assert press.rods[0].nut_height == pytest.approx(0.15)
    assert made.jacking[-1].rise == pytest.approx(0.07)
    for rod in press.rods:
        assert abs(made.jacking[-1].at[0] - abs(rod.at[0])) > rod.bearing_outer / 2


def test_a_rod_leans_by_similar_triangles(press_of):
    press = press_of("demo")
    rod = press.rods[0]
    # Holes through three plates of 110 mm: 5 mm of clearance over 330 mm.
    top = press.bed.nut_face + rod.free_length + rod.reach
    assert footing.lean(press, rod) == pytest.approx((rod.hole - 0.09) / 0.33 * (top - 0.33))


def test_limits_are_checked_at_each_step():
    text = (CASES / "demo" / "demo.toml").read_text(encoding="utf-8")
    low = re.sub('hook_height = ".*?"', 'hook_height = "2.5 m"', text)
    case = case_file.parse(low.replace('hoist = "1.5 t"', 'hoist = "500 kg"'))
    made = erection.plan(layout.build(case), case)
    broken = {(s.number, c.name) for s in made.steps for c in s.checks if c.utilisation > 1}
    heavy = {s.number for s in made.steps if s.lifts and s.mass * 1.02 > 500}
    tall = {s.number for s in made.steps
            if any(lift.hook_height(made.floor) > 2.5 for lift in s.lifts)}  # fmt: skip
    assert {n for n, name in broken if name == "load and slings"} == heavy
    assert {n for n, name in broken if name.startswith("hook height")} == tall
    assert heavy
    assert tall
    assert made.exceeded


@pytest.mark.parametrize("name", NAMES)
def test_the_cases_that_come_along_can_be_put_together(name):
    assert [c.name for c in planned(name)[1].checks if c.utilisation > 1] == []


def test_without_a_hook_the_ceiling_counts():
    low = case_file.parse(low_room())
    made = erection.plan(layout.build(low), low)
    found = [c for c in made.checks if "highest lift" in c.name]
    assert {c.limit_name for c in found} == {"limits.ceiling"}
    # Half a metre of hoist hangs between hook and ceiling, unless the shop says otherwise.
    tallest = max(lift.hook_height(made.floor) for step in made.steps for lift in step.lifts)
    assert max(c.value for c in found) == pytest.approx(tallest + 0.5)
    assert made.hook_limit == pytest.approx(2.6 - 0.5)
    shop = low.shop.model_copy(update={"hoist_height": 0.8})
    other = erection.plan(layout.build(low), low.model_copy(update={"shop": shop}))
    assert max(c.value for c in other.checks if "highest lift" in c.name) == pytest.approx(
        tallest + 0.8
    )
    assert any(c.utilisation > 1 for c in found)


def test_feet_lower_than_the_rods_are_told():
    _, made = planned("demo")
    assert not any(c.name == "room under the bed" and c.utilisation > 1 for c in made.checks)
    text = (CASES / "demo" / "demo.toml").read_text(encoding="utf-8")
    case = case_file.parse(text.replace("[shop]", '[shop]\nfeet_height = "60 mm"'))
    made = erection.plan(layout.build(case), case)
    assert any(c.name == "room under the bed" and c.utilisation > 1 for c in made.checks)


def test_command_writes_table_record_and_drawing(tmp_path):
    from PIL import Image

    case = case_file.parse(re.sub(r"(?m)^feet = .*$", "", read("small")))
    assert erection.plan(layout.build(case), case).exceeded  # without feet it tips below 10°
    made = CliRunner().invoke(
        app, ["assemble", str(CASES / "small" / "small.toml"), "--out", str(tmp_path / "plan")]
    )
    assert made.exit_code == 0, made.output
    assert "exceeded" not in made.output
    assert "tightening" in made.output
    assert {p.name for p in (tmp_path / "plan").iterdir()} == {
        "assembly.json", "assembly.csv", "assembly.png",
    }  # fmt: skip
    data = json.loads((tmp_path / "plan" / "assembly.json").read_text(encoding="utf-8"))
    press, plan = planned("small")
    assert len(data["steps"]) == len(plan.steps)
    assert data["steps"][-1]["standing"]["mass"] == pytest.approx(plan.steps[-1].whole.mass)
    with (tmp_path / "plan" / "assembly.csv").open(encoding="utf-8") as file:
        assert next(file).startswith("# urn:platestack:assembly:1; ")
        lines = list(csv.DictReader(file))
    total = sum(float(line["mass [kg]"] or 0) for line in lines)
    lower = sum(p.mass for p in masses.pieces(press) if p.name.startswith("lower"))
    assert total + lower == pytest.approx(plan.steps[-1].whole.mass, abs=0.1)
    with Image.open(tmp_path / "plan" / "assembly.png") as image:
        # A panel of 2.35 inch at 110 dots for each of at most seven columns.
        assert image.width == pytest.approx(7 * 2.35 * 110, abs=2)
        assert len(image.convert("RGB").getcolors(1 << 20)) > 8


def test_a_broken_limit_is_told_with_its_step(tmp_path, monkeypatch):
    from platestack.fea import pictures

    monkeypatch.setattr(pictures, "assembly_picture", lambda made, path: path)
    (tmp_path / "low.toml").write_text(low_room(), encoding="utf-8")
    made = CliRunner().invoke(
        app, ["assemble", str(tmp_path / "low.toml"), "--out", str(tmp_path / "plan")]
    )
    assert made.exit_code == 1
    assert re.search(
        r"exceeded step \d+: ceiling over the highest lift, with hook and hoist \d+ mm; "
        r"at most 2600 mm",
        made.output,
    )


def test_bad_case_leaves_nothing(tmp_path):
    case = tmp_path / "bad.toml"
    case.write_text("[press]\n", encoding="utf-8")
    made = CliRunner().invoke(app, ["assemble", str(case), "--out", str(tmp_path / "plan")])
    assert made.exit_code != 0
    assert not (tmp_path / "plan").exists()
