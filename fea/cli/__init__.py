"""The command line: parse, call, print. One module here holds one command, or a few alike.

Exit codes: 0 done, 1 done but a limit is exceeded, 2 bad input, 3 the computation could not be
completed, 130 interrupted (143 by SIGTERM).
"""

from __future__ import annotations

import signal
import sys
from types import FrameType

from fea import console
from fea.cli import (  # they register themselves
    assembling,  # noqa: F401
    comparing,  # noqa: F401
    cutting,  # noqa: F401
    looking,  # noqa: F401
    offcentre,  # noqa: F401
    optimising,  # noqa: F401
    page,  # noqa: F401
    proof,  # noqa: F401
    reporting,  # noqa: F401
    running,  # noqa: F401
    sensing,  # noqa: F401
    sizing,  # noqa: F401
    starting,  # noqa: F401
    sweeping,  # noqa: F401
    tightening,  # noqa: F401
)
from fea.cli.app import Stopped, app
from geometry.errors import PlatestackError


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
