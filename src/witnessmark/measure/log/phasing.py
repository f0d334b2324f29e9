"""Cams as a computer reports them: actual, deviation and learnt value by state, and how the phaser follows.

Target and actual value are read one after the other. So a deviation is taken only where the target had stood still
long enough; what happens while it moves is the business of the step response.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured
from witnessmark.measure.log.average import EVEN_90, average, trailing
from witnessmark.measure.log.camnames import CamTraces, cam_traces, sign_words, which_cam
from witnessmark.measure.log.conditions import pieces_of
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.phasermove import still_at
from witnessmark.measure.log.phaserresponse import CRANK, Gathered, step_response
from witnessmark.measure.log.plain import described_mean
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.stretches import TURNING, condition_of, grouped, source_of
from witnessmark.measure.log.words import WORDS, cam_words, with_spread
from witnessmark.vocabulary import Place

__all__ = ["cams", "deviation_of", "parked_or_moved"]

FloatArray = NDArray[np.float64]

_PARKED_DEG = 2.0
_OPPOSITE = 3.0  # standard deviations at which a logged deviation is seen to be target less actual
_SETTLED_BY_NAME = "which cam this computer calls A: reporting.a_is in the engine description"


def cams(log: Log, states: Sequence[StateSpan], engine: Engine | None = None) -> LogPart:
    """What a log says of each cam.

    Parameters
    ----------
    log : Log
    states : sequence of StateSpan
    engine : Engine, optional
        Says which cam "A" is, and what the computer's sign means. Without it A and B stay what they are: not measured.

    Returns
    -------
    LogPart
        Findings ``cam_phase_reported``, ``cam_deviation``, ``learnt_reported`` and ``phaser_slew``, in the computer's
        own sign as the screen shows it.
    """
    found = Gathered()
    for traces in cam_traces(log, engine):
        name, reason = which_cam(engine, traces.bank, traces.cam)
        if name is None:
            _unresolved(found, log, traces, states, reason)
        else:
            _cam(found, log, states, traces, Place.of(bank=traces.bank, cam=name), engine)
    return LogPart(tuple(found.findings), tuple(found.not_measured), tuple(found.events), tuple(found.notes))


def _cam(
    found: Gathered, log: Log, states: Sequence[StateSpan], traces: CamTraces, place: Place, engine: Engine | None
) -> None:
    assumptions = tuple(text for text in (sign_words(engine), CRANK, traces.said) if text)
    rest = _rest_of(traces.target, states)
    if traces.actual is not None:
        found.findings += _by_state(log, traces.actual, traces, states, rest, "cam_phase_reported", place, assumptions)
    deviation, how = _deviation(traces)
    if deviation is not None and len(deviation):
        found.findings += _by_state(log, deviation, traces, states, rest, "cam_deviation", place, (*assumptions, how))
        if "target less actual" in how:
            found.notes.append(f"{cam_words(place)}: the logged deviation is {how}.")
    elif traces.actual is not None:
        found.not_measured.append(NotMeasured(
            "cam_deviation", place,
            "the log has no target" if traces.target is None else "the target never stood still for long enough",
            "the cam's target logged beside its actual value, or its deviation",
        ))  # fmt: skip
    if traces.learnt is not None:
        _learnt(found, log, traces.learnt, place, assumptions)
    if traces.actual is not None and traces.target is not None:
        step_response(found, log, states, traces.actual, traces.target, place)


# ---------------------------------------------------------------- one number by state


def _by_state(
    log: Log, series: Series, traces: CamTraces, states: Sequence[StateSpan], rest: float | None, quantity: str,
    place: Place, assumptions: tuple[str, ...],
) -> Iterator[Finding]:  # fmt: skip
    """Means by state, parked and moved apart where a target tells; samples near a movement are left out."""
    kinds = parked_or_moved(traces.target, series.times_s, rest)
    for group in grouped(states, ("key_on", "cranking", *TURNING)):
        for phaser in ("parked", "moved", None):
            kept = _only(series, kinds == (phaser or ""))
            pieces = pieces_of(kept, group.spans if traces.target is not None else group.steady.spans)
            worked = quantity == "cam_deviation" and phaser == "moved" and traces.deviation is None
            found = average(pieces, floor=_rounded(traces.target, pieces) if worked else 0.0, gaps=False)
            if found is None:
                continue
            begin, end = float(pieces[0].times_s[0]), float(pieces[-1].times_s[-1])
            spans = [span for span in group.spans if len(kept.inside(span.from_s, span.to_s))]
            used = [one for one in (traces.actual, traces.target, traces.deviation) if one is not None]
            yield Finding(
                quantity, place, found.value, found.sd, condition_of(log, spans, state=group.state, phaser=phaser),
                source_of(log, used, begin, end), described_mean(found, group.state), assumptions,
            )  # fmt: skip


def _rounded(target: Series | None, pieces: Sequence[Series]) -> float:
    """What a target leaves in what is worked out against it: rounding while it hardly moves, its age while it does."""
    if target is None or not pieces:
        return 0.0
    wanted = [replace(one, values=np.interp(one.times_s, target.times_s, target.values)) for one in pieces]
    levels = np.unique(target.known_at(np.concatenate([one.times_s for one in pieces]), oldest_s=np.inf))
    return float(np.hypot(EVEN_90 * target.step / np.sqrt(levels.size), trailing(wanted)))


def _only(series: Series, chosen: NDArray[np.bool_]) -> Series:
    return Series(
        series.signal, series.times_s[chosen], series.values[chosen], series.step, series.stamp_s, series.name
    )


def parked_or_moved(target: Series | None, times_s: FloatArray, rest_deg: float | None) -> NDArray[np.str_]:
    """Whether a phaser was told to rest or to move at each time, shape (n,).

    Parameters
    ----------
    target : Series, optional
    times_s : array, shape (n,) [s]
    rest_deg : float, optional [deg]
        Target at rest; None where nothing tells.

    Returns
    -------
    array of str, shape (n,)
        "parked" within 2° of the rest, "moved", "" where nothing tells, "-" where the target had not stood still.
    """
    kinds = np.full(times_s.shape, "", dtype="<U6")
    if target is None:
        return kinds
    wanted = target.known_at(times_s, oldest_s=np.inf)
    if rest_deg is not None:
        near = np.abs(wanted - rest_deg) <= _PARKED_DEG
        kinds[near] = "parked"
        kinds[~near & np.isfinite(wanted)] = "moved"
    kinds[~still_at(target, times_s)] = "-"
    return kinds


def _rest_of(target: Series | None, states: Sequence[StateSpan]) -> float | None:
    """Target at rest: before the engine runs, else 0 where it stands there at times."""
    if target is None:
        return None
    standing = pieces_of(target, [span for span in states if span.state in ("off", "key_on", "cranking")])
    if standing:
        return float(np.median(np.concatenate([one.values for one in standing])))
    return 0.0 if float(np.abs(target.values).min()) <= _PARKED_DEG else None


def deviation_of(actual: Series, target: Series) -> Series:
    """Actual less target at the moments of the actual values, where the target stands still.

    Parameters
    ----------
    actual, target : Series
        Read one after the other: the target is drawn straight between its own samples.

    Returns
    -------
    Series
    """
    at = still_at(target, actual.times_s)
    times = actual.times_s[at]
    off = actual.values[at] - np.interp(times, target.times_s, target.values)
    return Series(actual.signal, times, off, max(actual.step, target.step), actual.stamp_s, actual.name)


def _deviation(traces: CamTraces) -> tuple[Series | None, str]:
    """The computer's own where it logs one, else worked out; words how."""
    both = traces.actual is not None and traces.target is not None
    worked = deviation_of(traces.actual, traces.target) if both else None  # type: ignore[arg-type]
    own = traces.deviation
    if own is None:
        return worked, "actual less target, each read at its own moment, where the target stood still"
    if worked is None or len(worked) < 3:
        return own, "as the computer logs it"
    logged = np.interp(worked.times_s, own.times_s, own.values)
    same, turned = (average([_less(worked, side * logged)]) for side in (1.0, -1.0))
    if (
        same is not None
        and turned is not None
        and (abs(same.value) > _OPPOSITE * same.sd + 1.0 and abs(turned.value) < 0.3 * abs(same.value))
    ):
        return worked, "target less actual by actual and target beside it; their difference is used instead"
    return own, "as the computer logs it"


def _less(one: Series, other: FloatArray) -> Series:
    return Series(one.signal, one.times_s, one.values - other, one.step, one.stamp_s, one.name)


# ---------------------------------------------------------------- learnt, unresolved


def _learnt(found: Gathered, log: Log, learnt: Series, place: Place, assumptions: tuple[str, ...]) -> None:
    """The last value stands; it says what the computer took for rest when it learnt, not what is now."""
    last = float(learnt.values[-1])
    changed = np.flatnonzero(np.abs(np.diff(learnt.values)) > max(learnt.step, 0.05))
    begin = float(learnt.times_s[changed[-1] + 1]) if changed.size else float(learnt.times_s[0])
    if changed.size:
        found.notes.append(
            f"{cam_words(place)}: the learnt value changed {changed.size} times, last at {begin:.1f} s: "
            "what stood before was of another time."
        )
    found.findings.append(Finding(
        "learnt_reported", place.with_keys(learnt_item="cam_zero"), last, max(learnt.step, 0.1) / np.sqrt(12.0),
        condition_of(log, (), state=None), source_of(log, [learnt], begin, float(learnt.times_s[-1])),
        "last value of the log", (*assumptions, "a learnt value says what was when it was learnt"),
    ))  # fmt: skip


def _unresolved(found: Gathered, log: Log, traces: CamTraces, states: Sequence[StateSpan], reason: str) -> None:
    """The numbers are kept in the reason; which cam they speak of is not guessed."""
    words = []
    deviation, _ = _deviation(traces)
    for name, series in (("deviation", deviation), ("actual", traces.actual), ("learnt value", traces.learnt)):
        for group in grouped(states, TURNING):
            mean = average(pieces_of(series, group.spans)) if series is not None else None
            if mean is not None:
                words.append(
                    f"{name} {with_spread(mean.value, mean.sd, '°', plus=True, least_places=1)} {WORDS[group.state]}"
                )
    kept = f" (bank {traces.bank}, cam {traces.cam}: {'; '.join(words)})" if words else ""
    letters = traces.cam in ("A", "B")
    quantities = ("cam_deviation", "cam_phase_reported") if traces.actual is not None else ("cam_deviation",)
    for quantity in quantities:
        found.not_measured.append(NotMeasured(
            quantity, Place.of(bank=traces.bank) if letters else Place.of(bank=traces.bank, cam=traces.cam),
            f"{reason}{kept}",
            _SETTLED_BY_NAME if letters else "another mapping of this column, or the cam in the engine description",
        ))  # fmt: skip
