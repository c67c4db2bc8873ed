"""What hostile input is drawn from: cells and tables, spoiled results, options of odd values."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import meshio
from hypothesis import strategies as st

from platestack.fea.results import summary
from tests.figures import grammar
from tests.figures.calling import workplace

ROOT = Path(__file__).parents[2]
CASES = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in ROOT.glob("cases/*/*.toml")}
SEATED = CASES["small"] | {
    "rods": {**CASES["small"]["rods"], "seat": "inner nuts", "preload": "150 kN"}
}

CELLS = st.one_of(
    st.sampled_from(("", " ", "0.3 mm", "1e3", "-0.1 mm", "nan", "NaN", "inf", "-inf", "1e999",
                     "0x1", "1_0", "５", "0,3", '"', '"a\nb"', "\x00", "=1+1", "rod 1",
                     "rod 9 bed", "1e-320", "-5", "9" * 400, "x" * 140_000, "\ufeff", "0.31mm",
                     "0.2 in", "1 kg")),
    st.floats().map(str), st.text(max_size=6),
)  # fmt: skip


@st.composite
def table_of(draw: st.DrawFn, head: list[str], rows: list[list[str]]) -> bytes:
    """A CSV file with odd cells, columns, rows or bytes."""
    table = [list(row) for row in (head, *rows)]
    for _ in range(draw(st.integers(0, 3))):
        row = draw(st.integers(0, len(table) - 1))
        how = draw(st.integers(0, 7))
        if how <= 3 and table[row]:
            table[row][draw(st.integers(0, len(table[row]) - 1))] = draw(CELLS)
        elif how == 4:
            table[row].append(draw(CELLS))
        elif how == 5 and table[row]:
            table[row].pop()
        elif how == 6:
            table.insert(row, list(table[row]))
        elif how == 7 and len(table) > 1:
            table.pop(row)
    text = "\n".join(",".join(row) for row in table).encode("utf-8", "surrogatepass")
    return draw(grammar.damaged(st.just(text))) if draw(st.integers(0, 3)) == 0 else text


@st.composite
def spoiled(draw: st.DrawFn, data: dict[str, Any]) -> tuple[str, str, bytes]:
    """A command, a file of a results directory, and what stands there instead."""
    command = draw(st.sampled_from(("proof", "view", "report")))
    name = draw(
        st.sampled_from(("summary.json", "summary.json", "fields.vtu", "case.toml", "run.log"))
    )
    good = json.dumps(data).encode()
    if name == "summary.json" and draw(st.booleans()):
        changed = draw(grammar.changed(summary.Summary, [data]))
        return command, name, json.dumps(changed, default=str).encode("utf-8", "surrogatepass")
    other = grammar.as_toml(draw(st.sampled_from([CASES["small"], CASES["demo"], SEATED])))
    grids = st.sampled_from(alien_grids())
    texts = st.sampled_from((good, other))
    return command, name, draw(
        st.one_of(
            st.sampled_from((b"", b"nothing", b"a directory", b"{}", b"[]", b"null", other)),
            st.binary(max_size=60), grammar.damaged(texts), grids,
        )
    )  # fmt: skip


def alien_grids() -> list[bytes]:
    """Grids that are read, but are not a run's."""
    with workplace() as place:
        points = [[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]
        found = []
        for data in ({}, {"stack": [[0]], "plate": [[0]]}, {"stack": [[7]], "plate": [[9]]}):
            mesh = meshio.Mesh(points, [("tetra", [[0, 1, 2, 3]])], cell_data=data)
            meshio.write(place / "grid.vtu", mesh)
            found.append((place / "grid.vtu").read_bytes())
        return [*found, found[0][: len(found[0]) // 2], found[0].replace(b"4", b"9")]


TEXTS = st.one_of(
    st.sampled_from(("60 mm", "50..60 mm step 5 mm", "stock 50..90 mm", "stock", "stock 1 mm",
                     "2, 3", "2,3,", "60 mm, 60 mm", "90..50 mm step 5 mm",
                     "50..60 mm step 0 mm", "0.1..100000 mm step 0.1 mm", "50..60 step 5", "..",
                     "1..2..3 mm step 1 mm", "60 mm..", "S355J2", "welded, loose", "crosshead",
                     "both", "bed plate 2 = 60 mm", "plate 99 = 5 mm", "bed grade = S235JR",
                     "=", "a = b", "bed plate 0 = 1 mm", "5%", "0.1%", "50%", "nan%", "inf%",
                     "-5%", "1e-9%", "30 mm, 10 mm", "0 mm, 0 mm", "30 mm", "nan mm, 0 mm",
                     "1 mm/m", "0.5 mm/m", "0", "1", "-1", "99999999999999999999", "1e400",
                     "nan", "inf", "", " ", "\x00", "\udcff", "机", "../../x", "/", "y = 0 mm",
                     "x=9 m", "q = 0 mm", "von_mises", "deflection", "principal 9",
                     "bed/plate 1", "bed/plate 99", "0, 1, 2, 3, 4", "mass", "cost",
                     "stiffness", "x" * 5000, "30 tf", "25 MPa", "450 atm", "1.25", "0.99",
                     "beam", "full", "tcp://127.0.0.1:1", "http://x", "127.0.0.1")),
    st.text(max_size=12), grammar.ODD.map(str),
)  # fmt: skip
FLAGS = {
    "compare": ("thickness", "stack", "plates", "grade", "interface", "rod-diameter", "vary",
                "verify", "draw"),
    "sweep": ("thickness", "plates", "grade", "interface", "rod-diameter", "method", "workers"),
    "tighten": ("scatter", "passes", "jacks", "measured"),
    "offcentre": ("at", "tilt"),
    "optimise": ("for", "plates", "thickness"),
    "sensitivity": ("draws",),
    "proof": ("factor", "measured"),
    "view": ("field", "part", "cut"),
    "size": ("name", "capacity", "pressure", "pump", "daylight", "stroke", "length", "rods",
             "layout", "grade", "thickest", "workpiece", "deflection", "ceiling", "hoist",
             "cycles", "budget", "duty"),
    "new": ("capacity", "pressure", "length", "width", "daylight"),
    "solve": ("out",), "cut": ("out",), "assemble": ("out",), "mesh": ("out",), "report": ("out",),
}  # fmt: skip
SUBJECT = {
    "tighten": "seated.toml",
    "proof": "ran",
    "view": "ran",
    "report": "ran",
    "size": "new.toml",
    "new": "new.toml",
}
FIXED = {
    "view": ("--out", "view.png"),
    "size": ("--no-confirm", "--no-alternatives", "--capacity=30 tf", "--pressure=25 MPa",
             "--daylight=300 mm"),
    "new": ("--capacity=30 tf", "--pressure=25 MPa", "--length=600 mm", "--width=400 mm",
            "--daylight=300 mm"),
}  # fmt: skip


@st.composite
def options(draw: st.DrawFn) -> tuple[str, ...]:
    """A command with one to three options of odd values."""
    command = draw(st.sampled_from(sorted(FLAGS)))
    names = draw(st.lists(st.sampled_from(FLAGS[command]), min_size=1, max_size=3, unique=True))
    given = [f"--{name}={draw(TEXTS)}" for name in names]
    return command, SUBJECT.get(command, "small.toml"), *FIXED.get(command, ()), *given
