"""Standard tables: data files with their sources, and typed access to them.

Values are read from the TOML files beside this module at first use. Everything returned is SI
(m, Pa, kg/m³). No table replaces the standard it quotes: each says how sure it is (`Certainty`).
"""

from geometry.tables.cylinder import cylinder_bores, cylinder_rods, cylinder_tables
from geometry.tables.errors import (
    OutOfTable,
    TableError,
    UnknownGrade,
    UnknownNameError,
    UnknownSurface,
    UnknownThread,
)
from geometry.tables.fasteners import (
    Nut,
    Thread,
    fastener_tables,
    largest_thread,
    nut,
    thread,
    thread_names,
)
from geometry.tables.plate import (
    Friction,
    friction,
    plate_tables,
    stock_thicknesses,
    surface_names,
)
from geometry.tables.source import Certainty, Table
from geometry.tables.steel import (
    Band,
    Grade,
    SteelConstants,
    cylinder_grade,
    grade_names,
    rod_grade,
    rod_grade_names,
    steel_constants,
    steel_tables,
    structural_grade,
)

__all__ = [
    "Band",
    "Certainty",
    "Friction",
    "Grade",
    "Nut",
    "OutOfTable",
    "SteelConstants",
    "Table",
    "TableError",
    "Thread",
    "UnknownGrade",
    "UnknownNameError",
    "UnknownSurface",
    "UnknownThread",
    "cylinder_bores",
    "cylinder_grade",
    "cylinder_rods",
    "friction",
    "grade_names",
    "largest_thread",
    "nut",
    "overview",
    "rod_grade",
    "rod_grade_names",
    "steel_constants",
    "stock_thicknesses",
    "structural_grade",
    "surface_names",
    "thread",
    "thread_names",
]


def overview() -> tuple[Table, ...]:
    """Return every table for printing: steels, plates, friction, threads, nuts, cylinder bores."""
    return (*steel_tables(), *plate_tables(), *fastener_tables(), *cylinder_tables())
