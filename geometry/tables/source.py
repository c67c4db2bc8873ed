"""Reading the data files, and what they say of their origin."""

from __future__ import annotations

import enum
import functools
import importlib.resources
import tomllib
from dataclasses import dataclass
from typing import Any


class Certainty(enum.StrEnum):
    """How sure a block of values is; the value of the member is the sentence to print."""

    SECONDARY = "secondary copy read; check against the standard before use in design"
    MEMORY = "not verified against the standard; check against the standard before use in design"
    PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Table:
    """A table to print: cells are text, units stand in the column headers."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    source: str
    certainty: Certainty
    note: str = ""


@functools.cache
def read(file: str) -> dict[str, Any]:
    """Parse a data file of this package once, such as ``"hex_nut.toml"``."""
    text = importlib.resources.files(__package__).joinpath(file).read_text(encoding="utf-8")
    return tomllib.loads(text)


def certainty(block: dict[str, Any]) -> Certainty:
    """Return the certainty that a block of a data file declares."""
    return Certainty[block["certainty"].upper()]


def in_mm(metres: float) -> float:
    """Return a length in mm, rounded to the nanometre.

    Table edges are whole millimetres; a size that came through a unit conversion (63 mm as
    0.06300000000000001 m) must not fall into the next band.
    """
    return round(metres * 1e3, 6)
