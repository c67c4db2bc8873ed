"""The child that makes reduced models of a case: ``step WORDS``, after a fault ``end WORDS``."""

from __future__ import annotations

import sys
from pathlib import Path

from platestack.fea.app.page import child


def main(text: str, folder: str) -> int:
    """Make the models into `folder`, or find them there; the exit code."""
    from platestack.fea.jobs.options import models
    from platestack.geometry import case as case_file
    from platestack.geometry.errors import PlatestackError

    def tell(words: str) -> None:
        child.say("step", words)

    try:
        models.made(case_file.parse(text), Path(folder), tell)
    except PlatestackError as error:
        child.say("end", str(error))
        return error.exit_code
    except Exception as error:  # the page shows a sentence, never a traceback
        child.say("end", f"unexpected fault: {type(error).__name__}: {error}")
        return PlatestackError.exit_code
    return 0


if __name__ == "__main__":
    asked = child.requests().get()
    sys.exit(main(asked["text"], asked["folder"]))
