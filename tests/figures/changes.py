"""Whether "what to change" holds: ``python -m tests.figures.changes FILE [COUNT]``.

Presses drawn at random are solved on coarse meshes. For each limit that one exceeds, the change
that is proposed is made and the changed press solved: does the limit hold then? FILE keeps a line
of JSON for each press, so that a second call goes on where the first ended. Printed are limits
without a proposal, and proposals that do not hold. It ends with 1 where fewer than 90 % of the
proposals hold.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from platestack.fea.checks import all_checks
from platestack.fea.jobs.changes import changes
from platestack.fea.jobs.quick import key
from platestack.geometry.errors import PlatestackError
from tests.figures.drawn_presses import Draw
from tests.figures.quick import solved, uses

COUNT, LEAST_HELD = 40, 0.9


def tried(seed: int) -> dict[str, Any] | None:
    """A drawn press that exceeds a limit: what is proposed for each, and the use then."""
    try:
        before = solved(Draw(seed).press())
    except PlatestackError as error:
        return {"seed": seed, "refused": str(error)}
    checks = list(all_checks(before))
    exceeded = {key(c.name): c.utilisation for c in checks if c.utilisation > 1}
    if not exceeded:
        return None
    made = []
    for change in changes(before.case, before.press, checks):
        about = key(change.check)
        try:
            use = uses(solved(change.case)).get(about, 0.0)
        except PlatestackError as error:
            made.append([about, change.words, None, str(error)])
        else:
            made.append([about, change.words, use, ""])
    return {"seed": seed, "exceeded": exceeded, "changes": made}


def main(file: Path, count: int = COUNT) -> int:
    """Try drawn presses until so many exceeded a limit; print what holds."""
    lines = file.read_text("utf-8").splitlines() if file.exists() else []
    rows = {row["seed"]: row for row in map(json.loads, lines)}
    seed = max(rows, default=-1) + 1
    while sum("changes" in row for row in rows.values()) < count:
        row = tried(seed) or {"seed": seed}
        rows[seed] = row
        with file.open("a", encoding="utf-8") as out:
            out.write(json.dumps(row) + "\n")
        seed += 1
    return table([row for row in rows.values() if "changes" in row])


def table(rows: list[dict[str, Any]]) -> int:
    """Print limits without a proposal, proposals that do not hold, and the shares."""
    proposed = held = without = 0
    for row in rows:
        named = {about for about, *_ in row["changes"]}
        for about, use in row["exceeded"].items():
            if about not in named:
                without += 1
                print(f"press {row['seed']}: {about} at {use:.2f}: no single value")
        for about, words, use, error in row["changes"]:
            proposed += 1
            if use is not None and use <= 1:
                held += 1
            else:
                after = error or f"{use:.3f}"
                print(f"press {row['seed']}: {about}, {words}: {after}")
    print(f"{len(rows)} presses; {held} of {proposed} proposals hold; "
          f"{without} limits without one")  # fmt: skip
    return int(held < LEAST_HELD * proposed)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), *map(int, sys.argv[2:3])))
