"""How much of something a person sees, smells or hears: from a physical magnitude to the chance of each grade.

An ordered logistic law over the magnitude's logarithm: grade g or more has the chance of one half at its threshold, and
all grades share one slope, so that they keep their order everywhere (docs/predicting.md, "graded observations").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.predict.logistic import step
from witnessmark.predict.model import Values
from witnessmark.vocabulary import GRADES

__all__ = ["FALSELY", "Scale", "binned", "chances_of", "mean_grade", "worst"]

_Array = NDArray[np.float64]

FALSELY = 0.02
"""Chance that somebody grades 1 or more where there is nothing at all; our guess."""
_NEXT = 0.15  # of such a false alarm, that it is one grade more; our guess
_LEAST = 1e-12


@dataclass(frozen=True, slots=True)
class Scale:
    """How a magnitude is graded.

    Parameters
    ----------
    at : tuple of float, shape (3,)
        Magnitude at which half the people say grade 1, 2, 3 or more, in the magnitude's unit; rising.
    blur : float [-]
        By how much of the magnitude's natural logarithm people, and cars, differ.
    seen : float [-]
        Share of such cases that leave something to be seen, smelt or heard at all.
    falsely : float [-]
        Chance of grade 1 or more where there is nothing.

    Notes
    -----
    Thresholds, slopes and shares are our guess unless the row that states them says otherwise.
    """

    at: tuple[float, float, float]
    blur: float = 0.35
    seen: float = 0.97
    falsely: float = FALSELY


def chances_of(magnitude: Values, scale: Scale) -> _Array:
    """Chance of every grade.

    Parameters
    ----------
    magnitude : float or array, shape (n,)
        0 or less for nothing; NaN where there could be no such observation.
    scale : Scale

    Returns
    -------
    array, shape (n, 4) [-]
        Of grades 0, 1, 2, 3; sums to one. NaN throughout where the magnitude is.
    """
    amount = np.atleast_1d(np.asarray(magnitude, dtype=np.float64))
    level = np.log(np.clip(amount, _LEAST, 1.0 / _LEAST))[:, None]
    rank = np.arange(GRADES - 1)
    exponent = np.clip((level - np.log(np.asarray(scale.at))) / scale.blur, -500.0, 500.0)
    falsely = scale.falsely * _NEXT**rank
    more = falsely + (max(scale.seen, scale.falsely) - falsely) / (1.0 + np.exp(-exponent))
    return np.where(np.isnan(amount)[:, None], np.nan, _from_more(more))


def binned(mean: Values, sd: float) -> _Array:
    """Grades of what is predicted as a number from 0 to 3 with a spread: the number rounded.

    Parameters
    ----------
    mean : float or array, shape (n,) [-]
    sd : float, shape () [-]
        Of the number about its prediction; logistic.

    Returns
    -------
    array, shape (n, 4) [-]
    """
    middle = np.atleast_1d(np.asarray(mean, dtype=np.float64))[:, None]
    return _from_more(step((middle - (np.arange(GRADES - 1) + 0.5)) / sd))


def worst(several: Sequence[_Array]) -> _Array:
    """Grades of the worst of several observations: what "clean" leaves open.

    Parameters
    ----------
    several : sequence of array, shape (n, 4) [-]

    Returns
    -------
    array, shape (n, 4) [-]

    Notes
    -----
    One eye and one lamp see all of them, so they are taken to miss and to imagine together: the chance that none is
    more than g is that of the least likely, not the product. Our guess.
    """
    more = np.max([np.cumsum(one[:, ::-1], axis=1)[:, -2::-1] for one in several], axis=0)
    return _from_more(more)


def mean_grade(chances: _Array) -> _Array:
    """The grade to be expected.

    Parameters
    ----------
    chances : array, shape (n, 4) [-]

    Returns
    -------
    array, shape (n,) [-]
    """
    return np.asarray(chances @ np.arange(float(GRADES)))


def _from_more(more: _Array) -> _Array:
    """From the chance of grade 1, 2, 3 or more to that of each grade."""
    ends = np.concatenate([np.ones((len(more), 1)), more, np.zeros((len(more), 1))], axis=1)
    return np.asarray(np.maximum(ends[:, :-1] - ends[:, 1:], 0.0))
