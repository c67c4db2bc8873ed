"""What commands say of one press: ``python -m tests.figures.contradictions FILE [COUNT]``.

Presses drawn at random (`tests.figures.drawn_presses`), with prices and tightened rods where they
have seats, go through `solve`, `report`, `proof`, `offcentre`, `tighten`, `compare`, `cut` and
`assemble` on coarse meshes. Each quantity that two of them show is read where each shows it: the
terminal, ``summary.json``, the dossier as HTML and PDF, the page's quick figures, and what the
other commands write. It is compared with ``summary.json``, within the rounding of the place or the
band that the place states. FILE keeps a line of JSON for each press, so that a second call goes on
where the first ended. It ends with 1 where two places contradict each other.
"""

from __future__ import annotations

import csv
import functools
import html
import json
import math
import re
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import pypdf

from platestack.fea.app.console import terminal
from platestack.fea.app.page import answers
from platestack.fea.jobs.tightening import sheet
from platestack.fea.solid import stack
from platestack.fea.solid.frame.press import of_case
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.units import percent, quantity
from tests.coarse import coarse_sizes
from tests.figures.drawn_presses import Draw
from tests.figures.proposals import COARSE, told

COUNT = 40
PRICES = """
[prices]
currency = "EUR"
plate = "1.4 per kg"
cutting = "15 per m"
rod = "4 per kg"
"""
EXACT, SHOWN, FRAME = 1e-9, 6e-4, 0.03
"""Relative: the same number; to four digits; a frame of condensed stacks against the stacks alone,
each on half of the rods (`tests.fea.solid.test_off_axis`: 2 %, and as much as meshes differ)."""
STACKS = ("crosshead", "bed")


@dataclass(frozen=True)
class Said:
    """What one place says of a quantity, beside what the summary says."""

    quantity: str
    place: str
    value: Any
    summary: Any
    band: tuple[float, float] | None = None
    """Least and greatest value with which the place agrees; none for words and counts."""

    @property
    def agrees(self) -> bool:
        """Whether the summary's value is what the place says, within its band."""
        if self.band is None:
            return bool(self.value == self.summary)
        return self.band[0] <= self.summary <= self.band[1]


def near(name: str, place: str, value: float, summary: float, rel: float = EXACT,
         fixed: float = 0.0) -> Said:  # fmt: skip
    """A number known to a relative and a fixed deviation."""
    away = rel * abs(value) + fixed + 1e-12
    return Said(name, place, value, summary, (value - away, value + away))


def text_of(seed: int) -> str:
    """The case file of a drawn press: rods with seats are tightened by what it takes by default."""
    draw = Draw(seed)
    draw.press()
    return draw.text + PRICES + COARSE


def through(place: Path) -> dict[str, tuple[int, str]]:
    """All commands on the case in a directory: exit code and what the terminal showed."""
    case, run = str(place / "press.toml"), str(place / "run")
    read = case_file.read(place / "press.toml")
    press = layout.build(read)
    seated = press.rods[0].seat != "none" and press.rods[0].preload > 0
    count = str(sum(p.role == "plate" for p in press.bed.plates))
    commands = [("solve", case, "--out", run), ("report", run), ("proof", run),
                ("compare", case, "--plates", count, "--out", str(place / "compare"))]  # fmt: skip
    names = ("offcentre", *(("tighten",) if seated else ()), "cut", "assemble")
    commands += [(name, case, "--out", str(place / name)) for name in names]
    found = {}
    # The dossier and `tighten` condense the same stacks: once is enough to compare what they say.
    once = functools.cache(lambda state: of_case(press, read, lambda step: None, state))
    with (
        mock.patch.object(stack, "default_sizes", return_value=coarse_sizes(press)),
        mock.patch.object(sheet, "of_case", lambda press, case, report, state: once(state)),
    ):
        for words in commands:
            found[words[0]] = told(*words)
    return found


def compared(place: Path, shown: dict[str, tuple[int, str]]) -> Iterator[Said]:
    """Every quantity at every place that shows it."""
    summary = json.loads((place / "run" / "summary.json").read_text("utf-8"))
    yield from _terminal(summary, shown["solve"][1])
    yield from _dossier(summary, place / "run")
    yield from _page(summary, place / "press.toml")
    yield from _compare(summary, place / "compare")
    yield from _workshop(summary, place)
    yield from _pressed(summary, place, shown)


def _value(summary: dict[str, Any], *keys: str) -> Any:
    return functools.reduce(lambda found, key: found[key], keys, summary)["value"]


def _checks(summary: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {check["name"]: check for check in summary["checks"]}


def _rows(summary: dict[str, Any], cells: Iterable[list[str]], place: str) -> Iterator[Said]:
    """Demand, limit and use of the checks that a table shows."""
    checks = _checks(summary)
    for name, demand, limit, use, *_ in (row for row in cells if len(row) >= 4):
        if (check := checks.get(name)) is None:
            continue
        sign = "≥ " if check["sense"] == "at least" else ""
        expected = (quantity(check["value"], check["unit"], beside=check["limit"]),
                    sign + quantity(check["limit"], check["unit"], beside=check["value"]),
                    percent(check["utilisation"]))  # fmt: skip
        yield Said("demand, limit and use of a check", place, (demand, limit, use), expected)


def _terminal(summary: dict[str, Any], text: str) -> Iterator[Said]:
    place = "terminal"
    bars = re.compile(r"\s*[━│].*$")
    cells = [re.split(r"\s{2,}|(?<=\S)\s(?=≥)|(?<=\S)\s(?=[\d.]+\s?%$)", bars.sub("", line).strip())
             for line in text.splitlines()]  # fmt: skip
    yield from _rows(summary, cells, place)
    for name, unit in (("mass", "kg"), ("height", "m")):
        shown = quantity(_value(summary, name), unit)
        words = {"mass": f"mass {shown} (", "height": f"height over the rods {shown};"}[name]
        yield Said(name, place, words in text, True)
    yield Said("cost", place, f"cost {quantity(_value(summary, 'cost'), 'EUR')}" in text, True)
    count = len(summary["checks"])
    words = (f"{summary['exceeded']} of {count} limits exceeded" if summary["exceeded"]
             else f"all {count} checks within")  # fmt: skip
    yield Said("number of limits, and exceeded ones", place, words in text, True)


def _dossier(summary: dict[str, Any], run: Path) -> Iterator[Said]:
    text = (run / "dossier.html").read_text("utf-8")
    cells = [
        [html.unescape(re.sub(r"<[^>]+>", "", cell)).strip()
         for cell in re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.S)]
        for row in re.findall(r"<tr[^>]*>(.*?)</tr>", text, re.S)
    ]  # fmt: skip
    yield from _rows(summary, cells, "dossier, HTML")
    names = {"mass": "kg", "height over the rods": "m", "cost": "EUR"}
    for row in cells:
        if len(row) == 2 and row[0] in names:
            key = row[0].split()[0]
            yield Said(key, "dossier, HTML", row[1],
                       quantity(_value(summary, key), names[row[0]]))  # fmt: skip
    pages = " ".join(page.extract_text() for page in pypdf.PdfReader(run / "dossier.pdf").pages)
    pages = re.sub(r"\s+", " ", pages)
    for name, unit in (("mass", "kg"), ("height", "m"), ("cost", "EUR")):
        shown = quantity(_value(summary, name), unit)
        yield Said(name, "dossier, PDF", shown in pages, True)
    for check in summary["checks"]:
        for key, other in (("value", "limit"), ("limit", "value")):
            shown = quantity(check[key], check["unit"], beside=check[other])
            yield Said("demand and limit of a check", "dossier, PDF", shown in pages, True)


def _page(summary: dict[str, Any], path: Path) -> Iterator[Said]:
    """Quick figures: what no solution decides is the same; the rest lies in its band."""
    case = case_file.read(path)
    found = answers.predict(case, layout.build(case), {})
    for key, at in (("mass", "mass"), ("height", "height")):
        yield near(key, "page", found[at], _value(summary, key))
    yield near("cost", "page", found["cost"]["total"], _value(summary, "cost"))
    for name in STACKS:
        own = found["stacks"][name]
        yield near("mass of a stack", "page", own["mass"], _value(summary, name, "mass"))
        for key, at in (("mid_span_deflection", "range"), ("peak_von_mises", "stress_range")):
            number = summary[name][key]
            away = number["error"] or 0.0
            low, high = own[at]
            yield Said(key.replace("_", " "), "page, its band", own[at], number["value"],
                       (low - away, high + away))  # fmt: skip
    checks = _checks(summary)
    for limit in found["limits"]:
        check = checks.get(limit["name"])
        if check is not None and limit["high"] - limit["low"] < 1e-9 < 99 > check["utilisation"]:
            yield near("use of a limit that needs no solution", "page", limit["use"],
                       check["utilisation"])  # fmt: skip
    whole = "exceeded" if summary["exceeded"] else "within"
    yield Said("verdict", "page", found["verdict"] in (whole, "open"), True)


def _compare(summary: dict[str, Any], folder: Path) -> Iterator[Said]:
    base = json.loads((folder / "comparison.json").read_text("utf-8"))["options"][0]
    place = "compare"
    for key in ("mass", "height", "cost"):
        yield near(key, place, base[key], _value(summary, key))
    for name in STACKS:
        yield near("mass of a stack", place, base[f"{name}_mass"], _value(summary, name, "mass"))
        for key in ("mid_span_deflection", "peak_von_mises"):
            yield near(key.replace("_", " "), place, base[f"{name}_{key}"],
                       _value(summary, name, key), 1e-6)  # fmt: skip
    force = max(_value(rod, "working_force") for rod in summary["rods"])
    yield near("working force of a rod", place, base["rod_force"], force, FRAME)
    worst = summary["checks"][0]
    yield Said("worst check", place, base["worst_check"], worst["name"])
    yield near("worst use", place, base["worst_utilisation"], worst["utilisation"], 1e-6)


def _workshop(summary: dict[str, Any], place: Path) -> Iterator[Said]:
    """Cut list and plan of assembly."""
    lines = (place / "cut" / "cut_list.csv").read_text("utf-8").splitlines()[1:]
    rows = list(csv.DictReader(lines))
    for name in STACKS:
        own = [float(row["finished mass [kg]"]) for row in rows if row["stack"] == name]
        yield near("mass of a stack", "cut list", sum(own), _value(summary, name, "mass"),
                   0.0, 0.005 * len(own))  # fmt: skip
        yield Said("number of plates", "cut list", len(own), len(summary[name]["plates"]))
    plan = json.loads((place / "assemble" / "assembly.json").read_text("utf-8"))
    standing = [step["standing"] for step in plan["steps"] if step["standing"]][-1]
    yield near("mass", "assemble", standing["mass"], _value(summary, "mass"), 1e-6)
    checks, lifts = _checks(summary), [lift for s in plan["steps"] for lift in s["lifts"]]
    heaviest = checks["heaviest lift with its slings"]
    load = next(i["value"] for i in heaviest["inputs"] if i["name"] == "m_load")
    yield near("heaviest lift", "assemble", max(lift["mass"] for lift in lifts), load)
    room = checks["ceiling over the highest lift, with hook and hoist"]
    hoist = next(i["value"] for i in room["inputs"] if i["name"] == "h_hoist")
    highest = max(lift["hook_height_above_floor"] for lift in lifts)
    yield near("height of the highest lift", "assemble", highest + hoist, room["value"])
    standing_on = checks["height standing on its feet"]
    feet = next(i["value"] for i in standing_on["inputs"] if i["name"] == "h_feet")
    yield near("height of the feet", "assemble", plan["feet_height"], feet)
    yield Said("number of rods", "assemble", sum(lift["load"].startswith("rod ") for lift in lifts),
               len(summary["rods"]))  # fmt: skip


def _pressed(
    summary: dict[str, Any], place: Path, shown: dict[str, tuple[int, str]]
) -> Iterator[Said]:
    """Proof test, capacity off the axis, tightening."""
    capacity, checks = _value(summary, "capacity"), _checks(summary)
    proof = json.loads((place / "run" / "proof.json").read_text("utf-8"))
    lines = (place / "run" / "proof.csv").read_text("utf-8").splitlines()[1:]
    last = max(csv.DictReader(lines), key=lambda row: float(row["force_kN"]))
    yield near("proof force", "proof", 1e3 * float(last["force_kN"]), proof["factor"] * capacity,
               SHOWN)  # fmt: skip
    relief = checks["relief valve: setting below the proof of the press"]
    yield near("proof pressure", "proof", 1e6 * float(last["pressure_MPa"]), relief["limit"], SHOWN)
    readings = {one["name"]: one for one in proof["readings"]}
    for rod in summary["rods"]:
        if (one := readings.get(f"{rod['name']} stretch")) is not None:
            yield near("stretch of a rod", "proof", one["value"], _value(rod, "stretch"),
                       one["relative"], one["fixed"])  # fmt: skip
    beside = json.loads((place / "offcentre" / "off_centre.json").read_text("utf-8"))
    yield near("capacity", "offcentre", beside["capacity"], capacity)
    axis, preload = beside["places"][0], _value(summary["rods"][0], "preload")
    yield near("largest nut force on the axis", "offcentre", max(axis["forces"]),
               max(_value(rod, "largest_force") for rod in summary["rods"]), FRAME)  # fmt: skip
    if axis["clamp"]:
        yield near("least force on a seat", "offcentre", min(axis["clamp"]),
                   min(_value(rod, "seat_force") for rod in summary["rods"]), 0.0,
                   FRAME * preload)  # fmt: skip
    if "tighten" in shown:
        own = json.loads((place / "tighten" / "tightening.json").read_text("utf-8"))
        yield near("preload", "tighten", own["preload"], preload)
        again = json.loads((place / "run" / "tightening.json").read_text("utf-8"))
        for key in ("target", "settling_loss", "limit", "highest"):
            yield near(f"tightening: {key}", "dossier's sheet", again[key], own[key], 1e-6)


def tried(seed: int) -> dict[str, Any]:
    """One press: every comparison as plain data."""
    start = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "press.toml").write_text(text_of(seed), encoding="utf-8")
        shown = through(place)
        faults = {name: code for name, (code, _) in shown.items() if code > 1}
        said = [] if faults else list(compared(place, shown))
    return {
        "seed": seed, "faults": faults, "seconds": time.process_time() - start,
        "said": [[one.quantity, one.place, one.agrees,
                  "" if one.agrees else f"{one.value} against {one.summary}"] for one in said],
    }  # fmt: skip


def main(file: Path, count: int = COUNT) -> int:
    """Try what is not yet in the file; print the table."""
    lines = file.read_text("utf-8").splitlines() if file.exists() else []
    known = {row["seed"]: row for row in map(json.loads, lines)}
    terminal.out.width = 400  # one line for each row of a table
    for seed in range(count):
        if seed not in known:
            known[seed] = tried(seed)
            with file.open("a", encoding="utf-8") as out:
                out.write(json.dumps(known[seed]) + "\n")
            print(f"press {seed}: {known[seed]['seconds']:.0f} s", file=sys.stderr, flush=True)
    return table([known[seed] for seed in range(count)])


def table(rows: list[dict[str, Any]]) -> int:
    """Print how often each quantity was compared at each place, and what disagrees."""
    compared: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for row in rows:
        for name, place, agrees, _ in row["said"]:
            compared[name, place].append(agrees)
    for (name, place), all_of in sorted(compared.items()):
        print(f"{name:<42} {place:<16} {sum(all_of):>5} of {len(all_of):>5}")
    faults = 0
    for row in rows:
        for command, code in row["faults"].items():
            faults += 1
            print(f"press {row['seed']}: {command} ended with {code}")
        for name, place, agrees, words in row["said"]:
            if not agrees:
                faults += 1
                print(f"press {row['seed']}: {name}, {place}: {words}")
    total = sum(map(len, compared.values()))
    print(f"{len(rows)} presses, {total} comparisons, {faults} contradictions")
    return int(faults > 0 or math.isclose(total, 0))


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), *map(int, sys.argv[2:3])))
