"""A sentence with what it rests on, and where on the page that stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.report.words import bound

__all__ = ["COMPLAINT", "PLAN", "REFERENCES", "Sentence", "said"]

COMPLAINT = "complaint"
"""The owner's own words."""

PLAN = "plan"
"""The plan as a whole, where none of its steps lies inside what was agreed."""

REFERENCES = {
    "f": "a finding",
    "h": "a hypothesis; also nothing_wrong, elsewhere, none_of_these",
    "g": "a group of hypotheses that one repair cures",
    "t": "a step of the plan: its steps in order, then its alternatives",
    "d": "work done before, in the order it was written",
    COMPLAINT: "the owner's own words",
    PLAN: "the plan as a whole",
}
"""What the ids that a sentence rests on begin with."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence.

    Parameters
    ----------
    text : str
    rests_on : tuple of str
        Ids of what its words and numbers are taken from, at least one; :data:`REFERENCES` says what they mean.
    """

    text: str
    rests_on: tuple[str, ...]


def said(text: str, *rests_on: str | Iterable[str]) -> Sentence:
    """A sentence, numbers bound to their units, each id once.

    Parameters
    ----------
    text : str
    *rests_on : str or iterable of str

    Returns
    -------
    Sentence

    Raises
    ------
    ValueError
        If it rests on nothing.
    """
    ids = [name for one in rests_on for name in ([one] if isinstance(one, str) else one)]
    if not ids:
        raise ValueError(f"this sentence rests on nothing: {text}")
    text = bound(text)
    return Sentence(text[:1].upper() + text[1:], tuple(dict.fromkeys(ids)))
