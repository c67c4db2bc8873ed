"""What ``import platestack`` offers to scripts: cases that are checked at each step, and solutions.

>>> import platestack
>>> case = platestack.build(
...     press={"name": "Flat press", "capacity": "60 tf", "working_pressure": 25e6,
...            "daylight": "400 mm", "stroke": "200 mm"},
...     crosshead={"length": 0.7, "width": 0.4, "plates": "2 x 60 mm"},
...     bed={"length": 0.7, "width": 0.4, "plates": "2 x 60 mm"},
...     rods={"diameter": "50 mm", "count": 4, "pitch": ["520 mm", "250 mm"]},
... )
>>> thicker = case.with_("bed.plates[2].thickness", "80 mm")
>>> [thicker[f"bed.plates[{number}].thickness"] for number in (1, 2)]
[0.06, 0.08]
>>> case.with_("bed.plates[2].thickness", "80 kg")
Traceback (most recent call last):
    ...
platestack.geometry.errors.CaseError: case: bed.plates[2].thickness: given "80 kg"; 'kg' is not the
unit of a length; did you mean 'm' or 'mm' or 'cm' or 'in' or 'inch' or 'ft'? allowed: a length with
its unit, 0.1 to 100000 mm, such as '60 mm'

Texts have units as in a case file; bare numbers are SI. `fea.app.solving` has what `solve` returns.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from platestack.fea.app import case_text
from platestack.geometry import case as case_file
from platestack.geometry import case_data
from platestack.geometry.schema import Case


@dataclass(frozen=True)
class PressCase:
    """A case that is sound: its text as in a file, and what was checked of it.

    Made by `load` and `build`. It never changes; `with_` makes another. Two are equal if they mean
    the same, however they are written.
    """

    text: str = field(compare=False)
    """As in a case file, comments and all."""
    file: str = field(compare=False)
    """What messages call it."""
    checked: Case
    """The same as frozen tables of SI values, defaults included."""

    def __getitem__(self, key: str) -> Any:
        """Return the value at a key path such as ``bed.plates[1].thickness``, in SI.

        Raises
        ------
        CaseError
            If there is no such key.
        """
        return case_data.looked_up(self.checked, key, self.file)

    def with_(self, key: str | Mapping[str, Any], value: Any = None) -> PressCase:
        """Return this case with another value at a key path, or with several at once.

        Parameters
        ----------
        key : str or mapping
            Key path as messages write it, plates and other entries counted from 1; or key paths
            and their values. What is changed together is checked together.
        value : object
            Text with a unit, a number (SI where a quantity belongs), a list or a table. None takes
            the key out, so that its default holds.

        Raises
        ------
        CaseError
            With a line for each mistake, as on the command line.
        """
        data: dict[str, Any] = tomllib.loads(self.text)
        for path, wanted in (key if isinstance(key, Mapping) else {key: value}).items():
            data = case_data.changed(data, path, wanted, self.file)
        return _made(data, self.text, self.file)

    def write(self, path: str | Path, *, replace: bool = False) -> None:
        """Write the case file, comments kept: whole or not at all.

        Raises
        ------
        UsageError
            If the file exists, unless it is to be replaced.
        PlatestackError
            If it cannot be written.
        """
        from platestack.fea.support import case_files

        case_files.usable(Path(path), replace)
        case_files.save(Path(path), self.text)


def load(path: str | Path) -> PressCase:
    """Read and check a case file.

    Raises
    ------
    CaseError
        With a line for each mistake, as on the command line.
    """
    return _of_text(case_file.text_of(Path(path)), str(path))


def build(data: Mapping[str, Any] | None = None, /, **tables: Any) -> PressCase:
    """Make a case of plain data: the tables of a case file as dictionaries, by position or name.

    Quantities are texts with units or numbers in SI (m, N, Pa, kg, s).

    Raises
    ------
    CaseError
        With a line for each mistake, as on the command line.
    """
    return _made({**(data or {}), **tables}, "", "case")


def _made(data: dict[str, Any], before: str, file: str) -> PressCase:
    return _of_text(case_text.written(case_data.with_units(data, Case), before), file)


def _of_text(text: str, file: str) -> PressCase:
    return PressCase(text, file, case_file.parse(text, file))
