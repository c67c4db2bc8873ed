"""All tables together, as they are printed."""

from platestack.geometry.tables.bolts import bolt_tables
from platestack.geometry.tables.crack_growth import crack_tables
from platestack.geometry.tables.cylinder import cylinder_tables
from platestack.geometry.tables.fasteners import fastener_tables
from platestack.geometry.tables.hydraulic import hydraulic_tables
from platestack.geometry.tables.lamellar import lamellar_tables
from platestack.geometry.tables.plate import plate_tables
from platestack.geometry.tables.quality import quality_tables
from platestack.geometry.tables.source import Table
from platestack.geometry.tables.steel import steel_tables
from platestack.geometry.tables.thermal_cut import thermal_cut_tables
from platestack.geometry.tables.toughness import toughness_tables


def overview() -> tuple[Table, ...]:
    """Return every table for printing: steels, plates, threads, nuts, bolts, cylinders, oil."""
    return (
        *steel_tables(),
        *toughness_tables(),
        *crack_tables(),
        *lamellar_tables(),
        *plate_tables(),
        *quality_tables(),
        *thermal_cut_tables(),
        *fastener_tables(),
        *bolt_tables(),
        *cylinder_tables(),
        *hydraulic_tables(),
    )
