"""How sure, in words that have one meaning each."""

from __future__ import annotations

__all__ = ["LIKELY", "likely_words"]

LIKELY = (
    (0.99, "almost certainly"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.0, "possibly"),
)
"""Least probability of each word.

Limits as in the calibrated language of the IPCC (Mastrandrea and others, *Guidance note for lead authors of the fifth
assessment report on consistent treatment of uncertainties*, 2010, table 1): virtually certain 99 %, very likely 90 %,
likely 66 %, about as likely as not 33 to 66 %, unlikely below 33 %.
"""


def likely_words(probability: float) -> str:
    """A probability in words.

    Parameters
    ----------
    probability : float [-]

    Returns
    -------
    str

    Examples
    --------
    >>> likely_words(0.93), likely_words(0.7)
    ('very likely', 'likely')
    """
    return next(words for least, words in LIKELY if probability >= least)
