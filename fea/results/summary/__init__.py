"""The summary of a run as a published record: what `summary.json` holds.

Its JSON schema stands in ``summary.schema.json`` beside this module. Numbers are SI, each with its
unit, its error where one is known, and a note.
"""

from platestack.fea.results.summary.records import (
    CheckRecord,
    FactRecord,
    Figure,
    InterfaceRecord,
    StackRecord,
)
from platestack.fea.results.summary.summary import Summary, schema, summarise
