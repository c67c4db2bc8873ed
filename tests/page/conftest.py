"""The page served for an empty directory, and a browser to look at it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def served(tmp_path_factory, small_run):
    """Directory and address of a page with the small case in it and one run."""
    folder = tmp_path_factory.mktemp("shop")
    shutil.copyfile(ROOT / "cases" / "small.toml", folder / "small.toml")
    shutil.copytree(small_run, folder / "results" / "earlier")
    process = subprocess.Popen(
        [sys.executable, "-m", "fea.cli", "page", "--port", "0"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1", "COLUMNS": "200"},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:\d+/[\w-]+/", process.stdout.readline())
    assert found
    yield folder, found[0]
    process.terminate()
    process.wait(20)
    process.stdout.close()


@pytest.fixture(scope="session")
def chromium():
    """Debian's Chromium, headless."""
    playwright = pytest.importorskip("playwright.sync_api")
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("no chromium on this machine; .ci/setup installs it")
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(
            executable_path=path,
            args=["--no-sandbox", "--enable-unsafe-swiftshader", "--disable-quic"],
        )
        yield browser
        browser.close()


@pytest.fixture
def page(chromium, served):
    """The page, loaded; fails if it asks any other address or complains in the console."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
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
