"""Everything that must be bought or made for a press: one list, its prices, when to order."""

from platestack.fea.jobs.buying.bill import STATES, STEPS, Materials, Quote, Total, make
from platestack.fea.jobs.buying.files import FORMS, read_quotes, write
from platestack.fea.jobs.buying.line import SPREAD, Money, OrderLine
