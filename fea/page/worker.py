"""One run in a process of its own: lines ``step WORDS`` while it works, ``end WORDS`` at the end.

The exit codes are those of ``platestack run``.
"""

from __future__ import annotations

import signal
import sys
from pathlib import Path


def main(case: str, out: str) -> int:
    """Run a case file into a results directory; the exit code."""
    from fea import run
    from geometry.errors import PlatestackError

    def tell(step: str) -> None:
        print("step", step, flush=True)

    try:
        summary = run.run(Path(case), Path(out), tell)
    except PlatestackError as error:
        for line in str(error).splitlines():
            print("end", line, flush=True)
        return error.exit_code
    except Exception as error:  # the page shows a sentence, never a traceback
        print("end", f"unexpected fault: {type(error).__name__}: {error}".replace("\n", " "))
        return PlatestackError.exit_code
    print("end", f"{summary.exceeded} limits exceeded" if summary.exceeded else "done", flush=True)
    return 1 if summary.exceeded else 0


def _stop(*_: object) -> None:
    sys.exit(143)  # unwinds, so that nothing half-written stays


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, _stop)
    sys.exit(main(*sys.argv[1:]))
