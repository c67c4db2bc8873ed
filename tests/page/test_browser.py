"""A user at the page, in a real browser: open, edit, mistake, slide, run, cancel, compare, take."""

from __future__ import annotations

import io
import json
import re
import tomllib

import numpy as np
import pytest
from PIL import Image
from test_contrast import SCHEMES, contrast

from platestack.geometry import case as case_file

expect = pytest.importorskip("playwright.sync_api").expect
expect.set_options(timeout=60_000)  # a busy machine


def shows(page, place, words):
    expect(page.locator(place)).to_contain_text(words)


def control(page, key):
    return page.locator(f':is(input, select)[data-key="{key}"]')


def unfold(page, key):
    page.locator(f'details[data-key="{key}"] > summary').click()


def text(page):
    return page.input_value("#text")


def small(page, file="small.toml"):
    page.get_by_role("button", name=file).click()
    page.wait_for_selector("#predicted td")


def numbers(page, row):
    words = page.locator("#predicted tr", has_text=row).first.inner_text()
    return [float(n) for n in re.findall(r"\d+\.?\d*", words)]


def test_a_first_press_from_five_answers(page):
    page.click("#starter button")
    page.wait_for_selector("#drawing svg rect.plate")
    shows(page, "#verdict", "can run")
    assert case_file.parse(text(page)).press.capacity == pytest.approx(60e3 * 9.80665)


def test_a_bad_answer_is_named(page):
    page.fill("#starter [name=capacity]", "60")
    page.click("#starter button")
    page.wait_for_selector("#starter .faults li")
    assert "unit is missing" in page.inner_text("#starter .faults")


def test_the_drawing_follows_the_form(page):
    small(page)
    assert "daylight 250 mm" in page.inner_text("#drawing")
    control(page, "press.daylight").fill("310 mm")
    shows(page, "#drawing", "310 mm")
    assert tomllib.loads(text(page))["press"]["daylight"] == "310 mm"
    assert text(page).startswith("# Small: a 30 tf bench press")  # comments are kept


def test_form_and_text_follow_each_other(page):
    small(page)
    page.get_by_text("Text", exact=True).click()
    typed = text(page).replace('"250 mm"', '"310 mm"  # higher')
    page.fill("#text", typed)
    shows(page, "#drawing", "310 mm")
    assert control(page, "press.daylight").input_value() == "310 mm"
    page.fill("#text", typed.replace('"310 mm"', '"310 mm'))
    shows(page, "#verdict", "not TOML")
    page.fill("#text", typed)
    shows(page, "#verdict", "can run")
    page.get_by_text("Form", exact=True).click()
    control(page, "press.stroke").fill("110 mm")
    expect(page.locator("#text")).to_have_value(re.compile('"110 mm"'))
    assert "# higher" in text(page)


def test_a_bad_value_is_told_at_its_field(page):
    small(page)
    field = control(page, "press.working_pressure")
    field.fill("25 mm")
    page.wait_for_selector("[aria-invalid=true]")
    told = page.locator(f"#{field.get_attribute('aria-describedby').split()[0]}").inner_text()
    assert 'given "25 mm"' in told
    assert "allowed" in told
    assert "press.working_pressure" in page.inner_text("#verdict")
    assert page.locator("#sound").evaluate("e => e.inert")
    page.locator('details[data-key="press"] > summary').click()  # folded, it still says so
    assert page.locator('details[data-key="press"]').get_attribute("data-faulty") == "yes"
    page.get_by_role("button", name="press.working_pressure").click()
    expect(field).to_be_focused()
    field.fill("25 MPa")
    shows(page, "#verdict", "sound")
    assert page.locator("[aria-invalid=true]").count() == 0


def test_a_table_that_was_left_out_can_be_given(page):
    small(page)
    for key in ("bed", "bed/more", "bed.interface"):
        unfold(page, key)
    control(page, "bed.interface.kind").select_option("loose")
    expect(page.locator("#text")).to_have_value(re.compile("loose"))
    assert case_file.parse(text(page)).bed.interface.kind == "loose"


def test_sliding_moves_the_numbers_and_the_case(page):
    small(page)
    before, mass = numbers(page, "mid-span"), numbers(page, "whole press")
    page.locator('[data-slider="bed 1"]').fill("70")
    expect(page.locator("#predicted")).not_to_contain_text(f"{mass[0]:g} kg")
    after, heavier = numbers(page, "mid-span"), numbers(page, "whole press")
    assert after[0] == before[0]  # the crosshead is as it was
    assert 0.3 < after[3] / before[3] < 0.8  # welded beam: as 1/t³, less for shear and rods
    assert heavier[0] > mass[0]
    assert "beam" in page.inner_text("#ways")
    shows(page, "#drawing", "bed 140 mm")
    case = case_file.parse(text(page))
    assert case.bed.plates[0].thickness == 0.07
    assert case.crosshead.plates[0].thickness == 0.05
    page.click("#back")
    shows(page, "#drawing", "bed 100 mm")
    assert page.locator('[data-slider="bed 1"]').input_value() == "50"


def test_what_is_predicted_is_said(page):
    small(page)
    shows(page, "#predicted", "by beam theory")
    shows(page, "#ways", "slide on each other")
    expect(page.locator("#model button")).to_have_count(0)
    page.get_by_text("Text", exact=True).click()
    loose = text(page)

    def joined(kind: str) -> str:
        """The case with plates that meet so."""
        words = f'grade = "S355J2"\ninterface = {{ kind = "{kind}" }}'
        return loose.replace('grade = "S355J2"', words)

    page.fill("#text", joined("welded"))
    shows(page, "#model", "reduced model")
    page.fill("#text", joined("clamped"))
    shows(page, "#ways", "Only a full solve says where between")


def test_files_are_taken(page, served):
    folder, _ = served
    page.locator('details[data-run="earlier"] > summary').click()
    page.get_by_text("files", exact=False).locator("visible=true").last.click()
    with page.expect_download() as got:
        page.click("a[download='summary.json']")
    assert json.loads(got.value.path().read_text()) == json.loads(
        (folder / "results" / "earlier" / "summary.json").read_text()
    )
    with page.expect_download() as got:
        page.get_by_text("All files as ZIP").click()
    assert got.value.path().read_bytes()[:2] == b"PK"


def test_the_scene_of_a_run(page):
    page.locator('details[data-run="earlier"] > summary').click()
    page.get_by_role("button", name="Show in 3-D").click()
    scene = page.frame_locator("iframe")
    scene.locator("#scene[data-ready=yes]").wait_for()
    scene.locator('[data-ui="canvas"]').focus()
    page.keyboard.press("Enter")
    scene.locator('[data-ui="field"]').select_option(label="utilisation")
    scene.locator('[data-ui="axis"]').select_option("x")
    expect(scene.locator('[data-ui="at-value"]')).to_contain_text("x =")
    # WCAG 2.2, 1.4.11: the scene's ground follows the scheme, and what is drawn stands out from it.
    canvas = scene.locator('[data-ui="canvas"]')
    for kind, colours in (("dark", SCHEMES[1]), ("light", SCHEMES[0])):
        page.emulate_media(color_scheme=kind)
        page.wait_for_timeout(300)
        drawn = np.asarray(Image.open(io.BytesIO(canvas.screenshot())).convert("RGB")).astype(int)
        ground = [int(colours["sheet"][i : i + 2], 16) for i in (1, 3, 5)]
        assert abs(drawn[20:60, 20:60] - ground).max() <= 2, kind
        seen = ["#" + bytes(map(int, pixel)).hex() for pixel in drawn[::9, ::9].reshape(-1, 3)]
        assert np.mean([contrast(one, colours["sheet"]) >= 3 for one in seen]) > 0.02, kind


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_runs_over_the_side(page, width, scheme):
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    small(page)
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    unnamed = page.evaluate(
        "[...document.querySelectorAll('input, select, button')].filter(e => "
        "!(e.labels?.length || e.getAttribute('aria-label') || e.textContent.trim()))"
        ".map(e => e.outerHTML)"
    )
    assert unnamed == []


def test_by_keyboard_alone(page):
    page.emulate_media(reduced_motion="reduce")
    motion = "getComputedStyle(document.documentElement).scrollBehavior"
    assert page.evaluate(motion) == "auto"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.get_by_role("button", name="small.toml").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#predicted td")
    page.locator('[data-slider="bed 1"]').focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#text")).to_have_value(re.compile('"2 x 51 mm"'))
    page.locator("[name=as][value=form]").focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#text")).to_be_visible()
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    outline = "getComputedStyle(document.activeElement).outlineStyle"
    assert page.evaluate("document.activeElement.id") == "text"
    assert page.evaluate(outline) == "solid"


def test_names_are_text_on_the_page(page):
    small(page)
    name = "<img src=x onerror=alert(1)>"
    control(page, "press.name").fill(name)
    expect(page.locator("#drawing svg")).to_have_attribute("aria-label", f"Elevation of {name}")
    assert page.locator("#work img").count() == 0


def test_cancelling_leaves_nothing(page, served):
    folder, _ = served
    small(page)
    page.fill("#start [name=name]", "stopped")
    page.click("#start button")
    page.locator("[data-job=stopped][data-state=running]").wait_for()
    page.get_by_role("button", name="Cancel stopped").click()
    page.locator("[data-job=stopped][data-state=cancelled]").wait_for()
    shows(page, "[data-job=stopped]", "half-written")
    assert [f.name for f in (folder / "results").iterdir()] == ["earlier"]


@pytest.mark.slow
def test_from_nothing_to_a_compared_design(page, served):
    page.set_default_timeout(600_000)
    small(page, "welded.toml")
    page.fill("#start [name=name]", "thicker")
    page.locator('[data-slider="bed 1"]').fill("60")
    shows(page, "#drawing", "bed 120 mm")
    page.click("#start button")
    page.locator("details[data-run=thicker]").wait_for()
    page.locator(".verified").wait_for()
    for name in ("earlier", "thicker"):
        page.get_by_label(f"compare {name}").check()
    words = page.inner_text("#compared")
    assert "60 mm" in words
    assert "50 mm" in words
    deflections = page.locator("#compared tr", has_text="bed: mid-span").inner_text()
    values = [float(v) for v in re.findall(r"([\d.]+) ± [\d.]+ mm", deflections)]
    heads = page.locator("#compared thead th").all_inner_texts()
    by_name = dict(zip(heads, values, strict=True))
    assert by_name["thicker"] < by_name["earlier"]


@pytest.mark.slow
def test_the_dossier_of_a_run(page, served):
    page.set_default_timeout(600_000)
    page.locator('details[data-run="earlier"] > summary').click()
    page.get_by_role("button", name="Make the dossier").click()
    with page.expect_download() as got:
        page.get_by_role("link", name="Dossier as PDF").click()
    assert got.value.path().read_bytes().startswith(b"%PDF")
    assert (served[0] / "results" / "earlier" / "dossier.html").is_file()
