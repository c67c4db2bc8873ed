"""Hostile names of presses and steels in everything that is written: each sink keeps them text."""

from __future__ import annotations

import csv
import html.parser
import json
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

from platestack.fea.app import report
from platestack.fea.app.page import drawing, scene
from platestack.fea.jobs import cutfiles, run
from platestack.fea.results import run_directory
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError

Held = tuple[int, int, list[str]]
"""Tried, held, what came through."""

NAMES = (
    "<script>alert(1)</script>", "</svg><img src=x onerror=alert(1)>", '"><b onmouseover=x>',
    "</title><iframe src=//evil.example>", "&lt;script&gt;", "'-alert(1)-'", "javascript:alert(1)",
    '#import "@preview/x:1.0.0"', '#read("/etc/passwd")', "$ x^2 $", "*a* _b_ `c`", "\\u{202e}",
    "=1+1", "=HYPERLINK(\"http://evil.example\")", "+1+1", "-2+3+cmd|' /C calc'!A0", "@SUM(1)",
    "%%d %%c %%o", "{\\fArial;x}", "{{7*7}}", "${7*7}", "<!--", "]]>", "../../x", "C:\\con",
)  # fmt: skip
CARET = "\N{MODIFIER LETTER CIRCUMFLEX ACCENT}"
"""Stands for a caret in DXF, of which readers make different things."""
UNPRINTABLE = (
    "a\nb",
    "a\r\n0\r\nENDSEC",
    "a\tb",
    "a\x00b",
    "a\x1bc",
    "a\u202eb",
    "a\u2028b",
    "\x7f",
)


def make_run(case: Path, out: Path) -> None:
    """A run, to have something to name."""
    run.run(case, out, lambda words: None)


def _case(press: str, steel: str) -> str:
    from tests.figures.page_server import ROOT

    text = (ROOT / "cases" / "small" / "small.toml").read_text(encoding="utf-8")
    text = text.replace('"Bench press, 30 tf"', json.dumps(press))
    text = text.replace('"S355J2"', json.dumps(steel))
    strengths = 'yield_strength = "355 MPa"\ntensile_strength = "490 MPa"'
    return f"{text}\n[materials.{json.dumps(steel)}]\n{strengths}\n"


class _Elements(html.parser.HTMLParser):
    """Elements and their attributes, and all text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, tuple[str, ...]]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, tuple(name for name, _ in attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def _named(run: Path, folder: Path, name: str) -> Path:
    """A copy of a run whose press and steel have the name."""
    made = folder / "named"
    shutil.rmtree(made, ignore_errors=True)
    shutil.copytree(run, made)
    text = (run / "summary.json").read_text(encoding="utf-8")
    for old in ("Bench press, 30 tf", "S355J2"):
        text = text.replace(old, json.dumps(name)[1:-1])
    (made / "summary.json").write_text(text, encoding="utf-8")
    assert run_directory.read(made).press == name
    return made


def _pages(run: Path, names: tuple[str, ...]) -> Iterator[tuple[str, bool, str]]:
    """HTML of dossier and scene has the elements that it has with a plain name; the PDF too."""
    import pypdf

    plain: list[list[tuple[str, tuple[str, ...]]]] = []
    with tempfile.TemporaryDirectory() as place:
        for name in ("Plain", *names):
            named = _named(run, Path(place), name)
            dossier, pdf = report.write(named, quick=True)
            pages = [dossier.read_text(encoding="utf-8"), scene.document(named, "n")]
            read = [_Elements(page) for page in pages]
            if name == "Plain":
                plain = [page.found for page in read]
                continue
            same = [page.found for page in read] == plain
            yield "markup in names: dossier, HTML", same and name in read[0].text, name
            words = "".join(p.extract_text() for p in pypdf.PdfReader(pdf).pages[:1])
            kept = "".join(name.split())[:12] in "".join(words.split())
            yield "markup in names: dossier, PDF", kept, f"{name}: {words[:80]}"


def _drawn(names: tuple[str, ...]) -> Iterator[tuple[str, bool, str]]:
    """SVG, DXF and CSV of cases with the names."""
    import ezdxf

    plain = None
    with tempfile.TemporaryDirectory() as place:
        for name in ("Plain", *names):
            case = case_file.parse(_case(name, name))
            svg = ElementTree.fromstring(drawing.elevation(layout.build(case)))
            tags = [e.tag for e in svg.iter()]
            file, out = Path(place) / "named.toml", Path(place) / "cut"
            file.write_text(_case(name, name), encoding="utf-8")
            cutfiles.write(file, out, lambda words: None)
            documents = [ezdxf.readfile(drawn) for drawn in sorted(out.glob("*.dxf"))]
            kinds = [[e.dxftype() for e in d.modelspace()] for d in documents]
            if plain is None:
                plain = tags, kinds
                continue
            fine = tags == plain[0] and name in svg.attrib["aria-label"]
            yield "markup in names: drawing on the page, SVG", fine, name
            shown = [e.plain_text() for d in documents for e in d.modelspace().query("TEXT")]
            whole = kinds == plain[1] and not any(d.audit().errors for d in documents)
            written = name.replace("^", CARET)
            yield "markup in names: DXF", whole and any(written in t for t in shown), name
            with (out / "cut_list.csv").open(newline="", encoding="utf-8") as table:
                cells = [cell for row in csv.reader(table) for cell in row]
            formulas = [c for c in cells if c[:1] in "=+-@\t\r" and not _number(c) and c]
            yield "formulas in names: CSV", not formulas and any(name in c for c in cells), name


def _number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def unprintable() -> Iterator[tuple[str, bool, str]]:
    """Names with line breaks, controls or marks of direction, of a press and of a steel."""
    for name in UNPRINTABLE:
        for text in (_case(name, "X"), _case("X", name)):
            try:
                case_file.parse(text)
                yield "unprintable names: the case is refused", False, ascii(name)
            except CaseError as error:
                yield (
                    "unprintable names: the case is refused",
                    "printable" in str(error),
                    str(error),
                )


def everything(run: Path, most: int = len(NAMES)) -> Iterator[tuple[str, Held]]:
    """By sink: how many names were tried and how many stayed text."""
    names = NAMES[:: -(-len(NAMES) // most)]
    counts: dict[str, tuple[int, int, list[str]]] = {}
    for make in (_drawn(names), unprintable(), _pages(run, names)):
        for kind, held, name in make:
            tried, kept, through = counts.get(kind, (0, 0, []))
            counts[kind] = tried + 1, kept + held, through if held else [*through, ascii(name)]
    yield from counts.items()
