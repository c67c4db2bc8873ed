"""Absurd but valid geometry: each case is solved within its error, or refused with a reason.

``python -m tests.figures.absurd [WORDS]`` takes the small case with one thing changed (all whose
name holds WORDS), and solves it twice in processes of their own: to 10 % and to the accuracy by
default. Where both solve, the deflections must agree within their two stated errors, forces must
balance, and no number may be missing. It ends with 1 if one case does not.
"""

from __future__ import annotations

import math
import resource
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit

from platestack.fea.results import run_directory
from platestack.fea.results.summary import Summary

ROOT = Path(__file__).parents[2]
SMALL = tomllib.loads((ROOT / "cases" / "small" / "small.toml").read_text("utf-8"))
LIMIT = 600
"""Seconds of processor time for one solution, and six times as much by the clock."""
STEEL = {"soft": {"yield_strength": "200 MPa", "tensile_strength": "400 MPa"}}
Tree = dict[str, Any]


def stacks(**given: Any) -> Tree:
    """The same for both stacks."""
    return {"crosshead": given, "bed": given}


def plates(*texts: str, **more: Any) -> Tree:
    """Stacks of other plates, of a steel that has no range of thickness."""
    return {**stacks(plates=list(texts), grade="soft", **more), "materials": STEEL}


def hole(x: float, diameter: float, y: float = 0.0) -> Tree:
    """A round hole (mm)."""
    return {"shape": "round", "diameter": f"{diameter} mm", "at": [f"{x} mm", f"{y} mm"]}


CASES: dict[str, Tree] = {
    "plates of 1 mm": plates("2 x 1 mm"),
    "plates of 1 mm on 50 mm": plates("1 mm", "50 mm", "1 mm"),
    "one plate of 1 m": plates("1 x 1000 mm"),
    "60 plates of 3 mm": plates("60 x 3 mm"),
    "60 plates of 1 mm": plates("60 x 1 mm"),
    "60 plates of 3 mm, loose": plates("60 x 3 mm", interface={"kind": "loose"}),
    "6 plates of 3 mm, loose": {**plates("6 x 3 mm", interface={"kind": "loose"}),
                                "press": {"capacity": "1 tf"}},
    "1 mm beside 300 mm": plates("1 mm", "300 mm"),
    "holes that touch": {"crosshead": {"openings": [hole(90, 20, 60), hole(110, 20, 60)]}},
    "holes 0.1 mm apart": {"crosshead": {"openings": [hole(90, 20, 60), hole(110.1, 20, 60)]}},
    "holes 2 mm apart": {"crosshead": {"openings": [hole(90, 20, 60), hole(112, 20, 60)]}},
    "hole of 0.2 mm": {"crosshead": {"openings": [hole(100, 0.2, 60)]}},
    "hole 0.1 mm from the edge": {"crosshead": {"openings": [hole(100, 20, 79.9)]}},
    "hole 3 mm from the edge": {"crosshead": {"openings": [hole(100, 20, 77)]}},
    "groove that leaves 0.1 mm": {"bed": {"openings": [
        {"shape": "groove", "at": "75 mm", "width": "10 mm", "depth": "49.9 mm"}]}},
    "groove that leaves 3 mm": {"bed": {"openings": [
        {"shape": "groove", "at": "75 mm", "width": "10 mm", "depth": "47 mm"}]}},
    "sliver of an end": stacks(corners="chamfered", corner_size="89.95 mm", length="800 mm"),
    "sharp end": stacks(corners="chamfered", corner_size="90 mm", length="800 mm"),
    "chamfer of 0.2 mm": stacks(corners="chamfered", corner_size="0.2 mm"),
    "plate as narrow as its nuts": stacks(width="92 mm"),
    "patch of 1 mm": {"workpiece": {"diameter": "1 mm"}},
    "patch of 0.1 mm": {"workpiece": {"diameter": "0.1 mm"}},
    "ring of 0.2 mm": {"ram": {"diameter": "125 mm", "outer_diameter": "130 mm",
                               "inner_diameter": "129.6 mm"}},
    "rods of 150 mm": {"rods": {"diameter": "150 mm", "pitch": "350 mm"}},
    "rods of 150 mm, room for them": {"rods": {"diameter": "150 mm", "pitch": "1000 mm"},
                                      **stacks(length="1400 mm", width="400 mm")},
    "rods of 3 mm": {"rods": {"diameter": "3 mm"}},
    "bed 55 m wide": {"bed": {"width": "55 m"}},
    "stacks 20 m long": {**stacks(length="20 m"), "rods": {"pitch": "19 m"}},
    "force of 1 N": {"press": {"capacity": "1 N"}},
    "force of 100 MN": {"press": {"capacity": "100 MN", "working_pressure": "900 MPa"},
                        "ram": {"diameter": "400 mm"}, "rods": {"pitch": "700 mm"},
                        **stacks(length="1000 mm", width="600 mm")},
    "load 1 mm off the middle": {"rods": {"count": 4, "pitch": ["350 mm", "350 mm"]},
                                 **stacks(width="460 mm"),
                                 "workpiece": {"offset": ["1 mm", "0 mm"]}},
}  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """Verdict ``within``, ``refused``, ``not computed`` or ``fault``; words; seconds."""

    verdict: str
    words: str
    seconds: float


def merged(base: Tree, more: Tree) -> Tree:
    """The base with the changes, tables being merged."""
    made = deepcopy(base)
    for key, value in more.items():
        both = isinstance(value, dict) and isinstance(made.get(key), dict)
        made[key] = merged(made[key], value) if both else deepcopy(value)
    return made


def solve(data: Tree, place: Path) -> tuple[int, str, float]:
    """Solve a case in a process of its own: exit code, what it said, seconds of processor."""
    (place / "case.toml").write_text(tomlkit.dumps(data), encoding="utf-8")
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, "-m", "platestack", "solve", "case.toml", "--out", "out"], cwd=place,
        capture_output=True, text=True,
        timeout=6 * LIMIT,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (LIMIT, LIMIT)),
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    words = (done.stderr if done.returncode > 1 else "").strip()
    return done.returncode, words, after.ru_utime - before.ru_utime


def attempt(change: Tree) -> Outcome:
    """Solve a changed case twice and judge."""
    found: list[Summary] = []
    spent = 0.0
    for accuracy in (0.1, 0.02):
        wish = {"deflection_accuracy": accuracy, "stress_accuracy": max(accuracy, 0.05)}
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder)
            try:
                code, words, seconds = solve(merged(SMALL, {**change, "mesh": wish}), place)
            except subprocess.TimeoutExpired:
                return Outcome("fault", f"more than {6 * LIMIT} s by the clock", 6.0 * LIMIT)
            spent += seconds
            if code == 2 and words:
                return Outcome("refused", words, spent)
            if code == 3 and words and "unexpected" not in words:
                return Outcome("not computed", words, spent)
            if code not in (0, 1) or "Traceback" in words:
                return Outcome("fault", f"exit code {code}: {words[-200:]}", spent)
            found.append(run_directory.reopen(place / "out").summary)
    faults = [text for name in ("crosshead", "bed") for text in _faults(name, *found)]
    if faults:
        return Outcome("fault", "; ".join(faults), spent)
    told = [_told(getattr(found[1], name).mid_span_deflection) for name in ("crosshead", "bed")]
    accurate = all(getattr(found[1], name).mesh.accurate for name in ("crosshead", "bed"))
    more = "" if accurate else "; says that the accuracy was not reached"
    return Outcome("within", f"{', '.join(told)}{more}", spent)


def _told(figure: Any) -> str:
    return f"{1e3 * figure.value:.4g} ± {1e3 * (figure.error or 0):.2g} mm"


def _faults(name: str, coarse: Summary, fine: Summary) -> list[str]:
    """What is wrong with a stack: disagreement, imbalance, numbers that are none."""
    one, two = getattr(coarse, name), getattr(fine, name)
    a, b = one.mid_span_deflection, two.mid_span_deflection
    found = []
    values = [a.value, b.value, one.peak_von_mises.value, two.peak_von_mises.value]
    if any(value is None or not math.isfinite(value) for value in values):
        return [f"{name}: numbers are missing"]
    if abs(a.value - b.value) > (a.error or 0) + (b.error or 0) + 1e-6 * abs(b.value):
        found.append(f"{name}: {_told(a)} against {_told(b)}")
    if not max(one.mesh.balance, two.mesh.balance) < 1e-5:
        found.append(f"{name}: out of balance by {two.mesh.balance:.1e}")
    return found


def trial(words: str = "", tell: Callable[[str], None] = print) -> dict[str, Outcome]:
    """Try all cases whose name holds `words`."""
    found = {}
    for name, change in CASES.items():
        if words in name:
            found[name] = outcome = attempt(change)
            said = " / ".join(outcome.words.splitlines())[:160]
            tell(f"{name:30} {outcome.verdict:12} {outcome.seconds:6.1f} s  {said}")
    return found


def main() -> int:
    """Print what became of each case; 1 if there was a fault."""
    found = trial(" ".join(sys.argv[1:]), lambda line: print(line, flush=True))
    for verdict in ("within", "refused", "not computed", "fault"):
        print(f"{verdict}: {sum(o.verdict == verdict for o in found.values())}")
    return 1 if any(outcome.verdict == "fault" for outcome in found.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
