"""Findings out of a log's stretches: a mean with its condition, where it comes from and how far to trust it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from witnessmark.finding import Finding
from witnessmark.measure.log.average import Average, average
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import condition_of, source_of
from witnessmark.vocabulary import Condition, Place

__all__ = ["ends", "mean_finding", "method_of"]

_TRAILS = 0.15  # of the scatter; our guess


def ends(spans: Sequence[StateSpan]) -> tuple[float, float]:
    """Where the first of some stretches begins and the last one ends.

    Parameters
    ----------
    spans : sequence of StateSpan
        At least one.

    Returns
    -------
    tuple of float [s]
    """
    return min(span.from_s for span in spans), max(span.to_s for span in spans)


def method_of(found: Average, spans: Sequence[StateSpan], *, what: str = "mean") -> str:
    """How a mean came about, in words.

    Parameters
    ----------
    found : Average
    spans : sequence of StateSpan
    what : str

    Returns
    -------
    str
    """
    seconds = sum(span.seconds for span in spans)
    over = "one stretch" if len(spans) == 1 else f"{len(spans)} stretches"
    steady = "" if all(span.steady for span in spans) else ", not steady"
    return f"{what} of {found.count} samples, worth {found.worth:.0f}, over {over}, {seconds:.0f} s in all{steady}"


def mean_finding(
    log: Log,
    series: Series,
    spans: Sequence[StateSpan],
    quantity: str,
    *,
    place: Place | None = None,
    floor: float = 0.0,
    condition: Condition | None = None,
    assumptions: tuple[str, ...] = (),
) -> Finding | None:
    """The mean of a series over stretches of one state, as a finding.

    Parameters
    ----------
    log : Log
    series : Series
    spans : sequence of StateSpan
    quantity : str
    place : Place
    floor : float [unit of the parameter]
        As of :func:`average`.
    condition : Condition, optional
        Else that of the stretches.
    assumptions : tuple of str

    Returns
    -------
    Finding or None
        None below three samples.
    """
    found = average(pieces_of(series, spans), floor=floor)
    if found is None:
        return None
    if not all(span.steady for span in spans):
        # A computer filters what it shows: while things change, its number trails behind by a part of the change.
        found = replace(found, sd=float(np.hypot(found.sd, _TRAILS * found.scatter)))
    return Finding(
        quantity,
        place or Place(),
        found.value,
        found.sd,
        condition or condition_of(log, spans, state=spans[0].state),
        source_of(log, (series,), *ends(spans)),
        method_of(found, spans),
        assumptions,
    )
