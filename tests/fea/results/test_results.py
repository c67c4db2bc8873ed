"""A run's directory: read back, opened by other programs.

Independent readers: meshio and pyvista.
"""

from __future__ import annotations

import base64
import json
import math
import os
import re
import shutil
import zlib
from pathlib import Path

import meshio
import numpy as np
import pytest
import pyvista
from command_line import listing

from platestack.fea.jobs import run
from platestack.fea.results import run_directory
from platestack.fea.results.summary import Summary
from platestack.fea.results.summary_file import LARGEST_SUMMARY
from platestack.fea.support.result_files import usable
from platestack.geometry.errors import PlatestackError, UsageError

# --- reading back


def test_summary_reads_back_as_written(small_run):
    summary = run_directory.read(small_run)
    assert summary.case == "small.toml"
    run_directory.write_json(summary, small_run.parent / "again.json")
    text = (small_run / "summary.json").read_text(encoding="utf-8")
    assert (small_run.parent / "again.json").read_text(encoding="utf-8") == text
    assert Summary.model_validate_json(text) == summary


def test_numbers_that_are_none_are_not_written(small_run, tmp_path):
    summary = run_directory.read(small_run)
    checks = [summary.checks[0].model_copy(update={"value": math.inf}), *summary.checks[1:]]
    with pytest.raises(PlatestackError, match=r"no finite number for checks\.0\.value"):
        run_directory.write_json(
            summary.model_copy(update={"checks": checks}), tmp_path / "summary.json"
        )
    assert listing(tmp_path) == []


def broken(change):
    def make(small_run: Path, place: Path) -> None:
        data = json.loads((small_run / "summary.json").read_text())
        (place / "summary.json").write_text(change(data))

    return make


def _first_version(data: dict) -> str:
    rest = {key: value for key, value in data.items() if key != "schema_version"}
    return json.dumps({"version": 1, **rest})


def test_what_a_later_version_adds_is_ignored(small_run, tmp_path):
    data = json.loads((small_run / "summary.json").read_text())
    data["colour"] = data["bed"]["colour"] = data["checks"][0]["colour"] = {"value": "red"}
    (tmp_path / "summary.json").write_text(json.dumps(data))
    assert run_directory.read(tmp_path) == run_directory.read(small_run)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (broken(lambda d: json.dumps({**d, "schema_version": 99})), "version 99 of the summary"),
        (broken(lambda d: json.dumps({**d, "schema_version": "2"})), "version '2'"),
        (broken(_first_version), "version 1 of the summary; allowed: version 2; run the case"),
        (broken(lambda d: json.dumps({**d, "schema_version": None})), "version None"),
        (broken(lambda d: json.dumps(d)[:-40]), "not a summary of a run"),
        (broken(lambda d: json.dumps({**d, "mass": "heavy"})), "not a summary of a run"),
        (broken(lambda d: json.dumps({**d, "case": "A" * 1_000_000})), "at most 20000 characters"),
        (broken(lambda d: json.dumps({**d, "seconds": 7}).replace(": 7", ": 1e999")), "a number"),
        (broken(lambda d: json.dumps({**d, "seconds": 10**400})), "not a number"),
        (broken(lambda d: json.dumps([d])), "not a summary of a run"),
        (broken(lambda d: ""), "not a summary of a run"),
        (broken(lambda d: "[" * 200_000), "not a summary of a run"),
        (lambda run, place: (place / "summary.json").write_bytes(b"\xff\xfe\x00"), "not a summary"),
        (lambda run, place: _grown(place / "summary.json", LARGEST_SUMMARY), "more than"),
        (lambda run, place: (place / "summary.json").mkdir(), "cannot be read"),
        (lambda run, place: os.mkfifo(place / "summary.json"), "cannot be read .not a plain file"),
        (lambda run, place: (place / "summary.json").symlink_to("/dev/zero"), "not a plain file"),
        (lambda run, place: None, "cannot be read"),
    ],
    ids=["version", "version as text", "version 1", "no version", "cut off", "wrong type",
         "long text", "infinite", "endless", "a list", "empty", "nested", "binary", "large",
         "a directory", "a pipe", "a device", "missing"],
)  # fmt: skip
def test_what_is_no_summary_is_refused_in_a_sentence(small_run, tmp_path, make, words):
    make(small_run, tmp_path)
    with pytest.raises(UsageError, match=words) as caught:
        run_directory.read(tmp_path)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("name", "make", "words"),
    [
        ("fields.vtu", lambda file: file.unlink(), "missing"),
        ("fields.vtu", lambda file: file.write_text("<x/>"), "not the fields of this run"),
        ("fields.vtu", lambda file: file.write_bytes(file.read_bytes()[:4000]), "not the fields"),
        ("case.toml", lambda file: file.write_text(_thinner(file)), "of different presses"),
        ("case.toml", lambda file: file.write_text(_longer(file)), "of different presses"),
    ],
)
def test_what_is_no_whole_run_is_refused(small_run, tmp_path, name, make, words):
    place = tmp_path / "run"
    shutil.copytree(small_run, place)
    make(place / name)
    with pytest.raises(UsageError, match=words):
        run_directory.read_fields(
            place, sum(len(s.plates) for s in run_directory.reopen(place).press.stacks)
        )


def _longer(file: Path) -> str:
    return file.read_text().replace("460 mm", "480 mm")


def _grown(file: Path, size: int) -> None:
    with file.open("wb") as made:
        made.truncate(size + 1)


LAUGHS = "".join(
    f'<!ENTITY l{n + 1} "{f"&l{n};" * 10}">' for n in range(8)
)  # "billion laughs": CWE-776
XML = (
    '<VTKFile type="UnstructuredGrid"{more}><UnstructuredGrid>{inner}</UnstructuredGrid></VTKFile>'
)


def _bomb(file: Path) -> None:
    """Its first array is of zeros, a hundred megabytes packed into a hundred kilobytes."""
    blocks = [zlib.compress(bytes(10_000_000), 9)] * 10
    head = np.array([len(blocks), 10_000_000, 0, *map(len, blocks)], "<u4").tobytes()
    text = base64.b64encode(head).decode() + base64.b64encode(b"".join(blocks)).decode()
    file.write_text(re.sub(r"(<DataArray[^>]*>)[^<]*", rf"\g<1>{text}", file.read_text(), count=1))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (_bomb, "unpacks to more than"),
        (lambda file: file.write_text(
            f'<!DOCTYPE x [<!ENTITY l0 "lol">{LAUGHS}]>' + XML.format(more="", inner="&l8;")),
         "document type"),
        (lambda file: file.write_text(XML.format(
            more=' compressor="vtkLZMADataCompressor"', inner="")), "in another way"),
        (lambda file: file.write_text(
            XML.format(more="", inner="").replace("</V", "<AppendedData/></V")), "in another way"),
    ],
    ids=["zeros", "entities", "another compressor", "appended"],
)  # fmt: skip
def test_fields_that_would_swell_are_not_unpacked(small_run, tmp_path, make, words, monkeypatch):
    monkeypatch.setattr(run_directory.meshio, "read", None)
    shutil.copy(small_run / "fields.vtu", tmp_path)
    make(tmp_path / "fields.vtu")
    with pytest.raises(UsageError, match=words):
        run_directory.read_fields(tmp_path, 4)


def _thinner(file: Path) -> str:
    return file.read_text().replace("2 x 50 mm", "1 x 50 mm")


def test_the_name_of_a_case_may_be_no_text(small_solution, small_text, tmp_path, monkeypatch):
    monkeypatch.setattr(run, "analyse", lambda case, report: small_solution)
    case = tmp_path / "\udcff.toml"
    case.write_text(small_text)
    run.run(case, tmp_path / "out", lambda step: None, drawn=False)
    assert run_directory.read(tmp_path / "out").case == "?.toml"


# --- the files


def test_every_file_of_a_run_may_be_replaced_by_the_next(small_run, tmp_path):
    place = tmp_path / "run"
    shutil.copytree(small_run, place)
    (place / "stress.png").write_bytes(b"")
    usable(place)


def test_files_of_a_run(small_run):
    assert listing(small_run) == ["case.toml", "fields.vtu", "run.log", "summary.json"]


def test_case_is_kept_word_for_word(small_run, welded_text):
    assert (small_run / "case.toml").read_text(encoding="utf-8") == welded_text


def test_log_names_steps_versions_and_balance(small_run):
    log = (small_run / "run.log").read_text(encoding="utf-8")
    for words in ("platestack ", "gmsh ", "scikit-fem ", "results: write", "rod forces in balance",
                  "quadratic tetrahedra", "crosshead: seconds"):  # fmt: skip
        assert words in log
    assert str(Path.home()) not in log


def test_fields_open_with_meshio_and_pyvista(small_run, small_solution):
    file = small_run / "fields.vtu"
    by_meshio, by_pyvista = meshio.read(file), pyvista.read(file)
    stacks = list(small_solution.stacks.values())
    nodes = sum(len(solved.fields.nodes.node) for solved in stacks)
    elements = sum(len(solved.mesh.tets) for solved in stacks)
    assert len(by_meshio.points) == by_pyvista.n_points == nodes
    assert by_pyvista.n_cells == elements
    assert [block.type for block in by_meshio.cells] == ["tetra10"]
    widths = {"displacement": 3, "von_mises": 1, "utilisation": 1, "stress": 6, "principal": 3}
    for name, width in widths.items():
        values = by_meshio.point_data[name]
        assert values.size == width * nodes
        assert np.isfinite(values).all()
        assert np.array_equal(np.asarray(by_pyvista.point_data[name]), values)
    # VTK orders edge nodes as the mesh does: its volume is that of the plates in the quarter.
    volume = by_pyvista.compute_cell_sizes()["Volume"].sum()
    parts = sum(plate.volume for stack in small_solution.press.stacks for plate in stack.plates)
    assert volume * 4 == pytest.approx(parts, rel=5e-3)


def test_fields_belong_to_their_plates(small_run, small_solution):
    grid = meshio.read(small_run / "fields.vtu")
    stack, plate = grid.cell_data["stack"][0], grid.cell_data["plate"][0]
    cells = grid.cells[0].data
    assert set(np.unique(stack)) == {0, 1}
    assert set(np.unique(plate)) == {0, 1, 2, 3}
    parts = [p for s in small_solution.press.stacks for p in s.plates]
    for number, part in enumerate(parts):
        z = grid.points[cells[plate == number]][..., 2]
        assert (z.min(), z.max()) == pytest.approx((part.base, part.top))
    low, high = grid.point_data["von_mises"].max(), grid.point_data["utilisation"].max()
    assert high == pytest.approx(low / (335e6 / 1.5))


def test_no_number_is_missing(small_run):
    def walk(value, path=""):
        if isinstance(value, dict):
            for key, item in value.items():
                yield from walk(item, f"{path}.{key}")
        elif isinstance(value, list):
            for item in value:
                yield from walk(item, path)
        else:
            yield path, value

    text = (small_run / "summary.json").read_text()
    assert "NaN" not in text
    assert "Infinity" not in text
    for path, value in walk(json.loads(text)):
        if isinstance(value, float):
            assert math.isfinite(value), path
        if value is None:  # a cost without prices, errors that nothing estimates, welded faces
            absent = ("error", "composite_action", "residual_deflection")
            absent += ("complementarity",)
            absent += ("clamping_force_left", "seat_ends", "frame")  # of rods without seats
            known = path == ".cost.value" or path.rpartition(".")[2] in absent
            assert known or ".interfaces." in path, path


def test_mirrors_may_leave_a_plate_without_cells(small_run, tmp_path):
    """A half model of plates on edge has no cells of the plates beyond the mirror."""
    grid = meshio.read(small_run / "fields.vtu")
    plate, stack = grid.cell_data["plate"], grid.cell_data["stack"]
    for plates, stacks, fault in (
        (np.where(plate[0] == 1, 0, plate[0]), stack[0], None),
        (plate[0] + 1, stack[0], "none of the run's"),
        (plate[0], 0 * stack[0], "a stack without cells"),
    ):
        grid.cell_data["plate"], grid.cell_data["stack"] = [plates], [stacks]
        meshio.write(tmp_path / "fields.vtu", grid, binary=True)
        if fault is None:
            assert len(run_directory.read_fields(tmp_path, 4).points) == len(grid.points)
        else:
            with pytest.raises(UsageError, match=fault):
                run_directory.read_fields(tmp_path, 4)
