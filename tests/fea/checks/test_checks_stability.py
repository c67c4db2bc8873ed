"""Sleeves, upright plates, seams, a lost rod and what is not checked, on small presses."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from platestack.fea.checks.lost import lost_rod
from platestack.fea.checks.seams import bottom_seam, bottom_seam_facts
from platestack.fea.checks.stability import sleeves, tearing_facts, upright_plates
from platestack.fea.checks.unchecked import NOT_CHECKED
from platestack.fea.jobs.sizing import proposal
from platestack.fea.results.summary.cautions import COMMON_CAUTIONS
from platestack.fea.solid.loads import RodForces
from platestack.fea.solid.statics import Statics
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.parts import TieRod

CASES = Path(__file__).parents[3] / "cases"


def built(text: str) -> Statics:
    case = case_file.parse(text, "case.toml")
    return Statics(case, layout.build(case), {}, 0.0)


def built_of(name: str) -> Statics:
    return built((CASES / name / f"{name}.toml").read_text(encoding="utf-8"))


class EvenRods(Statics):
    """Rods that share the pressing force alike, without preload."""

    def _bears(self, rod: TieRod) -> list[RodForces]:
        force = self.press.capacity / len(self.press.rods)
        return [RodForces(rod.name, force, force, None)]


def test_sleeve_of_the_demo_as_a_short_column():
    """140/95 mm, radius of gyration 42.3 mm: Johnson, a third; D/t = 6.2 of 32.5."""
    made = built_of("demo")
    column, wall = sleeves(made)
    rod = made.press.rods[0]
    slenderness = rod.between / 0.042297
    yields = rod.material.yield_strength
    part = 1 - yields * slenderness**2 / (4 * math.pi**2 * 210e9)
    area = math.pi / 4 * (0.140**2 - 0.095**2)
    assert column.limit == pytest.approx(area * yields * part / 3, rel=1e-4)
    assert column.value == rod.preload
    assert wall.value == pytest.approx(2 * 140 / 45)
    assert wall.limit == pytest.approx(90 * 235e6 / yields)


def test_upright_plates_of_the_gallery():
    """Four plates of 380 × 50 mm bear 120 tf: half as much again as a quarter."""
    made = built_of("on_edge")
    checks = {c.name.partition(": ")[2]: c for c in upright_plates(made)}
    tips = checks["tipping sideways under its load"]
    assert tips.value == pytest.approx(1.5 * made.press.capacity / 4)
    assert all(c.utilisation < 1 for c in checks.values())
    assert not list(upright_plates(built_of("small")))


def test_seams_ask_for_a_quality(small_text):
    text = small_text.replace(
        "[bed]\n", '[bed]\nconnectors = { kind = "seams", throat = "8 mm" }\n'
    )
    (fact,) = tearing_facts(built(text))
    assert fact.value == 6 + 5 + 10 + 3
    # 21 to 30 ask for Z25; preheating takes 8 off, and 11 to 20 ask for Z15.
    assert fact.note == "order Z25; preheated to 100 °C or more: Z15"


def test_the_weld_of_a_bottom_is_checked_where_it_is_said_to_be(small_text):
    silent = built(small_text)
    (fact,) = bottom_seam_facts(silent)
    assert not bottom_seam(silent)
    for how, category in (("full penetration", 71), ("partial penetration", 36)):
        text = small_text + f'\n[cylinder]\nbottom_joint = "{how}"\n'
        (check,) = bottom_seam(built(text))
        assert check.value == pytest.approx(fact.value)
        allowed = category / 1.35 * (2e6 / silent.case.limits.cycles) ** (1 / 3)
        assert check.limit == pytest.approx(1e6 * allowed)
    loose = built(small_text + '\n[cylinder]\nbottom_joint = "not welded"\n')
    assert not bottom_seam(loose)
    assert not bottom_seam_facts(loose)


def test_losing_one_of_four_doubles_two(four_rods):
    made = built(four_rods())
    force = made.press.capacity
    solution = EvenRods(made.case, made.press, {}, 0.0)
    facts = {f.name.partition(" lost: ")[2]: f for f in lost_rod(solution)}
    (use,) = (fact for name, fact in facts.items() if name.startswith("force of"))
    rod = made.press.rods[0]
    assert use.value == pytest.approx(force / 2 / (rod.stress_area * rod.material.yield_strength))
    assert "slack" in use.note
    energy = facts["strain energy that it sets free as it breaks"]
    assert energy.value == pytest.approx((force / 4) ** 2 / 2 / rod.stiffness)


def test_one_list_of_what_is_not_checked(request):
    readme = " ".join((request.config.rootpath / "README.md").read_text("utf-8").split())
    words = "; ".join(NOT_CHECKED)
    assert f"It does **not** check: {words}." in readme
    for told in (COMMON_CAUTIONS, proposal.CAUTIONS):
        assert any(words in caution for caution in told)
