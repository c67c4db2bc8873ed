"""The command line: parse, call, print. One module here holds one command, or a few alike.

Exit codes: 0 done, 1 done but a limit is exceeded, 2 bad input, 3 the computation could not be
completed, 130 interrupted (143 by SIGTERM, 129 by SIGHUP).
"""

from __future__ import annotations

import errno
import functools
import io
import math
import os
import signal
import sys
import threading
import time
import warnings
from collections.abc import Callable
from types import FrameType
from typing import Any, NoReturn

import platestack.fea.app.cli.startup
from platestack.fea.app import console
from platestack.fea.app.cli.app import Stopped, app
from platestack.fea.support.signals import STOPPING
from platestack.geometry.errors import PlatestackError, UsageError

SIGNAL_DEBOUNCE_S = 1.0
"""Seconds after a signal in which more of them do nothing: what is unfinished is being removed."""

MOMENT = 0.01
"""Seconds until a stop is tried again that came where nothing can be raised."""


def main() -> None:
    """Run the command line and leave with its exit code."""
    signals = [number for number in STOPPING if not _as_nohup_has_it(number)]
    for number in signals:
        signal.signal(number, _stop)
    hook = sys.unraisablehook
    sys.unraisablehook = functools.partial(_unraisable, hook)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a terminal that knows neither ± nor Ü gets "?"
            stream.reconfigure(errors="replace")
    # What a font lacks is a box in the picture, as it is in most programs.
    warnings.filterwarnings("ignore", "Glyph .* missing from")
    try:
        _check_address_space()
        _check_environment()
        app(standalone_mode=True)
    except PlatestackError as error:
        console.print_error(str(error))
        sys.exit(error.exit_code)
    except Stopped as stopped:
        _leave_interrupted(stopped.number)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:
        if Stopped.wished is not None:  # a library made another error of it
            _leave_interrupted(Stopped.wished)
        usage = getattr(error.__context__, "exit_code", None)
        if isinstance(error, OSError) and usage is not None:  # and no room to say what is wrong
            sys.exit(usage)
        console.print_error(f"{_words(error)}; no results are left half-written")
        sys.exit(PlatestackError.exit_code)
    finally:
        for number in signals:
            signal.signal(number, _end)
        sys.unraisablehook = hook
        console.drop_unwritten()


def _as_nohup_has_it(number: signal.Signals) -> bool:
    return number.name == "SIGHUP" and signal.getsignal(number) == signal.SIG_IGN


def _leave_interrupted(number: int) -> NoReturn:
    console.print_error("interrupted; no results are left half-written")
    sys.exit(128 + number)


def _check_environment() -> None:
    """Set or refuse what makes libraries fail while they load, or every path.

    Raises
    ------
    UsageError
        If one of the settings cannot be worked with.
    """
    try:
        os.getcwd()
    except OSError as error:
        raise UsageError(
            f"the working directory: {error.strerror}; allowed: a directory that exists"
        ) from None
    os.environ["MPLBACKEND"] = "agg"  # pictures go to files, whatever else is drawn on here
    os.environ["PYDANTIC_DISABLE_PLUGINS"] = "__all__"  # to look for them opens every package
    given = os.environ.get("NUMBA_NUM_THREADS", "1")
    if not (given.isascii() and given.isdigit() and int(given) > 0):
        raise UsageError(f'NUMBA_NUM_THREADS: given "{given:.60}"; allowed: a number from 1 on')
    if sys.flags.optimize > 1:
        raise UsageError("PYTHONOPTIMIZE: given 2, or -OO; allowed: up to 1, as libraries read "
                         "their own documentation")  # fmt: skip


def _check_address_space() -> None:
    """Refuse a limit (`ulimit -v`) within which the libraries would crash while they load.

    Measured: 0.54 GB on one thread, 0.8 GB on two.
    """
    try:
        import resource
    except ImportError:  # Windows
        return
    soft, _ = resource.getrlimit(resource.RLIMIT_AS)
    needed = 0.6e9 + 0.15e9 * (os.cpu_count() or 1)
    if soft != resource.RLIM_INFINITY and soft < needed:
        raise PlatestackError(
            f"the process may have {soft / 1e9:.2f} GB of memory (ulimit -v), which is too little "
            f"for the libraries alone; allowed: at least {needed / 1e9:.2f} GB"
        )


def _stop(number: int, _: FrameType | None) -> None:
    before, Stopped.at = Stopped.at, time.monotonic()
    if Stopped.at - before < SIGNAL_DEBOUNCE_S:
        return
    Stopped.wished = number
    raise Stopped(number)


def _unraisable(hook: Callable[[Any], Any], unraisable: sys.UnraisableHookArgs) -> None:
    """Where nothing can be raised, as in the callback of a weak reference, stop a moment later."""
    if isinstance(unraisable.exc_value, Stopped):
        Stopped.at = -math.inf
        number = unraisable.exc_value.number
        threading.Timer(MOMENT, signal.raise_signal, [number]).start()
    else:
        hook(unraisable)


def _end(number: int, _: FrameType | None) -> None:
    os._exit(128 + number)  # all is done and said: the interpreter need not tidy up


def _words(error: Exception) -> str:
    """What to say of an error that nobody foresaw; memory may be refused to a library's loader."""
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"cannot write the output: {error.strerror}"
    refused = "failed to map segment", "cannot allocate memory"
    if isinstance(error, MemoryError) or any(w in str(error).lower() for w in refused):
        return (
            "the memory ran out: lower mesh.most_unknowns, give a larger mesh.size, or give more "
            "memory"
        )
    return (
        f"unexpected fault in platestack: {type(error).__name__}: {error}; the details are in "
        f"{_keep_details()}"
    )


def _keep_details() -> str:
    """Write the traceback of the current fault to a file of its own; its path."""
    import tempfile
    import traceback

    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="platestack-fault-", suffix=".txt", delete=False, encoding="utf-8",
            errors="replace",
        ) as file:  # fmt: skip
            file.write(traceback.format_exc())
    except OSError as error:
        return f"no file ({error.strerror})"
    return file.name
