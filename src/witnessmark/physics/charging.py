"""Charging: what a six-pulse rectifier leaves of three phases, what an alternator can give, and the voltage on board.

(docs/physics.md, "charging")
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = [
    "Alternator",
    "RipplePattern",
    "alternator_amps",
    "alternator_speed",
    "charging_volts",
    "diode_patterns",
    "rectified",
    "ripple_frequency",
    "ripple_pattern",
    "ripple_volts",
]

_SAMPLES = 7200  # of one electrical turn: a multiple of 12, so that crests and notches are hit
_DIODES = 6


@dataclass(frozen=True, slots=True)
class Alternator:
    """A claw-pole machine with its rectifier and regulator.

    Parameters
    ----------
    most_amps : float [A]
        That it gives at very high speed.
    cut_in_rpm : float [rpm]
        Of its own shaft: below it, nothing.
    pole_pairs : int
    pulley : float [-]
        Turns of its shaft for one of the crank.
    phase_ohm : float [ohm]
        Of the way from the phases to the battery, as far as ripple is concerned; our guess.
    regulated_volts : float [V]
        At 25 °C.
    volts_per_kelvin : float [V/K]
        By which the regulator goes down with warmth; common practice, no source.
    """

    most_amps: float = 120.0
    cut_in_rpm: float = 1100.0
    pole_pairs: int = 6
    pulley: float = 2.7
    phase_ohm: float = 0.15
    regulated_volts: float = 14.4
    volts_per_kelvin: float = -0.010


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
    """

    mean: float
    peak_to_peak: float
    rms_over_mean: float
    pulses: int


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
    return RipplePattern(mean, float(np.ptp(wave)), rms, crests)


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


def ripple_frequency(engine_rpm: Values, alternator: Alternator, *, line: float = 6.0) -> Values:
    """Frequency of a line of the ripple.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,) [rpm]
    alternator : Alternator
    line : float [-]
        Pulses in one electrical turn: 6 for a sound bridge; an open diode adds 1, 2, 3 ….

    Returns
    -------
    float or array, shape (n,) [Hz]

    Notes
    -----
    line · p n/60, n of the alternator's shaft. Follows from counting; that an open diode adds lines at multiples of a
    sixth follows from the loss of the bridge's symmetry. A slipping belt lowers it.

    Examples
    --------
    >>> float(ripple_frequency(800.0, Alternator()))
    1296.0
    """
    return np.multiply(engine_rpm, line * alternator.pole_pairs * alternator.pulley / 60.0)


def alternator_speed(engine_rpm: Values, alternator: Alternator) -> Values:
    """Speed of the alternator's shaft.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,) [rpm]
    alternator : Alternator

    Returns
    -------
    float or array, shape (n,) [rpm]

    Notes
    -----
    Follows from the pulleys; no slip.

    Examples
    --------
    >>> float(alternator_speed(800.0, Alternator()))
    2160.0
    """
    return np.multiply(engine_rpm, alternator.pulley)


def alternator_amps(
    engine_rpm: Values, alternator: Alternator, *, output: Values = 1.0, diodes_open: int = 0
) -> Values:
    """Most current that an alternator gives at a speed, fully excited.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,) [rpm]
    alternator : Alternator
    output : float or array, shape (n,) [-]
        Share of a sound one's (state variable alternator_output).
    diodes_open : int
        How many diodes are open, wherever.

    Returns
    -------
    float or array, shape (n,) [A]

    Raises
    ------
    EngineDefinitionError
        For an output below zero.

    Notes
    -----
    I = I_max √(1 - (n₀/n)²) follows from a machine of EMF kω and reactance ωL that works on a fixed voltage through a
    bridge (its current in phase with its terminal voltage): below n₀ it does not reach that voltage. Winding resistance
    and armature reaction are left out: 10 % near cut-in. Open diodes: times the mean wave that is left, averaged
    over where they can be; our simplification.

    Examples
    --------
    >>> [round(float(alternator_amps(rpm, Alternator()))) for rpm in (400.0, 800.0, 2500.0)]
    [0, 103, 118]
    """
    given = np.asarray(output, dtype=np.float64)
    if np.any(~(given >= 0.0)):
        raise EngineDefinitionError("an alternator's output below zero", expected="0 or more")
    speed = np.maximum(alternator_speed(engine_rpm, alternator), 1e-9)
    reached = np.sqrt(np.maximum(1.0 - np.square(np.divide(alternator.cut_in_rpm, speed)), 0.0))
    sound = ripple_pattern().mean
    left = float(np.mean([ripple_pattern(where).mean for where in diode_patterns(diodes_open)])) / sound
    amps: Values = alternator.most_amps * reached * given * left
    return amps


def charging_volts(
    available: Values,
    alternator: Alternator,
    *,
    load_siemens: Values,
    emf: Values,
    battery_ohm: Values,
    celsius: Values = 25.0,
) -> Values:
    """Voltage on board with the engine running.

    Parameters
    ----------
    available : float or array, shape (n,) [A]
        From :func:`alternator_amps`.
    alternator : Alternator
    load_siemens : float or array, shape (n,) [S]
        All consumers together.
    emf : float or array, shape (n,) [V]
        Of the battery while it is charged: some tenths of a volt above rest.
    battery_ohm : float or array, shape (n,) [ohm]
    celsius : float or array, shape (n,) [C]
        Of the regulator.

    Returns
    -------
    float or array, shape (n,) [V]

    Raises
    ------
    EngineDefinitionError
        For a battery without resistance.

    Notes
    -----
    Follows from the node's currents: as much as the alternator has, V = (E/R + I)/(1/R + G), but no more than the
    regulator allows. 13.5 to 14.8 V is common practice, no source; computer-controlled charging goes from 12.2 to 15
    and is not predicted.

    Examples
    --------
    >>> found = [charging_volts(a, Alternator(), load_siemens=3.0, emf=12.9, battery_ohm=0.006) for a in (100.0, 20.0)]
    >>> [f"{volts:.2f}" for volts in found]
    ['13.26', '12.79']
    """
    resistance = np.asarray(battery_ohm, dtype=np.float64)
    if np.any(~(resistance > 0.0)):
        raise EngineDefinitionError("a battery without resistance", expected="above 0 ohm")
    free = (np.asarray(emf) / resistance + available) / (1.0 / resistance + load_siemens)
    held = alternator.regulated_volts + alternator.volts_per_kelvin * (np.asarray(celsius, dtype=np.float64) - 25.0)
    volts: Values = np.minimum(free, held)
    return volts


def ripple_volts(
    amps: Values,
    alternator: Alternator,
    *,
    volts: Values = 14.2,
    battery_ohm: Values,
    open_diodes: tuple[int, ...] = (),
) -> Values:
    """Ripple at the battery, peak to peak.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
        Mean that the alternator gives.
    alternator : Alternator
    volts : float or array, shape (n,) [V]
        Mean at the battery.
    battery_ohm : float or array, shape (n,) [ohm]
        With its cables.
    open_diodes : tuple of int
        As for :func:`rectified`.

    Returns
    -------
    float or array, shape (n,) [V]

    Raises
    ------
    EngineDefinitionError
        For a battery without resistance, or a bridge that carries nothing.

    Notes
    -----
    The bridge pushes (w(θ) U - E)/(R_a + R) while its wave w U is above the battery's EMF E, else nothing; the crest
    U is the one that gives the mean current asked for. Ripple is R times the swing of that current. Follows from the
    circuit of bridge, way R_a and battery; the phases' inductance is lumped into R_a, our guess, so the size is good to
    a factor of two, the growth by an open diode better. Consumers and capacitors are left out.

    Examples
    --------
    >>> sound, bad = (ripple_volts(40.0, Alternator(), battery_ohm=0.006, open_diodes=d) for d in ((), (0,)))
    >>> f"{sound:.2f} V, {bad:.2f} V"
    '0.11 V, 0.37 V'
    """
    resistance = np.asarray(battery_ohm, dtype=np.float64)
    if np.any(~(resistance > 0.0)):
        raise EngineDefinitionError("a battery without resistance", expected="above 0 ohm")
    wave = np.asarray(rectified(2.0 * np.pi * np.arange(_SAMPLES // 10) * 10 / _SAMPLES, open_diodes))
    if wave.max() <= 0.0:
        raise EngineDefinitionError("a bridge that carries nothing", expected="a diode left on either side")
    mean, held, own = np.broadcast_arrays(np.asarray(amps, dtype=np.float64), np.asarray(volts), resistance)
    emf, whole = held - own * mean, alternator.phase_ohm + own
    crest = _crest_for(wave, mean, emf, whole)
    pushed = np.maximum(crest[..., None] * wave - emf[..., None], 0.0) / whole[..., None]
    found: Values = own * np.ptp(pushed, axis=-1)
    return found


def _crest_for(
    wave: NDArray[np.float64], amps: NDArray[np.float64], emf: NDArray[np.float64], ohm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The crest at which the bridge gives this mean current, by halving: the mean grows with it."""
    low = emf / wave.max()
    high = low + 2.0 * (amps * ohm + emf) / np.mean(wave)
    for _ in range(60):
        middle = 0.5 * (low + high)
        given = np.mean(np.maximum(middle[..., None] * wave - emf[..., None], 0.0), axis=-1) / ohm
        low, high = np.where(given < amps, middle, low), np.where(given < amps, high, middle)
    found: NDArray[np.float64] = 0.5 * (low + high)
    return found
