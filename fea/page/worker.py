"""One run in a process of its own: lines ``step WORDS`` while it works, ``end WORDS`` at the end.

The exit codes are those of ``platestack run``.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from fea import scratch
from fea.page import child


def main(name: str, text: str, out: str) -> int:
    """Run the text of a case into a results directory; the exit code."""
    from fea import run
    from geometry.errors import PlatestackError

    def tell(step: str) -> None:
        child.say("step", step)

    try:
        with scratch.directory("platestack-page-", Path(tempfile.gettempdir())) as place:
            case = place / f"{name}.toml"
            case.write_text(text, encoding="utf-8")
            summary = run.run(case, Path(out), tell)
    except PlatestackError as error:
        child.say("end", *str(error).splitlines())
        return error.exit_code
    except Exception as error:  # the page shows a sentence, never a traceback
        child.say("end", f"unexpected fault: {type(error).__name__}: {error}")
        return PlatestackError.exit_code
    child.say("end", f"{summary.exceeded} limits exceeded" if summary.exceeded else "done")
    return 1 if summary.exceeded else 0


if __name__ == "__main__":
    asked = child.requests().get()
    sys.exit(main(asked["name"], asked["text"], asked["out"]))
