"""Where a log says that the mixture was controlled in a closed loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.series import Log
from witnessmark.measure.log.spans import StateSpan
from witnessmark.recording.parameters import signal_of

__all__ = ["closed_parts", "loop_told"]

BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]

_CLOSED = (2.0, 16.0)  # of service 01, parameter 03: closed loop; closed, with a sensor at fault (from memory)
_OLD_S = 30.0


def loop_told(log: Log, bank: int) -> tuple[FloatArray, BoolArray] | None:
    """When the fuel system's status was read, and whether the loop was closed then.

    Parameters
    ----------
    log : Log
    bank : int

    Returns
    -------
    tuple of array, shape (n,) [s], and array of bool, shape (n,); or None
        None where the log holds no status, or words that nothing here understands.
    """
    traces = [t for t in (log.recording or ()) if t.role is not None and t.role.split()[:1] == ["fuel_status"]]
    own = [t for t in traces if signal_of(str(t.role)).bank in (bank, None)] or traces
    for trace in own:
        if not len(trace):
            continue
        if trace.raw.dtype.kind in "iuf":
            return trace.times_s, np.isin(trace.values, _CLOSED)
        words = [str(word).strip().casefold() for word in trace.raw]
        closed = np.array(["closed" in w or w in ("cl", "2", "16") for w in words])
        open_ = np.array(["open" in w or w in ("ol", "0", "1", "4", "8", "off") for w in words])
        if (closed | open_).all():
            return trace.times_s, closed
    return None


def closed_parts(log: Log, bank: int, spans: Sequence[StateSpan]) -> tuple[StateSpan, ...] | None:
    """The parts of stretches in which the loop was closed; None where the log does not tell.

    Parameters
    ----------
    log : Log
    bank : int
    spans : sequence of StateSpan

    Returns
    -------
    tuple of StateSpan or None
    """
    told = loop_told(log, bank)
    if told is None:
        return None
    return tuple(part for span in spans for part in _closed(span, *told))


def _closed(span: StateSpan, times: FloatArray, closed: BoolArray) -> list[StateSpan]:
    """A status holds until the next is read, if that is not long after."""
    ends = np.minimum(np.append(times[1:], np.inf), times + _OLD_S)
    found: list[StateSpan] = []
    for begins, lasts, shut in zip(times.tolist(), ends.tolist(), closed.tolist(), strict=True):
        low, high = max(begins, span.from_s), min(lasts, span.to_s)
        if not shut or high <= low:
            continue
        if found and low - found[-1].to_s <= 1e-9:
            found[-1] = replace(found[-1], to_s=high)
        else:
            found.append(replace(span, from_s=low, to_s=high))
    return found
