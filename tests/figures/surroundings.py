"""Adverse surroundings: full disk, no home, odd names, other locales, jumping clocks, two at once.

``python -m tests.figures.surroundings [NAME]`` runs each of `SITUATIONS` with the command line in
a process of its own, prints what came of it, and ends with 1 if one did not end as it must: with
the exit code that is promised, in words, without a traceback, with nothing half-written.
Disks are small file systems in memory; where they may not be mounted, that is said.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from platestack.fea.results import run_directory
from platestack.fea.results.summary import Summary
from platestack.geometry.errors import PlatestackError

ROOT = Path(__file__).parents[2]
SMALL = (ROOT / "cases" / "small" / "small.toml").read_text("utf-8")
COARSE = '\n[mesh]\ndeflection_accuracy = 0.5\nstress_accuracy = 0.5\nsize = "70 mm"\n'
SEAT = 'seat = "shoulder"\nseat_diameter = "60 mm"\npreload = "150 kN"\n'
LIMIT = 900
"""Seconds for a call by the clock; where nothing compiled can be kept one takes a minute."""
RUN = ("solve", "small.toml", "--out", "out")


class Skipped(Exception):
    """The machine does not let the situation be made."""


class Fault(Exception):
    """What came of it is not what must."""


@dataclass(frozen=True)
class Outcome:
    """Of a call: exit code, standard output and errors."""

    code: int
    out: str
    err: str


class Place:
    """A working directory with the small case in it."""

    def __init__(self, folder: Path):
        self.folder = folder
        (folder / "small.toml").write_text(SMALL + COARSE, encoding="utf-8")

    def start(
        self, *words: str | bytes, most: int | None = None, python: tuple[str, ...] = (),
        drop: tuple[str, ...] = (), **more: str,
    ) -> subprocess.Popen[bytes]:  # fmt: skip
        """Start a call; `most` bytes in a file, `more` and without `drop` in its environment."""
        given = {**os.environ, "COLUMNS": "100", **more}

        def limit() -> None:
            if most is not None:
                resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

        return subprocess.Popen(
            [sys.executable, *python, "-m", "platestack", *words], cwd=self.folder,
            env={k: v for k, v in given.items() if k not in drop}, preexec_fn=limit,
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip

    def call(self, *words: str | bytes, codes: tuple[int, ...] = (0,), **how: object) -> Outcome:
        """Call to the end; a fault unless it ends with one of `codes`, in words."""
        return self.finish(self.start(*words, **how), codes)  # type: ignore[arg-type]

    def finish(self, started: subprocess.Popen[bytes], codes: tuple[int, ...] = (0,)) -> Outcome:
        """Wait for a call."""
        out, err = (text.decode("utf-8", "replace") for text in started.communicate(timeout=LIMIT))
        if started.returncode not in codes:
            raise Fault(f"exit code {started.returncode}: {(out + err)[-400:]}")
        if "Traceback" in out + err or "unexpected fault" in out + err:
            raise Fault((out + err)[-400:])
        if started.returncode >= 2 and not err.strip():
            raise Fault("ended without a word")
        return Outcome(started.returncode, out, err)

    def whole(self, out: Path) -> None:
        """A fault unless a results directory is whole."""
        try:
            found = run_directory.reopen(out)
            run_directory.read_fields(out, sum(len(s.plates) for s in found.press.stacks))
        except PlatestackError as error:
            raise Fault(str(error)) from None

    def nothing(self, *allowed: str) -> None:
        """A fault if a failed call left something behind."""
        left = {str(f.relative_to(self.folder)) for f in self.folder.rglob("*")}
        if more := left - {"small.toml", *allowed}:
            raise Fault(f"left behind: {sorted(more)}")


@contextmanager
def disk(place: Path, kilobytes: int) -> Iterator[Path]:
    """A small file system in memory."""
    mounted = place / "disk"
    mounted.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", mounted], capture_output=True
    )
    if done.returncode:
        raise Skipped("a file system may not be mounted here")
    try:
        yield mounted
    finally:
        subprocess.run(["umount", "-l", mounted], check=True)


def full_disk(place: Place) -> str:
    """Every command that writes, on a disk that is too small for it."""
    told = []
    commands: dict[str, tuple[int, tuple[str, ...]]] = {
        "solve": (300, RUN), "mesh": (200, ("mesh", "small.toml", "--out", "out")),
        "cut": (24, ("cut", "small.toml", "--out", "out")),
        "compare": (4, ("compare", "small.toml", "--thickness", "50 mm", "--out", "out")),
        "assemble": (12, ("assemble", "small.toml", "--out", "out")),
        "sweep": (12, ("sweep", "small.toml", "--plates", "2, 3", "--method", "beam",
                       "--workers", "1", "--out", "out")),
    }  # fmt: skip
    for name, (room, words) in commands.items():
        with disk(place.folder, room) as small:
            inner = Place(small)
            inner.call(*words, codes=(3,))
            if name != "sweep":  # the rows that were written stay
                inner.nothing()
        told.append(name)
        (place.folder / "disk").rmdir()
    return f"exit code 3 in words, nothing left: {', '.join(told)}"


def largest_file(place: Place) -> str:
    """A limit on the size of a file, met in the middle of the fields."""
    said = place.call(*RUN, codes=(3,), most=100_000).err
    place.nothing()
    return said.strip().splitlines()[-1]


def read_only(place: Place) -> str:
    """A results directory on a file system that cannot be written to."""
    with disk(place.folder, 4000) as small:
        inner = Place(small)
        subprocess.run(["mount", "-o", "remount,ro", small], check=True)
        said = [
            inner.call(*words, codes=(2,)).err
            for words in (RUN, ("sweep", "small.toml", "--plates", "2", "--out", "s"))
        ]
        inner.nothing()
    return " | ".join(text.strip().splitlines()[-1] for text in said)


def no_home(place: Place) -> str:
    """HOME not set, or nowhere, with sources that cannot be written to and no cache."""
    place.call(*RUN, drop=("HOME",))
    place.whole(place.folder / "out")
    with disk(place.folder, 16_000) as small:
        kept = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / ".package", small, ignore=kept, dirs_exist_ok=True)
        subprocess.run(["mount", "-o", "remount,ro", small], check=True)
        nowhere = dict.fromkeys(("HOME", "XDG_CACHE_HOME"), "/proc/nowhere")
        place.call(*RUN, PYTHONPATH=str(small), **nowhere)
    place.whole(place.folder / "out")
    return "solved both times, compiled anew where nothing can be kept"


def locale(place: Place) -> str:
    """The C locale without UTF-8: what cannot be written is a question mark, names are kept."""
    plain = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": ""}
    said = place.call(*RUN, **plain).out
    place.whole(place.folder / "out")
    if "?" not in said:
        raise Fault("no question mark, so nothing was tried")
    name = "Preß 机.toml"
    shutil.copy(place.folder / "small.toml", place.folder / name)
    place.call("solve", name.encode(), "--out", "other", **plain)
    place.whole(place.folder / "other")
    place.call("tables", **plain)
    return "solved, ± told as ?; names outside of ASCII kept"


def names(place: Place) -> str:
    """Spaces, letters of other scripts, line breaks and bytes that are no text in paths."""
    told = []
    for name in ("my press 1", "пресс/станина №2", "机 床", "a\nb", "\udcff\udcfe", "[red]x[/red]"):
        case, out = (place.folder / f"{name}{ending}" for ending in (".toml", " out"))
        case.parent.mkdir(exist_ok=True)
        shutil.copy(place.folder / "small.toml", case)
        place.call("solve", os.fsencode(case), "--out", os.fsencode(out))
        place.whole(out)
        told.append(name)
    return f"{len(told)} names solved and read back"


def lines(place: Place) -> str:
    """Line ends of other systems and a byte order mark."""
    numbers = []
    for text in (SMALL, SMALL.replace("\n", "\r\n"), "\ufeff" + SMALL.replace("\n", "\r\n")):
        (place.folder / "case.toml").write_bytes((text + COARSE).encode())
        place.call("solve", "case.toml", "--out", "out")
        data = json.loads((place.folder / "out" / "summary.json").read_text("utf-8"))
        numbers.append(data["bed"]["mid_span_deflection"]["value"])
    if len(set(numbers)) != 1:
        raise Fault(f"other results: {numbers}")
    return "the same deflection three times"


def screen(place: Place) -> str:
    """No screen, and one that nobody answers at."""
    place.call(*RUN)
    for more in ({}, {"DISPLAY": ":99"}, {"WAYLAND_DISPLAY": "wayland-9"}):
        given = more or {"drop": ("DISPLAY", "WAYLAND_DISPLAY")}
        place.call("view", "out", "--out", "picture.png", **given)  # type: ignore[arg-type]
        if not (place.folder / "picture.png").read_bytes().startswith(b"\x89PNG"):
            raise Fault("no picture")
        (place.folder / "picture.png").unlink()
    return "three pictures"


CLOCK = """
import itertools, random, time
real, jumps = time.time, itertools.cycle((0, -4e8, 3e7, 5e8, -86400))
time.time = lambda: max(0.0, real() + {jump})
"""


def clock(place: Place) -> str:
    """A clock that jumps by years at every look; for a sweep, one that jumps every 20 s."""
    (place.folder / "site").mkdir()
    own = place.folder / "site" / "sitecustomize.py"
    more = {"PYTHONPATH": str(place.folder / "site")}
    own.write_text(CLOCK.format(jump="next(jumps)"))
    place.call(*RUN, **more)
    place.whole(place.folder / "out")
    own.write_text(CLOCK.format(jump="[0, -4e8, 3e7][int(time.monotonic() / 20) % 3]"))
    words = ("--plates", "2, 3", "--method", "beam", "--workers", "1", "--out", "swept")
    place.call("sweep", "small.toml", *words, **more)
    if len((place.folder / "swept" / "sweep.csv").read_text("utf-8").splitlines()) != 4:
        raise Fault("rows are missing")
    return "solved and swept"


def deleted(place: Place) -> str:
    """Results that are deleted again and again while they are looked at."""
    place.call(*RUN)
    shutil.copytree(place.folder / "out", place.folder / "kept")
    over = threading.Event()

    def disturb() -> None:
        while not over.is_set():
            shutil.rmtree(place.folder / "out", ignore_errors=True)
            time.sleep(0.4)
            with suppress(OSError):
                shutil.copytree(place.folder / "kept", place.folder / "out")
            time.sleep(0.6)

    thread = threading.Thread(target=disturb)
    thread.start()
    try:
        codes = [
            place.call(*words, codes=(0, 2, 3)).code
            for words in (("view", "out", "--out", "v.png"), ("proof", "out"), ("report", "out"))
            for _ in range(2)
        ]
    finally:
        over.set()
        thread.join()
    return f"exit codes {codes}, each in words"


def two_at_once(place: Place) -> str:
    """Runs of one case into one place at the same time, of two different thicknesses."""
    (place.folder / "thick.toml").write_text((SMALL + COARSE).replace("2 x 50 mm", "2 x 60 mm"))
    alone = {}
    for name in ("small.toml", "thick.toml"):
        place.call("solve", name, "--out", "alone")
        alone[name] = _numbers(place.folder / "alone")
    for _ in range(2):
        started = [
            place.start("solve", name, "--out", "out") for name in ("small.toml", "thick.toml") * 2
        ]
        for process in started:
            place.finish(process)
        place.whole(place.folder / "out")
        if _numbers(place.folder / "out") not in alone.values():
            raise Fault("other numbers than when alone")
    if hidden := [f.name for f in place.folder.glob(".*")]:
        raise Fault(f"left behind: {hidden}")
    return "eight runs, four at a time: each ended well, the last is whole and as when alone"


def _numbers(out: Path) -> tuple[float, ...]:
    data = json.loads((out / "summary.json").read_text("utf-8"))
    return tuple(
        data[stack][name]["value"]
        for stack in ("crosshead", "bed")
        for name in ("mid_span_deflection", "peak_von_mises", "mass")
    )


def earlier_version(place: Place) -> str:
    """Results that lack what was added since are read, those of another layout refused, by all."""
    (place.folder / "small.toml").write_text(SMALL.replace("[rods]\n", "[rods]\n" + SEAT) + COARSE)
    place.call(*RUN)
    file = place.folder / "out" / "summary.json"
    data = json.loads(file.read_text("utf-8"))
    schema = Summary.model_json_schema()
    file.write_text(json.dumps(_required(data, schema, schema["$defs"])))
    for words in (("view", "out", "--out", "view.png"), ("report", "out"), ("proof", "out")):
        place.call(*words)
    said = set()
    for version in (0, None):
        file.write_text(json.dumps({**data, "schema_version": version}))
        for command in ("view", "report", "proof"):
            said.add(place.call(command, "out", codes=(2,)).err.strip())
    if not all("version" in words and "run the case again" in words for words in said):
        raise Fault(str(said))
    return f"read without what may be absent; else: {sorted(said)[0]}"


def _required(value: Any, schema: dict[str, Any], kinds: dict[str, Any]) -> Any:
    """Data without the entries that a schema does not require."""
    if "$ref" in schema:
        schema = kinds[schema["$ref"].rpartition("/")[2]]
    if choices := schema.get("anyOf"):
        schema = next((one for one in choices if "$ref" in one or "items" in one), {})
        return _required(value, schema, kinds) if value is not None and schema else value
    if isinstance(value, list) and "items" in schema:
        return [_required(entry, schema["items"], kinds) for entry in value]
    if not isinstance(value, dict):
        return value
    named, others = schema.get("properties", {}), schema.get("additionalProperties")
    return {
        key: _required(entry, named.get(key, others or {}), kinds)
        for key, entry in value.items()
        if key not in named or key in schema.get("required", ()) or key == "schema_version"
    }


SITUATIONS: dict[str, Callable[[Place], str]] = {
    "full disk": full_disk, "largest file": largest_file, "read only": read_only,
    "no home": no_home, "locale": locale, "names": names, "line ends": lines, "screen": screen,
    "clock": clock, "deleted": deleted, "two at once": two_at_once,
    "earlier version": earlier_version,
}  # fmt: skip


def tried(name: str) -> tuple[str, str]:
    """Try a situation: ``held``, ``fault`` or ``not tried``, and words."""
    with tempfile.TemporaryDirectory(prefix="surroundings-") as folder:
        try:
            return "held", SITUATIONS[name](Place(Path(folder)))
        except Skipped as reason:
            return "not tried", str(reason)
        except Fault as fault:
            return "fault", str(fault)
        except subprocess.TimeoutExpired:
            return "fault", f"more than {LIMIT} s"


def main() -> int:
    """Print what came of each situation; 1 if there was a fault."""
    faults = 0
    for name in sys.argv[1:] or SITUATIONS:
        started = time.monotonic()
        verdict, words = tried(name)
        faults += verdict == "fault"
        print(f"{name:16} {verdict:9} {time.monotonic() - started:5.0f} s  {words}", flush=True)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
