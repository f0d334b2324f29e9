"""A piece of a heading, and one way to call a parameter: plain values that words and headings are compared by."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

__all__ = ["UMLAUTS", "UNREAD", "Meanings", "Pattern", "Piece", "folded"]

Meanings = dict[tuple[str, ...], float]
"""What a piece of a heading may say (one or more concepts), and what believing so costs, in nats."""

UNREAD = "\ufffd"
"""Stands for a letter that a broken encoding lost."""

_PLAIN = str.maketrans(
    {"ß": "ss", "æ": "ae", "ø": "o", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "λ": "lambda"}
)
UMLAUTS = {"ä": "ae", "ö": "oe", "ü": "ue"}
"""How German spells its letters where it has only plain ones."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a heading.

    Parameters
    ----------
    text : str
        Folded.
    meanings : dict
        Empty for a word that is not known.
    number : int or None
        Where it is a number.
    """

    text: str
    meanings: Meanings
    number: int | None = None

    @property
    def letter(self) -> str | None:
        """The letter, where it is a single one."""
        return self.text if len(self.text) == 1 and self.text.isalpha() else None


@dataclass(frozen=True, slots=True)
class Pattern:
    """One way to call a parameter.

    Parameters
    ----------
    parameter : str
    base : float [nats]
        What it costs by itself.
    concepts : dict of str to bool
        Whether each is needed.
    needed : frozenset of str
    first : bool
        The cheapest of its parameter for a heading that says nothing of it.
    """

    parameter: str
    base: float
    concepts: dict[str, bool]
    needed: frozenset[str]
    first: bool


def folded(text: str) -> str:
    """Small letters without marks; a letter that an encoding lost stays :data:`UNREAD`.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> folded("Öldruck")
    'oldruck'
    """
    plain = unicodedata.normalize("NFKD", text.casefold().translate(_PLAIN))
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    return "".join(
        c if c.isascii() or not c.isprintable() or c == UNREAD else UNREAD if c.isalpha() else c for c in kept
    )
