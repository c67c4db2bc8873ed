"""Off-centre load of a press: a case in, places and allowed offsets out."""

from platestack.fea.jobs.offcentre.outcome import Outcome, work_out
from platestack.fea.jobs.offcentre.places import GUIDES, OPENING, ROD, TILT, OffCentre
