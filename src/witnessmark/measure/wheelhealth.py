"""What the crank wheel itself shows: teeth in a turn, edges missing and extra, places of the teeth."""

from __future__ import annotations

import itertools

import numpy as np
from scipy.special import ndtri

from witnessmark.decode.anglemap import AngleMap
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.runout import RunOut
from witnessmark.vocabulary import Condition, Place

__all__ = ["measure_wheel", "pitch_error"]

_LEAST_TURNS = 2
# Chance that the count is wrong though every turn shows it, and how much of a disagreement speaks against it.
_WRONG, _DISAGREES = 0.01, 0.5
# How teeth stand against their neighbours shows so much of the square of independent errors; what changes slowly around
# the wheel does not show. How well the sum is then known, as a share of it and of the learnt places' variance.
_SHOWN, _TEETH_DOUBT, _VARIANCE_DOUBT = 0.62, 0.25, 0.25
# Stray pulses last from this to that [s]; one signal in so many has half of one a turn or more; our guess.
_STRAY_S, _STRAY, _MANY = (2e-7, 2e-5), 0.05, 0.5
# Gauss and Hermite's rule for a normal.
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


def measure_wheel(
    amap: AngleMap,
    run_out: RunOut,
    condition: Condition,
    source: Provenance,
    *,
    gone: int = 0,
    step_s: float = 0.0,
) -> tuple[list[Finding], list[NotMeasured]]:
    """Teeth, missing and extra edges, and the places of the teeth.

    Parameters
    ----------
    amap : AngleMap
    run_out : RunOut
    condition : Condition
    source : Provenance
    gone : int
        Teeth of the described wheel that the map's pattern has not, for they never come.
    step_s : float [s]
        Between the samples of the signal; 0 where every change was noted.

    Returns
    -------
    tuple of (findings, not measured)
        Quantities ``wheel_teeth_seen``, ``edges_missing``, ``edges_extra``, ``wheel_pitch_error``.
    """
    place = Place.of(wheel="crank")
    turns = amap.lock.turns()
    if len(turns) < _LEAST_TURNS:
        reason = f"Only {len(turns)} whole turn{'' if len(turns) == 1 else 's'} of the crank wheel could be read"
        names = ("wheel_teeth_seen", "edges_missing", "edges_extra", "wheel_pitch_error")
        settled = "a recording of twenty turns without a break"
        return [], [NotMeasured(name, place, reason, settled) for name in names]
    teeth = np.array([turn.teeth for turn in turns])
    usual = int(np.bincount(teeth).argmax())
    agree = int((teeth == usual).sum())
    doubt = min(_WRONG + _DISAGREES * (1.0 - agree / len(turns)), 0.5)
    method = f"even edges from one index edge to the next; so many in {agree} of {len(turns)} whole turns"
    found = [Finding("wheel_teeth_seen", place, float(usual), doubt, condition, source, method)]
    rows = (("edges_missing", [t.missing for t in turns], gone), ("edges_extra", [t.extra for t in turns], 0))
    for name, counts, always in rows:
        rate = always + float(np.mean(counts))
        sd = _rate_sd(sum(counts), len(turns), _seen_share(step_s) if name == "edges_extra" else 1.0)
        method = f"{sum(counts)} in {len(turns)} whole turns"
        method += f", beside {always} that {'is' if always == 1 else 'are'} gone in every turn" if always else ""
        found.append(Finding(name, place, rate, sd, condition, source, method))
    pitch = pitch_error(amap, run_out)
    if pitch is None:
        why = "The places of the teeth could not be learnt"
        settled = "a wheel of a tooth every 15° or closer, over twenty turns without a break, idling or faster"
        return found, [NotMeasured("wheel_pitch_error", place, why, settled)]
    n = amap.lock.pattern.n_edges
    method = f"root mean square over {n} even edges, {amap.pitch.n_turns} turns, run-out included"
    return [*found, Finding("wheel_pitch_error", place, *pitch, condition, source, method)], []


def _rate_sd(count: int, turns: int, share: float) -> float:
    """Standard deviation of a rate a turn: Poisson, one event where none was seen; more where some slip through."""
    sd = float(np.sqrt(max(count, 1.0))) / turns
    if share >= 1.0:
        return sd
    if count:
        return sd / share
    # None was seen: one a turn would have been missed by this chance, and few signals have any.
    many = _STRAY * float(np.exp(-turns * share))
    return max(sd, _MANY / float(-ndtri(many)))


def _seen_share(step_s: float) -> float:
    """Share of stray pulses that fall on a sample, their widths spread evenly over their decades."""
    low, high = _STRAY_S
    if step_s <= low:
        return 1.0
    met = (min(step_s, high) - low) / step_s + max(float(np.log(high / step_s)), 0.0)
    return met / float(np.log(high / low))


def pitch_error(amap: AngleMap, run_out: RunOut) -> tuple[float, float] | None:
    """How far the even edges of the crank wheel sit from their places: root mean square, and its sd [deg].

    Parameters
    ----------
    amap : AngleMap
        Its places as learnt tooth against tooth; without the run-out.
    run_out : RunOut

    Returns
    -------
    tuple of (float, float) [deg] or None
        None where the places were not learnt.

    Notes
    -----
    What an ideal instrument would show is the root of the mean square of all places, their mean taken off. The learnt
    places are smaller than the true ones by what did not show, so that is added, not noise subtracted; and the root is
    averaged over what the places and the run-out may be.
    """
    if not amap.pitch.is_learnt:
        return None
    error, variance = amap.pitch.error_deg, amap.pitch.sd_deg**2
    off = error - error.mean()
    teeth = float((off**2).mean()) / _SHOWN
    teeth_sd = float(np.hypot(_TEETH_DOUBT * teeth, _VARIANCE_DOUBT * variance.mean()))
    values, weights = [], []
    for share, cos, sin, sd in run_out.mixture:
        for (x, wx), (y, wy), (z, wz) in itertools.product(zip(_NODES, _WEIGHTS, strict=True), repeat=3):
            once = ((cos + sd * x) ** 2 + (sin + sd * y) ** 2) / 2.0
            values.append(np.sqrt(max(teeth + teeth_sd * z, 0.1 * teeth) + once))
            weights.append(share * wx * wy * wz)
    value, weight = np.array(values), np.array(weights)
    weight /= weight.sum()
    mean = float(weight @ value)
    return mean, float(np.sqrt(weight @ (value - mean) ** 2))
