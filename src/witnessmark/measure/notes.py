"""What a careful person should know beside the numbers: doubts about the wheel, void stretches, stray edges."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.roles import ChannelRole, Roles
from witnessmark.finding import Finding
from witnessmark.measure.channels import Wired

__all__ = ["intervals", "reading_notes", "speeds_at_once"]

FloatArray = NDArray[np.float64]

_VOID = {
    "spin-up": "the crank was just beginning to turn",
    "stop": "the crank stood or turned back",
    "noise": "too many edges are missing or too many",
    "lost": "the edges do not follow the wheel",
    "too short": "too few edges",
}
_SURE, _POOR = 0.99, 0.5
_TOLD, _MOST_STRETCHES = 5, 8
_ONE_PULSE_S = 1e-3


def reading_notes(roles: Roles, amap: AngleMap, wired: Sequence[Wired], *, described: bool) -> Iterator[str]:
    """Doubts about the wheel, void stretches, and edges that did not belong.

    Parameters
    ----------
    roles : Roles
    amap : AngleMap
    wired : sequence of Wired
    described : bool
        Whether the wheel is described.

    Yields
    ------
    str
        Sentences.
    """
    guess = roles.guess
    if guess is not None and described and guess.odds < _POOR:
        yield f"The edges fit the described wheel {guess.pattern} poorly; the angles are only as good as that."
    elif guess is not None and not described and guess.odds < _SURE:
        yield f"The wheel is taken as {guess.pattern}, with odds of {guess.odds:.0%}."
    yield from _void(amap)
    lock = amap.lock
    extra = lock.times_s[lock.extra]
    if extra.size:
        yield f"{_several(extra.size, 'extra edge')} on the crank, left out: {_moments(extra)}."
    gone = int(lock.missing.sum())
    if gone:
        yield f"{_several(gone, 'edge')} of the crank missing: {_moments(lock.times_s[lock.missing > 0])}."
    for one, role in zip(wired, roles.channels, strict=True):
        if role.role == "cam" and role.reading is not None and role.reading.rejected_s.size:
            yield from _rejected(one.trace.name, role.reading.rejected_s)


def _void(amap: AngleMap) -> Iterator[str]:
    """Stretches without angle; the longest alone where they are many."""
    void = sorted(amap.void, key=lambda stretch: stretch.from_s - stretch.to_s)
    if len(void) > _MOST_STRETCHES:
        total = sum(stretch.to_s - stretch.from_s for stretch in void)
        yield f"No angle and no speed in {len(void)} stretches, {total:.3f} s in all; the longest are these."
        void = void[:_MOST_STRETCHES]
    for stretch in sorted(void, key=lambda stretch: stretch.from_s):
        why = _VOID.get(stretch.reason, stretch.reason)
        yield f"No angle and no speed from {stretch.from_s:.3f} to {stretch.to_s:.3f} s ({stretch.reason}): {why}."


def _rejected(name: str, times: FloatArray) -> Iterator[str]:
    """Edges of a cam that fit none of its own: pulses, and single ones."""
    pulses, single, k = [], [], 0
    while k < times.size:
        if k + 1 < times.size and times[k + 1] - times[k] < _ONE_PULSE_S:
            pulses.append(float(times[k]))
            k += 2
        else:
            single.append(float(times[k]))
            k += 1
    if pulses:
        yield f"{name}: {_several(len(pulses), 'short pulse')} left out: {_moments(np.array(pulses))}."
    if single:
        edges = _several(len(single), "edge")
        yield f"{name}: {edges} left out that fit no place of the cam: {_moments(np.array(single))}."


def _several(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _moments(times: FloatArray) -> str:
    told = ", ".join(f"{t:.6f}" for t in times[:_TOLD])
    return f"at {told} s{' …' if times.size > _TOLD else ''}"


def intervals(one: Wired, role: ChannelRole) -> str:
    """What a channel shows where no wheel is known: how many edges, how far apart.

    Parameters
    ----------
    one : Wired
    role : ChannelRole

    Returns
    -------
    str
        A sentence.
    """
    channel = one.channel
    words = f"{one.trace.name}: {_several(channel.count, 'edge')}"
    apart = []
    for rising, kind in ((True, "rising"), (False, "falling")):
        times = channel.of_kind(rising)
        if times.size > 2:
            low, usual, high = np.quantile(np.diff(times), [0.0, 0.5, 1.0]) * 1e3
            apart.append(f"{times.size} {kind} ones usually {usual:.3g} ms apart ({low:.3g} to {high:.3g})")
    words += f", {' and '.join(apart)}" if apart else ""
    guesses = role.wheel.guesses if role.wheel is not None else ()
    if guesses and guesses[0].odds > 0.05:
        words += f"; nearest is {guesses[0].pattern}, with odds of {guesses[0].odds:.0%}"
    return f"{words}; {role.reason}."


def speeds_at_once(findings: Sequence[Finding]) -> Iterator[str]:
    """Speeds over a window of less than a turn, each in a sentence that names it.

    Parameters
    ----------
    findings : sequence of Finding

    Yields
    ------
    str
        Sentences.
    """
    for finding in findings:
        if finding.quantity == "speed_measured" and finding.method.startswith("over "):
            at = f", {finding.source.to_s:.6f} s" if finding.source.to_s is not None else ""
            window, _, rest = finding.method.partition(", from edge to edge as the wheel is described")
            yield f"Speed {window}{at}: {finding.value:.2f} ± {finding.sd:.2g} rpm from edge to edge{rest}."
