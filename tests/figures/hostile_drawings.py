"""Damaged and odd drawings as outlines: ``python -m tests.figures.hostile_drawings --count 2000``.

Sound drawings of a plate are damaged at random (bytes, lines, numbers, tags), or drawn oddly:
crossing itself, open, branching, tiny, huge, in other units, with text, blocks within blocks and
blocks within themselves, with very many entities. Each is read as a case's outline, in a process
with little memory. It is refused in one line, or gives a plate; anything else is a fault.
"""

from __future__ import annotations

import argparse
import math
import random
import re
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf

from platestack.geometry import case as case_file
from platestack.geometry.errors import CaseError

SMALL = Path(__file__).parents[2] / "cases" / "small" / "small.toml"
MEMORY, PATIENCE = 3 * 2**30, 20
"""Bytes, and seconds for one drawing."""
Space = Any
"""Where ezdxf puts entities."""


def plate(space: Space, rng: random.Random) -> None:
    """A plate of lines, arcs and a spline, with an opening."""
    a, b, r = rng.uniform(215, 400), rng.uniform(90, 200), rng.uniform(10, 40)
    bulge = math.tan(math.pi / 8)
    space.add_lwpolyline(
        [(-a, -b), (a - r, -b, bulge), (a, r - b), (a, b), (-a + r, b)], format="xyb"
    )
    space.add_spline().set_open_uniform(
        [(-a + r, b), (-a + r / 3, b), (-a, b - r / 3), (-a, b - r)], degree=3)  # fmt: skip
    space.add_line((-a, b - r), (-a, -b))
    space.add_circle((rng.uniform(-60, 60), rng.uniform(-30, 30)), rng.uniform(5, 20))


def crossing(space: Space, rng: random.Random) -> None:
    """A polygon through random points."""
    points = [(rng.uniform(-300, 300), rng.uniform(-200, 200)) for _ in range(rng.randrange(3, 9))]
    space.add_lwpolyline(points, close=rng.random() < 0.8)


def branching(space: Space, rng: random.Random) -> None:
    """A plate with one more line from somewhere to somewhere on it."""
    plate(space, rng)
    ends = [p for line in space.query("LINE") for p in (line.dxf.start, line.dxf.end)]
    space.add_line(rng.choice(ends), (rng.uniform(-99, 99), 0))


def sized(space: Space, rng: random.Random) -> None:
    """A plate far too small or too large, or somewhere far off."""
    plate(space, rng)
    factor = 10 ** rng.uniform(-12, 12)
    away = rng.choice((0, 10 ** rng.uniform(0, 300)))
    for entity in list(space):
        try:
            entity.scale_uniform(factor).translate(away, 0, 0)
        except (OverflowError, ValueError, ezdxf.DXFError):
            space.delete_entity(entity)


def in_blocks(space: Space, rng: random.Random) -> None:
    """Blocks within blocks, some within themselves."""
    document, depth = space.doc, rng.randrange(1, 12)
    for level in range(depth):
        block = document.blocks.new(f"level {level}")
        for _ in range(rng.choice((1, 1, 1, 8))):
            if level:
                block.add_blockref(f"level {level - 1}", (0, 0))
    plate(document.blocks.get("level 0"), rng)
    if rng.random() < 0.5:
        document.blocks.get("level 0").add_blockref(f"level {depth - 1}", (0, 0))
    space.add_blockref(f"level {depth - 1}", (0, 0), {"rotation": rng.choice((0, 0, 30, 1e9))})


def crowded(space: Space, rng: random.Random) -> None:
    """Very many entities, or a polyline of very many edges."""
    count = rng.choice((3_000, 20_000))
    turn = 2 * math.pi / count
    points = [(250 * math.cos(k * turn), 150 * math.sin(k * turn)) for k in range(count)]
    if rng.random() < 0.5:
        space.add_lwpolyline(points, close=True)
    else:
        for start, end in zip(points, points[1:] + points[:1], strict=True):
            space.add_line(start, end)


def strange(space: Space, rng: random.Random) -> None:
    """Entities that are no edges, flat things that stand in space, numbers that are none."""
    plate(space, rng)
    kind = rng.randrange(5)
    if kind == 0:
        space.add_3dface([(0, 0), (1, 0), (1, 1)])
    elif kind == 1:
        space.add_mtext("cut here\\P" * 50)
    elif kind == 2:
        space.add_circle((0, 0, 9), 300, {"extrusion": (0, rng.choice((0, 1)), -1)})
    elif kind == 3:
        space.add_ellipse((0, 0), (rng.choice((0.0, math.inf, math.nan, 30.0)), 0), 1e-9)
    else:
        space.add_arc((0, 0), rng.choice((0.0, -5.0, math.nan)), 0, 360)


KINDS: dict[str, Callable[[Space, random.Random], None]] = {
    "sound": plate, "crossing": crossing, "branching": branching, "sized": sized,
    "in blocks": in_blocks, "crowded": crowded, "strange": strange,
}  # fmt: skip


def damaged(text: str, rng: random.Random) -> bytes:
    """A drawing's file with some of it changed."""
    data = text.encode()
    how = rng.randrange(5)
    if how == 0:
        return data[: rng.randrange(len(data))]
    if how == 1:
        spoilt = bytearray(data)
        for _ in range(rng.randrange(1, 60)):
            spoilt[rng.randrange(len(spoilt))] = rng.randrange(256)
        return bytes(spoilt)
    lines = text.splitlines()
    for _ in range(rng.randrange(1, 30)):
        at = rng.randrange(len(lines))
        if how == 2:
            del lines[at]
        elif how == 3:
            lines[at] = rng.choice(lines)
        elif re.fullmatch(r"\s*-?[\d.]+\s*", lines[at]):
            lines[at] = rng.choice(("nan", "inf", "1e308", "-1", "0", "99999999999", "x", ""))
    return "\n".join(lines).encode()


def drawn(path: Path, rng: random.Random) -> str:
    """Write a drawing; what kind it is."""
    name = rng.choice(
        [*KINDS, "sound"] if rng.random() < 0.1 else [k for k in KINDS if k != "crowded"]
    )
    document = ezdxf.new(
        rng.choice(("R2000", "R2010", "R2018")), units=rng.choice((4,) * 8 + (0, 1, 6, 13))
    )
    space = document.modelspace()
    try:
        KINDS[name](space, rng)
        document.saveas(path)
    except (ezdxf.DXFError, ValueError, TypeError, AttributeError):  # the library will not draw it
        path.write_bytes(b"")
        return name
    if rng.random() < 0.6:
        path.write_bytes(damaged(path.read_text("utf-8", "ignore"), rng))
        return f"{name}, damaged"
    return name


def verdict(folder: Path) -> str:
    """What comes of a drawing: "plate", "refused", or a fault in words."""

    def late(*_: object) -> None:
        raise TimeoutError

    signal.signal(signal.SIGALRM, late)
    signal.alarm(PATIENCE)
    try:
        case_file.read(folder / "press.toml")
    except CaseError as error:
        lines = str(error).splitlines()
        whole = all(len(line) < 600 and line.isprintable() for line in lines)
        return "refused" if lines and whole else f"FAULT: said as {lines[:2]}"
    except TimeoutError:
        return f"FAULT: no end within {PATIENCE} s"
    except MemoryError:
        return "FAULT: memory"
    except Exception as error:  # what this looks for
        return f"FAULT: {type(error).__name__}: {str(error)[:100]}"
    finally:
        signal.alarm(0)
    return "plate"


def tried(count: int, seed: int) -> Counter[tuple[str, str]]:
    """How many of each kind came to what."""
    found: Counter[tuple[str, str]] = Counter()
    head, bed = SMALL.read_text("utf-8").split("[bed]\n")
    rest = "\n".join(s for s in bed.splitlines() if not s.startswith(("length", "width")))
    with tempfile.TemporaryDirectory(prefix="drawings-") as name:
        folder = Path(name)
        outline = 'outline = { file = "bed.dxf" }'
        (folder / "press.toml").write_text(f"{head}[bed]\n{outline}\n{rest}\n", "utf-8")
        for number in range(count):
            rng = random.Random(f"{seed} {number}")
            kind = drawn(folder / "bed.dxf", rng)
            begun = time.monotonic()
            said = verdict(folder)
            if said.startswith("FAULT") or time.monotonic() - begun > PATIENCE / 2:
                print(f"{number} {kind}: {said}, {time.monotonic() - begun:.1f} s", flush=True)
            found[kind, said.split(":")[0]] += 1
    return found


def main() -> int:
    """Print the table; 1 where there is a fault."""
    options = argparse.ArgumentParser(description=str(__doc__).split("\n", 1)[0])
    options.add_argument("--count", type=int, default=2000)
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    found = tried(given.count, given.seed)
    print("| drawing | plate | refused | fault |\n| --- | ---: | ---: | ---: |")
    for kind in sorted({kind for kind, _ in found}):
        row = [found[kind, said] for said in ("plate", "refused", "FAULT")]
        print(f"| {kind} | {' | '.join(map(str, row))} |")
    return int(any(said == "FAULT" for _, said in found))


if __name__ == "__main__":
    sys.exit(main())
