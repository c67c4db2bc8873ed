"""Fatigue under several forces: counting, Miner's sum, categories, against published values.

Sources: ASTM E1049-85, 5.4.4 (worked example of rainflow counting, secondary copy read); EN
1993-1-9:2005, 7.1 and Table 3.1 (secondary copy read and memory, as of each test).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from platestack.fea.checks.connectors import connector_fatigue
from platestack.fea.checks.plate_strength import edge_facts, edge_fatigue
from platestack.fea.checks.threads import thread_facts, thread_fatigue
from platestack.fea.checks.use import Use, edge_detail
from platestack.fea.hand import fatigue
from platestack.fea.solid.stress.peaks import EXTRAPOLATED
from platestack.geometry import case as case_file
from platestack.geometry import layout, tables
from platestack.geometry.errors import CaseError

MPA = 1e6


def case_of(text: str, more: str):
    return case_file.parse(text + more, "case.toml")


def test_rainflow_of_the_standard(small_text):
    """-2, 1, -3, 5, -1, 3, -4, 4, -2: ranges 3 and 6 and 9 half, 4 one and a half, 8 once."""
    peaks = [-2, 1, -3, 5, -1, 3, -4, 4, -2]
    forces = ", ".join(f'"{30 * (peak + 4) / 9:.6f} tf"' for peak in peaks)
    case = case_of(small_text, f"\n[spectrum]\nrecorded = [{forces}]\nrepeats = 10\n")
    found: Counter[float] = Counter()
    for size, count in Use.of(case).ranges:
        found[round(9 * size, 3)] += count
    assert found == pytest.approx({3: 5, 4: 15, 6: 5, 8: 10, 9: 5})


def test_miner_on_both_slopes():
    """Category 90: 432,000 cycles at 150 MPa, 8,245,044 at 60; the cut-off is 0.4047 of it."""
    assert fatigue.damage(90 * MPA, [(150 * MPA, 432_000)]) == pytest.approx(1, rel=1e-4)
    assert fatigue.damage(90 * MPA, [(60 * MPA, 8_245_044)]) == pytest.approx(1, rel=1e-4)
    both = [(150 * MPA, 216_000), (60 * MPA, 4_122_522), (36 * MPA, 1e9)]
    assert fatigue.damage(90 * MPA, both) == pytest.approx(1, rel=1e-4)
    assert fatigue.damage(90 * MPA, [(60 * MPA, 1e9)], variable=False) == 0
    assert fatigue.damage(90 * MPA, [(0.405 * 90 * MPA, 1e8)]) == pytest.approx(1, rel=0.01)


def test_shear_to_its_cut_off():
    """0.457 of the category at 10⁸ cycles (EN 1993-1-9, 7.1), the category itself at 2·10⁶."""
    assert fatigue.allowed_shear(80 * MPA, 2e6, 1) == pytest.approx(80 * MPA)
    for cycles in (1e8, 1e9):
        assert fatigue.allowed_shear(80 * MPA, cycles, 1) == pytest.approx(0.457 * 80e6, rel=1e-3)


def test_partial_factors_of_table_3_1(small_text):
    table = {("damage tolerant", "low"): 1.0, ("damage tolerant", "high"): 1.15,
             ("safe life", "low"): 1.15, ("safe life", "high"): 1.35}  # fmt: skip
    for (assessment, consequence), factor in table.items():
        more = f'[limits]\nassessment = "{assessment}"\nconsequence = "{consequence}"\n'
        case = case_of(small_text.replace("[limits]\n", more), "")
        assert Use.of(case).factor == factor
    both = '[limits]\nfatigue_factor = 1.2\nconsequence = "low"\n'
    with pytest.raises(CaseError, match="fatigue_factor"):
        case_of(small_text.replace("[limits]\n", both), "")


def test_blocks_count_by_the_cube_of_their_force(small_text):
    blocks = ('blocks = [{ force = "15 tf", cycles = 80_000 }, '
              '{ force = "30 tf", cycles = 1_000 }]\n')  # fmt: skip
    use = Use.of(case_of(small_text, f"\n[spectrum]\n{blocks}"))
    assert use.equivalent() == 11_000
    # Beyond five million cycles a constant range does no harm; one among others does.
    many = Use(((1.0, 1e7),), True, 1.0, 20.0)
    assert many.allowed(100 * MPA) < replace(many, variable=False).allowed(100 * MPA)
    for wrong in ("", "repeats = 3\n", blocks + 'recorded = ["1 tf", "2 tf"]\n',
                  'recorded = ["2 tf", "2 tf"]\n', 'recorded = ["0 tf", "31 tf"]\n'):  # fmt: skip
        with pytest.raises(CaseError, match="spectrum"):
            case_of(small_text, f"\n[spectrum]\n{wrong}")


def test_edges_by_how_they_are_cut(small_text):
    """ISO 9013 range 3 and better 125, 4 100, 5 80, dressed 140 (not verified)."""
    dressed = "squareness = 5\ndressed = true"
    for key, category in (("squareness = 2", 125), ("squareness = 4", 100),
                          ("squareness = 5", 80), (dressed, 140)):  # fmt: skip
        case = case_of(small_text, f"\n[cutting]\n{key}\n")
        assert edge_detail(case).category == category * MPA


def test_a_weld_at_a_step_has_its_own_category(small_solution):
    """Stress extrapolated to a re-entrant edge of welded plates: 90 in place of 125."""
    solved = small_solution.stacks["bed"]
    peaks = tuple(replace(p, way=EXTRAPOLATED) for p in solved.peaks)
    assert all(p.singular for p in peaks)
    stepped = replace(small_solution, stacks={"bed": replace(solved, peaks=peaks)})
    (check,) = edge_fatigue(stepped)
    assert "weld" in check.name
    limit = 90 * MPA / 1.35 * (2e6 / small_solution.case.limits.cycles) ** (1 / 3)
    assert check.limit == pytest.approx(limit)


def test_the_most_tired_plate_need_not_be_the_most_stressed(small_solution):
    """A weld of category 90 under 200 MPa beside an edge of 125 under 210: Miner, slope 3."""
    solved = small_solution.stacks["bed"]
    edge, weld = solved.peaks
    edge = replace(edge, von_mises=210 * MPA)
    weld = replace(weld, von_mises=200 * MPA, way=EXTRAPOLATED)
    bed = replace(solved, peaks=(edge, weld))
    facts = edge_facts(replace(small_solution, stacks={"bed": bed}))
    (total,) = (f for f in facts if f.name.endswith("sum of Palmgren and Miner"))
    assert weld.plate.name in total.name
    cycles = small_solution.case.limits.cycles
    assert total.value == pytest.approx(cycles / 2e6 * (1.35 * 200 / 90) ** 3)


def test_a_thread_tires_by_the_range_that_its_check_shows(small_solution):
    """Category 50, times (30/45)^0.25 beyond 30 mm: Miner, slope 3."""
    (check,) = thread_fatigue(small_solution)
    (total,) = (f for f in thread_facts(small_solution) if "Palmgren" in f.name)
    ratio = 1.35 * check.value / (50 * MPA * (30 / 45) ** 0.25)
    assert total.value == pytest.approx(small_solution.case.limits.cycles / 2e6 * ratio**3)
    assert "no force" in check.note  # its rods are not tightened


def test_years_left_are_years_over_the_sum(small_solution):
    facts = {f.name.partition(": ")[2]: f for f in edge_facts(small_solution)}
    total = facts["sum of Palmgren and Miner"].value
    assert 0 < total < 1
    assert facts["years at this use until Miner's sum is 1"].value == pytest.approx(20 / total)


@pytest.mark.parametrize(
    ("given", "area", "category"),
    [('{ kind = "seams", throat = "8 mm" }', 0.350 * 8e-3, 80),
     ('{ kind = "dowels", diameter = "30 mm", count = 8 }', 4 * 706.858e-6, 100)],
)  # fmt: skip
def test_connectors_tire_in_shear(small_text, small_solution, given, area, category):
    """Half of a span of 350 mm, both seams, or half of the dowels; slope 5."""
    text = small_text.replace("[bed]\n", f"[bed]\nconnectors = {given}\n")
    case = case_file.parse(text, "case.toml")
    made = replace(small_solution, case=case, press=layout.build(case), stacks={})
    (check,) = connector_fatigue(made)
    force = next(i.value for i in check.inputs if i.name == "F")
    assert check.value == pytest.approx(1.5 * force / area, rel=1e-5)
    assert check.limit == pytest.approx(
        category * MPA / 1.35 * (2e6 / case.limits.cycles) ** 0.2, rel=1e-9
    )


def test_every_category_is_one_of_the_standard():
    """EN 1993-1-9 Figure 7.1: 160, 140, 125, 112, 100, 90, 80, 71, 63, 56, 50, 45, 40, 36."""
    names = {160, 140, 125, 112, 100, 90, 80, 71, 63, 56, 50, 45, 40, 36}
    block = tables.source.read("detail_category.toml")
    for rows in (block["details"]["rows"], block["recommended"]["rows"]):
        assert {row[1] for row in rows} <= names
        assert {row[2] for row in rows} <= {3, 5}
