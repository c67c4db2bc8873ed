"""A starter case from a few answers: sized by beam theory, commented, ready to run.

A first proposal, not an optimum: the stacks are made deep enough to hold their limits as welded
beams with a reserve for what beam theory leaves out.
"""

from __future__ import annotations

import bisect
from pathlib import Path

from fea.hand.beam import NotABeam
from fea.sizing import by_hand, files
from fea.sizing.by_hand import Reserve
from fea.sizing.duty import Duty
from fea.sizing.frame import edge_of
from fea.sizing.plan import ROD_GRADE, bores
from fea.sizing.search import least_rod
from geometry import case as case_file
from geometry import layout, tables
from geometry.errors import CaseError, Problem, UsageError
from geometry.units import FORCE, LENGTH, PRESSURE, UnitError, parse, show

MOST_PLATES = 8

TEXT = """\
# {name}: a starter case. Change anything; `platestack run` says what it leads to.
# Every length, force and pressure needs its unit. Lines that are left out take a default,
# which the results list.

[press]
name = "{name}"
capacity = "{capacity}"            # rated pressing force
working_pressure = "{pressure}"    # oil pressure at capacity
daylight = "{daylight}"            # clear opening between the faces that press
stroke = "{stroke}"

[limits]
deflection = "1 mm/m"             # mid-span deflection over the span between the rods
yield_safety_factor = 1.5         # yield strength over peak von Mises stress
rod_safety_factor = 2.0
# ceiling = "2.6 m"               # height of the room
# hoist = "1 t"                   # what the hoist lifts

[crosshead]
layout = "flat"                   # "flat": plates piled; "on edge": plates upright side by side
length = "{length}"               # along x
width = "{width}"                 # along y
corners = "chamfered"             # "straight", "chamfered" or "rounded"
corner_size = "{corner}"
grade = "S355J2"                  # platestack tables lists the grades
plates = "{plates}"               # from below up; or a list such as ["60 mm", "80 mm"]

[bed]
layout = "flat"
length = "{length}"
width = "{width}"
corners = "chamfered"
corner_size = "{corner}"
grade = "S355J2"
plates = "{plates}"
# platen = {{ thickness = "50 mm", length = "600 mm", width = "500 mm" }}   # a bolster

[rods]
count = 4                         # 2, 4, 6 or 8
pitch = ["{pitch_x}", "{pitch_y}"]   # centre to centre along x and y
diameter = "{rod}"
grade = "{rod_grade}"

[ram]
diameter = "{ram}"                # pressure times its area gives the capacity
shape = "annulus"                 # the cylinder wall bears on the crosshead

[workpiece]
shape = "disc"
diameter = "{work}"               # the smaller, the harder on the bed
"""


def write(
    path: Path,
    *,
    capacity: str,
    pressure: str,
    length: str,
    width: str,
    daylight: str,
    replace: bool = False,
) -> str:
    """Write a starter case; returns a line that says what was proposed.

    Raises
    ------
    UsageError
        If an answer is bad, the file exists already, or no proposal of up to eight plates fits.
    """
    files.usable(path, replace)
    kinds = {
        "capacity": FORCE,
        "pressure": PRESSURE,
        "length": LENGTH,
        "width": LENGTH,
        "daylight": LENGTH,
    }
    answers = {
        "capacity": capacity,
        "pressure": pressure,
        "length": length,
        "width": width,
        "daylight": daylight,
    }
    answers = {name: " ".join(text.split()) for name, text in answers.items()}
    values, faults = {}, []
    for name, text in answers.items():
        try:
            values[name] = parse(text, kinds[name])
        except UnitError as error:
            faults.append(Problem(f"--{name}", f'"{text}"', str(error)))
    if faults:
        raise CaseError(path.name, faults)
    text, words = propose(answers, values, path.stem)
    files.save(path, text)
    return f"{path}: {words}"


def propose(answers: dict[str, str], values: dict[str, float], stem: str) -> tuple[str, str]:
    """Size a press for the answers (texts, and the same as SI values): case text and words.

    Raises
    ------
    UsageError
        If no flat stack of up to eight stock plates does it.
    """
    force, length, width = values["capacity"], values["length"], values["width"]
    duty = Duty.model_validate({key: answers[key] for key in ("capacity", "pressure", "daylight")})
    rod = least_rod(duty, force / duty.rods)
    ram = bores(duty)[0]
    edge = edge_of(rod)
    pitch = length - 2 * edge, width - 2 * edge
    fixed = {
        "name": f"{files.printable(stem)}, {answers['capacity']}",
        **answers,
        "stroke": show(max(0.1, round(values["daylight"] * 0.55, 2)), LENGTH),
        "corner": show(round(rod * 0.5, 2), LENGTH),
        "pitch_x": show(pitch[0], LENGTH),
        "pitch_y": show(pitch[1], LENGTH),
        "rod": show(rod, LENGTH),
        "rod_grade": ROD_GRADE,
        "ram": show(ram, LENGTH),
        "work": show(round(0.7 * ram, 2), LENGTH),
    }
    if min(pitch) <= 0:
        raise UsageError(
            f"--length, --width: given {answers['length']}, {answers['width']}; "
            f"allowed: room for rods of {show(rod, LENGTH)}, at least "
            f"{show(4 * edge, LENGTH)} each"
        )

    def text(count: int, thickness: float) -> str:
        return TEXT.format(plates=f"{count} x {show(thickness, LENGTH)}", **fixed)

    # From shallow to deep, of equal depth the fewest plates first: what is deeper holds more.
    stock = [t for t in tables.stock_thicknesses() if 0.03 <= t <= 0.2]
    tried = sorted(
        ((count, t) for t in stock for count in range(2, MOST_PLATES + 1)),
        key=lambda pair: (round(pair[0] * pair[1], 6), pair[0]),
    )
    try:
        place = bisect.bisect_left(
            tried, True, key=lambda pair: _holds(case_file.parse(text(*pair), stem))
        )
    except CaseError as error:
        raise UsageError(str(error)) from None
    if place == len(tried):
        raise UsageError(
            f"no stack of up to {MOST_PLATES} stock plates up to 200 mm "
            f"holds {answers['capacity']} on a bed of {answers['length']} x "
            f"{answers['width']}; allowed: a smaller span or force, or more rods"
        )
    count, thickness = tried[place]
    return text(count, thickness), (
        f"crosshead and bed of {count} plates {show(thickness, LENGTH)}, four rods "
        f"{show(rod, LENGTH)}, ram {show(ram, LENGTH)}; sized by beam theory as welded "
        "stacks, to be confirmed by a run"
    )


def _holds(case: case_file.Case) -> bool:
    press = layout.build(case)
    try:
        return all(
            check.utilisation <= 1
            for stack in press.stacks
            for check in by_hand.stack_checks(stack, press, by_hand.bent(stack, press), Reserve())
        )
    except NotABeam:
        return False
