"""What holds plates together, as a table: cases run with loose, clamped and welded plates.

``python -m tests.figures.interfaces demo on_edge`` runs each case of ``cases/`` three times, both
stacks alike. Prints mid-span deflection, peak stress, share of composite action and the largest
distance slid. ``--size 0.1`` takes one mesh of elements of so many m instead, for a quick look.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from platestack.fea.solid.model import analyse
from platestack.fea.solid.stack import StackSolution
from platestack.geometry import case as case_file
from platestack.geometry.schema import Case

CASES = Path(__file__).parent.parent.parent / "cases"
KINDS = ("loose", "clamped", "welded")


def alike(case: Case, kind: str, size: float | None) -> Case:
    """The case with every interface of this kind; content with one mesh of a given size."""
    change = {}
    for name in ("crosshead", "bed"):
        section = getattr(case, name)
        interface = section.interface.model_copy(update={"kind": kind})
        change[name] = section.model_copy(update={"interface": interface})
    if size is not None:
        once = {"size": size, "deflection_accuracy": 0.5, "stress_accuracy": 0.5}
        change["mesh"] = case.mesh.model_copy(update=once)
    return case.model_copy(update=change)


def row(case: str, kind: str, solved: StackSolution) -> str:
    """One line of the table."""
    slid = [r.largest_sliding for r in solved.interfaces if r.largest_sliding is not None]
    share = {"loose": "0", "welded": "1"}.get(kind, f"{solved.composite or 0.0:.3f}")
    cells = (
        case,
        solved.stack.name,
        kind,
        f"{1e3 * solved.deflection:.3f} ± {1e3 * solved.deflection_error:.3f} mm",
        f"{1e-6 * solved.peak.von_mises:.0f} ± {1e-6 * solved.peak.error:.0f} MPa",
        share,
        f"{1e3 * max(slid):.3f} mm" if slid else "",
        f"{solved.mesh.unknowns:,}",
    )
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    """Run the cases and print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("cases", nargs="*", default=["demo", "on_edge"])
    options.add_argument("--size", type=float)
    given = options.parse_args()
    print("| case | stack | plates | deflection | peak stress | share | slid, most | unknowns |")
    print("| --- | --- | --- | ---: | ---: | ---: | ---: | ---: |")
    for name in given.cases:
        case = case_file.read(CASES / name / f"{name}.toml")
        for kind in KINDS:
            solution = analyse(alike(case, kind, given.size))
            for solved in solution.stacks.values():
                print(row(name, kind, solved), flush=True)


if __name__ == "__main__":
    main()
