"""The command line: parse, call, print.

Exit codes: 0 done, 1 done but a limit is exceeded, 2 bad input, 3 the computation could not be
completed, 130 interrupted (143 by SIGTERM).
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Annotated, ClassVar

import typer

from fea import console
from geometry.errors import PlatestackError

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


def _place(out: Path | None, case: Path, kind: str = "") -> Path:
    return out if out is not None else Path("results") / f"{case.stem}{kind}"


@contextmanager
def _progress(steps: int) -> Iterator[Callable[[str], None]]:
    """Show progress; a wish to stop that some library swallowed is heard at the next step."""
    with console.progress(steps) as report:

        def watched(step: str) -> None:
            if Stopped.wished is not None:
                raise Stopped(Stopped.wished)
            report(step)

        yield watched


def _run(case: Path, out: Path, drawn: bool) -> None:
    from fea import run as job

    with _progress(job.STEPS) as report:
        summary = job.run(case, out, report, drawn=drawn)
    console.print_summary(summary)
    console.out.print(f"results in {out}", markup=False)
    raise typer.Exit(1 if summary.exceeded else 0)


@app.command()
def run(case: CaseFile, out: Out = None) -> None:
    """Do the whole job: mesh, solve, check, draw."""
    _run(case, _place(out, case), drawn=True)


@app.command()
def solve(case: CaseFile, out: Out = None) -> None:
    """Mesh, solve and check, without pictures."""
    _run(case, _place(out, case), drawn=False)


@app.command()
def mesh(case: CaseFile, out: Out = None) -> None:
    """Mesh both stacks: .msh, .vtu and a picture."""
    from fea import run as job

    place = _place(out, case, "-mesh")
    with _progress(3) as report:
        words = job.mesh(case, place, report)
    for name, text in words.items():
        console.out.print(f"{name}: {text}", markup=False)
    console.out.print(f"results in {place}", markup=False)


@app.command()
def compare(
    case: CaseFile,
    thickness: Annotated[str, typer.Option(help='Plate thicknesses: "60 mm, 70 mm, 80 mm".')],
    stack: Annotated[str, typer.Option(help="both, crosshead or bed.")] = "both",
    out: Out = None,
) -> None:
    """Compare plate thicknesses: table, CSV and picture."""
    from fea import options, results
    from geometry import case as case_file
    from geometry.errors import UsageError

    if stack not in ("both", "crosshead", "bed"):
        raise UsageError(f'--stack: given "{stack}"; allowed: both, crosshead or bed')
    values = options.thicknesses(thickness)
    place = _place(out, case, "-compared")
    with _progress(10 * len(values)) as report:
        base = case_file.read(case)
        results.usable(place)
        rows = options.compare(base, values, stack, report, str(case))  # type: ignore[arg-type]
        options.write(rows, place, base.press.name)
    console.print_options(rows)
    console.out.print(f"results in {place}", markup=False)


@app.command()
def view(
    result: Annotated[Path, typer.Argument(metavar="RESULT", help="Results directory of a run.")],
    field: Annotated[str, typer.Option(help="Field to show, such as von_mises.")] = "von_mises",
    part: Annotated[
        str | None, typer.Option(help='What to show: crosshead, bed, "bed/plate 2".')
    ] = None,
    cut: Annotated[str | None, typer.Option(help='Cut plane, such as "y = 0 mm".')] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="PNG", help="Write a picture, open no window.")
    ] = None,
) -> None:
    """Show a field of a run: a window where there is a display, else a picture."""
    from fea import view as pictures

    written = pictures.view(result, field=field, part=part, cut=cut, out=out)
    if written is not None:
        console.out.print(f"picture in {written}", markup=False)


@app.command()
def new(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file to write.")],
    capacity: Annotated[str, typer.Option(prompt='Capacity, such as "250 tf"')],
    pressure: Annotated[str, typer.Option(prompt='Working pressure, such as "32 MPa"')],
    length: Annotated[str, typer.Option(prompt='Bed length along x, such as "1000 mm"')],
    width: Annotated[str, typer.Option(prompt='Bed width along y, such as "600 mm"')],
    daylight: Annotated[str, typer.Option(prompt='Daylight, such as "450 mm"')],
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Write a commented starter case that runs as it is."""
    from fea import starter

    words = starter.write(
        case,
        capacity=capacity,
        pressure=pressure,
        length=length,
        width=width,
        daylight=daylight,
        replace=force,
    )
    console.out.print(words, markup=False)


@app.command()
def tables() -> None:
    """Print the tables of standards, each with its source."""
    console.print_tables()


def main() -> None:
    """Run the command line and leave with its exit code."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, _stop)
    try:
        app(standalone_mode=True)
    except PlatestackError as error:
        console.print_error(str(error))
        sys.exit(error.exit_code)
    except Stopped as stopped:
        console.print_error("interrupted; nothing was written")
        sys.exit(128 + stopped.number)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except Exception as error:
        console.print_error(
            f"unexpected fault in platestack: {type(error).__name__}: {error}; the details are in "
            f"{_keep_details()}; nothing was written to the results"
        )
        sys.exit(PlatestackError.exit_code)


class Stopped(BaseException):
    """The user or the system wants the program to end; unwinds, so that nothing half-done stays."""

    wished: ClassVar[int | None] = None
    """The last signal received."""

    def __init__(self, number: int):
        self.number = number


def _stop(number: int, _: FrameType | None) -> None:
    Stopped.wished = number
    raise Stopped(number)


def _keep_details() -> str:
    """Write the traceback of the current fault to a file of its own; its path."""
    import tempfile
    import traceback

    with tempfile.NamedTemporaryFile(
        "w", prefix="platestack-fault-", suffix=".txt", delete=False, encoding="utf-8"
    ) as file:
        file.write(traceback.format_exc())
    return file.name


if __name__ == "__main__":
    main()
