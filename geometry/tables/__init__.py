"""Standard tables: data files with their sources, and typed access to them.

Values are read from the TOML files beside this module at first use. Everything returned is SI
(m, Pa, kg/m³). No table replaces the standard it quotes: each says how sure it is (`Certainty`).
"""

from platestack.geometry.tables.bolts import (
    PropertyClass,
    TrapezoidalThread,
    property_class,
    property_class_names,
    rod_nut,
    rod_thread,
    trapezoidal_thread,
    trapezoidal_thread_names,
    wrench_size,
)
from platestack.geometry.tables.crack_growth import growth_stages, rod_impact
from platestack.geometry.tables.cylinder import cylinder_bores, cylinder_rods
from platestack.geometry.tables.errors import (
    OutOfTable,
    TableError,
    UnknownName,
)
from platestack.geometry.tables.fasteners import (
    largest_thread,
    nut,
    thread,
    thread_names,
)
from platestack.geometry.tables.hydraulic import (
    Oil,
    motor_outputs,
    oil,
    pressure_classes,
)
from platestack.geometry.tables.lamellar import lamellar_quality, lamellar_terms
from platestack.geometry.tables.overview import overview
from platestack.geometry.tables.plate import (
    Friction,
    friction,
    stock_thicknesses,
    surface_names,
)
from platestack.geometry.tables.quality import (
    Detail,
    detail,
    flatness_tolerance,
    partial_factor,
    thickness_tolerance,
)
from platestack.geometry.tables.source import Certainty, Table
from platestack.geometry.tables.steel import (
    Band,
    Grade,
    SteelConstants,
    cylinder_grade,
    grade_names,
    rod_grade,
    rod_grade_names,
    steel_constants,
    structural_grade,
)
from platestack.geometry.tables.thermal_cut import (
    cut_deviation,
    cut_scope,
    profile_height,
    squareness,
)
from platestack.geometry.tables.thread import Nut, Thread, UnifiedThread
from platestack.geometry.tables.toughness import Subgrade, subgrade, tougher
from platestack.geometry.tables.unified import unified_names
