"""Compiled kernels on several threads.

Kernels are plain numba functions that release the interpreter's lock and work on a range of rows
`start, stop`; here they are given to a pool of threads. That compiles several times faster than
numba's own parallel loops and is safe to call from several threads.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from typing import Any

import numba
import numpy as np
import numpy.typing as npt

Ranges = tuple[tuple[int, int], ...]

SHORT = 5000
"""Work on fewer entries than this is not worth a second thread (its hand-over takes 50 us)."""

BLOCK = 1024
"""Entries that are added up by one thread: sums come out the same whatever the threads."""

_pool: ThreadPoolExecutor | None = None


def kernel(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile `function` at its first call; the machine code is kept on disk where there is room.

    Neither beside the sources nor in the user's directory may be written to: then it is compiled
    anew in each process.
    """
    settings = {"nogil": True, "fastmath": True, "error_model": "numpy", "boundscheck": False}
    try:
        compiled: Callable[..., Any] = numba.njit(cache=True, **settings)(function)
    except RuntimeError as error:
        if "no locator available" not in str(error):
            raise
        compiled = numba.njit(**settings)(function)
    return compiled


def threads() -> int:
    """Threads in use: the cores this process may run on, or NUMBA_NUM_THREADS."""
    return int(numba.config.NUMBA_NUM_THREADS)


def ranges(indptr: npt.NDArray[np.int32]) -> Ranges:
    """Split rows into ranges of about equal numbers of entries, one a thread; one if few."""
    parts = threads() if indptr[-1] > SHORT else 1
    wanted = np.linspace(0, indptr[-1], parts + 1)[1:-1]
    cuts = [0, *np.searchsorted(indptr, wanted).tolist(), len(indptr) - 1]
    return tuple((a, b) for a, b in pairwise(cuts) if b > a)


def even(count: int) -> Ranges:
    """Split `count` rows into ranges of about equal length, one a thread; one range if short.

    The ranges are whole blocks.
    """
    parts = threads() if count > SHORT else 1
    wanted = np.linspace(0, count, parts + 1)[1:-1]
    cuts = [0, *(BLOCK * np.rint(wanted / BLOCK).astype(int)).tolist(), count]
    return tuple((a, b) for a, b in pairwise(cuts) if b > a)


def run(function: Callable[..., Any], rows: Ranges, *args: Any) -> list[Any]:
    """Results of ``function(start, stop, *args)`` for each range, from the pool of threads."""
    global _pool
    if not rows:
        return []
    if len(rows) > 1 and _pool is None:
        _pool = ThreadPoolExecutor(threads(), thread_name_prefix="rows")
    # The calling thread takes the last range, so that one hand-over is saved.
    others = [_pool.submit(function, a, b, *args) for a, b in rows[:-1]] if _pool else []
    last = function(*rows[-1], *args)
    return [*(other.result() for other in others), last]


def total(function: Callable[..., Any], rows: Ranges, *args: Any) -> float:
    """Sum over all blocks of what ``function(start, stop, *args, sums)`` puts into ``sums``.

    It leaves the sum over each block of its rows in the block's place.
    """
    sums = np.zeros(-(-rows[-1][1] // BLOCK) if rows else 0)
    run(function, rows, *args, sums)
    return float(sums.sum())


def _forget_pool() -> None:
    global _pool
    _pool = None


# A forked child inherits the pool's object without its threads.
os.register_at_fork(after_in_child=_forget_pool)
