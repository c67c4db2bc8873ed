"""Quantities of the case file, and the table that every section of it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, StringConstraints

from platestack.geometry import units


def _reader(kind: units.Kind) -> Callable[[Any], float]:
    def read(given: Any) -> float:
        return units.parse(given, kind)

    return read


Length = Annotated[float, BeforeValidator(_reader(units.LENGTH)), units.LENGTH]
Offset = Annotated[float, BeforeValidator(_reader(units.OFFSET)), units.OFFSET]
Gap = Annotated[float, BeforeValidator(_reader(units.GAP)), units.GAP]
Bow = Annotated[float, BeforeValidator(_reader(units.BOW)), units.BOW]
Distance = Annotated[float, BeforeValidator(_reader(units.DISTANCE)), units.DISTANCE]
Force = Annotated[float, BeforeValidator(_reader(units.FORCE)), units.FORCE]
Load = Annotated[float, BeforeValidator(_reader(units.LOAD)), units.LOAD]
Pressure = Annotated[float, BeforeValidator(_reader(units.PRESSURE)), units.PRESSURE]
Modulus = Annotated[float, BeforeValidator(_reader(units.STIFFNESS)), units.STIFFNESS]
Mass = Annotated[float, BeforeValidator(_reader(units.MASS)), units.MASS]
Density = Annotated[float, BeforeValidator(_reader(units.DENSITY)), units.DENSITY]
Slope = Annotated[float, BeforeValidator(_reader(units.SLOPE)), units.SLOPE]
Flow = Annotated[float, BeforeValidator(_reader(units.FLOW)), units.FLOW]
Volume = Annotated[float, BeforeValidator(_reader(units.VOLUME)), units.VOLUME]
Power = Annotated[float, BeforeValidator(_reader(units.POWER)), units.POWER]
Duration = Annotated[float, BeforeValidator(_reader(units.DURATION)), units.DURATION]
Temperature = Annotated[float, BeforeValidator(_reader(units.TEMPERATURE)), units.TEMPERATURE]
Point = tuple[Offset, Offset]


def _printable(name: str) -> str:
    if not name.isprintable():  # line breaks would go into drawings as commands
        raise ValueError("allowed: printable characters on one line")
    return name


Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, strip_whitespace=True),
    AfterValidator(_printable),
]
Corners = Literal["straight", "chamfered", "rounded"]


class Section(BaseModel):
    """A table of the case file: frozen, no unknown keys, numbers finite and never texts."""

    # Deferred: the whole case is made one validator, not each table beside it.
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True)
