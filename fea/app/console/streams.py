"""Standard output and error without a library: errors, single lines, the last words."""

from __future__ import annotations

import os
import re
import sys
from contextlib import suppress
from typing import IO

COMMANDS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters (ECMA-48), which terminals obey, and those that turn the way of reading."""
RED, PLAIN = "\x1b[31m", "\x1b[0m"


def print_error(message: str) -> None:
    """Print a message for the user, each line on its own; where nobody hears, the code tells."""
    coloured = sys.stderr.isatty() and not os.environ.get("NO_COLOR")
    with suppress(OSError, ValueError):
        for line in message.splitlines():
            words = COMMANDS.sub("\N{REPLACEMENT CHARACTER}", line)
            print(f"{RED}{words}{PLAIN}" if coloured else words, file=sys.stderr)


def drop_unwritten() -> None:
    """Drop what standard streams hold and cannot write.

    Python would try again on the way out, and end with 120 and a traceback of its own.
    """
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            lead_nowhere(stream)
        except ValueError:  # closed
            continue


def lead_nowhere(stream: IO[str]) -> None:
    """Let a stream, with what it holds, write to the null device."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)
