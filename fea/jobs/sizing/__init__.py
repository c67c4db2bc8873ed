"""From a duty to a complete case: sized by hand, each choice explained, confirmed by a solution."""

from platestack.fea.jobs.sizing.alternatives import Alternative, alternatives
from platestack.fea.jobs.sizing.by_hand import Reserve
from platestack.fea.jobs.sizing.confirm import confirm
from platestack.fea.jobs.sizing.duty import Duty, read
from platestack.fea.jobs.sizing.proposal import Proposal, propose, shortfall, summary

__all__ = [
    "Alternative",
    "Duty",
    "Proposal",
    "Reserve",
    "alternatives",
    "confirm",
    "propose",
    "read",
    "shortfall",
    "summary",
]
