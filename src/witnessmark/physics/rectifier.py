"""A six-pulse rectifier: what it leaves of three phases, whole or with diodes open.

(docs/physics.md, "charging")
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = ["RipplePattern", "bridge_kinds", "diode_patterns", "rectified", "ripple_pattern"]

_SAMPLES = 7200  # of one electrical turn: a multiple of 12, so that crests and notches are hit
_DIODES = 6


@dataclass(frozen=True, slots=True)
class RipplePattern:
    """What is left of a rectified wave, as shares of its crest without open diodes.

    Parameters
    ----------
    mean : float [-]
    peak_to_peak : float [-]
    rms_over_mean : float [-]
        Of the alternating part.
    pulses : int
        Crests in one electrical turn.
    open_diodes : tuple of int
        Which are open.
    """

    mean: float
    peak_to_peak: float
    rms_over_mean: float
    pulses: int
    open_diodes: tuple[int, ...] = ()


def rectified(angle: Values, open_diodes: tuple[int, ...] = ()) -> Values:
    """Output of an ideal bridge, as a share of the crest between two phases.

    Parameters
    ----------
    angle : float or array, shape (n,) [rad]
        Electrical.
    open_diodes : tuple of int
        Which are open: 0, 1, 2 lead the phases to plus, 3, 4, 5 to minus.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        For a diode that is not there.

    Notes
    -----
    The highest phase that still has a diode to plus, less the lowest that has one to minus; nothing flows backward.
    Follows from ideal diodes and stiff sines; real phases are nearer to rectangles under load.

    Examples
    --------
    >>> f"{rectified(np.pi / 6):.4f} {rectified(np.pi / 6, open_diodes=(0,)):.4f}"
    '1.0000 0.5000'
    """
    if any(not 0 <= diode < _DIODES for diode in open_diodes):
        raise EngineDefinitionError(f"open diodes {open_diodes}", expected="numbers from 0 to 5")
    given = np.asarray(angle, dtype=np.float64)
    phases = np.stack([np.sin(given - 2.0 * np.pi * k / 3.0 + np.pi / 6.0) for k in range(3)]) / np.sqrt(3.0)
    upper = [phases[k] for k in range(3) if k not in open_diodes]
    lower = [phases[k] for k in range(3) if k + 3 not in open_diodes]
    if not upper or not lower:
        return np.zeros_like(given)
    volts: Values = np.maximum(np.max(upper, axis=0) - np.min(lower, axis=0), 0.0)
    return volts


def ripple_pattern(open_diodes: tuple[int, ...] = ()) -> RipplePattern:
    """Mean, ripple and pulses of an ideal bridge.

    Parameters
    ----------
    open_diodes : tuple of int
        As for :func:`rectified`.

    Returns
    -------
    RipplePattern

    Notes
    -----
    Follows from :func:`rectified` over one electrical turn. Sound: mean 3/π of the crest, peak to peak 1 - √3/2, six
    pulses, from memory, any textbook.

    Examples
    --------
    >>> pattern = ripple_pattern()
    >>> f"{pattern.mean:.5f} {pattern.peak_to_peak:.6f} {pattern.rms_over_mean:.4f} {pattern.pulses}"
    '0.95493 0.133975 0.0420 6'
    """
    wave = np.asarray(rectified(2.0 * np.pi * np.arange(_SAMPLES) / _SAMPLES, open_diodes))
    mean = float(wave.mean())
    before, after = np.roll(wave, 1), np.roll(wave, -1)
    crests = int(np.sum((wave > before + 1e-12) & (wave >= after - 1e-12) & (wave > 0.0)))
    rms = float(np.sqrt(np.mean(np.square(wave - mean)))) / mean if mean > 0.0 else 0.0
    return RipplePattern(mean, float(np.ptp(wave)), rms, crests, open_diodes)


def diode_patterns(count: int) -> tuple[tuple[int, ...], ...]:
    """Every way in which so many diodes can be open.

    Parameters
    ----------
    count : int

    Returns
    -------
    tuple of tuple of int
        For :func:`rectified`; all equally likely.

    Raises
    ------
    EngineDefinitionError
        For fewer than 0 or more than 6.

    Notes
    -----
    Follows from counting: 6 over ``count``.

    Examples
    --------
    >>> [len(diode_patterns(n)) for n in range(4)]
    [1, 6, 15, 20]
    """
    if not 0 <= count <= _DIODES:
        raise EngineDefinitionError(f"{count} open diodes", expected="0 to 6")
    numbers = [n for n in range(2**_DIODES) if n.bit_count() == count]
    return tuple(tuple(d for d in range(_DIODES) if n >> d & 1) for n in numbers)


@cache
def bridge_kinds(count: int) -> tuple[tuple[RipplePattern, float], ...]:
    """One bridge of each kind that so many open diodes make: most patterns are turned copies of another.

    Parameters
    ----------
    count : int

    Returns
    -------
    tuple of (RipplePattern, float [-])
        With the share of all patterns that each kind has.

    Notes
    -----
    Follows from :func:`diode_patterns` by mean, ripple and pulses.

    Examples
    --------
    >>> [(pattern.open_diodes, round(share, 3)) for pattern, share in bridge_kinds(1)]
    [((0,), 1.0)]
    """
    every = [ripple_pattern(where) for where in diode_patterns(count)]
    kinds: dict[tuple[float, ...], RipplePattern] = {}
    shares: dict[tuple[float, ...], float] = {}
    for pattern in every:
        key = (round(pattern.mean, 9), round(pattern.peak_to_peak, 9), round(pattern.rms_over_mean, 9), pattern.pulses)
        kinds.setdefault(key, pattern)
        shares[key] = shares.get(key, 0.0) + 1.0 / len(every)
    return tuple((kinds[key], shares[key]) for key in kinds)
