"""The terminal: standard output and error for tables, progress, notes."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.text import Text

from platestack.fea.app.console.streams import COMMANDS, lead_nowhere
from platestack.geometry.errors import PlatestackError

if TYPE_CHECKING:  # importing the numerics would make every command slow to start
    from platestack.fea.solid.stack import Report

WIDTH = 100
"""Columns where the output goes to a file or a pipe; a terminal says how wide it is."""


class _Plain(Console):
    """Shows texts of files, whose keys and names may hold anything, and lets none of them act.

    Nobody has to read to the end.
    """

    def render_str(self, text: str, **how: Any) -> Text:
        """Called for each text, of tables too."""
        return super().render_str(COMMANDS.sub("\N{REPLACEMENT CHARACTER}", text), **how)

    def on_broken_pipe(self) -> None:
        """Go on in silence, so that results and exit code become what they would have been."""
        self.quiet = True
        lead_nowhere(self.file)

    def print(self, *objects: Any, **how: Any) -> None:
        """Print as always. Raises `PlatestackError` where there is no room for it."""
        try:
            super().print(*objects, **how)
        except OSError as error:
            raise PlatestackError(f"cannot write the output: {error.strerror or error}") from None


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
