"""One run, or its dossier, in a process of its own: lines ``step WORDS``, then ``end WORDS``.

The exit codes are those of ``platestack run``.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from platestack.fea.app.page import child
from platestack.fea.support import scratch


def main(name: str, text: str | None, out: Path) -> int:
    """Run the text of a case into a results directory, or write its dossier; the exit code."""
    from platestack.geometry.errors import PlatestackError

    try:
        exceeded = _dossier(out) if text is None else _run(name, text, out)
    except PlatestackError as error:
        child.say("end", *str(error).splitlines())
        return error.exit_code
    except Exception as error:  # the page shows a sentence, never a traceback
        child.say("end", f"unexpected fault: {type(error).__name__}: {error}")
        return PlatestackError.exit_code
    child.say("end", f"{exceeded} limits exceeded" if exceeded else "done")
    return 1 if exceeded else 0


def _run(name: str, text: str, out: Path) -> int:
    """How many limits are exceeded."""
    from platestack.fea.jobs import run

    with scratch.directory("platestack-page-", Path(tempfile.gettempdir())) as place:
        case = place / f"{name}.toml"
        case.write_text(text, encoding="utf-8")
        return run.run(case, out, _tell).exceeded


def _dossier(out: Path) -> int:
    from platestack.fea.app import report

    report.write(out, report=_tell)
    return 0


def _tell(step: str) -> None:
    child.say("step", step)


if __name__ == "__main__":
    asked = child.requests().get()
    sys.exit(main(asked["name"], asked["text"], Path(asked["out"])))
