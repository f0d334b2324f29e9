"""None of these: what the findings would look like if something outside the list had moved them.

Set by leaving out one fault after the other (``benchmarks/none_of_these.py``): what a fault does that the list does not
know is, as far as one can tell, what the listed ones do. It moves the readings of one place, seldom of several; it may
be small, as a listed fault may; it sets few of the codes that were asked for, or just those that somebody typed.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import lgamma

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Finding
from witnessmark.infer.evidence import WIDE, Evidence
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.sorting import query_of
from witnessmark.infer.warp import Warp
from witnessmark.vocabulary import Query

__all__ = ["NONE_SPREAD", "log_all_codes", "log_codes", "log_unlisted", "none_spread", "unlisted_share"]

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
# Spreads up to which the readings of a place stand as they should. The sum over all places is then 0.02 nat off at most
# in ten sets of 12 and 40 readings with some far off and some misread; by two spreads it would be 0.19.
_QUIET = 1.0
_ONE_PLACE = 0.6  # share of disturbances that move the readings of one place only
_TOGETHER = 0.5  # of the others: how far readings in one unit move alike
# Its sizes, all as likely: the listed ones' ranges span a factor of 60 in the median, and so of 8 down from the middle,
# which is what the usual spread is of. Were it always as gross as that, an engine on which next to nothing stands out
# would have spoken against it, as it speaks against no listed fault.
_SIZES = (1.0, 0.5, 0.25, 0.125)
_SET, _NOT_SET = 1.5, 16.0  # beta law of the rate at which codes set that were asked for: 9 %
_SETS = 0.03  # chance that an unlisted cause sets a given code outside the drive; our guess
# Chance that it sets none of those that were asked for, and leaves them as on a sound engine. Of the listed faults, by
# their priors, 63 in 100 leave all of some fifty codes unset that a sound engine leaves unset in 87 (this program's own
# predictions on two engines of its drawing).
_SILENT = 0.7
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
    sorts = [_sort_of(finding) for finding in findings]
    place, sort = _numbered([str(f.place) + one for f, one in zip(findings, sorts, strict=True)]), _numbered(sorts)
    alike = (1.0 - _TOGETHER) * (place[:, None] == place) + _TOGETHER * (sort[:, None] == sort)
    none, places = np.zeros(len(findings)), int(place.max()) + 1
    sound = Evidence(findings, none, nominal, warp=warp, one_scale=True)
    logs = []
    for size in _SIZES:
        reach = size * spread
        everywhere = Evidence(findings, none, nominal + np.outer(reach, reach) * alike, warp=warp, one_scale=True)
        logs.append(np.log(1.0 - _ONE_PLACE) + everywhere.log_density(healthy[None, :]))
        along = np.where(place == np.arange(places)[:, None], reach, 0.0)
        logs.append(np.log(_ONE_PLACE / places) + _log_shifted(sound, along, healthy))
    return total + float(log_sum(np.concatenate(logs))) - float(np.log(len(_SIZES)))


def _log_shifted(sound: Evidence, along: Array, healthy: Array) -> Array:
    """Log density where one place is moved, shape (places,).

    Where its readings stand as they should, moving them is told by the normal law alone: whether others were misread
    is as it was.
    """
    plain = float(sound.log_density(healthy[None, :])[0])
    inverse, there = sound.law.scales[0].inverse, ~np.isnan(healthy)
    toward = along @ inverse
    grown = 1.0 + np.einsum("pq,pq->p", toward, along)
    pulled = toward[:, there] @ (sound.values - healthy)[there]
    found = plain - 0.5 * np.log(grown) + 0.5 * pulled**2 / grown
    moved = (pulled**2 > _QUIET**2 * grown) | ((along != 0.0) & ~there).any(axis=1)
    if there.all():
        found[moved] = sound.law.log_shifted(sound.values - healthy, along[moved])
        return np.asarray(found)
    for k in np.flatnonzero(moved):
        found[k] = sound.shifted(along[k]).log_density(healthy[None, :])[0]
    return np.asarray(found)


def _numbered(names: Sequence[str]) -> NDArray[np.intp]:
    """Every name as a number, from 0 in the order in which they first come."""
    order = {name: k for k, name in enumerate(dict.fromkeys(names))}
    return np.array([order[name] for name in names], dtype=np.intp)


def _sort_of(finding: Finding) -> str:
    """Readings that one disturbance moves alike: angles of the drive; else of one quantity only.

    A vacuum gauge and a reported pressure are both in kilopascals and move against each other.
    """
    return finding.unit if is_cheap(query_of(finding)) else finding.quantity


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


def log_all_codes(driven: Sequence[bool], others: Sequence[bool], log_sound: float) -> float:
    """Log probability of all codes: an unlisted cause sets none, or one or two of the hundred that a computer may set.

    Parameters
    ----------
    driven : sequence of bool
        Which of the timing drive's codes asked for are set. Where only these were asked for, the cause is sought in the
        drive, and :func:`log_codes` is all.
    others : sequence of bool
        Which of the others.
    log_sound : float [nat]
        Log probability of them all on a sound engine.

    Returns
    -------
    float, shape () [nat]
    """
    set_by_it = log_codes(driven)
    if not others:
        return set_by_it
    set_by_it += sum(float(np.log(_SETS if is_set else 1.0 - _SETS)) for is_set in others)
    return float(np.logaddexp(np.log(_SILENT) + log_sound, np.log(1.0 - _SILENT) + set_by_it))


def _log_beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)


assert set(NONE_SPREAD) == set(WIDE)
