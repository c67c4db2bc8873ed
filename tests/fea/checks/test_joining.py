"""Clamp bolts of a case: class, preload, torque; what acting as one would take."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import get_args

import pytest

from platestack.fea.checks.joining import clamp_bolts, joining_facts
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema.fastening import Fastening

BOLTS = """
[[bed.clamp_bolts]]
at = ["{x}0 mm", "60 mm"]
thread = "M20"
{more}
"""


@pytest.fixture
def pressed(welded_text):
    """Case and press of the small press with clamp bolts on both sides of the bed; no solution."""

    def build(more: str = "") -> Statics:
        text = welded_text + "".join(BOLTS.format(x=x, more=more) for x in (10, -10, 14))
        case = case_file.parse(text, "bolts.toml")
        return Statics(case, layout.build(case), {}, 0.0)

    return build


def named(facts, part):
    return next(fact for fact in facts if part in fact.name)


def test_classes_of_the_case_are_those_of_the_table():
    field = Fastening.model_fields["property_class"]
    assert get_args(field.annotation) == tables.property_class_names()


def test_preload_of_the_class(pressed):
    # VDI 2230 table, M20 8.8 at μ = 0.12: 130 kN (not verified against the standard).
    preload, *_ = clamp_bolts(pressed('preload = "65 kN"'))
    assert preload.limit == pytest.approx(130e3, rel=0.01)
    assert preload.utilisation == pytest.approx(0.5, rel=0.01)
    preload, *_ = clamp_bolts(pressed('preload = "65 kN"\nproperty_class = "10.9"'))
    assert preload.limit == pytest.approx(130e3 * 940 / 660, rel=0.01)


def test_pressure_under_the_nut(pressed):
    # Without a preload given, that of the class. Nut face 27.7 mm (ISO 4032), hole 22 mm.
    plain, *_ = clamp_bolts(pressed())
    area = math.pi / 4 * (27.7**2 - 22**2) * 1e-6
    assert plain.value == pytest.approx(130e3 / area, rel=0.01)
    # VDI 2230-1 Table A9: 760 MPa for S355 (not verified); the plate's limit lies below.
    assert 0.8 < plain.limit / 760e6 < 1
    spread, *_ = clamp_bolts(pressed('washer_diameter = "37 mm"'))
    assert spread.value < plain.value / 2


def test_torque_and_scatter(pressed):
    torque = named(joining_facts(pressed()), "torque")
    # 130 kN (2.5/2π + 0.12 (18.376/(2 cos 30°) + (27.7 + 22)/4)) mm: evaluated by hand.
    lever = 2.5 / (2 * math.pi) + 0.12 * (18.376 / (2 * math.cos(math.pi / 6)) + 49.7 / 4)
    force = next(i.value for i in torque.inputs if i.name == "F_V")
    assert torque.value == pytest.approx(force * lever * 1e-3, rel=1e-4)
    assert torque.value == pytest.approx(415, rel=0.01)
    least = re.search(r"at the least (\S+) kN \(α_A = 1\.6\)", torque.note)
    assert least
    assert 1e3 * float(least[1]) == pytest.approx(force / 1.6, rel=1e-3)


def test_force_between_plates_is_m_s_over_i(pressed):
    # Disc of 80 mm on a span of 350 mm, 2 × 50 mm: M S / I = 1.5 M / H, M as a beam on two rods.
    facts = joining_facts(pressed())
    found = named([f for f in facts if f.name.startswith("bed")], "full composite action")
    moment = 294199.5 / 4 * (0.35 - 2 * 4 * 0.08 / 2 / (3 * math.pi))
    assert found.value == pytest.approx(1.5 * moment / 0.1, rel=0.01)
    throat = named([f for f in facts if f.name.startswith("bed")], "throat")
    strength = 470e6 / (math.sqrt(3) * 0.9 * 1.25)
    assert throat.value == pytest.approx(1.5 * found.value / (2 * 0.175 * strength), rel=1e-6)


def test_bolts_needed(pressed):
    facts = joining_facts(pressed())
    held, needed = named(facts, "held by friction"), named(facts, "needed")
    force = named([f for f in facts if f.name.startswith("bed")], "full composite action").value
    # One bolt stands on the weaker side: μ F / (α_A γ_M3).
    assert held.value == pytest.approx(0.2 * 130e3 / (1.6 * 1.25), rel=0.01)
    assert needed.value == math.ceil(force / held.value)
    better = joining_facts(pressed('tightening = "hydraulic"'))
    assert named(better, "held by friction").value > held.value


def test_slip_is_a_limit_where_bolts_alone_make_the_plates_one(pressed):
    facts, bolted = joining_facts(pressed()), pressed()
    slip = clamp_bolts(bolted)[-1]
    assert slip.name == "bed: slip between plates taken as welded"
    acting = named([f for f in facts if f.name.startswith("bed")], "full composite action")
    assert slip.value == acting.value
    assert slip.limit == named(facts, "held by friction").value
    assert slip.utilisation > 1  # one M20 on the weaker side
    bed = bolted.case.bed.model_copy(update={"clamp_bolts": bolted.case.bed.clamp_bolts[:1]})
    half = replace(bolted, case=bolted.case.model_copy(update={"bed": bed}))
    assert 1 < clamp_bolts(half)[-1].utilisation < math.inf
    bed = bolted.press.bed
    loose = replace(bolted, press=replace(bolted.press, bed=replace(bed, interface="loose")))
    assert not any("slip" in check.name for check in clamp_bolts(loose))


def test_no_plates_no_bolts(small_press, small_case):
    alone = replace(small_press.bed, plates=small_press.bed.plates[:1])
    press = replace(small_press, bed=alone)
    facts = joining_facts(Statics(small_case, press, {}, 0.0))
    assert not [fact for fact in facts if fact.name.startswith("bed")]


@pytest.mark.parametrize("more", ['property_class = "8.9"', "thread_friction = 0.9"])
def test_bad_bolts_are_told_in_one_line(pressed, more):
    with pytest.raises(PlatestackError) as caught:
        pressed(more)
    lines = str(caught.value).splitlines()
    assert all("clamp_bolts" in line for line in lines[-3:])
