"""What holds plates together, as a table: cases run with loose, clamped and welded plates.

``python -m tests.figures.interfaces [--once] demo on_edge`` runs each case of ``cases/`` three
times, both stacks alike. Prints mid-span deflection, peak stress, share of composite action and
the largest distance slid; `--once` takes the first mesh, for a quick look.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fea.model import analyse
from fea.stack import StackSolution
from geometry import case as case_file
from geometry.schema import Case

CASES = Path(__file__).parent.parent.parent / "cases"
KINDS = ("loose", "clamped", "welded")


def alike(case: Case, kind: str, once: bool) -> Case:
    """The case with every interface of this kind; `once`, content with its first mesh."""
    change = {}
    for name in ("crosshead", "bed"):
        section = getattr(case, name)
        interface = section.interface.model_copy(update={"kind": kind})
        change[name] = section.model_copy(update={"interface": interface})
    if once:
        loose = {"deflection_accuracy": 0.5, "stress_accuracy": 0.5}
        change["mesh"] = case.mesh.model_copy(update=loose)
    return case.model_copy(update=change)


def row(case: str, kind: str, solved: StackSolution) -> str:
    """One line of the table."""
    slid = [r.largest_sliding for r in solved.interfaces if r.largest_sliding is not None]
    share = {"loose": "0", "welded": "1"}.get(kind)
    if solved.composite is not None:
        share = f"{solved.composite:.3f}"
    cells = (
        case,
        solved.stack.name,
        kind,
        f"{1e3 * solved.deflection:.3f} ± {1e3 * solved.deflection_error:.3f} mm",
        f"{1e-6 * solved.peak.von_mises:.0f} ± {1e-6 * solved.peak.error:.0f} MPa",
        share or "",
        f"{1e3 * max(slid):.3f} mm" if slid else "",
    )
    return "| " + " | ".join(cells) + " |"


def main(names: list[str], once: bool) -> None:
    """Run the cases and print the table."""
    print("| case | stack | plates | deflection | peak stress | share | slid, most |")
    print("| --- | --- | --- | ---: | ---: | ---: | ---: |")
    for name in names:
        case = case_file.read(CASES / f"{name}.toml")
        for kind in KINDS:
            solution = analyse(alike(case, kind, once))
            for solved in solution.stacks.values():
                print(row(name, kind, solved), flush=True)


if __name__ == "__main__":
    given = sys.argv[1:]
    main([name for name in given if name != "--once"] or ["demo", "on_edge"], "--once" in given)
