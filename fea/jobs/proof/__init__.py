"""The proof test of a run: what to expect step by step, and what the measured readings say."""

from platestack.fea import pictures
from platestack.fea.jobs.proof.files import ProofComparison, compare, draw, write
from platestack.fea.jobs.proof.plan import ProofPlan, make
from platestack.fea.jobs.proof.readings import SHOWN, shown_as
