"""Steel grades of plates and rods by thickness, and the constants of steel."""

from __future__ import annotations

import bisect
import functools
from dataclasses import dataclass
from typing import Any

from platestack.geometry.tables.errors import OutOfTable, UnknownName
from platestack.geometry.tables.source import Certainty, Table, certainty, in_mm, read

PLATE_FILE = "structural_steel.toml"
ROD_FILE = "rod_steel.toml"
CYLINDER_FILE = "cylinder_steel.toml"


@dataclass(frozen=True)
class Band:
    """Strength of one range of thickness or diameter, over `over` up to and including `up_to` (m).

    Strengths in Pa; `tensile_max` is None where the standard gives no upper limit.
    """

    over: float
    up_to: float
    yield_strength: float
    tensile_strength: float
    tensile_max: float | None


@dataclass(frozen=True)
class Grade:
    """A steel grade. `dimension` says what its bands go by: "thickness" or "diameter"."""

    name: str
    dimension: str
    bands: tuple[Band, ...]
    source: str
    certainty: Certainty
    note: str
    system: str = "SI"
    """"US" for those of ASTM, which are sold where inches are."""

    def band(self, size: float) -> Band:
        """Return the band of a thickness or diameter (m).

        A band reaches from over its lower end up to and including its upper end; the first one
        includes its lower end too, unless that is zero.

        Raises
        ------
        OutOfTable
            If no band covers the size.
        """
        size_mm = in_mm(size)
        low, ends = self._ends
        if not (size_mm > 0 and low <= size_mm <= ends[-1]):
            note = f" Note: {self.note}." if self.note else ""
            raise OutOfTable(
                f"{self.name}: {self.dimension} {size_mm:g} mm is outside the table, "
                f"{low:g} to {ends[-1]:g} mm ({self.source}).{note}"
            )
        return self.bands[bisect.bisect_left(ends, size_mm)]

    @functools.cached_property
    def _ends(self) -> tuple[float, list[float]]:
        """Where the table begins, and the upper end of each band (mm)."""
        return in_mm(self.bands[0].over), [in_mm(band.up_to) for band in self.bands]

    def yield_strength(self, size: float) -> float:
        """Return the least yield strength ReH, or Rp0.2 without a yield point (Pa).

        `size` is the nominal thickness or diameter (m); raises OutOfTable.
        """
        return self.band(size).yield_strength

    def tensile_strength(self, size: float) -> float:
        """Return the least tensile strength Rm (Pa); `size` as in `yield_strength`."""
        return self.band(size).tensile_strength


@dataclass(frozen=True)
class SteelConstants:
    """Density (kg/m³), elastic modulus (Pa), Poisson's ratio, thermal expansion (1/K)."""

    density: float
    youngs_modulus: float
    poisson_ratio: float
    thermal_expansion: float
    source: str
    certainty: Certainty

    @property
    def shear_modulus(self) -> float:
        """G = E / (2 (1 + ν)) in Pa, isotropic elasticity."""
        return self.youngs_modulus / (2 * (1 + self.poisson_ratio))


def structural_grade(name: str) -> Grade:
    """Return a plate grade: "S355J2", "s355 j2+n", "1.0577"; "S355" alone is S355JR.

    Raises
    ------
    UnknownName
        If no table lists the name.
    """
    return _find(name, PLATE_FILE)


def rod_grade(name: str) -> Grade:
    """Return a rod grade: "42CrMo4+QT", "C45+N", "1.6582"; raises UnknownName.

    "42CrMo4" alone means quenched and tempered, the only condition listed; "C45" alone is
    refused, since it is listed in two conditions.
    """
    return _find(name, ROD_FILE)


def cylinder_grade(name: str) -> Grade:
    """Return a grade of tubes and forgings for cylinders, or of rods; raises UnknownName."""
    files = (CYLINDER_FILE, ROD_FILE)
    for file in files:
        if _key(name) in _index(file):
            return _index(file)[_key(name)]
    raise UnknownName(
        "steel grade", name, dict.fromkeys(g.name for f in files for g in _index(f).values())
    )


def grade_names(system: str = "") -> tuple[str, ...]:
    """Return the plate grades, in the order of their table; those of one system if it is named."""
    return _names(PLATE_FILE, system)


def rod_grade_names(system: str = "") -> tuple[str, ...]:
    """Return the rod grades, likewise."""
    return _names(ROD_FILE, system)


def _names(file: str, system: str) -> tuple[str, ...]:
    fitting = (g.name for g in _index(file).values() if system in ("", g.system))
    return tuple(dict.fromkeys(fitting))


@functools.cache
def steel_constants() -> SteelConstants:
    """Return the physical constants of structural steel."""
    block = read("steel_constants.toml")
    return SteelConstants(
        density=block["density"],
        youngs_modulus=block["youngs_modulus"] * 1e6,
        poisson_ratio=block["poisson_ratio"],
        thermal_expansion=block["thermal_expansion"],
        source=block["source"],
        certainty=certainty(block),
    )


def steel_tables() -> tuple[Table, ...]:
    """Return the plate and rod grades and the constants, for printing."""
    series = (
        _series_table(block, read(file)["dimension"])
        for file in (PLATE_FILE, ROD_FILE, CYLINDER_FILE)
        for block in read(file)["series"]
    )
    return (*series, _constants_table())


def _find(name: str, file: str) -> Grade:
    index = _index(file)
    grade = index.get(_key(name))
    if grade is None:
        raise UnknownName(
            "steel grade", name, dict.fromkeys(grade.name for grade in index.values())
        )
    return grade


def _key(name: str) -> str:
    return "".join(name.split()).upper()


@functools.cache
def _index(file: str) -> dict[str, Grade]:
    """Every accepted spelling in capitals, with and without delivery condition -> Grade."""
    data = read(file)
    index = {}
    for block in data["series"]:
        for entry in block["grades"]:
            grade = _grade(block, entry, data["dimension"])
            for name in (entry["name"], *entry["also"]):
                for condition in ("", *block["conditions"]):
                    index[_key(name + condition)] = grade
    return index


def _grade(block: dict[str, Any], entry: dict[str, Any], dimension: str) -> Grade:
    bands = (
        Band(over / 1e3, up_to / 1e3, re * 1e6, rm * 1e6, rm_max * 1e6 if rm_max else None)
        for over, up_to, re, rm, rm_max in block["bands"]
        if up_to <= entry["up_to"]
    )
    return Grade(
        name=entry["name"],
        dimension=dimension,
        bands=tuple(bands),
        source=block["source"],
        certainty=certainty(block),
        note=block["note"],
        system=block.get("system", "SI"),
    )


def _series_table(block: dict[str, Any], dimension: str) -> Table:
    limits = ", ".join(f"{entry['name']} up to {entry['up_to']} mm" for entry in block["grades"])
    return Table(
        title=f"{block['title']}: {limits}",
        columns=(
            f"{dimension} over, mm",
            "up to and including, mm",
            "yield min, MPa",
            "Rm min, MPa",
            "Rm max, MPa",
        ),
        rows=tuple(
            (*(f"{value:g}" for value in row[:4]), f"{row[4]:g}" if row[4] else "–")
            for row in block["bands"]
        ),
        source=block["source"],
        certainty=certainty(block),
        note=block["note"],
    )


def _constants_table() -> Table:
    steel = steel_constants()
    rows = (
        ("density, kg/m³", f"{steel.density:g}"),
        ("elastic modulus E, GPa", f"{steel.youngs_modulus / 1e9:g}"),
        ("Poisson's ratio ν", f"{steel.poisson_ratio:g}"),
        ("shear modulus G = E/(2(1+ν)), GPa", f"{steel.shear_modulus / 1e9:.2f}"),
        ("thermal expansion α, 1/K", f"{steel.thermal_expansion:g}"),
    )
    return Table("Constants of steel", ("quantity", "value"), rows, steel.source, steel.certainty)
