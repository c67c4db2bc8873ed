"""The tree of errors. Every error that a user may see has `PlatestackError` at its root."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


class PlatestackError(Exception):
    """Anything platestack reports in a sentence; `exit_code` is what the command returns."""

    exit_code = 3


@dataclass(frozen=True)
class Problem:
    """One mistake in an input file.

    `key` is the path in the file (``crosshead.plates[2].thickness``), `given` what stands there,
    `allowed` what may stand there, with a reason where the rule is not obvious. Where nothing is
    given, `given` is empty and `allowed` a sentence of its own.
    """

    key: str
    given: str
    allowed: str

    def line(self, file: str) -> str:
        """One line for the terminal."""
        where = f"{file}: {self.key}" if self.key else file
        return (
            f"{where}: given {self.given}; {self.allowed}"
            if self.given
            else f"{where}: {self.allowed}"
        )


MOST_LISTED = 40
"""Mistakes of one file that are listed; one more line says how many others there are."""


class CaseError(PlatestackError):
    """A case file that cannot be used, with all its mistakes."""

    exit_code = 2

    def __init__(self, file: str | Path, problems: list[Problem]):
        self.file = str(file)
        self.problems = problems
        lines = [problem.line(self.file) for problem in problems]
        if len(lines) > MOST_LISTED:
            lines[MOST_LISTED:] = [f"{self.file}: {len(lines) - MOST_LISTED} more mistakes"]
        super().__init__("\n".join(lines))


class UsageError(PlatestackError):
    """A command line that cannot be carried out; a matter for the caller, like a bad case."""

    exit_code = 2


class MeshError(PlatestackError):
    """No usable mesh could be made of a part."""
