"""The case file as a validated, frozen model, SI inside.

Every dimensional value is written with its unit. Unknown keys are mistakes. What is left out takes
the default given here, or one that `geometry.layout` derives from the other values (``None`` here).
One module holds one table of the file, or several small ones.
"""

from platestack.geometry.schema.case import Case
from platestack.geometry.schema.cutting import Cutting
from platestack.geometry.schema.cylinder import ReturnSpring
from platestack.geometry.schema.duty import Flange, Limits, MeshWish
from platestack.geometry.schema.fastening import Connectors, Fastening, Fixing, GlandBolts
from platestack.geometry.schema.outline import ContourOpening, Drawn, OutlinePoint
from platestack.geometry.schema.prices import Prices, Rate
from platestack.geometry.schema.quantities import Section
from platestack.geometry.schema.spectrum import Block, Spectrum
from platestack.geometry.schema.stack import (
    ClampBoltEntry,
    GrooveOpening,
    Interface,
    Opening,
    PlateEntry,
    Platen,
    RectangleOpening,
    RoundOpening,
    Saddle,
    StackSection,
)
from platestack.geometry.schema.stock import StockPlate
