"""The application that commands register with, and what they share."""

from __future__ import annotations

import functools
import gc
import importlib
import inspect
import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

import typer
from typer.core import TyperGroup
from typer.main import get_command_from_info

import platestack
from platestack.geometry import units

if TYPE_CHECKING:
    from platestack.geometry.schema import Case

COMMANDS = {
    "new": "starting", "size": "sizing",
    "mesh": "running", "solve": "running", "run": "running",
    "view": "viewing", "report": "reporting",
    "compare": "comparing", "sensitivity": "sensing", "optimise": "optimising",
    "sweep": "sweeping", "offcentre": "offcentre",
    "draw": "drawing", "cut": "cutting", "buy": "buying",
    "assemble": "assembling", "tighten": "tightening", "proof": "proof",
    "page": "page", "tables": "viewing", "self-test": "selftest",
}  # fmt: skip
"""Modules of the commands, as the job goes, from an idea to the first pressing; then what serves
all of it."""


class _Commands(TyperGroup):
    """Imports the module of a command once it is typed: all of them take as long as numpy."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        for name in (cmd_name,) if cmd_name in COMMANDS else COMMANDS:
            if name not in self.commands:
                self.commands[name] = _command(name)
        return self.commands.get(cmd_name)


def _command(name: str) -> Any:
    """The command of this name, which its module registers with `app`."""
    importlib.import_module(f"platestack.fea.app.cli.{COMMANDS[name]}")
    return next(
        get_command_from_info(info, pretty_exceptions_short=False, rich_markup_mode=None)
        for info in app.registered_commands
        if info.callback and name in (info.name, info.callback.__name__)
    )


def _wished(name: str | None) -> str | None:
    """Show in the units that an option names, whatever the case says. Raises `UsageError`."""
    if name is not None:
        units.choose(units.named(name, "--units"), over_all=True)
    return name


Units = Annotated[
    str | None,
    typer.Option(
        "--units",
        metavar="SYSTEM",
        is_eager=True,
        callback=_wished,
        help="Units of all that is shown: SI, mm or US; default: those of the case. JSON stays SI.",
    ),
]


class _App(typer.Typer):
    """Gives every command the option that says in which units to show."""

    def command(self, *given: Any, **named: Any) -> Any:
        """Register a command, as typer does."""
        register = super().command(*given, **named)

        def registered(function: Callable[..., Any]) -> Callable[..., Any]:
            @functools.wraps(function)
            def called(*args: Any, units: str | None = None, **options: Any) -> Any:
                return function(*args, **options)

            own = inspect.signature(function, eval_str=True)
            option = inspect.Parameter(
                "units", inspect.Parameter.KEYWORD_ONLY, default=None, annotation=Units
            )
            parameters = [*own.parameters.values(), option]
            called.__signature__ = own.replace(parameters=parameters)  # type: ignore[attr-defined]
            called.__annotations__ = {p.name: p.annotation for p in parameters}
            register(called)
            return function

        return registered


app = _App(
    cls=_Commands,
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Check a one-off hydraulic press built from stacks of thick plates and tie rods.",
)


def _checked(path: Path) -> Path:
    """Read the case before anything slow is imported, so that its mistakes are answered at once."""
    gc.disable()  # of what is loaded to read a case nothing is garbage, yet all would be searched
    try:
        from platestack.geometry import case

        units.choose(case.read(path).units)
    finally:
        gc.enable()
    return path


def _of_run(path: Path) -> Path:
    """Show what belongs to a run in the units that it was worded in. Raises `UsageError`."""
    from platestack.fea.results import summary_file

    summary_file.load(path)
    units.choose(summary_file.units_of(path))
    return path


CaseFile = Annotated[
    Path, typer.Argument(metavar="CASE", help="Case file (TOML).", callback=_checked)
]
RunDirectory = Annotated[
    Path,
    typer.Argument(metavar="RESULT", help="Results directory of a run.", callback=_of_run),
]
Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Results directory; default results/<case name>."),
]


def _tell_version(wished: bool) -> None:
    if wished:
        typer.echo(f"platestack {platestack.__version__}")
        raise typer.Exit


@app.callback()
def _every_command(
    asked: Annotated[
        bool,
        typer.Option("--version", callback=_tell_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Options without a command."""


def place(out: Path | None, case: Path, kind: str = "") -> Path:
    """Where results go: as the user says, or results/<case name>."""
    return out if out is not None else Path("results") / f"{case.stem}{kind}"


def read(case: Path) -> Case:
    """Read a case; at the head of what follows stands which of its stacks are the ideal."""
    from platestack.fea.app.console.summary import print_ideal
    from platestack.fea.checks.as_one import ideal
    from platestack.geometry import case as case_file
    from platestack.geometry import layout

    found = case_file.read(case)
    print_ideal(ideal(layout.build(found)))
    return found


def _explain(wished: bool) -> None:
    from platestack.fea.support import logbook

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


def say(words: str) -> None:
    """Print one line for the user. Raises `PlatestackError` where there is no room for it."""
    from platestack.fea.app.console.terminal import out

    out.print(words, markup=False)


@contextmanager
def progress(steps: int) -> Iterator[Callable[[str], None]]:
    """Show progress; a wish to stop that some library swallowed is heard at the next step."""
    from platestack.fea.app.console import terminal

    with terminal.progress(steps) as report:

        def watched(step: str) -> None:
            if Stopped.wished is not None:
                raise Stopped(Stopped.wished)
            report(step)

        yield watched


class Stopped(BaseException):
    """The user or the system wants the program to end; unwinds, so that nothing half-done stays."""

    wished: ClassVar[int | None] = None
    """The last signal received."""
    at: ClassVar[float] = -math.inf
    """When the last one came (s), by the clock that only goes forward."""

    def __init__(self, number: int):
        self.number = number
