"""From a duty to a complete case: sized by hand, each choice explained, confirmed by a solution."""

from fea.sizing.alternatives import Alternative, alternatives
from fea.sizing.by_hand import Reserve
from fea.sizing.confirm import confirm
from fea.sizing.duty import Duty, read
from fea.sizing.proposal import Proposal, propose, shortfall, summary

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
