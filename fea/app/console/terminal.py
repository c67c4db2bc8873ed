"""Where the words go: standard output and error, progress, notes, errors."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import IO, TYPE_CHECKING, Any

from rich.console import Console
from rich.text import Text

from platestack.geometry.errors import PlatestackError

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.solid.stack import Report

WIDTH = 100
"""Columns where the output goes to a file or a pipe; a terminal says how wide it is."""

_COMMANDS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters (ECMA-48), which terminals obey, and those that turn the way of reading."""


class _Plain(Console):
    """Shows texts of files, whose keys and names may hold anything, and lets none of them act.

    Nobody has to read to the end.
    """

    def render_str(self, text: str, **how: Any) -> Text:
        """Called for each text, of tables too."""
        return super().render_str(_COMMANDS.sub("\N{REPLACEMENT CHARACTER}", text), **how)

    def on_broken_pipe(self) -> None:
        """Go on in silence, so that results and exit code become what they would have been."""
        self.quiet = True
        _lead_nowhere(self.file)

    def print(self, *objects: Any, **how: Any) -> None:
        """Print as always. Raises `PlatestackError` where there is no room for it."""
        try:
            super().print(*objects, **how)
        except OSError as error:
            raise PlatestackError(f"cannot write the output: {error.strerror or error}") from None


def drop_unwritten() -> None:
    """Drop what standard streams hold and cannot write.

    Python would try again on the way out, and end with 120 and a traceback of its own.
    """
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            _lead_nowhere(stream)
        except ValueError:  # closed
            continue


def _lead_nowhere(stream: IO[str]) -> None:
    """Let a stream, with what it holds, write to the null device."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


out = _Plain(highlight=False, width=None if sys.stdout.isatty() else WIDTH)
errors = _Plain(stderr=True, highlight=False)


@contextmanager
def progress(steps: int) -> Iterator[Report]:
    """Show how far a job of so many steps is; yields what to call at each step's beginning."""
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(bar_width=30),
        TextColumn("{task.completed}/{task.total}"),
        TimeElapsedColumn(),
    )
    silent = not errors.is_terminal  # a file or a pipe has no use for it
    with Progress(*columns, console=errors, transient=True, disable=silent) as shown:
        task = shown.add_task("starting", total=steps)
        begun = False

        def report(step: str) -> None:
            nonlocal begun
            shown.update(task, description=step, advance=1 if begun else 0)
            begun = True

        yield report


def note(words: str) -> None:
    """Tell something before the results are there: above the bar of progress, if there is one."""
    (errors if errors.is_terminal else out).print(words, markup=False)


def print_error(message: str) -> None:
    """Print a message for the user, each line on its own; where nobody hears, the code tells."""
    with suppress(PlatestackError):
        for line in message.splitlines():
            errors.print(line, style="red", soft_wrap=True, markup=False)
