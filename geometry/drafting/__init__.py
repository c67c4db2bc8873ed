"""Drawings on paper: what a part is, its views and dimensions, its sheet. Paper is in mm."""

from platestack.geometry.drafting.conflicts import conflicts
from platestack.geometry.drafting.draft import Draft, ShownNumber
from platestack.geometry.drafting.flat_view import flat_view
from platestack.geometry.drafting.frame import DrawingHead, compose
from platestack.geometry.drafting.paper import PAPERS, Paper
from platestack.geometry.drafting.solids import FlatPart, Opening, Slot, Step, Turned
from platestack.geometry.drafting.svg import svg
from platestack.geometry.drafting.turned_view import turned_view
