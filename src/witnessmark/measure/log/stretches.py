"""What all parts of measuring a log ask of its stretches: which samples, under which condition, from where."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.finding import Provenance
from witnessmark.measure.log.conditions import complaint_in, pieces_of
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.vocabulary import Condition

__all__ = ["TURNING", "Group", "condition_of", "grouped", "source_of", "state_at"]

TURNING = ("warm_up", "idle", "raised", "cruise", "acceleration", "full_load", "snap", "overrun")
"""States in which the engine runs by itself."""


@dataclass(frozen=True, slots=True)
class Group:
    """All stretches of one state, warm or cold apart.

    Parameters
    ----------
    state : str
    warm : bool, optional
    spans : tuple of StateSpan
        In order of time.
    """

    state: str
    warm: bool | None
    spans: tuple[StateSpan, ...]

    @property
    def steady(self) -> Group:
        """The steady ones among them."""
        return Group(self.state, self.warm, tuple(span for span in self.spans if span.steady))


def grouped(states: Iterable[StateSpan], among: Sequence[str] | None = None) -> Iterator[Group]:
    """Stretches by state and by whether the engine was warm.

    Parameters
    ----------
    states : iterable of StateSpan
    among : sequence of str, optional
        Only these states.

    Yields
    ------
    Group
        In the order in which states first come.
    """
    found: dict[tuple[str, bool | None], list[StateSpan]] = {}
    for span in states:
        if among is None or span.state in among:
            found.setdefault((span.state, span.warm), []).append(span)
    for (state, warm), spans in found.items():
        yield Group(state, warm, tuple(spans))


def state_at(states: Iterable[StateSpan], time_s: float) -> StateSpan | None:
    """The stretch that a time lies in.

    Parameters
    ----------
    states : iterable of StateSpan
    time_s : float [s]

    Returns
    -------
    StateSpan or None
    """
    return next((span for span in states if span.from_s <= time_s <= span.to_s), None)


def condition_of(
    log: Log, spans: Sequence[StateSpan], *, state: str | None, phaser: str | None = None, coolant: bool = True
) -> Condition:
    """Under which circumstances stretches went.

    Parameters
    ----------
    log : Log
    spans : sequence of StateSpan
    state : str, optional
    phaser : str, optional
    coolant : bool
        False leaves the coolant's temperature out: of a finding that is that temperature.

    Returns
    -------
    Condition
        Speed and coolant as their means; the complaint as the recording's note or a marker says.
    """
    said = log.recording.condition if log.recording is not None else Condition()
    turning = state not in ("off", "key_on", "cranking")
    return Condition(
        state=state,
        speed_rpm=_mean(log.get("engine_speed"), spans, 0) if turning else None,
        coolant_c=_mean(log.get("coolant"), spans, 1) if coolant else None,
        phaser=phaser,
        complaint=complaint_in(log, spans),
        during=said.during,
    )


def _mean(series: Series | None, spans: Sequence[StateSpan], digits: int) -> float | None:
    pieces = pieces_of(series, spans) if series is not None else []
    return round(float(np.mean(np.concatenate([one.values for one in pieces]))), digits) if pieces else None


def source_of(log: Log, used: Sequence[Series], from_s: float, to_s: float) -> Provenance:
    """Where a finding out of a log comes from.

    Parameters
    ----------
    log : Log
    used : sequence of Series
        Their headings are named.
    from_s, to_s : float [s]

    Returns
    -------
    Provenance
    """
    names = ", ".join(dict.fromkeys(one.name or str(one.signal) for one in used))
    return Provenance("recording", log.digest, names, round(float(from_s), 3), round(float(to_s), 3))
