"""The case file as a validated, frozen model, SI inside.

Every dimensional value is written with its unit. Unknown keys are mistakes. What is left out takes
the default given here, or one that `geometry.layout` derives from the other values (``None`` here).
One module holds one table of the file, or several small ones.
"""

from __future__ import annotations

from platestack.geometry.schema.comparing import Compare
from platestack.geometry.schema.cutting import Cutting
from platestack.geometry.schema.cylinder import CylinderWish
from platestack.geometry.schema.drawings import Drawings
from platestack.geometry.schema.duty import (
    GivenMaterial,
    Limits,
    MeshWish,
    PressDuty,
    Ram,
    Workpiece,
)
from platestack.geometry.schema.hydraulics import Hydraulics
from platestack.geometry.schema.prices import Prices
from platestack.geometry.schema.quantities import Name, Section
from platestack.geometry.schema.rods import Rods
from platestack.geometry.schema.shop import Shop
from platestack.geometry.schema.spectrum import Spectrum
from platestack.geometry.schema.stack import (
    StackSection,
)
from platestack.geometry.schema.stock import StockPlate
from platestack.geometry.units import SystemName


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
    drawings: Drawings = Drawings()
    compare: Compare = Compare()
    materials: dict[Name, GivenMaterial] = {}
