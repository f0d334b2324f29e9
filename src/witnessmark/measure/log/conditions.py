"""Which stretches of a state are taken, and whether the complaint was there meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan

__all__ = ["chosen", "complaint_in", "pieces_of"]

_LATE_S, _FAR_S = 15.0, 60.0  # a driver presses late by so much; further off than this nothing was felt; our guess
_ENOUGH_S, _ENOUGH_SHARE = 10.0, 0.3


def pieces_of(series: Series, spans: Iterable[StateSpan]) -> list[Series]:
    """The samples of a series within each stretch, those without a sample left out.

    Parameters
    ----------
    series : Series
    spans : iterable of StateSpan

    Returns
    -------
    list of Series
    """
    return [piece for span in spans if len(piece := series.inside(span.from_s, span.to_s))]


def chosen(spans: Sequence[StateSpan], state: str, *, warm: bool | None = None) -> tuple[StateSpan, ...]:
    """The stretches of a state that means are taken over: the steady ones where they are enough, else all.

    Parameters
    ----------
    spans : sequence of StateSpan
    state : str
    warm : bool, optional
        Only those of a warm (or cold) engine; one of which nothing tells counts as either.

    Returns
    -------
    tuple of StateSpan
        ``all(span.steady for span in ...)`` says which it was.
    """
    every = tuple(s for s in spans if s.state == state and (warm is None or s.warm in (warm, None)))
    still = tuple(s for s in every if s.steady)
    seconds, of_all = sum(s.seconds for s in still), sum(s.seconds for s in every)
    return still if still and (seconds >= _ENOUGH_S or seconds >= _ENOUGH_SHARE * of_all) else every


def complaint_in(log: Log, spans: Sequence[StateSpan]) -> str | None:
    """Whether the complaint was there: by what is noted of the whole recording, else by a marker pressed during it.

    Parameters
    ----------
    log : Log
    spans : sequence of StateSpan

    Returns
    -------
    str or None
        "present" where the marker was pressed within a stretch or soon after it; "absent" where it was pressed, but far
        from every one of them; None where nothing tells.
    """
    if log.recording is not None and log.recording.condition.complaint is not None:
        return log.recording.condition.complaint
    marker = log.get("marker")
    if marker is None or not spans:
        return None
    pressed = marker.times_s[marker.values > 0.5]
    if not pressed.size:
        return None
    first = np.array([span.from_s for span in spans])[:, None]
    last = np.array([span.to_s for span in spans])[:, None]
    if ((pressed >= first) & (pressed <= last + _LATE_S)).any():
        return "present"
    return "absent" if ((pressed < first - _FAR_S) | (pressed > last + _FAR_S)).all() else None
