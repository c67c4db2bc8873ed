"""From a duty to a complete case: sized by hand, each choice explained, then solved in full."""

from platestack.fea.jobs.duty.duty import Duty, read
from platestack.fea.jobs.sizing.alternatives import Alternative, alternatives
from platestack.fea.jobs.sizing.by_hand import CorrectionFactors
from platestack.fea.jobs.sizing.confirm import confirm
from platestack.fea.jobs.sizing.proposal import Proposal, propose, shortfall, summary
