"""Shared cases and solutions: what is slow to make is made once."""

from __future__ import annotations

import functools
import os
import shutil
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:  # before numpy and numba: workers share the cores
    for library in ("NUMBA", "OMP", "OPENBLAS"):
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")

import pytest
from coarse import coarse_sizes
from hypothesis import settings

from platestack.fea.jobs import run
from platestack.fea.solid import model, stack
from platestack.fea.solid.stack import Report, StackSolution
from platestack.fea.support import machine
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher, units
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case
from platestack.geometry.symmetry import symmetry_of

settings.register_profile("the same draws", derandomize=True)
settings.load_profile("the same draws")

WELDED = 'interface = { kind = "welded" }'
CASES = Path(__file__).parent.parent / "cases"

WORKER_MEMORY = 2e9
"""Memory (bytes) of one worker, its browser and its child processes, at most."""


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """As many workers as cores and memory bear; none where files or tests were named."""
    if config.args_source is not config.ArgsSource.TESTPATHS:
        return 0
    return max(1, min(len(os.sched_getaffinity(0)), int(machine.room().free / WORKER_MEMORY)))


@pytest.fixture(autouse=True)
def _metric_again():
    """A command shows in the units of its case; the next test begins as a process does."""
    yield
    units.reset()


@pytest.fixture(scope="session")
def small_text() -> str:
    return (CASES / "small" / "small.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def welded_text(small_text) -> str:
    """The small case with plates called welded, so that it answers in proportion."""
    return small_text.replace('"2 x 50 mm"', f'"2 x 50 mm"\n{WELDED}')


@pytest.fixture(scope="session")
def small_case(welded_text):
    return case_file.parse(welded_text, "small.toml")


@pytest.fixture(scope="session")
def small_press(small_case):
    return layout.build(small_case)


@pytest.fixture(scope="session")
def small_solution(small_case):
    return model.analyse(small_case)


@pytest.fixture(scope="session")
def press_of():
    """Build (once) the press of a file in cases/ by its name."""

    @functools.cache
    def build(name: str) -> Press:
        return layout.build(case_file.read(CASES / name / f"{name}.toml"))

    return build


@pytest.fixture(scope="session")
def coarse_mesh(press_of):
    """Mesh (once) a stack of a file in cases/, as coarse as its holes and rings allow."""

    @functools.cache
    def make(name: str, which: str) -> StackMesh:
        press = press_of(name)
        part = getattr(press, which)
        return mesher.make(part, press.rods, symmetry_of(part, press.rods), coarse_sizes(press))

    return make


@pytest.fixture(scope="session")
def solve_coarse():
    """Solve a case on coarse meshes without refinement; with `only`, that stack alone."""

    def solve(
        case: Case, only: str = "", report: Report = lambda step: None
    ) -> dict[str, StackSolution]:
        press = layout.build(case)
        loose = {"deflection_accuracy": 0.5, "stress_accuracy": 0.5}
        once = case.model_copy(update={"mesh": case.mesh.model_copy(update=loose)})
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(stack, "default_sizes", lambda *_: coarse_sizes(press))
            return {
                one.name: stack.solve_stack(press, one, once, report)
                for one in press.stacks
                if only in ("", one.name)
            }

    return solve


@pytest.fixture(scope="session")
def padded(small_text):
    """Write a case, the small one by default, whose washers and cylinder's end are of some kinds.

    With more lines in its table of the ram; `plates` is the kind of the small case's interfaces.
    """

    def text(washers="even", cylinder="even", ram="", plates="welded", case=small_text) -> str:
        rods = f'[rods]\nwasher_interface = {{ kind = "{washers}" }}'
        ram = f'[ram]\ninterface = {{ kind = "{cylinder}" }}\n{ram}'
        kind = f'"2 x 50 mm"\ninterface = {{ kind = "{plates}" }}'
        case = case.replace('"2 x 50 mm"', kind)
        return case.replace("[rods]", rods).replace("[ram]", ram)

    return text


@pytest.fixture(scope="session")
def four_rods():
    """Write a flat press of 60 tf on four rods, with further lines for its bed and at its end."""

    def text(bed: str = "", more: str = "", rods: str = FOUR) -> str:
        return f"""
[press]
name = "Flat press, 60 tf"
capacity = "60 tf"
working_pressure = "25 MPa"
daylight = "400 mm"
stroke = "200 mm"
[crosshead]
length = "700 mm"
width = "400 mm"
plates = "2 x 60 mm"
{WELDED}
[rods]
diameter = "50 mm"
{rods}
[bed]
length = "700 mm"
width = "400 mm"
plates = "2 x 60 mm"
{"" if "interface" in bed else WELDED}
{bed}
{more}
"""

    return text


FOUR = 'count = 4\npitch = ["520 mm", "250 mm"]'


@pytest.fixture(scope="session")
def small_run(small_solution, welded_text, tmp_path_factory) -> Path:
    """The results directory of the small case, its plates welded, without pictures."""
    place = tmp_path_factory.mktemp("results") / "small"
    case = tmp_path_factory.mktemp("cases") / "small.toml"
    case.write_text(welded_text, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(run, "analyse", lambda case, report: small_solution)
        run.run(case, place, lambda step: None, drawn=False)
    return place


@pytest.fixture(scope="module")
def chromium():
    """Debian's Chromium, headless. While it is open this thread runs playwright's event loop."""
    playwright = pytest.importorskip("playwright.sync_api")
    path = shutil.which("chromium")
    assert path, "these tests need Chromium: .ci/setup pytest installs it"
    flags = ["--no-sandbox", "--enable-unsafe-swiftshader", "--disable-quic"]
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=path, args=flags)
        yield browser
        browser.close()
