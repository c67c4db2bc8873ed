"""Drawings of every part that is made, and of the whole press, as PDF and DXF."""

from platestack.fea.jobs.drawings.files import DrawingSet, write
from platestack.fea.jobs.drawings.parts import PartDrawing, parts
from platestack.fea.jobs.drawings.sheets import sheets
