"""Stated errors against true ones, on bodies whose answers are known.

A stated error is believed if it covers the true one in nine of ten readings, and is useful if it is
not many times too large. Effectivity is stated over true error (Ainsworth & Oden, A Posteriori
Error Estimation in Finite Element Analysis, 2000). The sources stand with each body in
`known_answers`; stacks are compared with finer meshes of their own (`STACKS`).

| what | demanded | reason |
| --- | --- | --- |
| true error covered | 9 of 10, of each kind of reading | what an engineer takes "±" to mean |
| effectivity at least 0.5 | 19 of 20 | where an error is not covered, it is nearly so |
| effectivity at most 4 | 9 of 10 deflections and energies, 7 of 10 stresses | a true error that passes through zero has no effectivity: the sign of a stress's error is chance |

Left out, by rule: from all, a true error below the doubt of its reference; from the upper bound, a
stated error below the finest accuracy a case can ask for, since nobody can be misled by it.
"""  # noqa: E501

from __future__ import annotations

from pathlib import Path

import known_answers as known
import numpy as np
import pytest
from known_answers import Reading, Row

from fea import stack
from geometry import case as case_file
from geometry import layout, mesher
from geometry.mesh import Sizes, symmetry_of
from geometry.schema import MeshWish

CASES = Path(__file__).parent.parent.parent / "cases"

PROBLEMS = {
    "kirsch": lambda: [known.kirsch(4), known.kirsch(8)],
    "strip": lambda: [
        known.strip(ratio, net, n) for ratio, net in ((0.3, 2.3621), (0.5, 2.1738)) for n in (5, 10)
    ],
    "lame": lambda: [known.lame(40.0), known.lame(20.0)],
    "sphere": lambda: [known.sphere(0.4), known.sphere(0.25)],
    "curved bar": lambda: [known.curved_bar(0.5), known.curved_bar(0.25)],
    "circular plate": lambda: [known.circular_plate(0.16), known.circular_plate(0.11)],
    "cantilever": lambda: [known.cantilever(2), known.cantilever(4)],
    "thick plate": lambda: [known.thick_plate(3), known.thick_plate(6)],
    "le1": lambda: [known.le1(8), known.le1(16)],
    "le10": lambda: [known.le10_refined(0), known.le10_refined(1), known.le10_refined(2)],
    "holed block": lambda: [known.holed_block(6.0), known.holed_block(3.0)],
}

STACKS = {
    ("small", "crosshead"): {
        "deflection": (90.96e-6, 0.006e-6),
        "strain energy": (36.645, 0.002),
        "plate 2": (66.38e6, 0.04e6),
    },
    ("small", "bed"): {
        "deflection": (111.587e-6, 0.006e-6),
        "strain energy": (39.316, 0.002),
        "plate 1": (74.77e6, 0.04e6),
    },
    ("demo", "crosshead"): {
        "deflection": (98.77e-6, 0.03e-6),
        "strain energy": (632.81, 0.06),
        "plate 2": (22.17e6, 0.03e6),
        "plate 3": (33.81e6, 0.05e6),
        "plate 4": (49.05e6, 0.15e6),
    },
    ("demo", "bed"): {
        "deflection": (122.51e-6, 0.04e-6),
        "strain energy": (643.75, 0.10),
        "plate 1": (48.30e6, 0.20e6),
        "plate 2": (32.82e6, 0.04e6),
        "plate 3": (27.50e6, 0.10e6),
    },
}
"""Value and doubt of readings of stacks, extrapolated from three finer meshes of this program (up to
150,000 unknowns for the small case, 210,000 for the demo). The errors to be covered are three to
fifty times the doubt. Peaks at the edge of a loaded patch are left out: there the stress jumps."""

COARSE = (Sizes(0.06, 8, 1, 3), Sizes(0.03, 16, 2, 8))
COARSE_DEMO = (Sizes(0.15, 8, 1, 4), Sizes(0.08, 14, 2, 8))


def finest(name: str) -> float:
    """Finest accuracy that a case can ask for."""
    metadata = MeshWish.model_fields[name].metadata
    return float(next(rule.ge for rule in metadata if getattr(rule, "ge", None) is not None))


FINEST = {
    "deflection": finest("deflection_accuracy"),
    "energy": finest("deflection_accuracy"),
    "stress": finest("stress_accuracy"),
}


def stack_rows(monkeypatch, name: str, which: str, sizes: Sizes) -> list[Row]:
    """Solve a stack of a case on one coarse mesh, as a run would, and read it."""
    case = case_file.read(CASES / f"{name}.toml")
    loose = case.mesh.model_copy(update={"deflection_accuracy": 0.5, "stress_accuracy": 0.5})
    press = layout.build(case)
    part = getattr(press, which)
    mesh = mesher.make(part, press.rods, symmetry_of(part, press.rods), sizes)
    monkeypatch.setattr(stack, "mesh_stack", lambda *given: mesh)
    case = case.model_copy(update={"mesh": loose})
    solved = stack.solve_stack(press, part, case, lambda step: None)
    found = {
        "deflection": ("deflection", solved.deflection, solved.deflection_error),
        "strain energy": ("energy", solved.strain_energy, solved.strain_energy_error),
    }
    found |= {p.plate.name: ("stress", p.von_mises, p.error) for p in solved.peaks}
    title = f"{name} {which}, {mesh.dofs} unknowns"
    return [
        Row(title, Reading(found[key][0], key, (), exact, doubt), *found[key][1:])
        for key, (exact, doubt) in STACKS[name, which].items()
    ]


def table(rows: list[Row]) -> str:
    lines = [
        f"{'problem':28s} {'kind':10s} {'reading':20s} {'value':>11s} {'exact':>11s} "
        f"{'true':>8s} {'stated':>8s} {'effect.':>7s}"
    ]
    for row in rows:
        size = abs(row.reading.exact)
        lines.append(
            f"{row.problem:28s} {row.reading.kind:10s} {row.reading.name:20s} {row.value:11.5g} "
            f"{row.reading.exact:11.5g} {row.true / size:8.1e} {row.stated / size:8.1e} "
            f"{row.effectivity:7.2f}"
        )
    return "\n".join(lines)


def judge(rows: list[Row], kinds: tuple[str, ...], finest: float, within: float) -> None:
    """Assert coverage and effectivity of the rows of some kinds."""
    sure = [r for r in rows if r.reading.kind in kinds and r.true > r.reading.doubt]
    assert len(sure) >= 8
    effectivity = np.array([row.effectivity for row in sure])
    named = f"{kinds}: {np.round(effectivity, 2)}"
    assert np.mean(effectivity >= 1) >= 0.9, named
    assert np.mean(effectivity >= 0.5) >= 0.95, named
    felt = [r.effectivity for r in sure if r.stated > finest * abs(r.reading.exact)]
    assert np.mean(np.array(felt) <= 4) >= within, f"{kinds}: {np.round(felt, 2)}"
    # Not by statements as wide as a barn: half of them within a factor of three.
    assert np.median(felt) <= 3.5


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """All readings of bodies with known answers, and of the small case's stacks."""
    found = [row for make in PROBLEMS.values() for problem in make() for row in problem.rows()]
    with pytest.MonkeyPatch.context() as patch:
        for which in ("crosshead", "bed"):
            for sizes in COARSE:
                found += stack_rows(patch, "small", which, sizes)
    return found


def test_errors_of_deflections(rows):
    print("\n" + table(rows))
    judge(rows, ("deflection",), FINEST["deflection"], 0.9)


def test_errors_of_stresses(rows):
    judge(rows, ("stress", "peak"), FINEST["stress"], 0.7)


def test_errors_of_peaks_alone(rows):
    """The largest stress of a body, which is what a run reports."""
    judge(rows, ("peak",), FINEST["stress"], 0.6)


def test_errors_of_strain_energy(rows):
    judge(rows, ("energy",), FINEST["energy"], 0.9)


def test_peaks_themselves(rows):
    """Within 1.5 % on meshes of five to ten elements round a quarter of a hole or bore."""
    peaks = [row for row in rows if row.reading.kind == "peak" and "LE1" not in row.problem]
    assert len(peaks) >= 12
    for row in peaks:
        assert row.true < 0.015 * row.reading.exact, row


@pytest.mark.parametrize(("ratio", "net"), [(0.2, 2.5221), (0.3, 2.3621), (0.5, 2.1738)])
def test_c2_hole_in_a_strip(ratio, net):
    """Within 1 % of the converged factor (check C2), and covered by its error."""
    (row,) = known.strip(ratio, net, 10).rows()
    assert row.true < 0.01 * row.reading.exact
    assert row.true <= row.stated < 0.05 * row.reading.exact


def test_le1_within_one_percent():
    """LE1 on a mesh fine enough: σyy at D is 92.7 MPa."""
    (row,) = known.le1(32).rows()
    assert row.true < 0.01 * row.reading.exact
    assert row.true <= row.stated


@pytest.mark.parametrize("line", [0.2, 0.1, 0.05])
def test_le10_within_one_percent(line):
    """LE10 refined towards D: σyy is within 1 % of −5.38 MPa and its error covers it.

    The benchmark holds the plate along a line, which carries its load only by sinking in without
    limit as the elements on it shrink. The line's flexibility then evens out its reaction, and σyy
    at D drifts by about 0.01 MPa whenever the elements on the line are halved (−5.42 MPa at 0.2 m,
    −5.37 MPa at 0.0125 m; finer towards one end only, −5.46 MPa). The published value belongs to
    elements of about 0.05 m; the test keeps the line's elements at one size.
    """
    problem = known.le10_refined(2, line)
    solved = known.Solved(problem)
    value, stated, _ = solved.read(problem.readings[0])
    exact = problem.readings[0].exact
    at_d = solved.stress[problem.solid.node(2.0, 0.0, 0.6)]
    assert at_d[1] == pytest.approx(known.D_STRESS, rel=0.01)
    assert at_d[2] == pytest.approx(-1e6, abs=0.01e6)
    assert abs(value - exact) <= stated < 0.03 * exact


def test_le10_sinks_without_limit():
    """Under a line load the sinking grows by the same amount with each halving of the elements.

    u = (1 − ν²) F / πE · ln(1/h) + const on a half-space under a line load F (Flamant; Timoshenko
    & Goodier, art. 36): each halving adds (1 − ν²) F ln 2 / πE. Here the line is the middle of a
    clamped face, which holds part of that back.
    """
    sunk = []
    for line in (0.2, 0.1, 0.05):
        problem = known.le10(0.3, line)
        sunk.append(known.Solved(problem).u[2::3].min())
    first, second = -np.diff(sunk)
    assert first > 0
    assert second > 0.5 * first


@pytest.mark.slow
def test_errors_on_the_demo(monkeypatch):
    found = []
    for which in ("crosshead", "bed"):
        for sizes in COARSE_DEMO:
            found += stack_rows(monkeypatch, "demo", which, sizes)
    print("\n" + table(found))
    judge(found, ("deflection", "energy", "stress"), FINEST["deflection"], 0.7)


@pytest.mark.slow
@pytest.mark.parametrize("which", ["crosshead", "bed"])
def test_references_of_the_small_stacks(monkeypatch, which):
    """The stored references are within reach of a finer mesh, better than any mesh above."""
    for row in stack_rows(monkeypatch, "small", which, Sizes(0.008, 60, 10, 32)):
        assert row.true < row.stated + row.reading.doubt
        assert row.true < 2e-3 * row.reading.exact
