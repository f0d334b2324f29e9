"""Crank speed: of whole turns by operating state, and over a short window as computers reckon it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap, TurnSpeeds
from witnessmark.finding import Finding, Provenance
from witnessmark.measure.footing import place_sd_deg
from witnessmark.measure.runout import NO_RUN_OUT, RunOut
from witnessmark.vocabulary import Condition, Place

__all__ = ["StateRun", "measure_speed", "speed_at_once", "state_of", "state_runs"]

IntArray = NDArray[np.intp]

# A starter turns a warm engine at 150 to 300 rpm; no engine idles below 450: common practice, no source.
_CRANKING_BELOW_RPM = 420.0
_IDLE_BELOW_RPM = 1200.0
# A speed about a limit does not change the state with every turn.
_STAYS_WITHIN = 0.08
# A crystal keeps time to some tens of millionths; common practice, no source.
_CLOCK_SD = 3e-5
_WINDOW_DEG, _COARSE_WINDOW_DEG, _COARSE_EDGES = 90.0, 180.0, 4
_CORRECTED_MATTERS = 0.003


@dataclass(frozen=True, slots=True, eq=False)
class StateRun:
    """The longest unbroken run of whole turns in one operating state.

    Parameters
    ----------
    state : str
    members : array of int, shape (n,)
        Numbers of its turns.
    turns : int
        Turns in this state in all.
    """

    state: str
    members: IntArray
    turns: int


def state_of(speed_rpm: float, told: str | None) -> str:
    """The operating state, as told or from the speed.

    Parameters
    ----------
    speed_rpm : float [rpm]
    told : str, optional
        From the sidecar.

    Returns
    -------
    str
        "cranking", "idle" or "raised" where nobody told.
    """
    if told is not None:
        return told
    if speed_rpm < _CRANKING_BELOW_RPM:
        return "cranking"
    return "idle" if speed_rpm < _IDLE_BELOW_RPM else "raised"


def _states(turns: TurnSpeeds, told: str | None) -> Iterator[str]:
    """State of every turn; one close to a limit keeps the state before it."""
    before: str | None = None
    for rpm in turns.rpm:
        around = {state_of(float(rpm) * (1.0 + s * _STAYS_WITHIN), told) for s in (-1.0, 1.0)}
        before = before if before is not None and before in around else state_of(float(rpm), told)
        yield before


def state_runs(turns: TurnSpeeds, told: str | None) -> list[StateRun]:
    """Whole turns by operating state.

    Parameters
    ----------
    turns : TurnSpeeds
    told : str, optional
        A state told for the whole recording.

    Returns
    -------
    list of StateRun
        In the order in which the states first appear.
    """
    states = list(_states(turns, told))
    found = []
    for state in dict.fromkeys(states):
        own = np.flatnonzero([s == state for s in states])
        follows = (np.diff(own) == 1) & (turns.from_s[own[1:]] == turns.to_s[own[:-1]])
        runs = np.split(own, np.flatnonzero(~follows) + 1)
        found.append(StateRun(state, max(runs, key=len), len(own)))
    return found


def measure_speed(
    amap: AngleMap,
    condition: Condition,
    source: Provenance,
    *,
    wheel: str | None = None,
    run_out: RunOut = NO_RUN_OUT,
) -> list[Finding]:
    """Mean speed over whole turns for each operating state, and the speed at the first lock and at the end.

    Parameters
    ----------
    amap : AngleMap
    condition : Condition
        As told by the sidecar.
    source : Provenance
    wheel : str, optional
        The wheel it was read from, where that is not the crank's.
    run_out : RunOut
        Of that wheel.

    Returns
    -------
    list of Finding
        Quantity ``speed_measured`` [rpm]; empty where no speed can be told.
    """
    turns = amap.turn_speeds()
    place = Place.of(wheel=wheel)
    found = [_of_run(turns, run, place, condition, source) for run in state_runs(turns, condition.state)]
    return [*found, *speed_at_once(amap, condition, source, wheel=wheel, run_out=run_out)]


def _of_run(turns: TurnSpeeds, run: StateRun, place: Place, condition: Condition, source: Provenance) -> Finding:
    rpm = turns.rpm[run.members]
    mean = float(np.mean(rpm))
    first, last = run.members[0], run.members[-1]
    span = replace(source, from_s=float(turns.from_s[first]), to_s=float(turns.to_s[last]))
    taken = replace(condition, state=run.state, speed_rpm=round(mean, 1))
    n = len(rpm)
    turn_words = "one whole turn" if n == 1 else f"mean of {n} whole turns"
    if run.turns > n:
        turn_words += f" without a break, of {run.turns} in this state"
    method = turn_words
    if n > 1:
        method += f": {rpm[0]:.1f} rpm in the first, {rpm[-1]:.1f} in the last, {rpm.min():.1f} to {rpm.max():.1f}"
    return Finding("speed_measured", place, mean, _sd_of_mean(turns, run.members), taken, span, method)


def _sd_of_mean(turns: TurnSpeeds, members: IntArray) -> float:
    """Standard deviation of the mean of neighbouring turns: an edge between two of them makes one short, one long."""
    rpm, sd = turns.rpm[members], turns.sd_rpm[members]
    period = turns.to_s[members] - turns.from_s[members]
    slope = rpm / period
    edge_s = sd / slope / np.sqrt(2.0)
    weights = np.diff(np.concatenate(([0.0], slope, [0.0])))
    at_edge = np.concatenate((edge_s[:1], np.maximum(edge_s[:-1], edge_s[1:]), edge_s[-1:]))
    own = float(np.sqrt(((weights * at_edge) ** 2).sum())) / len(members)
    return float(np.hypot(own, _CLOCK_SD * rpm.mean()))


def speed_at_once(
    amap: AngleMap,
    condition: Condition,
    source: Provenance,
    *,
    wheel: str | None = None,
    run_out: RunOut = NO_RUN_OUT,
) -> list[Finding]:
    """Speed over the last degrees before the first index edge that has them behind it, and before the last edge.

    Parameters
    ----------
    amap : AngleMap
    condition : Condition
    source : Provenance
    wheel : str, optional
    run_out : RunOut

    Returns
    -------
    list of Finding
        Quantity ``speed_measured``; none, one or two.

    Notes
    -----
    From edge to edge as the wheel is described, without correction, over 90° of crank (180° on wheels of up to four
    edges a turn); where the learnt places of the two teeth say otherwise, that is in the standard deviation and in the
    method's words.
    """
    per_turn = amap.lock.pattern.n_edges / amap.lock.crank_per_turn
    window = _WINDOW_DEG if per_turn > _COARSE_EDGES else _COARSE_WINDOW_DEG
    ends = [(_first_lock(amap, window), "at the first index edge read"), (_last(amap, window), "at the end")]
    found = []
    for end, words in ends:
        if end is not None:
            found.append(_at(amap, run_out, end, window, words, Place.of(wheel=wheel), condition, source))
    return found


def _begin(amap: AngleMap, end: int, window_deg: float) -> int | None:
    """The tooth nearest to a window before another in the same part; None where the part does not reach so far."""
    own = np.flatnonzero(amap.part[: end + 1] == amap.part[end])
    back = amap.knots_deg[end] - amap.knots_deg[own]
    if own.size < 2 or back[0] < window_deg - 1e-6:
        return None
    begin = int(own[int(np.argmin(np.abs(back - window_deg)))])
    return begin if begin != end else None


def _first_lock(amap: AngleMap, window_deg: float) -> int | None:
    tooth = amap.lock.tooth[amap.lock.good]
    ends = np.flatnonzero(tooth == 0)
    return next((int(end) for end in ends if _begin(amap, int(end), window_deg) is not None), None)


def _last(amap: AngleMap, window_deg: float) -> int | None:
    for end in (int(np.flatnonzero(amap.part == p)[-1]) for p in reversed(range(amap.n_parts))):
        if _begin(amap, end, window_deg) is not None:
            return end
    return None


def _described_angle(amap: AngleMap, begin: int, end: int) -> float:
    """Crank angle from one tooth to another where the description has them [deg]."""
    pattern, count = amap.lock.pattern, amap.lock.count[amap.lock.good][[begin, end]]
    places = 360.0 * (count // pattern.n_edges) + np.array(pattern.edges_deg)[count % pattern.n_edges]
    return float(places[1] - places[0]) * amap.lock.crank_per_turn


def _at(
    amap: AngleMap,
    run_out: RunOut,
    end: int,
    window_deg: float,
    words: str,
    place: Place,
    condition: Condition,
    source: Provenance,
) -> Finding:
    begin = _begin(amap, end, window_deg)
    assert begin is not None
    time = float(amap.knots_s[end] - amap.knots_s[begin])
    angle = _described_angle(amap, begin, end)
    per_turn = amap.lock.crank_per_turn
    turned = amap.knots_deg[[begin, end]] / per_turn
    learnt = float(amap.knots_deg[end] - amap.knots_deg[begin]) + per_turn * float(np.diff(run_out.at(turned))[0])
    off_centre = 2.0 * per_turn * run_out.sd_deg * abs(float(np.sin(np.radians(turned[1] - turned[0]) / 2.0)))
    rpm = angle / time / 6.0
    tooth = amap.lock.tooth[amap.lock.good]
    place_sd = place_sd_deg(amap)[tooth[[begin, end]]] if tooth[begin] != tooth[end] else np.zeros(2)
    clock_deg = angle / time * amap.lock.sd_s[amap.lock.good][[begin, end]]
    doubts = (*place_sd * per_turn, *clock_deg, np.sqrt(2.0) * amap.scatter_deg, learnt - angle, off_centre)
    sd = rpm * float(np.hypot(np.sqrt(np.sum(np.square(doubts))) / angle, _CLOCK_SD))
    method = f"over {angle:.4g}° {words}, from edge to edge as the wheel is described"
    if abs(learnt / angle - 1.0) > _CORRECTED_MATTERS:
        method += f"; with the learnt places of the two teeth {learnt / time / 6.0:.1f} rpm"
    span = replace(source, from_s=float(amap.knots_s[begin]), to_s=float(amap.knots_s[end]))
    taken = replace(condition, state=state_of(rpm, condition.state))
    return Finding("speed_measured", place, rpm, sd, taken, span, method)
