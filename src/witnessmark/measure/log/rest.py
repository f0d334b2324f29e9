"""Where things rest, by the log itself: the vehicle, the pedal, the engine's idle speed and load."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.moments import Moments, held, slope

__all__ = ["idle_load", "idle_speed", "released", "standing"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_LOWEST_RPM, _HIGHEST_RPM = 450.0, 2200.0
_BLUR = 0.03  # of the speed: two idle speeds closer than this are one
_COUNTS = 0.25  # of the commonest speed's share, to be a speed the engine stays at
_PLATE_OPENS = 6.0  # % that idle control may open the plate; common practice, no source
_PEDAL_PLAY = 1.5


def standing(m: Moments) -> FloatArray:
    """1 where the vehicle stands, 0 where it moves, not a number where nothing says, shape (n,).

    Parameters
    ----------
    m : Moments

    Returns
    -------
    array, shape (n,)
    """
    known = np.isfinite(m.road)
    return np.where(known, held(m.road < 0.5, m.road < 1.5).astype(np.float64), np.nan)


def released(m: Moments, runs: BoolArray) -> FloatArray:
    """1 where the pedal is released, 0 where pressed, not a number where nothing says, shape (n,).

    Parameters
    ----------
    m : Moments
    runs : array of bool, shape (n,)
        Where the engine runs.

    Returns
    -------
    array, shape (n,)

    Notes
    -----
    The pedal rests at its own lowest values; where only the plate is logged it rests there too, but idle control opens
    it by some percent. A log in which it was never released would call its lowest position rest: that the load is no
    lower there than elsewhere gives it away.
    """
    for values, play in ((m.pedal, _PEDAL_PLAY), (m.plate, _PLATE_OPENS)):
        known = np.isfinite(values) & runs
        if known.sum() < 3:
            continue
        rest = float(np.percentile(values[known], 1.0))
        rests = held(values <= rest + play, values <= rest + 1.5 * play)
        if _believed(m, known, rests):
            return np.where(np.isfinite(values), rests.astype(np.float64), np.nan)
    return np.full(len(m), np.nan)


def _believed(m: Moments, known: BoolArray, rests: BoolArray) -> bool:
    standing_there = known & rests & (standing(m) == 1.0)
    if standing_there.sum() >= 3:
        return True
    there, elsewhere = m.load[known & rests], m.load[known & ~rests]
    there, elsewhere = there[np.isfinite(there)], elsewhere[np.isfinite(elsewhere)]
    if elsewhere.size < 3 or there.size < 3:
        return not np.isfinite(m.load).any() or (there.size >= 3 and not np.isfinite(m.road).any())
    return bool(np.median(there) < 0.8 * np.median(elsewhere))


def idle_speed(m: Moments, runs: BoolArray, stands: FloatArray, rests: FloatArray) -> float | None:
    """The lowest speed at which the engine stays with the vehicle standing and the pedal released [rpm].

    Parameters
    ----------
    m : Moments
    runs : array of bool, shape (n,)
    stands, rests : array, shape (n,)
        Of :func:`standing` and :func:`released`.

    Returns
    -------
    float or None [rpm]
        Of the warm engine where the log tells; None where it never stays.

    Notes
    -----
    Times at each speed, blurred by 3 %; of the peaks that count, the lowest. Where nothing says that the vehicle
    stands, speeds driven at are among them, and the lowest is still idle.
    """
    change = np.abs(slope(m.times_s, m.speed, max(4.0, 2.0 * m.cadence_s)))
    use = runs & (stands != 0.0) & (rests != 0.0) & np.isfinite(m.speed) & (change < 0.06 * m.speed)
    use &= (m.speed > _LOWEST_RPM) & (m.speed < _HIGHEST_RPM)
    warm = use & (m.warm == 1.0)
    if m.weights_s[warm].sum() >= 20.0:
        use = warm
    weights = m.weights_s[use]
    if use.sum() < 3 or weights.sum() < 3.0:
        return None
    grid = np.exp(np.arange(np.log(_LOWEST_RPM), np.log(_HIGHEST_RPM), 0.005))
    apart = (np.log(grid)[:, None] - np.log(m.speed[use])[None, :]) / _BLUR
    share = np.exp(-0.5 * apart**2) @ weights
    peaks = np.flatnonzero((share[1:-1] >= share[:-2]) & (share[1:-1] > share[2:])) + 1
    counting = peaks[share[peaks] >= _COUNTS * share.max()]
    return float(grid[counting[0]]) if counting.size else float(grid[int(np.argmax(share))])


def idle_load(m: Moments, where: BoolArray) -> float | None:
    """Usual load over some moments, in the unit of ``m.load``; None for fewer than three.

    Parameters
    ----------
    m : Moments
    where : array of bool, shape (n,)

    Returns
    -------
    float or None, shape ()
    """
    values = m.load[where & np.isfinite(m.load)]
    return float(np.median(values)) if values.size >= 3 else None
