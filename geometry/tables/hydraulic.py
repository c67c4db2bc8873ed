"""Hydraulic oil, rated outputs of motors, nominal pressures."""

from __future__ import annotations

from dataclasses import dataclass

from platestack.geometry.tables.errors import UnknownName
from platestack.geometry.tables.source import Table, certainty, read

FILE = "hydraulic.toml"


@dataclass(frozen=True)
class Oil:
    """A hydraulic oil: m²/s at 40 °C, kg/m³, secant bulk modulus in Pa, J/(kg K)."""

    grade: str
    viscosity: float
    density: float
    bulk_modulus: float
    specific_heat: float


def oil(grade: str) -> Oil:
    """Return an oil by its viscosity grade, such as "ISO VG 46" or "46"; raises UnknownName."""
    rows = {row[0]: row for row in read(FILE)["oil"]["rows"]}
    name = f"ISO VG {grade.upper().removeprefix('ISO').strip().removeprefix('VG').strip()}"
    if name not in rows:
        raise UnknownName("oil", grade, rows)
    _, viscosity, density, modulus, heat = rows[name]
    return Oil(name, viscosity * 1e-6, float(density), modulus * 1e6, float(heat))


def motor_outputs() -> tuple[float, ...]:
    """Return the rated outputs of motors (W), rising."""
    return tuple(1e3 * kw for kw in read(FILE)["motor"]["kw"])


def pressure_classes() -> tuple[float, ...]:
    """Return the nominal pressures of hoses and valves (Pa), rising."""
    return tuple(1e6 * mpa for mpa in read(FILE)["pressure"]["mpa"])


def hydraulic_tables() -> tuple[Table, ...]:
    """Return oils, motors and nominal pressures, for printing."""
    oils, motors, pressures = (read(FILE)[name] for name in ("oil", "motor", "pressure"))
    columns = ("grade", "viscosity at 40 °C, mm²/s", "density, kg/m³", "bulk modulus, MPa",
               "specific heat, J/(kg K)")  # fmt: skip
    rows = tuple((row[0], *(f"{value:g}" for value in row[1:])) for row in oils["rows"])
    note = "air in the oil makes it far softer below 5 to 10 MPa"
    return (
        Table("Hydraulic oil", columns, rows, oils["source"], certainty(oils), note),
        Table("Rated outputs of motors", ("kW",), tuple((f"{kw:g}",) for kw in motors["kw"]),
              motors["source"], certainty(motors)),
        Table("Nominal pressures", ("MPa",), tuple((f"{mpa:g}",) for mpa in pressures["mpa"]),
              pressures["source"], certainty(pressures)),
    )  # fmt: skip
