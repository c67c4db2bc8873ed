"""Connectors of a stack and the cylinder's fixing bolts, from the case to the checks."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from platestack.fea.checks.connectors import connector_checks, connector_facts
from platestack.fea.checks.fixing import fixing, pull
from platestack.fea.checks.joining import joining_facts
from platestack.fea.hand.joined import Joined
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import PlatestackError

FORCE, SPAN = 294199.5, 0.35


@pytest.fixture
def pressed(small_text):
    """Case and press of the small press with a further table; no solution."""

    def build(more: str) -> Statics:
        case = case_file.parse(small_text + more, "more.toml")
        return Statics(case, layout.build(case), {}, 0.0)

    return build


def dowels(count: int, more: str = "") -> str:
    return f'[bed.connectors]\nkind = "dowels"\ndiameter = "20 mm"\ncount = {count}\n{more}'


def slip_of(made) -> list[float]:
    """Slip modulus of each interface of the bed (N/m²)."""
    return Joined.of(made.press, made.press.bed).slip


def test_seams_by_newmark(pressed):
    made = pressed('[bed.connectors]\nkind = "seams"\nthroat = "7 mm"\n')
    (check,), (fact,) = connector_checks(made), connector_facts(made)
    # Two layers under a force at mid-span, Newmark's equation T'' − ω² T = −k h M / ΣEI solved:
    # T = k h / (ΣEI ω²) F/2 (L/2 − tanh(ωL/2)/ω).
    (slip,), axial = slip_of(made), 210e9 * 0.18 * 0.05
    # Two throats that shear over the leg's height.
    assert slip == pytest.approx(2 * 210e9 / 2.6 / math.sqrt(2))
    bending = 2 * axial * 0.05**2 / 12
    omega = math.sqrt(slip * (2 / axial + 0.05**2 / bending))
    reach = SPAN / 2 - math.tanh(omega * SPAN / 2) / omega
    expected = slip * 0.05 / (bending * omega**2) * FORCE / 2 * reach
    assert check.value == pytest.approx(expected, rel=1e-3)
    # f_vw,d = 470/(√3 0.9 1.25) MPa (EN 1993-1-8) on two seams of half the span.
    strength = 470e6 / (math.sqrt(3) * 0.9 * 1.25)
    assert check.limit == pytest.approx(2 * SPAN / 2 * 0.007 * strength / 1.5)
    # Between as one (n² = 4 times stiffer) and loose.
    assert 0.25 < fact.value < 0.6


def test_dowels_by_hand(pressed):
    (check,) = connector_checks(pressed(dowels(12)))
    # 0.6 A f_ub/γ_M2 with f_ub = 830 MPa (class 8.8 over 16 mm), bearing 1.5 × 25 × 20 × 335 MPa.
    each = min(0.6 * math.pi / 4 * 20**2 * 830 / 1.25, 1.5 * 25 * 20 * 335)
    assert check.limit == pytest.approx(6 * each / 1.5)
    # γ-method for the first sine, EN 1995-1-1 Annex B: two equal leaves, gross section.
    (fact,) = connector_facts(pressed(dowels(12)))
    (slip,) = slip_of(pressed(dowels(12)))
    # Springs of EN 1993-1-8 Table 6.11 in series (N/mm), 12 over the span.
    shear, bearing = 8 * 20**2 * 830 / 16, 12 * 1.25 * 2.5 * 20 * 470
    assert slip == pytest.approx(12 / SPAN * 1e3 / (1 / shear + 2 / bearing))
    gamma = 1 / (1 + math.pi**2 * 210e9 * 0.18 * 0.05 / (slip * SPAN**2))
    a2 = gamma * 0.05 / (gamma + 1)
    ratio = 1 + (gamma * (0.05 - a2) ** 2 + a2**2) * 12 / (2 * 0.05**2)
    # Higher sines slip more freely; they are a few per cent of the deflection.
    assert 1 / ratio < fact.value < 1.06 / ratio


def test_more_dowels_never_bend_more_nor_load_each_more(pressed):
    found = [
        (connector_facts(pressed(dowels(n)))[0].value, connector_checks(pressed(dowels(n)))[0])
        for n in (2, 8, 32, 128)
    ]
    for (soft, worse), (stiff, better) in itertools.pairwise(found):
        assert stiff < soft
        assert better.utilisation < worse.utilisation


FIXING = '[ram]\ndiameter = "125 mm"\n[ram.fixing]\nthread = "M20"\ncount = 8\n{more}\n'


@pytest.fixture
def fixed(small_text):
    """The small press with fixing bolts."""

    def build(more: str = "", mounted: str = "crosshead") -> Statics:
        given = FIXING.format(more=more).replace("[ram]\n", f'[ram]\nmounted = "{mounted}"\n')
        case = case_file.parse(
            small_text.replace('[ram]\ndiameter = "125 mm"\n', given), "fixing.toml"
        )
        return Statics(case, layout.build(case), {}, 0.0)

    return build


def named(checks, part):
    return next(check for check in checks if part in check.name)


def test_pull_is_return_force_and_weight(fixed):
    made = fixed()
    cylinder = made.press.cylinder
    annulus = math.pi / 4 * (cylinder.bore**2 - cylinder.ram**2)
    expected = 25e6 * annulus + 9.80665 * cylinder.mass
    assert pull(made, made.case.ram.fixing) == pytest.approx(expected)
    standing = fixed(mounted="bed")
    assert pull(standing, standing.case.ram.fixing) == pytest.approx(25e6 * annulus)


def felt(grip: float) -> float:
    """Part of the pull that an M20 feels.

    Bolt: shank, and at both ends half a diameter of core and 0.4 of shank; plates: cones of 30°
    from the nut's face of 27.7 mm (ISO 4032) round the hole of 22 mm, slice by slice.
    """
    shank, core = math.pi / 4 * 0.020**2, math.pi / 4 * 0.016933**2
    bolt = grip / shank + 2 * (0.010 / core + 0.008 / shank)
    z = (np.arange(20_000) + 0.5) / 20_000 * grip / 2
    cone = math.pi / 4 * ((0.0277 + 2 * z * math.tan(math.pi / 6)) ** 2 - 0.022**2)
    plates = grip * float(np.mean(1 / cone))
    return plates / (plates + bolt)


def test_fixing_by_hand(fixed):
    checks = fixing(fixed('pull = "80 kN"\npreload = "100 kN"\ngrip = "40 mm"'))
    parting, tension = named(checks, "parting"), named(checks, "tension")
    weight = 9.80665 * fixed().press.cylinder.mass
    each = (80e3 + weight) / 8
    part = next(i.value for i in parting.inputs if i.name == "Φ")
    assert part == pytest.approx(felt(0.040), rel=1e-3)
    # The cylinder's bottom is clamped, 25 mm, if nothing is said.
    bottom = named(fixing(fixed('pull = "80 kN"')), "parting")
    assert bottom.inputs[1].value == pytest.approx(felt(0.025), rel=1e-3)
    # 90 % of yield by tension and torsion: VDI 2230's rounded torque on W_p = π d_0³/12.
    tight = named(checks, "preload")
    assert tight.value == pytest.approx(100e3)
    turned = 0.16 * 0.0025 + 0.58 * 0.018376 * 0.12
    d0 = math.sqrt(4 * 244.79e-6 / math.pi)
    each_newton = math.hypot(1 / 244.79e-6, math.sqrt(3) * turned * 12 / (math.pi * d0**3))
    assert tight.limit == pytest.approx(0.9 * 660e6 / each_newton, rel=3e-3)
    assert parting.value == pytest.approx(100e3 / 1.6)
    assert parting.limit == pytest.approx((1 - part) * each)
    # M20: 244.79 mm² (ISO 898-1), class 8.8 660 MPa.
    assert tension.value == pytest.approx((100e3 + part * each) / 244.79e-6, rel=1e-4)
    assert tension.limit == pytest.approx(660e6)
    assert named(checks, "amplitude").limit == pytest.approx(0.85e6 * (150 / 20 + 45))


def test_more_pull_or_fewer_bolts_never_help(fixed):
    def used(pull: int, bolts: int) -> list[float]:
        made = fixed(f'pull = "{pull} kN"\npreload = "90 kN"')
        given = made.case.ram.fixing.model_copy(update={"count": bolts})
        ram = made.case.ram.model_copy(update={"fixing": given})
        weaker = replace(made, case=made.case.model_copy(update={"ram": ram}))
        return [check.utilisation for check in fixing(weaker)[1:]]

    plain = used(50, 8)
    assert all(a > b for a, b in zip(used(150, 8), plain, strict=True))
    assert all(a > b for a, b in zip(used(50, 4), plain, strict=True))


@pytest.mark.parametrize(
    ("more", "key"),
    [
        ('[bed.connectors]\nkind = "dowels"\ncount = 4\n', "bed.connectors"),
        ('[bed.connectors]\nkind = "seams"\n', "bed.connectors"),
        ('[bed.connectors]\nkind = "seams"\nthroat = "5 mm"\ncount = 3\n', "bed.connectors"),
        (dowels(1), "bed.connectors.count"),
        ('[ram.fixing]\nthread = "M81"\ncount = 8\n', "ram.fixing.thread"),
        ('[ram.fixing]\nthread = "M20"\n', "ram.fixing.count"),
    ],
)
def test_bad_tables_are_told_in_one_line(small_text, more, key):
    with pytest.raises(PlatestackError) as caught:
        case_file.parse(small_text + more, "bad.toml")
    (line,) = str(caught.value).splitlines()
    assert key in line


def test_nothing_given_nothing_checked(pressed):
    plain = pressed("")
    assert not connector_checks(plain)
    assert not connector_facts(plain)
    assert not fixing(plain)
    assert all("bolt" not in fact.topic for fact in joining_facts(plain))
