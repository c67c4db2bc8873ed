"""The application that commands register with, and what they share."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, ClassVar

import typer

from fea import console

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Check a one-off hydraulic press built from stacks of thick plates and tie rods.",
)
CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).")]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Results directory; default results/<case name>."),
]


def place(out: Path | None, case: Path, kind: str = "") -> Path:
    """Where results go: as the user says, or results/<case name>."""
    return out if out is not None else Path("results") / f"{case.stem}{kind}"


def _explain(wished: bool) -> None:
    from fea import logbook

    if wished:
        logbook.show()


Verbose = Annotated[
    bool,
    typer.Option(
        "--verbose",
        callback=_explain,
        help="Explain on standard error what is decided and why, with time and memory.",
    ),
]


@contextmanager
def progress(steps: int) -> Iterator[Callable[[str], None]]:
    """Show progress; a wish to stop that some library swallowed is heard at the next step."""
    with console.progress(steps) as report:

        def watched(step: str) -> None:
            if Stopped.wished is not None:
                raise Stopped(Stopped.wished)
            report(step)

        yield watched


class Stopped(BaseException):
    """The user or the system wants the program to end; unwinds, so that nothing half-done stays."""

    wished: ClassVar[int | None] = None
    """The last signal received."""

    def __init__(self, number: int):
        self.number = number
