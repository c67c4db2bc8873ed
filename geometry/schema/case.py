"""The case file as a validated, frozen model, SI inside.

Every dimensional value is written with its unit. Unknown keys are mistakes. What is left out takes
the default given here, or one that `geometry.layout` derives from the other values (``None`` here).
One module holds one table of the file, or several small ones.
"""

from __future__ import annotations

from platestack.geometry.schema.comparing import Compare
from platestack.geometry.schema.cutting import Cutting
from platestack.geometry.schema.cylinder import CylinderWish, ReturnSpring
from platestack.geometry.schema.duty import (
    Flange,
    GivenMaterial,
    Limits,
    MeshWish,
    PressDuty,
    Ram,
    Workpiece,
)
from platestack.geometry.schema.fastening import Bearing, Connectors, Fastening, Fixing, GlandBolts
from platestack.geometry.schema.hydraulics import Hydraulics, PumpStage
from platestack.geometry.schema.prices import Prices, Rate
from platestack.geometry.schema.quantities import Name, Section
from platestack.geometry.schema.rods import Rods
from platestack.geometry.schema.shop import Feet, Shop
from platestack.geometry.schema.spectrum import Block, Spectrum
from platestack.geometry.schema.stack import (
    ClampBoltEntry,
    GrooveOpening,
    Interface,
    Opening,
    PlateEntry,
    Platen,
    PlateOutline,
    RectangleOpening,
    RoundOpening,
    Saddle,
    Spacers,
    StackSection,
)
from platestack.geometry.schema.stock import StockPlate
from platestack.geometry.units import SystemName

__all__ = [
    "Bearing",
    "Block",
    "Case",
    "ClampBoltEntry",
    "Compare",
    "Connectors",
    "Cutting",
    "CylinderWish",
    "Fastening",
    "Feet",
    "Fixing",
    "Flange",
    "GivenMaterial",
    "GlandBolts",
    "GrooveOpening",
    "Hydraulics",
    "Interface",
    "Limits",
    "MeshWish",
    "Opening",
    "PlateEntry",
    "PlateOutline",
    "Platen",
    "PressDuty",
    "Prices",
    "PumpStage",
    "Ram",
    "Rate",
    "RectangleOpening",
    "ReturnSpring",
    "Rods",
    "RoundOpening",
    "Saddle",
    "Section",
    "Shop",
    "Spacers",
    "Spectrum",
    "StackSection",
    "Workpiece",
]


class Case(Section):
    """A whole case file."""

    units: SystemName = "SI"
    """Units of all that is shown, files for the workshop included; JSON stays SI."""
    press: PressDuty
    limits: Limits = Limits()
    spectrum: Spectrum | None = None
    crosshead: StackSection
    bed: StackSection
    rods: Rods
    ram: Ram = Ram()
    cylinder: CylinderWish = CylinderWish()
    hydraulics: Hydraulics = Hydraulics()
    workpiece: Workpiece = Workpiece()
    mesh: MeshWish = MeshWish()
    shop: Shop = Shop()
    prices: Prices | None = None
    stock: tuple[StockPlate, ...] = ()
    cutting: Cutting = Cutting()
    compare: Compare = Compare()
    materials: dict[Name, GivenMaterial] = {}
