"""What sampled signals show of the sensors themselves: how large they are, and which way a coil is wired."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.pitch import unevenness
from witnessmark.decode.roles import Channel
from witnessmark.engine.drive import CRANK
from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.cams import CamSeen
from witnessmark.measure.channels import Wired
from witnessmark.recording.types import Trace
from witnessmark.signal.fold import find_fold, unfolded
from witnessmark.signal.levels import Levels, find_levels
from witnessmark.vocabulary import Condition, Place

__all__ = ["Wiring", "amplitude", "even_is_clear", "leads", "measure_sensors"]

FloatArray = NDArray[np.float64]

_LEAST_PULSES = 8
# The highest and the lowest of some noisy samples lie beyond the signal by about so many standard deviations together.
_NOISE_REACH, _NOISE_DOUBT = 2.4, 0.6
# Sampling misses the very top, converters are calibrated to a few percent; common practice, no source.
_GAIN_SD = 0.02
_CLIPPED_SHARE = 0.02
_LEAST_SHARE = 0.4
# How evenly edges sit, in shares of the pitch: those at teeth to so much, those between teeth worse than so much; and
# by how much the two kinds differ before the wiring is told by it.
_EVEN, _UNEVEN, _CLEARLY, _ALIKE = 0.02, 0.03, 2.2, 1.8
# Of the two kinds of edges of a channel the even one misses its places by less than the other by this factor.
_LESS = 1.35
_WRONG, _CAM_WRONG = 0.02, 0.05


@dataclass(frozen=True, slots=True)
class Wiring:
    """Which way a reluctance sensor is wired.

    Parameters
    ----------
    sign : int
        +1 as described, -1 with its leads exchanged, 0 where it cannot be told.
    doubt : float [-]
        Chance that this is wrong.
    reason : str
    """

    sign: int
    doubt: float
    reason: str


def amplitude(
    trace: Trace,
    edges_s: FloatArray,
    spans: list[tuple[float, float]],
    position: str,
    condition: Condition,
    source: Provenance,
) -> Finding | NotMeasured:
    """Half of the swing of a sampled signal from foot to top, at the speed of the condition.

    Parameters
    ----------
    trace : Trace
        Of samples.
    edges_s : array, shape (n,) [s]
        Its edges of one kind.
    spans : list of (from, to) [s]
        Stretches that the condition speaks of.
    position : str
        The sensor's place: "crank", a cam's id, or the channel's name.
    condition : Condition
    source : Provenance

    Returns
    -------
    Finding or NotMeasured
        Quantity ``signal_amplitude`` [V].
    """
    place = Place.of(position=position)
    if trace.unit not in (None, "V"):
        why = f"The channel is in {trace.unit}, not in volts"
        return NotMeasured("signal_amplitude", place, why, "its scale and unit in the note beside the recording")
    inside = np.zeros(edges_s.size, dtype=bool)
    for low, high in spans:
        inside |= (edges_s >= low) & (edges_s <= high)
    chosen = edges_s[inside]
    if chosen.size < _LEAST_PULSES:
        why = "Too few changes of the signal stand out from its noise"
        return NotMeasured("signal_amplitude", place, why, "the sensor's gap and leads; a longer recording")
    values, times = np.asarray(trace.values), trace.times_s
    fold = find_fold(values)
    if fold is not None:
        values = unfolded(values, fold)
    at = np.unique(np.searchsorted(times, chosen))
    at = at[at < values.size]
    top = np.maximum.reduceat(values, at)[:-1]
    foot = np.minimum.reduceat(values, at)[:-1]
    short = np.diff(at) <= 1.5 * np.median(np.diff(at))  # no gap, no break
    levels = find_levels(values)
    noise = levels.noise_sd
    swing = top[short] - foot[short]
    half = max(float(np.median(swing)) - _NOISE_REACH * noise, 0.0) / 2.0
    scatter = float(np.std(swing)) / 2.0 / np.sqrt(max(swing.size, 1))
    sd = float(np.sqrt((_GAIN_SD * half) ** 2 + (_NOISE_DOUBT * noise / 2.0) ** 2 + scatter**2))
    method = (
        f"half of the swing from {np.median(foot[short]):.3g} to {np.median(top[short]):.3g} V, {swing.size} pulses"
    )
    told: tuple[str, ...] = ()
    if _is_clipped(values, levels):
        told = ("the instrument's range cuts the signal: it is at least this large",)
    span = replace(source, from_s=float(chosen[0]), to_s=float(chosen[-1]))
    return Finding("signal_amplitude", place, half, sd, condition, span, method, told)


def _is_clipped(values: FloatArray, levels: Levels) -> bool:
    """True where a swinging signal rests at the very end of its numbers."""
    if levels.kind == "two_states":
        return False
    low, high = values.min(), values.max()
    return bool(max(np.mean(values == low), np.mean(values == high)) > _CLIPPED_SHARE)


def leads(channel: Channel, pattern: WheelPattern, described_rising: bool) -> Wiring:
    """Which way a reluctance sensor is wired: the edge behind which the gap is whole is the one at the teeth.

    Parameters
    ----------
    channel : Channel
    pattern : WheelPattern
    described_rising : bool
        Whether the described even edge rises.

    Returns
    -------
    Wiring

    Notes
    -----
    At a tooth's middle the flux turns and the signal passes quickly through zero; between teeth it passes back, in a
    wide gap slowly and anywhere. With the leads exchanged the described edge is the one between teeth.
    """
    if pattern.is_coded or not any(pattern.marks):
        return Wiring(0, 1.0, "This wheel has no gap to tell it by")
    missed = {kind: _missed(channel, pattern, kind) for kind in (described_rising, not described_rising)}
    own, other = missed[described_rising], missed[not described_rising]
    if own is None or other is None:
        return Wiring(0, 1.0, "Too few whole turns show how evenly its edges sit")
    pitch = pattern.pitch_deg
    alike = own < _ALIKE * other and own < _UNEVEN * pitch
    if own < _EVEN * pitch or other > _CLEARLY * own or alike:
        # Behind a conditioner both kinds may sit evenly; reversed, the described one would not.
        return Wiring(1, _WRONG, f"its described edges sit evenly, to {own:.2f}°")
    if own > _UNEVEN * pitch and own > _CLEARLY * other:
        return Wiring(-1, _WRONG, f"the other edges sit evenly, to {other:.2f}°, and the described ones do not")
    return Wiring(0, 1.0, "Neither kind of its edges sits so evenly that the wiring shows")


def even_is_clear(channel: Channel, pattern: WheelPattern, rising: bool) -> bool:
    """Whether the numbers say by themselves that these are a wheel's even edges.

    Parameters
    ----------
    channel : Channel
    pattern : WheelPattern
    rising : bool
        Kind of the edges taken for even.

    Returns
    -------
    bool
        False where both kinds sit alike, or too few teeth or turns show it.
    """
    if pattern.is_coded:
        return True  # the code stands on one side of its edges only
    own, other = (_missed(channel, pattern, kind) for kind in (rising, not rising))
    return own is not None and (other is None or other > _LESS * own)


def _missed(channel: Channel, pattern: WheelPattern, rising: bool) -> float | None:
    lock = channel.lock(pattern, rising)
    return unevenness(lock) if lock.share > _LEAST_SHARE else None


def measure_sensors(
    wired: Sequence[Wired],
    crank: Wired,
    wiring: Wiring | None,
    cams: Sequence[CamSeen],
    engine: Engine | None,
    condition: Condition,
    spans: list[tuple[float, float]],
    source: Provenance,
) -> tuple[list[Finding], list[NotMeasured]]:
    """Size of the sampled signals, and which way coils are wired.

    Parameters
    ----------
    wired : sequence of Wired
    crank : Wired
    wiring : Wiring, optional
        Of the crank's sensor.
    cams : sequence of CamSeen
    engine : Engine, optional
    condition : Condition
    spans : list of (from, to) [s]
        Stretches that the condition speaks of.
    source : Provenance

    Returns
    -------
    tuple of (findings, not measured)
        Quantities ``signal_amplitude``, ``signal_polarity``.
    """
    found: list[Finding] = []
    left: list[NotMeasured] = []
    known = {seen.name: seen.cam for seen in cams}
    for one in wired:
        position = CRANK if one is crank else one.wheel or known.get(one.trace.name)
        if one.trace.kind == "samples" and (position is not None or one.trace.name in known):
            own = replace(source, trace=one.trace.name)
            edges = one.channel.of_kind(False)
            size = amplitude(one.trace, edges, spans, position or one.trace.name, condition, own)
            found += [size] if isinstance(size, Finding) else []
            left += [size] if isinstance(size, NotMeasured) else []
    if wiring is not None:
        place = Place.of(position=CRANK)
        if wiring.sign:
            method = f"at the wheel's gap: {wiring.reason}"
            found.append(Finding("signal_polarity", place, float(wiring.sign), wiring.doubt, condition, source, method))
        else:
            settled = "the leads followed to the plug; the signal beside that of an engine known good"
            left.append(NotMeasured("signal_polarity", place, wiring.reason, settled))
    found += [
        polarity
        for seen in cams
        if (polarity := _cam_polarity(seen, engine, condition, replace(source, trace=seen.name))) is not None
    ]
    return found, left


def _cam_polarity(seen: CamSeen, engine: Engine | None, condition: Condition, source: Provenance) -> Finding | None:
    """Which way a cam's reluctance sensor is wired; None where nothing tells, or it has no coil."""
    wheel = engine.wheel(seen.cam) if engine is not None and seen.cam is not None else None
    if wheel is None or wheel.sensor_kind != "reluctance" or seen.matched is None or seen.described is None:
        return None
    if any(kind is None for kind in seen.described.rising):
        return None
    sign = -1.0 if seen.matched.inverted else 1.0
    kind = "the other" if seen.matched.inverted else "the described"
    method = f"{kind} edges stand where the description puts its teeth"
    return Finding("signal_polarity", Place.of(position=wheel.id), sign, _CAM_WRONG, condition, source, method)
