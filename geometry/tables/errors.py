"""What goes wrong when a table is asked for something that is not in it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from platestack.geometry.errors import PlatestackError


class TableError(PlatestackError, ValueError):
    """A table has no answer; a matter of input. A ValueError, so that validators may raise it."""

    exit_code = 2


class UnknownName(TableError):
    """A name that is in no table, with the nearest ones and all allowed ones.

    `what` it is a name of, such as a steel grade; `name` is what was asked for, `allowed` the
    names of the table in its order, `suggestions` the nearest of them, best first: by look unless
    the caller knows better; may be empty.
    """

    def __init__(
        self, what: str, name: str, allowed: Iterable[str], suggestions: Iterable[str] = ()
    ):
        self.name = name
        self.allowed = tuple(allowed)
        self.suggestions = tuple(suggestions) or nearest(name, self.allowed)
        hint = f" Did you mean {' or '.join(self.suggestions)}?" if self.suggestions else ""
        super().__init__(f"unknown {what} {name!r}.{hint} Allowed: {', '.join(self.allowed)}")


class OutOfTable(TableError):
    """A size that the table does not cover; the message names the range."""


def nearest(name: str, allowed: tuple[str, ...]) -> tuple[str, ...]:
    """Return up to three of the allowed names that look most like `name`, best first."""
    spelled = {candidate.upper(): candidate for candidate in allowed}
    found = difflib.get_close_matches(name.upper()[:40], list(spelled), n=3, cutoff=0.6)
    return tuple(spelled[match] for match in found)
