"""The page served for a directory of its own, and open in a browser."""

from __future__ import annotations

import shutil

import pytest

from tests.figures.page_server import serving


@pytest.fixture(scope="session")
def served(tmp_path_factory, small_run, small_text, welded_text):
    """Directory and address of a page: the small case, the same welded, and one run of that."""
    folder = tmp_path_factory.mktemp("shop")
    (folder / "small.toml").write_text(small_text, encoding="utf-8")
    (folder / "welded.toml").write_text(welded_text, encoding="utf-8")
    shutil.copytree(small_run, folder / "results" / "earlier")
    with serving(folder) as address:
        yield folder, address


@pytest.fixture
def page(chromium, served):
    """The page, loaded; fails if it asks any other address or complains in the console."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.set_default_timeout(120_000)
    wrong = []
    page.on(
        "console",
        lambda m: wrong.append(m.text) if m.type == "error" and "422" not in m.text else None,
    )
    page.on("pageerror", lambda e: wrong.append(str(e)))
    page.on(
        "request",
        lambda r: (
            wrong.append(r.url) if not r.url.startswith((served[1], "blob:", "data:")) else None
        ),
    )
    page.goto(served[1])
    page.wait_for_selector("body[data-ready=yes]")
    yield page
    context.close()
    assert wrong == []
