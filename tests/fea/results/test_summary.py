"""The summary of a run: its published schema, its units, and sums by hand.

Independent judge of the schema: jsonschema. Expected values: statics and masses by hand.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest

import platestack
from platestack.fea.results import summary
from platestack.fea.results.summary import Figure, Summary, summarise

SCHEMA = Path(summary.__file__).with_name("summary.schema.json")
CAPACITY = 30 * 9806.65


@pytest.fixture(scope="module")
def made(small_solution) -> Summary:
    return summarise(small_solution, "small.toml")


@pytest.fixture(scope="module")
def data(small_run) -> dict:
    return json.loads((small_run / "summary.json").read_text(encoding="utf-8"))


# --- the schema


def test_published_schema_is_that_of_the_code():
    assert json.loads(SCHEMA.read_text(encoding="utf-8")) == summary.schema()


def test_written_summary_is_valid(data):
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(data)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.update(schema_version=1),
        lambda d: d.pop("program_version"),
        lambda d: d["checks"][0].update(sense="about"),
        lambda d: d["checks"][0].pop("id"),
        lambda d: d["bed"]["plates"][0]["thickness"].update(unit="mm"),
        lambda d: d.pop("rods"),
        lambda d: d["bed"].update(dofs="many"),
        lambda d: d.update(table=d.pop("bed")),
        lambda d: d["mass"].pop("unit"),
        lambda d: d["bed"]["peak_von_mises"].update(at=[0, 0]),
    ],
)
def test_schema_finds_a_spoilt_summary(data, spoil):
    spoilt = json.loads(json.dumps(data))
    spoil(spoilt)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(spoilt, summary.schema())


def test_promised_names_are_there(data):
    # The contract with other programs.
    for stack in (data["crosshead"], data["bed"]):
        assert {"peak_von_mises", "mid_span_deflection", "strain_energy", "beam_deflection", "dofs",
                "interfaces"} <= set(stack)  # fmt: skip
    assert all({"preload", "working_force", "stretch"} <= set(rod) for rod in data["rods"])
    assert {"mass", "height", "cost", "checks"} <= set(data)
    assert data["schema_version"] == 2


def test_schema_describes_every_property():
    made = summary.schema()
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert made["$id"] == "urn:platestack:summary:2"
    kinds = {"Summary": made, **made["$defs"]}
    plain = [
        f"{kind}.{name}"
        for kind, record in kinds.items()
        for name, entry in record["properties"].items()
        if not entry.get("description")
    ]
    assert plain == []
    assert all(record.get("description") for record in kinds.values())


def test_every_check_and_fact_can_be_told_apart(data):
    for rows in (data["checks"], data["facts"]):
        ids = [row["id"] for row in rows]
        assert len(set(ids)) == len(ids)
        assert all(row["kind"] and row["part"] for row in rows)
        assert all({"value", "unit", "error", "note"} <= set(row) for row in rows)
    assert {row["sense"] for row in data["checks"]} == {"at most", "at least"}
    parts = {row["part"] for row in data["checks"]}
    assert {"press", "rod 1", "bed plate 1", "crosshead", "ram"} <= parts
    row = next(r for r in data["checks"] if r["id"] == "rods-rod-1-tension-in-the-thread")
    assert (row["kind"], row["part"], row["sense"]) == ("rods", "rod 1", "at most")


def test_head_says_what_made_it_and_when(data):
    assert data["program_version"] == platestack.__version__
    age = datetime.now(UTC) - datetime.fromisoformat(data["date"])
    assert timedelta(0) - timedelta(seconds=1) <= age < timedelta(days=1)


def test_plain_dimensions_have_units_in_the_file(data, made):
    plate, rod = data["bed"]["plates"][0], data["rods"][0]
    assert plate["thickness"] == {"value": 0.05, "unit": "m", "error": None, "note": ""}
    assert (plate["mass"]["unit"], plate["yield_strength"]["unit"]) == ("kg", "Pa")
    assert (rod["diameter"]["value"], rod["diameter"]["unit"]) == (0.045, "m")
    assert made.bed.plates[0].thickness == 0.05
    assert Summary.model_validate(data).bed == Summary.model_validate(made.model_dump()).bed


# --- the numbers


def test_units_are_si(made):
    for stack in made.stacks.values():
        assert stack.peak_von_mises.unit == "Pa"
        assert stack.mid_span_deflection.unit == stack.beam_deflection.unit == "m"
        assert stack.strain_energy.unit == "J"
    assert (made.mass.unit, made.height.unit, made.capacity.unit) == ("kg", "m", "N")
    assert made.working_pressure.unit == "Pa"


def test_capacity_and_pressure_by_hand(made):
    assert made.capacity.value == pytest.approx(CAPACITY)
    assert made.working_pressure.value == pytest.approx(25e6)


def test_rods_by_hand(made):
    # Half of 294.2 kN on a rod of 45 mm, 726.25 mm between the nuts.
    force = CAPACITY / 2
    stretch = force * 0.72625 / (210e9 * math.pi / 4 * 0.045**2)
    for rod in made.rods:
        assert rod.working_force.value == pytest.approx(force, rel=1e-6)
        assert rod.stretch.value == pytest.approx(stretch, rel=1e-6)
        assert rod.preload.value == 0  # nothing to tighten it against
        assert rod.largest_force.value == pytest.approx(force, rel=1e-6)
        assert rod.clamping_force_left is None
        # Below the bed, whose underside is at 0, hang washer (9 mm) and nut (45 mm), and 5 mm of
        # thread stand out.
        assert rod.ends == pytest.approx((-0.059, 0.72625 + 0.059))
    assert [x for rod in made.rods for x in rod.at] == pytest.approx([-0.175, 0, 0.175, 0])
    assert made.height.value == pytest.approx(0.72625 + 0.118)


def test_masses_by_hand(made):
    plate = (0.46 * 0.18 - 2 * math.pi / 4 * 0.048**2) * 0.05 * 7850
    for stack in made.stacks.values():
        assert [p.mass for p in stack.plates] == pytest.approx([plate, plate])
        assert stack.mass.value == pytest.approx(2 * plate)
    shank = math.pi / 4 * 0.045**2
    nut = (math.sqrt(3) / 2 * 0.070**2 - shank) * 0.045 * 7850
    rods = 2 * (shank * (0.72625 + 0.118) * 7850 + 2 * nut)
    ring = math.pi / 4 * ((1.75 * 0.045) ** 2 - 0.048**2) * 0.009 * 7850
    # The cylinder: a bar of 1.25 bores, less the annulus of the stroke, and the ram's end. Of the
    # closed length (stroke and 1.25 bores) bottom, piston, gland and stroke leave the end free.
    free = 1.25 * 0.125 - 0.025 - 2 * 0.125 / 3
    bar = (1.25 * 0.125) ** 2 * (0.12 + 1.25 * 0.125 - free)
    piston = 0.125 - 2 * (5e-5 + 2e-4 * 0.125)  # less its clearance, over a third of the bore
    bar -= (0.125**2 - piston**2) * 0.125 / 3
    cylinder = math.pi / 4 * (bar - (0.125**2 - 0.1**2) * 0.12 + 0.1**2 * free) * 7850
    assert made.mass.value == pytest.approx(4 * plate + rods + 4 * ring + cylinder)


def test_summary_agrees_with_the_solution(made, small_solution):
    for name, record in made.stacks.items():
        solved = small_solution.stacks[name]
        assert record.peak_von_mises.value == max(p.peak_von_mises.value for p in record.plates)
        assert record.mid_span_deflection.value == solved.deflection
        assert record.mid_span_deflection.error == solved.deflection_error
        assert record.dofs.value == record.mesh.unknowns == 3 * len(solved.mesh.nodes)
        assert record.symmetry == ["x", "y"]
        assert list(record.interfaces) == ["plate 1 | plate 2"]
        assert record.interfaces["plate 1 | plate 2"].kind == "welded"
        assert record.beam.ratio == pytest.approx(
            record.mid_span_deflection.value / record.beam_deflection.value
        )
        assert record.beam.welded_deflection < record.beam.loose_deflection


def test_deflection_says_how_it_is_defined(made):
    for record in made.stacks.values():
        assert "nut-bearing annuli" in record.mid_span_deflection.note
        assert record.mid_span_deflection.place == "loaded face, at the press axis"


# --- checks


def test_checks_are_sorted_and_counted(made):
    use = [check.utilisation for check in made.checks if not check.by_design]
    assert use == sorted(use, reverse=True)
    assert all(check.by_design for check in made.checks[len(use) :])
    assert made.exceeded == sum(value > 1 for value in use) == 0
    for check in made.checks:
        ratio = check.value / check.limit
        assert check.utilisation == pytest.approx(1 / ratio if check.sense == "at least" else ratio)
        assert check.limit_name
        assert check.formula or check.method
        assert check.source
    assert len({check.name for check in made.checks}) == len(made.checks)


def test_checks_by_hand(made):
    by_name = {check.name: check for check in made.checks}
    # 147.1 kN on the stress area of M45, 650 MPa / 2 for 42CrMo4+QT, 40 to 100 mm.
    rod = by_name["rod 1: tension in the thread"]
    area = math.pi / 4 * (0.045 - 0.9382 * 0.0045) ** 2
    assert rod.value == pytest.approx(CAPACITY / 2 / area, rel=1e-4)
    assert rod.limit == pytest.approx(650e6 / 2)
    assert by_name["bed: mid-span deflection"].limit == pytest.approx(1.2e-3 * 0.35)
    assert by_name["height standing on its feet"].limit == pytest.approx(2.2)
    lift = by_name["heaviest lift with its slings"]
    assert (lift.limit, lift.unit) == (100, "kg")
    stress = by_name["bed plate 1: peak von Mises stress"]
    assert stress.limit == pytest.approx(335e6 / 1.5)


ROOM = (
    "height standing on its feet",
    "ceiling over the highest lift, with hook and hoist",
    "heaviest lift with its slings",
)


def test_an_exceeded_limit_is_counted(small_solution):
    limits = small_solution.case.limits.model_copy(update={"ceiling": 0.5, "hoist": 1.0})
    case = small_solution.case.model_copy(update={"limits": limits})
    made = summarise(replace(small_solution, case=case), "small.toml")
    assert made.exceeded == 3
    assert {c.name for c in made.checks[:3]} == set(ROOM)


@pytest.mark.parametrize(("over", "count"), [(1.001, 1), (0.999, 0)])
def test_a_limit_is_exceeded_by_any_more_than_it_allows(small_solution, made, over, count):
    (height,) = (c.value for c in made.checks if c.name == ROOM[1])  # more than standing
    limits = small_solution.case.limits.model_copy(update={"ceiling": height / over})
    case = small_solution.case.model_copy(update={"limits": limits})
    assert summarise(replace(small_solution, case=case), "small.toml").exceeded == count


def test_no_check_where_no_limit_is_set(small_solution):
    limits = small_solution.case.limits.model_copy(update={"ceiling": None, "hoist": None})
    case = small_solution.case.model_copy(update={"limits": limits})
    names = {c.name for c in summarise(replace(small_solution, case=case), "small.toml").checks}
    assert not names & set(ROOM)


def test_defaults_are_listed(made):
    told = dict(made.defaults)
    assert told["limits.yield_safety_factor"] == "1.5"  # left to the schema
    assert told["rods.thread"] == "M45"  # derived by the layout


def test_cautions_are_given(made):
    text = " ".join(made.cautions)
    assert "licensed engineer" in text
    assert "Not checked here" in text


def test_records_are_frozen(made):
    with pytest.raises(ValueError, match="frozen"):
        made.mass.value = 0.0
    assert "colour" not in Figure(value=1.0, unit="m", colour="red").model_dump()
