"""A run's directory: written whole or not at all, and read back."""

from __future__ import annotations

import base64
import errno
import io
import json
import os
import shutil
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, redirect_stdout, suppress
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import meshio
import numpy as np
from pydantic import ValidationError

from platestack.fea.results.summary import Summary
from platestack.fea.results.summary_file import load, unread
from platestack.fea.support import scratch
from platestack.fea.support.result_files import MARKS, MEASURED, unmakable, usable
from platestack.geometry import case as case_file
from platestack.geometry import layout
from platestack.geometry.errors import CaseError, PlatestackError, UsageError
from platestack.geometry.parts import Press
from platestack.geometry.schema import Case

MOST_UNPACKED = 10
"""Times the size of ``fields.vtu``; where displacements differ from node to node it is 1.2."""
FIELDS = {"displacement": 3, "von_mises": 1, "utilisation": 1, "stress": 6, "principal": 3}
"""Point data of ``fields.vtu``, and how many numbers each has at a node."""


@contextmanager
def directory(path: Path, mark: str = MARKS[0]) -> Iterator[Path]:
    """Give a fresh directory to fill; it takes the place of `path` only if all went well.

    Where `path` is a link, the place that it leads to is meant. `mark` is the file of `MARKS` that
    will be among the results. What was measured (`MEASURED`) is kept; what processes that were
    killed left unfinished beside `path` is removed.

    Raises
    ------
    UsageError
        If `path` may not be replaced (`usable`), or cannot be made.
    PlatestackError
        If the results cannot be written.
    """
    usable(path, mark)
    path = Path(os.path.realpath(path)) if os.path.islink(path) else path
    with ExitStack() as stack:
        try:
            parents = _make_parents(path)
            stack.callback(_remove_empty, parents)
            made = stack.enter_context(scratch.directory(scratch.prefix_of(path), path.parent))
        except OSError as error:
            raise unmakable(path, error) from None
        try:
            yield made
            made.chmod(0o755)
            for name in MEASURED:
                if (path / name).is_file():
                    shutil.copy2(path / name, made / name)
            _put_in_place(made, path)
        except OSError as error:
            raise PlatestackError(
                f"{path}: the results could not be written: {error.strerror or error}"
            ) from error


def _make_parents(path: Path) -> list[Path]:
    """Make the directories above `path`; those that were missing, innermost first."""
    missing = [parent for parent in path.parents if not parent.exists()]
    path.parent.mkdir(parents=True, exist_ok=True)
    return missing


def _remove_empty(parents: list[Path]) -> None:
    """Remove directories made for nothing; those that hold something stay."""
    with suppress(OSError):
        for parent in parents:
            parent.rmdir()


def _put_in_place(made: Path, path: Path) -> None:
    """Move a finished directory to `path`; what stood there takes its place, and goes with it.

    Of several runs that end at the same time the last one stays.
    """
    try:
        os.replace(made, path)  # to a new place, or an empty directory
    except OSError as error:
        if error.errno not in (errno.ENOTEMPTY, errno.EEXIST):
            raise
        try:
            scratch.exchange(made, path)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOSYS):
                raise
            _swap(made, path)


def _swap(made: Path, path: Path) -> None:
    """Exchange in two steps, for file systems that cannot do it in one."""
    with scratch.directory(scratch.prefix_of(path), path.parent) as old:
        try:
            os.replace(path, old / "old")
            os.replace(made, path)
        except BaseException:
            if not path.exists():
                os.replace(old / "old", path)
            raise


@contextmanager
def additions(path: Path) -> Iterator[Path]:
    """Give a directory for further files of a run; each appears in `path` whole, if all went well.

    Raises
    ------
    OSError
        If they cannot be written.
    """
    with scratch.directory(scratch.prefix_of(path), path.resolve().parent) as made:
        yield made
        for file in made.iterdir():
            os.replace(file, path / file.name)


def write_json(summary: Summary, path: Path) -> None:
    """Write a summary. Raises `PlatestackError` where it would not read back: no number is one."""
    text = summary.model_dump_json(indent=2)
    try:
        Summary.model_validate_json(text)
    except ValidationError as error:
        place = ".".join(map(str, error.errors()[0]["loc"]))
        raise PlatestackError(f"the results hold no finite number for {place}") from None
    path.write_text(text + "\n", encoding="utf-8")


def read(path: Path) -> Summary:
    """Read the summary of a run's directory.

    Raises
    ------
    UsageError
        If there is none, or it is not one that this version can read.
    """
    data = load(path)
    try:
        return Summary.model_validate_json(json.dumps(data))
    except ValidationError as error:
        raise unread(path, error) from None


@dataclass(frozen=True)
class Run:
    """A finished run, read back from its directory."""

    folder: Path
    summary: Summary
    case: Case
    press: Press


def reopen(folder: Path) -> Run:
    """Read a run's summary, and the case and the press it was made from.

    Raises
    ------
    UsageError
        If the directory does not hold a whole run, or parts of different ones.
    """
    summary = read(folder)
    try:
        case = case_file.read(folder / "case.toml")
        said = case_file.digest(folder / "case.toml")
    except CaseError as error:
        raise UsageError(str(error)) from None
    press = layout.build(case)
    recorded = [rod.name for rod in summary.rods], _plates(summary)
    built = (
        [rod.name for rod in press.rods],
        [(stack.name, plate.name) for stack in press.stacks for plate in stack.bodies],
    )
    if recorded != built or summary.case_digest not in ("", said):
        raise UsageError(
            f"{folder}: case.toml and summary.json are of different presses; allowed: the "
            "directory of a run as it was written"
        )
    return Run(folder, summary, case, press)


def read_fields(path: Path, plates: int) -> meshio.Mesh:
    """Read the fields of a run: quadratic tetrahedra, each of a stack and of one of the plates.

    Raises
    ------
    UsageError
        If they cannot be read, or are not those of that run.
    """
    file = path / "fields.vtu"
    if not file.is_file():
        raise UsageError(f"{file}: missing; allowed: the directory of a run with its fields")
    try:
        fault = _swollen(file.read_bytes())
        if not fault:
            with redirect_stdout(io.StringIO()):  # the reader prints what it thinks of a file
                grid = meshio.read(file)
            fault = _fault(grid, plates)
    except (Exception, SystemExit) as error:  # a parser of XML and packed data fails in many ways
        fault = " ".join(str(error).split())[:200] or type(error).__name__
    if fault:
        raise UsageError(f"{file}: not the fields of this run ({fault})")
    return grid


class _Plain(ElementTree.TreeBuilder):
    """Refuses what could swell while it is parsed: entities are declared in a document type."""

    def doctype(self, *_: object) -> None:
        """Called before any of it is read. Raises `ValueError`."""
        raise ValueError("a document type is declared")


def _swollen(data: bytes) -> str:
    """Why a file of fields is not even to be unpacked; nothing if it is packed as they are written.

    Numbers in the layout of VTK's XML files: in each array how many blocks, their size, the last
    one's size, the packed size of each; then the blocks.
    """
    root = ElementTree.fromstring(data, ElementTree.XMLParser(target=_Plain()))
    written = {"compressor": "vtkZLibDataCompressor", "header_type": "UInt32"}
    if any(root.get(name, value) != value for name, value in written.items()):
        return "packed in another way"
    if root.find("AppendedData") is not None:
        return "packed in another way"
    order = ">" if root.get("byte_order") == "BigEndian" else "<"
    room = MOST_UNPACKED * len(data)
    for array in root.iter("DataArray"):
        text = (array.text or "").strip()
        if root.get("compressor") is None or array.get("format") == "ascii" or not text:
            continue
        count = int(np.frombuffer(base64.b64decode(text[:8])[:4], f"{order}u4")[0])
        head = -(-4 * (3 + count) // 3) * 4  # letters
        sizes = np.frombuffer(base64.b64decode(text[:head]), f"{order}u4")[3:]
        packed, start = base64.b64decode(text[head:]), 0
        for size in sizes.tolist():
            room -= len(zlib.decompressobj().decompress(packed[start : start + size], room + 1))
            start += size
            if room < 0:
                return f"it unpacks to more than {MOST_UNPACKED} times its size"
    return ""


def _plates(summary: Summary) -> list[tuple[str, str]]:
    return [
        (name, part.name)
        for name, stack in summary.stacks.items()
        for part in (*stack.plates, *stack.pads)
    ]


def _fault(grid: meshio.Mesh, plates: int) -> str:
    """What is wrong with a grid of fields; nothing if it can be relied upon."""
    if [block.type for block in grid.cells] != ["tetra10"] or not len(grid.cells[0].data):
        return "no quadratic tetrahedra"
    cells, nodes = grid.cells[0].data, len(grid.points)
    if cells.min() < 0 or cells.max() >= nodes or not np.isfinite(grid.points).all():
        return "elements without nodes"
    for name, most in (("stack", 2), ("plate", plates)):
        owner = np.concatenate(grid.cell_data[name])
        if len(owner) != len(cells) or owner.min() < 0 or owner.max() >= most:
            return f"cells of a {name} that is none of the run's"
    if len(np.unique(np.concatenate(grid.cell_data["stack"]))) < 2:  # mirrors leave plates out
        return "a stack without cells"
    for name, width in FIELDS.items():
        values = grid.point_data[name]
        if values.size != width * nodes or not np.isfinite(values).all():
            return f"{name}: values are missing"
    return ""
