"""Command `assemble`: the plan of assembly of a case, as table, record and drawing."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from platestack.fea import pictures
from platestack.fea.hand.erection import Erection, LiftStep, plan
from platestack.fea.hand.record import Check
from platestack.fea.results import run_directory
from platestack.fea.support import result_files
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.units import column

MARK = "assembly.json"


def write(path: Path, out: Path, report: Callable[[str], None]) -> Erection:
    """Plan the assembly of a case file and put it into `out`.

    Raises
    ------
    PlatestackError
        If the case is bad, or `out` cannot be written.
    """
    case = case_file.read(path)
    with run_directory.directory(out, MARK) as folder:
        report("steps: plan")
        made = plan(layout.build(case), case)
        text = json.dumps(record(made), indent=2, ensure_ascii=False)
        (folder / MARK).write_text(text + "\n", encoding="utf-8")
        _write_list(made, folder / "assembly.csv")
        report("steps: draw")
        pictures.assembly_picture(made, folder / "assembly.png")
    return made


def record(made: Erection) -> dict[str, Any]:
    """The plan as plain data: SI, angles in degrees; heights are above the floor where noted."""
    return result_files.head("assembly") | {
        "press": made.press.name,
        "feet_height": -made.floor,
        "base": {"half_length": made.base[0], "half_width": made.base[1],
                 "given": made.given_base},
        "steps": [_step(made, step) for step in made.steps],
        "jacking": [
            {"load": j.load.name, "mass": j.load.mass, "jacks_at": list(j.at), "rise": j.rise,
             "force_at_one_end": j.force, "tilt": j.tilt, "tips_at": j.tips}
            for j in made.jacking
        ],
        "cautions": list(made.cautions),
    }  # fmt: skip


def _step(made: Erection, step: LiftStep) -> dict[str, Any]:
    whole = step.whole
    return {
        "number": step.number,
        "kind": step.kind,
        "title": step.title,
        "instructions": list(step.words),
        "lifts": [
            {"load": lift.load.name, "mass": lift.load.mass, "estimated": lift.load.estimated,
             "centre_of_mass": list(lift.load.centre),
             "hook_height_above_floor": lift.hook_height(made.floor)}
            for lift in step.lifts
        ],
        "standing": None if whole is None else
        {"mass": whole.mass, "centre_of_mass": list(whole.centre)},
        "supports": [
            {"name": s.name, "at": list(s.at), "from": s.low, "to": s.high, "force": s.force}
            for s in step.supports
        ],
        "checks": [_check(check) for check in step.checks],
    }  # fmt: skip


def _check(check: Check) -> dict[str, Any]:
    return {
        "name": check.name, "value": check.value, "limit": check.limit, "unit": check.unit,
        "limit_name": check.limit_name, "sense": check.sense,
        "utilisation": check.utilisation,
        "formula": check.formula, "method": check.method,
        "source": check.source, "note": check.note,
    }  # fmt: skip


def _write_list(made: Erection, path: Path) -> None:
    """One line for each lift, and for each step without one."""
    (kilos, mass_unit), (size, unit) = column("kg"), column("m")
    head = ["step", "what", f"mass [{mass_unit}]", f"centre x [{unit}]", f"centre y [{unit}]",
            f"centre above underside [{unit}]", f"hook above floor [{unit}]",
            "instructions"]  # fmt: skip
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(result_files.csv_head("assembly"))
        table = csv.writer(file)
        table.writerow(head)
        for step in made.steps:
            words = "; ".join(step.words)
            if not step.lifts:
                mass = f"{step.mass / kilos:.2f}" if step.added else ""
                table.writerow([step.number, step.title, mass, "", "", "", "", words])
            for lift in step.lifts:
                load = lift.load
                x, y, z = load.centre
                table.writerow([
                    step.number, load.name, f"{load.mass / kilos:.2f}", f"{x / size:.4f}",
                    f"{y / size:.4f}", f"{(z - load.low[2]) / size:.4f}",
                    f"{lift.hook_height(made.floor) / size:.3f}", words,
                ])  # fmt: skip
