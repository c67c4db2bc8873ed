"""The child that makes reduced models of a case and then answers for other thicknesses.

Lines: ``step WORDS``, then ``ready STACKS`` or ``end WORDS``; after that ``answer JSON`` for each
request.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from fea.page import child


def main() -> int:
    """Make or find the models, then answer until the server has gone."""
    from fea.options import models
    from fea.page.answers import thickened
    from geometry import case as case_file
    from geometry import layout
    from geometry.errors import PlatestackError

    asked = child.requests()
    first = asked.get()

    def tell(words: str) -> None:
        child.say("step", words)

    try:
        case = case_file.parse(first["text"])
        estimate = models.estimates(case, Path(first["folder"]), tell)
        press = layout.build(case)
        known = [s.name for s in press.stacks if estimate(press, s) is not None]
    except PlatestackError as error:
        child.say("end", str(error))
        return error.exit_code
    except Exception as error:  # the page shows a sentence, never a traceback
        child.say("end", f"unexpected fault: {type(error).__name__}: {error}")
        return PlatestackError.exit_code
    child.say("ready", json.dumps(known))
    while True:
        request = asked.get()
        told: dict[str, Any] = {}
        try:
            case = case_file.parse(request["text"])
            press = layout.build(thickened(case, request["thicknesses"]))
            told = {stack.name: estimate(press, stack) for stack in press.stacks}
        except PlatestackError:
            pass  # the page says so from its own look at the case
        kept = {name: value for name, value in told.items() if value is not None}
        child.say("answer", json.dumps({"number": request["number"], "told": kept}))


if __name__ == "__main__":
    sys.exit(main())
