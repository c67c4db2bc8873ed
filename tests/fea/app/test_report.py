"""The dossier: both files show the numbers of the summary; the page works without a network."""

from __future__ import annotations

import io
import json
import re
from html import unescape
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import EpsImagePlugin, Image
from typer.testing import CliRunner

from platestack.fea.app import report
from platestack.fea.app.cli import app
from platestack.fea.app.report import formula, pictures
from platestack.fea.app.report.scene import scene, unpack
from platestack.fea.pictures.view import read_run
from platestack.fea.results import run_directory
from platestack.fea.results.summary import Figure
from platestack.geometry.drafting import lettering
from platestack.geometry.errors import UsageError
from platestack.geometry.units import dimension, figure, percent, quantity


@pytest.fixture(scope="module")
def dossier(small_run, tmp_path_factory) -> Path:
    place = tmp_path_factory.mktemp("dossier")
    report.write(small_run, place)
    return place


@pytest.fixture(scope="module")
def page_words(dossier) -> str:
    text = (dossier / "dossier.html").read_text(encoding="utf-8").split("<script")[0]
    return unescape(re.sub(r"<[^>]+>", " ", text))


@pytest.fixture(scope="module")
def paper_words(dossier) -> str:
    from pypdf import PdfReader

    pages = PdfReader(dossier / "dossier.pdf").pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


NOT_SHOWN = {
    "schema_version": "of the layout of the record",
    "seconds": "how long the machine took",
    "at": "shown in words, or as places of rods",
    "ends": "heights of the rods' ends, drawn", "seat_ends": "drawn",
    "diameter": "drawn", "nut_height": "drawn", "projection": "drawn", "nut_across_flats": "drawn",
    "seat_diameter": "drawn", "loaded_patch": "shown as the case has it",
}  # fmt: skip
"""Keys of the record that the dossier shows otherwise than as a number, or not at all."""
SHARES = ("utilisation", "closed", "open", "sticking", "sliding")
"""Shown as per cent."""
COUNTS = ("dofs", "unknowns", "elements", "iterations")
RELATIVE = ("residual", "balance")
RATIOS = ("ratio", "band", "worst_quality", "mean_quality")


def numbers(data, key="", unit="", path=""):
    """Every number of the record in the words that the dossier has for it: (path, words)."""
    if key in NOT_SHOWN:
        return
    if isinstance(data, dict):
        if "value" in data and "unit" in data and data["value"] is not None:
            value, unit = data["value"], data["unit"]
            if key in SHARES:
                if key != "open":  # what is not closed
                    yield path, percent(value)
            elif key == "composite_action":
                yield path, percent(value)
            elif key == "dofs":
                yield path, f"{value:,.0f}"
            elif key in RELATIVE:
                yield path, f"{value:.1e}"
            elif key in RATIOS:
                yield path, f"{value:.2f}"
            elif data.get("error"):
                yield path, figure(Figure(value=value, unit=unit, error=data["error"]))
            else:
                yield path, quantity(value, unit, 2 if key.endswith("_error") else 4)
        for name, inner in data.items():
            if name not in ("value", "error"):
                yield from numbers(inner, name, data.get("unit", ""), f"{path}.{name}")
    elif isinstance(data, list):
        for index, inner in enumerate(data):
            yield from numbers(inner, key, unit, f"{path}[{index}]")
    elif isinstance(data, int | float) and not isinstance(data, bool):
        if key in SHARES:
            yield path, percent(data)
        elif key in COUNTS:
            yield path, f"{data:,}"
        elif key in RATIOS:
            yield path, f"{data:.2f}"
        elif key == "exceeded":
            yield path, "within their limits" if data == 0 else f"{data} of"
        else:
            assert key == "limit", path
            yield path, quantity(data, unit)


def test_both_show_all_numbers_of_the_summary(small_run, page_words, paper_words):
    """Each number of ``summary.json``; a key that the test does not know makes it fail."""
    data = json.loads((small_run / "summary.json").read_text(encoding="utf-8"))
    found = list(numbers(data))
    assert len(found) > 400
    page, paper = (" ".join(words.split()) for words in (page_words, paper_words))
    for path, words in ((path, " ".join(words.split())) for path, words in found):
        assert re.search(rf"(?<![\d.]){re.escape(words)}(?!\d)", page), f"page: {path} {words}"
        assert re.search(rf"(?<![\d.]){re.escape(words)}(?!\d)", paper), f"{path} {words}"


def test_the_drawings_carry_the_dimensions_of_the_press(small_press, page_words):
    for length in (
        small_press.height,
        small_press.crosshead.plates[0].outline.length,
        small_press.crosshead.plates[0].outline.width,
        2 * small_press.rods[1].at[0],
    ):
        assert f" {dimension(length)} " in page_words


def test_the_page_asks_for_nothing_from_outside(dossier):
    text = (dossier / "dossier.html").read_text(encoding="utf-8")
    assert not re.search(r"""(?:src|href)=["'](?!data:|#)""", text)


def test_the_pdf_embeds_its_fonts_and_numbers_its_pages(dossier):
    from pypdf import PdfReader

    reader = PdfReader(dossier / "dossier.pdf")
    fonts = [
        font.get_object()
        for page in reader.pages
        for font in page["/Resources"].get("/Font", {}).values()
    ]
    assert fonts
    for font in fonts:
        described = font.get("/DescendantFonts", [font])[0].get_object()["/FontDescriptor"]
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(described.get_object())
    for number, page in enumerate(reader.pages, 1):
        assert f"{number} / {len(reader.pages)}" in page.extract_text()


def test_every_formula_of_a_run_is_accepted_by_the_typesetter(small_run, tmp_path):
    import typst

    summary = run_directory.read(small_run)
    odd = [
        "f(x",
        'say "x"',
        "abs(a − b)/c",
        "√(a/b)·min(c, 1)",
        "a_b,c² / √(2)",
        "x^-2",
        "#let",
        "\\",
        "[a; b)",
        "max(a, b)/c",
        "",
    ]
    for text in [*(c.formula for c in summary.checks), *odd]:
        source = formula.typst(text).replace("\\", "\\\\").replace('"', '\\"')
        file = tmp_path / "one.typ"
        file.write_text(f'#eval("{source}", mode: "math")', encoding="utf-8")
        assert typst.compile(str(file), font_paths=[lettering.fonts()])


def test_the_scene_holds_the_fields_of_the_run(small_run):
    grid, _ = read_run(small_run)
    made = scene(small_run)
    stacks = np.asarray(grid.cell_data["stack"])
    for index, packed in enumerate(made["stacks"]):
        cells = grid.cells_dict[24][stacks == index]
        inside = packed["volume"]
        points = unpack(inside["points"], "<f4").reshape(-1, 3)
        tets = unpack(inside["cells"], "<u4").reshape(-1, 4)
        np.testing.assert_allclose(points[tets], grid.points[cells[:, :4]], atol=1e-7)
        stress = unpack(inside["fields"][0], "<f4")[tets]
        np.testing.assert_allclose(
            stress, 1e-6 * grid.point_data["von_mises"][cells[:, :4]], rtol=1e-6
        )


def test_the_page_works_in_a_browser_without_a_network(dossier, small_run, chromium):
    summary = run_directory.read(small_run)
    said: list[str] = []
    context = chromium.new_context(offline=True)
    page = context.new_page()
    page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((dossier / "dossier.html").as_uri())
    page.wait_for_selector("#scene[data-ready]", timeout=60_000)
    assert page.get_attribute("#scene", "data-ready") == "yes"
    canvas = page.locator("[data-ui=canvas]")
    before = Image.open(io.BytesIO(canvas.screenshot()))
    assert len(before.convert("RGB").quantize(64).getcolors()) > 20
    page.locator("[data-ui=factor]").fill("0")
    page.click("[data-look=below]")
    told = page.locator("[data-ui=told]")
    box = canvas.bounding_box()
    canvas.click(position={"x": box["width"] / 2, "y": box["height"] / 2})
    assert re.match(r"bed: von Mises stress [\d.]+ MPa at \(", told.inner_text())
    value = float(told.inner_text().split()[4])
    assert value == pytest.approx(1e-6 * summary.bed.plates[0].peak_von_mises.value, rel=0.1)
    page.select_option("[data-ui=axis]", "x")
    page.click("[data-look=side]")
    assert np.any(np.asarray(before) != Image.open(io.BytesIO(canvas.screenshot())))
    page.select_option("[data-ui=field]", label="utilisation")
    assert "demand / limit" in page.inner_text("[data-ui=high]")
    # By keyboard alone: turn, and read the value in the middle.
    canvas.focus()
    before = canvas.screenshot()
    page.keyboard.press("ArrowLeft")
    assert canvas.screenshot() != before
    page.click("[data-look=above]")
    canvas.focus()
    page.keyboard.press("Enter")
    assert re.match(r"(bed|crosshead): utilisation [\d.]+", told.inner_text())
    # Nothing is wider than the page, on a desk or on a telephone.
    for width in (1280, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    # Every picture says what it shows; headings go down one level at a time.
    assert page.locator("img:not([alt]), img[alt=''], svg:not([aria-label])").count() == 0
    levels = page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4')].map(h => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    context.close()
    assert said == []


def test_the_page_runs_no_script_but_its_own(dossier, tmp_path, chromium):
    text = (dossier / "dossier.html").read_text(encoding="utf-8")
    assert "unsafe-inline" not in re.search(r"script-src ([^;]*)", text)[1]
    foreign = "<script>document.title = 'ran'</script><b id=last>"
    (tmp_path / "changed.html").write_text(text.replace("<main>", f"<main>{foreign}"))
    page = chromium.new_page()
    page.goto((tmp_path / "changed.html").as_uri())
    page.wait_for_selector("#scene[data-ready=yes]", timeout=60_000)
    assert page.locator("#last").count() == 1
    assert "design dossier" in page.title()
    page.close()


@pytest.mark.parametrize(
    "data", [b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n%%EndComments\n", b"\x89PNG", b""]
)
def test_what_is_no_picture_is_refused_and_not_run(tmp_path, monkeypatch, data):
    run: list[object] = []
    monkeypatch.setattr(EpsImagePlugin, "Ghostscript", lambda *given: run.append(given))
    (tmp_path / "stress.png").write_bytes(data)
    with pytest.raises(UsageError, match="not a picture"):
        pictures.kept(tmp_path, "stress", "Stress")
    assert run == []


def test_bad_places_are_refused_in_one_line(small_run, tmp_path):
    file = tmp_path / "file"
    file.write_text("", encoding="utf-8")
    for arguments in (
        ["report", str(tmp_path / "none")],
        ["report", str(small_run), "--out", str(file)],
    ):
        outcome = CliRunner().invoke(app, arguments)
        assert isinstance(outcome.exception, Exception)
        assert outcome.exception.exit_code == 2
        assert len(str(outcome.exception).splitlines()) == 1
