"""Work shared out with dask: to processes of this machine, or to a cluster that runs already.

A worker that dies loses nothing: what it was doing is done again. An option that kills its worker
again and again is given up. Because whatever else was waiting on that worker is under suspicion as
well, an option is given up only after it was alone on the cluster.
"""

from __future__ import annotations

import logging
import os
import tempfile
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from platestack.fea.jobs.sweep.workers import Workers
from platestack.fea.support import scratch
from platestack.geometry.errors import PlatestackError, UsageError

if TYPE_CHECKING:  # imported where it is needed: it takes half a second
    from distributed import Client, Future, LocalCluster, as_completed

J = TypeVar("J")
R = TypeVar("R")

DEATHS = 3
"""Workers that one option may cost; a running cluster counts in steps of its own setting."""
LOST = (
    f"its worker process died, {DEATHS} times or more, at the last when nothing else was running; "
    "often memory is short"
)
WAIT = 10
"""Seconds in which a scheduler must answer."""

STARTS = 3
"""Attempts to start a cluster here: dask's time limits go by a clock that somebody may set."""

_LOOK = 0.01
_SETTINGS = {"distributed.scheduler.allowed-failures": 0}  # deaths are counted here


@dataclass(frozen=True)
class Cluster:
    """A way to a scheduler, and why its workers do not start, if so."""

    client: Client
    fault: Callable[[], str] = str


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0))


def reach(scheduler: str) -> None:
    """Ask whether somebody who speaks dask answers at an address.

    A `Client` that finds nobody leaves threads behind that complain; hence this first.

    Raises
    ------
    UsageError
        If not.
    """
    import asyncio
    from concurrent.futures import ThreadPoolExecutor

    from distributed.comm import connect
    from distributed.security import Security

    async def call() -> None:
        arguments = Security().get_connection_args("client")
        (await connect(scheduler, timeout=WAIT, **arguments)).abort()

    try:
        with ThreadPoolExecutor(1) as own:  # where this thread runs an event loop, as notebooks do
            own.submit(lambda: asyncio.run(call())).result()
    except (OSError, ValueError, ImportError, RuntimeError, AttributeError) as error:
        reason = " ".join(str(error).split()) or type(error).__name__
        raise UsageError(
            f'--scheduler: given "{scheduler}"; nobody answers there ({reason}); allowed: the '
            'address of a running dask scheduler, such as "tcp://127.0.0.1:8786"'
        ) from None


@contextmanager
def connected(scheduler: str | None, workers: int) -> Iterator[Cluster]:
    """Connect to a scheduler, or start processes here: `workers` of them, one thread in each.

    Raises
    ------
    UsageError
        If nobody answers at `scheduler`.
    PlatestackError
        If processes cannot be started here.
    """
    import dask
    from distributed import Client

    for name in [
        name for name in logging.root.manager.loggerDict if name.startswith("distributed")
    ]:
        logging.getLogger(name).setLevel(logging.CRITICAL)  # what matters is told in words
    if scheduler is not None:
        reach(scheduler)
        with Client(scheduler, timeout=WAIT, set_as_default=False) as client:
            yield Cluster(client)
        return
    with (
        scratch.directory("platestack-sweep-", Path(tempfile.gettempdir())) as place,
        dask.config.set(_SETTINGS),
        _started() as here,
        Client(here, set_as_default=False) as client,
    ):
        started = Workers(here.scheduler_address, workers, place)
        try:
            yield Cluster(client, lambda: started.fault)
        finally:
            started.close()


def _started() -> LocalCluster:
    """A scheduler in this process, without workers."""
    from distributed import LocalCluster

    for _ in range(STARTS):
        try:
            return LocalCluster(
                n_workers=0,
                host="127.0.0.1",
                dashboard_address=None,
                scheduler_kwargs={"dashboard": False, "dashboard_address": "127.0.0.1:0"},
                silence_logs=logging.CRITICAL,
            )
        except (OSError, RuntimeError) as error:
            reason = " ".join(str(error).split())
    raise PlatestackError(f"no sweep can be started on this machine ({reason}); try again")


def results(
    cluster: Cluster, work: Callable[[J], R], jobs: Mapping[str, J]
) -> Iterator[tuple[str, R | None]]:
    """Yield key and result of each job as it is done; None where it killed its workers.

    Raises
    ------
    PlatestackError
        If `work` raises, or the cluster is lost.
    """
    run = _Run(cluster, work, jobs)
    crowd = run.watch(jobs)
    alone = []
    while not crowd.is_empty():
        key, future, result = run.next(crowd)
        if run.survived(key, future, result):
            yield key, result
        elif run.deaths[key] < DEATHS - 1:
            crowd.update(run.start([key]))
        else:
            alone.append(key)
    for key in alone:
        while True:
            _, future, result = run.next(run.watch([key]))
            if run.survived(key, future, result):
                yield key, result
                break
            if run.deaths[key] >= DEATHS:
                yield key, None
                break


class _Run:
    """Jobs on their way: which future belongs to which, and how many workers died of it."""

    def __init__(self, cluster: Cluster, work: Callable[[J], R], jobs: Mapping[str, J]):
        self.cluster, self.work, self.jobs = cluster, work, jobs
        self.client = cluster.client
        self.deaths: Counter[str] = Counter()
        self._names: dict[str, str] = {}

    def watch(self, keys: Iterable[str]) -> as_completed:
        """Send jobs off; futures and results as they are done."""
        from distributed import as_completed

        started = self.start(keys)
        return as_completed(started, loop=self.client.loop, with_results=True, raise_errors=False)

    def start(self, keys: Iterable[str]) -> list[Future]:
        """Send jobs off, each attempt under a name of its own."""
        names = {f"option-{uuid.uuid4().hex}": key for key in keys}
        self._names |= names
        given = [self.jobs[key] for key in names.values()]
        return list(self.client.map(self.work, given, key=list(names), pure=False))

    def next(self, watched: as_completed) -> tuple[str, Future, Any]:
        """Wait for one of several jobs: its key, future and result."""
        while not watched.has_ready():
            if fault := self.cluster.fault():
                raise PlatestackError(
                    f"worker processes do not start ({fault}); rows that are written stay"
                )
            time.sleep(_LOOK)
        future, result = next(watched)
        return self._names[str(future.key)], future, result

    def survived(self, key: str, future: Future, result: Any) -> bool:
        """Whether a job gave a result; a dead worker is counted, all else raised."""
        from distributed import KilledWorker

        # Lost, or on its way again: the worker that held the result died after it came here.
        if future.status not in ("error", "cancelled"):
            return True
        error = result[1] if isinstance(result, tuple) else result
        if isinstance(error, KilledWorker):
            self.deaths[key] += error.allowed_failures + 1
            return False
        if isinstance(error, PlatestackError):
            raise error
        reason = f"{type(error).__name__}: {error}" if isinstance(error, BaseException) else ""
        raise PlatestackError(
            f"the cluster did not do an option ({reason or future.status}); rows that are written "
            "stay; start the sweep again to go on"
        )
