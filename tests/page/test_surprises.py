"""What befalls an open page: reload, other tabs, runs replaced or deleted, a server that ends."""

from __future__ import annotations

import contextlib
import json
import re
import shutil
import urllib.parse

import pytest
from PIL import Image
from test_browser import control, shows, small, text

from platestack.fea.app.page import runs, server
from tests.figures import hostile_requests as hostile
from tests.figures.page_server import serving

expect = pytest.importorskip("playwright.sync_api").expect
HTTPException = pytest.importorskip("starlette.exceptions").HTTPException


@pytest.fixture
def other(served):
    """A second run, which a test may change or delete."""
    place = served[0] / "results" / "other"
    shutil.copytree(served[0] / "results" / "earlier", place)
    yield place
    shutil.rmtree(place, ignore_errors=True)


@contextlib.contextmanager
def running(page, name):
    """A run of the case that is open, cancelled at the end."""
    page.fill("#start [name=name]", name)
    page.click("#start button")
    page.locator(f"[data-job='{name}'][data-state=running]").wait_for()
    try:
        yield
    finally:
        visitor = hostile.Visitor(page.url)
        for job in json.loads(visitor.send("GET", "/state")[2])["jobs"]:
            visitor.ask("/cancel", {"number": job["number"]})


def change(run, **changed):
    file = run / "summary.json"
    file.write_text(json.dumps({**json.loads(file.read_text()), **changed}))


def test_a_run_is_seen_and_cancelled_after_a_reload(page):
    small(page)
    with running(page, "long"):
        page.reload()
        page.locator("[data-job=long][data-state=running]").wait_for()
        page.get_by_role("button", name="Cancel long").click()
        page.locator("[data-job=long][data-state=cancelled]").wait_for()


def test_only_the_case_of_a_run_is_verified_by_it(page):
    small(page, "welded.toml")
    expect(page.locator(".verified")).to_have_count(1)  # as it ran before this page was loaded
    page.locator('[data-slider="bed 1"]').fill("60")
    shows(page, "#drawing", "bed 120 mm")
    expect(page.locator(".verified")).to_have_count(0)
    with running(page, "earlier"):  # the one that there is was of another case
        page.wait_for_timeout(1500)
        assert page.locator(".verified").count() == 0
    page.click("#back")
    shows(page, ".verified", "solved in full")


def test_pressed_twice_is_run_once(page, served):
    small(page)
    page.fill("#start [name=name]", "twice")
    page.route("**/run", lambda route: (page.wait_for_timeout(300), route.continue_()))
    page.locator("#start button").dblclick()
    page.locator("[data-job=twice]").first.wait_for()
    page.wait_for_timeout(1500)
    jobs = json.loads(hostile.Visitor(served[1]).send("GET", "/state")[2])["jobs"]
    alive = [j for j in jobs if j["state"] in ("running", "waiting")]
    for job in alive:
        hostile.Visitor(served[1]).ask("/cancel", {"number": job["number"]})
    assert [job["name"] for job in alive] == ["twice"]


def test_a_server_that_is_slow_to_answer_is_not_asked_again(page):
    held = []
    page.route("**/state", lambda route: held.append(route))
    page.wait_for_timeout(4000)  # it is asked once a second
    assert len(held) == 1
    held[0].continue_()
    page.wait_for_timeout(2000)
    assert len(held) == 2
    held[1].continue_()


def test_seconds_that_pass_are_not_read_aloud(page):
    small(page)
    with running(page, "long"):
        time = page.locator("[data-job=long][data-state=running] .time")
        before = time.text_content()
        expect(time).not_to_have_text(before, timeout=10_000)
        assert not time.evaluate("e => e.closest('[role=status], [aria-live]')")


def test_the_keyboard_stays_where_it_is(page):
    small(page)
    with running(page, "long"):
        cancel = page.get_by_role("button", name="Cancel long")
        cancel.focus()
        page.wait_for_timeout(2500)
        expect(cancel).to_be_focused()
    page.locator('details[data-key="bed"] > summary').click()
    plates = page.locator('fieldset[data-key="bed.plates"]')
    more = plates.get_by_role("button", name="Add to plates")
    more.focus()
    page.keyboard.press("Enter")
    expect(plates.locator(".entry")).to_have_count(2)
    expect(plates.get_by_role("button", name="Add to plates")).to_be_focused()
    plates.get_by_role("button", name="Remove plates 2").focus()
    page.keyboard.press("Enter")
    expect(plates.locator(".entry")).to_have_count(1)
    assert plates.evaluate("place => place.contains(document.activeElement)")


def test_a_new_run_does_not_take_the_keyboard_away(page, other):
    summary = page.locator("details[data-run=earlier] > summary")
    summary.focus()
    change(other, press="Renamed")
    shows(page, "details[data-run=other]", "Renamed")
    expect(summary).to_be_focused()


def test_pictures_are_those_of_the_run_that_is_there(page, other):
    Image.new("RGB", (40, 30)).save(other / "stress.png")
    change(other, press="First")
    shows(page, "details[data-run=other]", "First")
    page.locator("details[data-run=other] > summary").click()
    picture = page.locator("details[data-run=other] img")
    wide = "e => e.complete && e.naturalWidth"
    expect(picture).to_have_js_property("naturalWidth", 40)
    Image.new("RGB", (60, 30)).save(other / "stress.png")
    change(other, press="Second")
    shows(page, "details[data-run=other]", "Second")
    page.wait_for_timeout(500)
    assert picture.evaluate(wide) == 60


@pytest.mark.slow
def test_a_run_deleted_while_it_is_shown(page, other, served):
    page.locator("details[data-run=other] > summary").click()
    page.get_by_label("compare other").check()
    page.locator("details[data-run=other]").get_by_role("button", name="Show in 3-D").click()
    page.frame_locator("iframe").locator("#scene[data-ready=yes]").wait_for()
    (other / "fields.vtu").unlink()
    expect(page.locator("[data-scene=other]")).to_have_count(0)
    page.wait_for_timeout(1500)
    assert page.locator("[data-job=other]").count() == 0  # nothing was asked for instead
    shutil.rmtree(other)
    expect(page.locator("details[data-run=other]")).to_have_count(0)
    expect(page.locator("#compare")).to_be_hidden()


def test_what_goes_while_it_is_read_is_told():
    def gone(_):
        raise FileNotFoundError

    with pytest.raises(HTTPException) as caught:
        server._given(gone)(None)
    assert (caught.value.status_code, caught.value.detail) == (404, "it is no longer there")


def test_a_run_that_is_none_hides_no_other(served, other):
    file = other / "summary.json"
    file.write_text(re.sub(r'("seconds": )[\d.]+', r"\g<1>1e999", file.read_text()))
    status, _, body = hostile.Visitor(served[1]).send("GET", "/state")
    assert status == 200
    told = {run["name"]: run.get("fault", "") for run in json.loads(body)["runs"]}
    assert told["earlier"] == ""
    assert "1e999 is not a number" in told["other"]


def test_a_run_that_is_none_is_read_once(tmp_path, monkeypatch):
    """The page asks every second, and such a file may be long."""
    read, place = [], tmp_path / "other"
    place.mkdir()
    (place / "summary.json").write_text("[]")
    whole = runs.run_directory.read
    monkeypatch.setattr(runs.run_directory, "read", lambda run: read.append(run) or whole(run))
    told = [runs.listing(tmp_path)[0]["fault"] for _ in range(3)]
    assert told[0] == told[2]
    assert len(read) == 1
    (place / "summary.json").write_text("{}")
    assert runs.listing(tmp_path)[0]["fault"] != told[0]


def test_an_answer_that_comes_late_is_of_no_other_case(page):
    small(page)
    held = []
    page.route("**/check", lambda r: r.continue_() if held else held.append(r))
    control(page, "press.daylight").fill("310 mm")
    page.wait_for_timeout(600)
    page.locator("#file").set_input_files({
        "name": "second.toml", "mimeType": "text/plain",
        "buffer": ("# the second\n" + text(page)).replace("Bench press", "Second").encode(),
    })  # fmt: skip
    expect(page.locator("#text")).to_have_value(re.compile("# the second"))
    held[0].continue_()
    shows(page, "#verdict", "can run")
    page.wait_for_timeout(1000)
    assert text(page).startswith("# the second")
    assert "310 mm" not in text(page)


def test_edits_are_not_lost_without_a_question(page):
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    small(page)
    page.reload()
    assert asked == []
    page.wait_for_selector("body[data-ready=yes]")
    small(page)
    control(page, "press.daylight").fill("310 mm")
    shows(page, "#drawing", "310 mm")
    page.reload()
    assert asked == ["beforeunload"]


@pytest.mark.slow
def test_a_server_that_ends_and_comes_back_is_told(chromium, tmp_path):
    page = chromium.new_page()
    try:
        with serving(tmp_path) as address:
            page.goto(address)
            page.wait_for_selector("body[data-ready=yes]")
            page.route("**/state", lambda route: route.abort(), times=3)
            shows(page, "#told", "The server has ended")
            expect(page.locator("#told")).to_be_empty()
        shows(page, "#told", "The server has ended")
        with serving(tmp_path, urllib.parse.urlsplit(address).port):
            shows(page, "#told", "was started again")
    finally:
        page.close()


def test_the_scene_fits_a_narrow_page(chromium, served):
    """320 px: WCAG 2.2, 1.4.10 (reflow)."""
    page = chromium.new_page(viewport={"width": 258, "height": 700})  # of it, in its frame
    page.set_default_timeout(120_000)
    try:
        page.goto(f"{served[1]}scene/earlier")
        page.locator("#scene[data-ready=yes]").wait_for()
        for field in page.locator('[data-ui="field"] option').all_inner_texts():
            page.locator('[data-ui="field"]').select_option(label=field)
            assert page.evaluate("document.documentElement.scrollWidth") <= 258, field
    finally:
        page.close()
