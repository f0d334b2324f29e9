"""None of these: what the findings would look like if something outside the list had moved them.

Set by leaving out one fault after the other (``benchmarks/none_of_these.py``): what a fault does that the list does not
know is, as far as one can tell, what the listed ones do. It moves the readings of one place, seldom of several; it sets
few of the codes that were asked for, or just those that somebody typed.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import lgamma

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Finding
from witnessmark.infer.evidence import WIDE, Evidence, log_sum
from witnessmark.infer.warp import Warp
from witnessmark.vocabulary import Query

__all__ = ["NONE_SPREAD", "log_codes", "log_other_codes", "log_unlisted", "none_spread", "unlisted_share"]

Array = NDArray[np.float64]
# How far an unlisted disturbance may move things.
NONE_SPREAD = {"deg": 14.0, "mm": 6.0, "pin": 1.5, "tooth": 0.8, "1/turn": 2.0, "deg/s": 60.0}
# Scatter and pitch error are no positions: an unlisted cause moves them less.
_NONE_BY_QUANTITY = {
    "phase_scatter": 1.5,
    "wheel_pitch_error": 0.5,
    "cam_phase_change": 4.0,
    "edges_missing": 0.3,
    "phaser_slew": 30.0,
}
_ONE_PLACE = 0.6  # share of disturbances that move the readings of one place only
_TOGETHER = 0.5  # of the others: how far readings in one unit move alike
_SET, _NOT_SET = 1.5, 16.0  # beta law of the rate at which codes set that were asked for: 9 %
_SETS = 0.03  # chance that an unlisted cause sets a given code outside the drive; our guess
_AS_IT_SHOULD = 0.85  # chance that a yes-or-no finding is as on a sound engine


def none_spread(queries: Sequence[Query]) -> Array:
    """How broadly "none of these" expects each quantity.

    Parameters
    ----------
    queries : sequence of Query, length q

    Returns
    -------
    ndarray, shape (q,)
        In each quantity's unit.
    """
    usual = [NONE_SPREAD.get(q.kind.unit_at(q.place), 4.0 * q.kind.default_sd(1.0)) for q in queries]
    return np.array([_NONE_BY_QUANTITY.get(q.quantity, u) for q, u in zip(queries, usual, strict=True)])


def unlisted_share(listed: float, rest: float) -> float:
    """Share of all unlisted causes that would move these findings at all.

    Parameters
    ----------
    listed : float [-]
        Prior weight of all faults of the list.
    rest : float [-]
        Prior weight of all faults known to exist that this version does not model.

    Returns
    -------
    float, shape () [-]

    Notes
    -----
    The catalogue's "none of these" is of all complaints. Unlisted causes are taken to sit where the listed and the not
    yet modelled ones sit, in proportion; those elsewhere leave these findings as on a sound engine.
    """
    return listed / (listed + rest)


def log_unlisted(
    findings: Sequence[Finding],
    nominal: Array,
    spread: Array,
    healthy: Array,
    odd: Sequence[bool],
    warp: Warp | None = None,
) -> float:
    """Log probability of all readings and yes-or-no findings if something unlisted moved them; codes by themselves.

    Parameters
    ----------
    findings : sequence of Finding, length q
        The continuous ones.
    nominal : ndarray, shape (q, q)
        Covariance of sound engines about their prediction, tolerances included.
    spread : ndarray, shape (q,)
        Of :func:`none_spread`.
    healthy : ndarray, shape (q,)
        Predictions for a sound engine.
    odd : sequence of bool
        Of every yes-or-no finding, whether it is not as on a sound engine.
    warp : Warp, optional
        The scales that nominal, spread and healthy are on.

    Returns
    -------
    float, shape () [nat]
    """
    total = sum((float(np.log(1.0 - _AS_IT_SHOULD if strange else _AS_IT_SHOULD)) for strange in odd), 0.0)
    if not findings:
        return total
    sound = Evidence(findings, np.zeros(len(findings)), nominal, warp=warp, one_scale=True)
    place, unit = _numbered([str(f.place) + f.unit for f in findings]), _numbered([f.unit for f in findings])
    alike = (1.0 - _TOGETHER) * (place[:, None] == place) + _TOGETHER * (unit[:, None] == unit)
    everywhere = nominal + np.outer(spread, spread) * alike
    laws = [(1.0 - _ONE_PLACE, Evidence(findings, np.zeros(len(findings)), everywhere, warp=warp, one_scale=True))]
    count = int(place.max()) + 1
    laws += [(_ONE_PLACE / count, sound.shifted(np.where(place == k, spread, 0.0))) for k in range(count)]
    logs = [float(np.log(share)) + float(law.log_density(healthy[None, :])[0]) for share, law in laws]
    return total + float(log_sum(np.array(logs)))


def _numbered(names: Sequence[str]) -> NDArray[np.intp]:
    """Every name as a number, from 0 in the order in which they first come."""
    order = {name: k for k, name in enumerate(dict.fromkeys(names))}
    return np.array([order[name] for name in names], dtype=np.intp)


def log_codes(codes: Sequence[bool]) -> float:
    """Log probability of the timing drive's codes if something unlisted set them.

    Half the time as codes come where all were asked for, half the time each as likely set as not: a typed list leaves
    out those that are not set.

    Parameters
    ----------
    codes : sequence of bool
        Which of the codes asked for are set.

    Returns
    -------
    float, shape () [nat]
    """
    n, k = len(codes), sum(codes)
    if not n:
        return 0.0
    asked = _log_beta(_SET + k, _NOT_SET + n - k) - _log_beta(_SET, _NOT_SET)
    return float(log_sum(np.array([asked, n * np.log(0.5)]) + np.log(0.5)))


def log_other_codes(codes: Sequence[bool]) -> float:
    """Log probability of all other codes: an unlisted cause sets one or two of the hundred that a computer may set.

    Parameters
    ----------
    codes : sequence of bool
        Which of the codes asked for are set.

    Returns
    -------
    float, shape () [nat]
    """
    return float(sum(np.log(_SETS if is_set else 1.0 - _SETS) for is_set in codes))


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)


assert set(NONE_SPREAD) == set(WIDE)
