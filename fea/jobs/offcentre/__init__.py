"""Off-centre load of a press: a case in, places and allowed offsets out."""

from platestack.fea.jobs.offcentre.capacity import OffCentreCapacity, work_out
from platestack.fea.jobs.offcentre.places import GUIDES, OPENING, ROD, TILT, OffCentre
