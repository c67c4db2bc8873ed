"""Off-centre load of a press: a case in, places and allowed offsets out."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path

from platestack.fea.jobs.offcentre.places import (
    Allowed,
    OffCentre,
    OffsetLoad,
)
from platestack.fea.pictures import OffsetChart, offset_picture
from platestack.fea.results import run_directory
from platestack.fea.solid.frame.press import PressFrame, tightened_and_pressed
from platestack.fea.solid.frame.springs import Unheld
from platestack.fea.solid.stack import Report
from platestack.fea.support import result_files
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import UsageError
from platestack.geometry.parts import Point, Press
from platestack.geometry.schema import Case
from platestack.geometry.units import column, dimension, quantity

MARK = "off_centre.json"


@dataclass(frozen=True)
class OffCentreCapacity:
    """Loads off centre, SI: `places` are the axis, the case's own offset and what was asked for."""

    press: str
    capacity: float
    ends: tuple[str, ...]
    tilt_limit: float
    places: tuple[OffsetLoad, ...]
    allowed: tuple[Allowed, ...]

    @property
    def limits(self) -> tuple[str, ...]:
        """Names of what limits the offset."""
        return tuple(self.allowed[0].largest)

    @property
    def exceeded(self) -> tuple[str, ...]:
        """Each limit that a place exceeds, in words."""
        return tuple(
            f"At {dimension(place.offset[0])}, {quantity(place.offset[1], 'm', 6)}: {words}"
            for place in self.places
            for words in place.exceeded(self.tilt_limit)
        )

    def least(self, name: str) -> tuple[float, float]:
        """Least of the largest offsets (m) by a limit, and in which direction (degrees)."""
        worst = min(self.allowed, key=lambda one: one.largest[name])
        return worst.largest[name], worst.angle


def work_out(
    path: Path, out: Path, report: Report, *, offset: Point | None, tilt_limit: float
) -> OffCentreCapacity:
    """Load the press of a case file off centre and put what comes of it into `out`.

    Raises
    ------
    PlatestackError
        If the case is bad, the crosshead tips at the offset asked for, or a step fails.
    """
    case = case_file.read(path)
    press = layout.build(case)
    with run_directory.directory(out, MARK) as folder:
        tightened, frame = _on_axis(case, report)
        report("offsets")
        loaded = OffCentre(frame, tilt_limit, tightened)
        own = press.crosshead.patch if case.ram.mounted == "bed" else press.bed.patch
        wanted = list(dict.fromkeys([(0.0, 0.0), own.centre, *([offset] if offset else [])]))
        places = []
        for place in wanted:
            try:
                places.append(loaded.at(place))
            except Unheld:
                raise UsageError(
                    f"--at: given {quantity(place[0], 'm', 6)}, {quantity(place[1], 'm', 6)}; "
                    "capacity there tips the crosshead: allowed: offsets that rods and seats can "
                    "hold"
                ) from None
        names = tuple(end.name for end in frame.ends)
        result = OffCentreCapacity(
            press.name, press.capacity, names, tilt_limit, tuple(places), loaded.allowed()
        )
        report("write")
        write(result, press, folder)
    return result


def _on_axis(case: Case, report: Report) -> tuple[PressFrame, PressFrame]:
    """The frame tightened, and at capacity: patches on the axis, wherever the workpiece stands.

    A patch beside the axis lies aslant on plates that bend, which is no tilt of the press.
    """
    axial = case.workpiece.model_copy(update={"offset": (0.0, 0.0)})
    case = case.model_copy(update={"workpiece": axial})
    return tightened_and_pressed(layout.build(case), case, report)


def write(result: OffCentreCapacity, press: Press, folder: Path) -> None:
    """Write ``off_centre.json``, ``off_centre.csv`` (units in the header) and a picture."""
    data = asdict(result) | {"exceeded": result.exceeded}
    for one in data["allowed"]:
        one["largest"] = {k: v if math.isfinite(v) else None for k, v in one["largest"].items()}
    (folder / MARK).write_text(
        json.dumps(result_files.head("off-centre") | data, indent=2) + "\n", encoding="utf-8"
    )
    with (folder / "off_centre.csv").open("w", newline="", encoding="utf-8") as file:
        file.write(result_files.csv_head("off-centre"))
        writer = csv.writer(file)
        size, unit = column("m")
        writer.writerow(["direction [deg]", *(f"{name} [{unit}]" for name in result.limits)])
        for one in result.allowed:
            values = (one.largest[name] for name in result.limits)
            writer.writerow([one.angle, *(v / size if math.isfinite(v) else "" for v in values)])
    patches = tuple(
        (stack.patch.shape, stack.patch.length, stack.patch.width, stack.patch.centre)
        for stack in press.stacks
    )
    offset_picture(
        OffsetChart(
            result.press,
            tuple((rod.at, rod.diameter) for rod in press.rods),
            patches,
            tuple(one.angle for one in result.allowed),
            tuple(
                (name, tuple(one.largest[name] for one in result.allowed)) for name in result.limits
            ),
            tuple(place.offset for place in result.places[1:]),
        ),
        folder / "off_centre.png",
    )
