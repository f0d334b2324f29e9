"""What the columns of a parameter log are: proposed by name, unit, numbers and the relations between columns."""

from witnessmark.recording.columns.candidates import (
    Answer,
    Candidate,
    ColumnProposal,
    Proposal,
    Question,
    answer_of,
)
from witnessmark.recording.columns.mappingfile import mappings_from_tables, mappings_to_tables
from witnessmark.recording.columns.proposal import propose
from witnessmark.recording.columns.remembered import (
    RememberedColumn,
    RememberedMapping,
    fingerprint,
    with_mapping,
)

__all__ = [
    "Answer",
    "Candidate",
    "ColumnProposal",
    "Proposal",
    "Question",
    "RememberedColumn",
    "RememberedMapping",
    "answer_of",
    "fingerprint",
    "mappings_from_tables",
    "mappings_to_tables",
    "propose",
    "with_mapping",
]
