"""Findings out of a log's stretches: a mean with its condition, where it comes from and how far to trust it."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.finding import Finding, Provenance
from witnessmark.measure.log.average import Average, average
from witnessmark.measure.log.conditions import condition_of, pieces_of
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.vocabulary import Condition, Place

__all__ = ["WORDS", "mean_finding", "method_of", "provenance"]

WORDS = {
    "off": "with the key off",
    "key_on": "at key-on",
    "cranking": "while cranking",
    "warm_up": "at cold idle",
    "idle": "at idle",
    "raised": "at raised speed",
    "cruise": "at cruise",
    "acceleration": "under acceleration",
    "full_load": "at full load",
    "snap": "during the snap",
    "overrun": "on overrun",
}
"""Operating states in a sentence."""


def provenance(log: Log, names: Sequence[str], spans: Sequence[StateSpan]) -> Provenance:
    """Where a finding comes from: the file, the headings of its columns, from when to when.

    Parameters
    ----------
    log : Log
    names : sequence of str
        Headings.
    spans : sequence of StateSpan
        At least one; the first's beginning and the last's end are told.

    Returns
    -------
    Provenance
    """
    begins, ends = min(span.from_s for span in spans), max(span.to_s for span in spans)
    return Provenance("recording", log.digest, ", ".join(dict.fromkeys(names)), begins, ends)


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
    place: Place = Place(),
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
    return Finding(
        quantity,
        place,
        found.value,
        found.sd,
        condition or condition_of(log, spans),
        provenance(log, (series.name,), spans),
        method_of(found, spans),
        assumptions,
    )
