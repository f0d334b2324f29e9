"""Whether the quick trim goes where its oxygen sensor sends it: up while lean, down while rich."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.measured import Event
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan

__all__ = ["follows", "trim_against"]

_FEWEST = 30
_SURE = 4.0  # standard deviations
_MOST_PERIOD_S = 1.0  # of both: seldom samples see only what has long been trimmed away; our guess


def follows(trim: Series, sensor: Series, spans: Sequence[StateSpan], *, rich_above: float) -> float | None:
    """How surely a trim follows a sensor, in standard deviations; below zero it goes against it.

    Parameters
    ----------
    trim : Series
    sensor : Series
        Volts, or λ.
    spans : sequence of StateSpan
    rich_above : float [V]
        Between rich and lean; of λ its value with a minus, as more means leaner there.

    Returns
    -------
    float or None, shape ()
        Correlation of the trim's change with lean (+1) and rich (-1) in between, over its standard deviation for
        independent samples; None where the samples are too few or come too seldom.
    """
    if len(trim) < 2 or len(sensor) < 2 or max(trim.period_s, sensor.period_s) > _MOST_PERIOD_S:
        return None
    changes, leans = [], []
    for piece in pieces_of(trim, spans):
        if len(piece) < 3:
            continue
        middle = 0.5 * (piece.times_s[1:] + piece.times_s[:-1])
        seen = sensor.known_at(middle, oldest_s=2.0 * sensor.period_s)
        lean = np.sign(abs(rich_above) - seen) * (1.0 if rich_above >= 0.0 else -1.0)
        step = np.sign(np.diff(piece.values))
        told = np.isfinite(lean) & (step != 0.0)
        changes.append(step[told])
        leans.append(lean[told])
    change, lean = (np.concatenate(each) if each else np.empty(0) for each in (changes, leans))
    if change.size < _FEWEST or not change.std() or not lean.std():
        return None
    r = float(np.corrcoef(change, lean)[0, 1])
    # Signs follow one another in runs: as many independent ones as there are runs, about.
    runs = 1 + int(np.count_nonzero(np.diff(lean)))
    return r * float(np.sqrt(min(change.size, 2 * runs)))


def trim_against(log: Log, spans: Sequence[StateSpan]) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    """Banks whose trim goes against its own sensor, and whether it follows the other bank's.

    Parameters
    ----------
    log : Log
    spans : sequence of StateSpan
        Closed loop.

    Returns
    -------
    tuple of (tuple of Event, tuple of str)
    """
    events, notes = [], []
    for trim in log.all_of("short_trim"):
        bank = int(trim.signal.bank or 1)
        own = _sure(log, trim, bank, spans)
        if own is None:
            continue
        sensor, sure = own
        other = next((o for b in (1, 2) if b != bank and (o := _sure(log, trim, b, spans)) is not None), None)
        if other is not None and other[1] > _SURE and sure < 0.3 * other[1]:
            notes.append(
                f"Short-term trim of bank {bank} follows the sensor of the other bank, not its own: as if the two were "
                "exchanged."
            )
        if sure < -_SURE:
            events.append(Event(
                "implausible", (str(trim.signal), str(sensor.signal)), spans[0].from_s, spans[-1].to_s,
                f"Short-term trim of bank {bank} falls while its sensor says lean and rises while it says rich: "
                f"{-sure:.0f} standard deviations.",
            ))  # fmt: skip
    return tuple(events), tuple(notes)


def _sure(log: Log, trim: Series, bank: int, spans: Sequence[StateSpan]) -> tuple[Series, float] | None:
    for parameter, between in (("o2_voltage", 0.45), ("lambda", -1.0)):
        sensor = log.get(parameter, bank=bank, sensor=1)
        sure = follows(trim, sensor, spans, rich_above=between) if sensor is not None else None
        if sensor is not None and sure is not None:
            return sensor, sure
    return None
