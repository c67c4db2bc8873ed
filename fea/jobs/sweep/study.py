"""Thousands of options of one press, on the cores of this machine or on a cluster.

Every finished option is a row in a database, kept under a key of all that it depends on. What was
computed once is not computed again: an interrupted sweep goes on where it stopped, a larger one
takes over the rows of a smaller one.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from platestack.fea.jobs.options.evaluation import Row
from platestack.fea.jobs.options.variation import Option
from platestack.fea.jobs.options.writing import figure_units
from platestack.fea.jobs.sweep import cluster, keys
from platestack.fea.jobs.sweep.jobs import SweepJob, work
from platestack.fea.jobs.sweep.store import Store
from platestack.fea.support import digest, result_files, scratch
from platestack.geometry import cells
from platestack.geometry.errors import PlatestackError
from platestack.geometry.schema import Case
from platestack.geometry.units import in_columns, system

Tell = Callable[[int, int, Row | None], None]
"""Called with the number of options known, of all, and the newest; at the start with none."""


@dataclass(frozen=True)
class Sweep:
    """A finished sweep: a row for each option, in their order."""

    rows: tuple[Row, ...]
    computed: int
    """Rows that were not known before."""

    @property
    def failed(self) -> int:
        """Rows that only hold a reason."""
        return sum(row.state == "failed" for row in self.rows)


def sweep(
    case: Case,
    chosen: Sequence[Option],
    store: Store,
    tell: Tell,
    *,
    method: str = "full",
    scheduler: str | None = None,
    workers: int | None = None,
) -> Sweep:
    """Evaluate what the store does not know yet, and read all rows from it.

    Parameters
    ----------
    method : str
        One of `fea.jobs.options.variation.METHODS`.
    scheduler : str, optional
        Address of a running dask scheduler; without it, processes of this machine are started.
    workers : int, optional
        How many of them; by default one for each core.

    Raises
    ------
    UsageError
        If nobody answers at `scheduler`.
    PlatestackError
        If the cluster is lost or runs other code, or a row cannot be written. Rows that are
        written stay.
    """
    code = digest.code()
    asked = {keys.key(case, one, method, code): one for one in chosen}
    known = store.known(asked)
    jobs = {
        key: SweepJob(case, one, method, code) for key, one in asked.items() if key not in known
    }
    done = len(asked) - len(jobs)
    tell(done, len(asked), None)
    if jobs:
        with cluster.connected(scheduler, min(workers or cluster.cores(), len(jobs))) as found:
            for key, row in cluster.results(found, work, jobs):
                if row is None:
                    row = Row(asked[key].label, "failed", cluster.LOST)
                store.add(key, row, method, code)
                done += 1
                tell(done, len(asked), row)
    rows = store.rows(asked)
    missing = [asked[key].label for key in asked if key not in rows]
    if missing:
        raise PlatestackError(
            f"{store.path}: {len(missing)} rows have gone since they were written ({missing[0]}); "
            "start the sweep again"
        )
    return Sweep(tuple(rows[key] for key in asked), len(jobs))


def export(found: Sweep, path: Path) -> None:
    """Write all rows as CSV; the file appears whole or not at all.

    SI, with names alone in the head; in other units as wished, which the head names.

    Raises
    ------
    PlatestackError
        If it cannot be written.
    """
    data = [row.flat() for row in found.rows]
    try:
        with scratch.file(path) as made, made.open("w", newline="", encoding="utf-8") as file:
            file.write(result_files.csv_head("sweep"))
            rows = in_columns({} if system() == "SI" else figure_units(data[0], ""), data)
            csv.writer(file).writerows([cells.plain(cell) for cell in row] for row in rows)
    except OSError as error:
        raise PlatestackError(f"{path}: cannot be written: {error.strerror or error}") from error
