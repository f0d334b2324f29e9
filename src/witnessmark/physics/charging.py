"""Charging: what an alternator can give, the voltage on board, and the ripple that a battery leaves.

(docs/physics.md, "charging")
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values
from witnessmark.physics.rectifier import bridge_kinds, rectified, ripple_pattern

__all__ = [
    "Alternator",
    "alternator_amps",
    "alternator_speed",
    "charging_volts",
    "expected_ripple_volts",
    "ripple_frequency",
    "ripple_volts",
]

_COARSE = 360  # samples of one electrical turn: a multiple of 12, so that crests and notches are hit
_MOST_DIODES = 6


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
    engine_rpm: Values, alternator: Alternator, *, output: Values = 1.0, diodes_open: Values = 0
) -> Values:
    """Most current that an alternator gives at a speed, fully excited.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,) [rpm]
    alternator : Alternator
    output : float or array, shape (n,) [-]
        Share of a sound one's (state variable alternator_output).
    diodes_open : float or array, shape (n,) [-]
        How many diodes are open, wherever.

    Returns
    -------
    float or array, shape (n,) [A]

    Raises
    ------
    EngineDefinitionError
        For an output below zero, or a count of diodes that cannot be.

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
    means = [[pattern.mean * weight for pattern, weight in bridge_kinds(n)] for n in range(_MOST_DIODES + 1)]
    left = np.array([sum(row) for row in means])[_counts(diodes_open)] / ripple_pattern().mean
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
        As for :func:`witnessmark.physics.rectifier.rectified`.

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
    wave = np.asarray(rectified(2.0 * np.pi * np.arange(_COARSE) / _COARSE, open_diodes))
    if wave.max() <= 0.0:
        raise EngineDefinitionError("a bridge that carries nothing", expected="a diode left on either side")
    mean, held, own = np.broadcast_arrays(np.asarray(amps, dtype=np.float64), np.asarray(volts), resistance)
    emf, whole = held - own * mean, alternator.phase_ohm + own
    crest = _crest_for(wave, mean, emf, whole)
    pushed = np.maximum(crest[..., None] * wave - emf[..., None], 0.0) / whole[..., None]
    found: Values = own * np.ptp(pushed, axis=-1)
    return found


def expected_ripple_volts(
    amps: Values, alternator: Alternator, *, diodes_open: Values, volts: Values = 14.2, battery_ohm: Values
) -> Values:
    """Ripple at the battery with so many diodes open, averaged over which they can be.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
    alternator : Alternator
    diodes_open : float or array, shape (n,) [-]
        State variable of that name.
    volts : float or array, shape (n,) [V]
    battery_ohm : float or array, shape (n,) [ohm]

    Returns
    -------
    float or array, shape (n,) [V]
        0 for the share of bridges that carry nothing.

    Raises
    ------
    EngineDefinitionError
        For a battery without resistance, or a count of diodes that cannot be.

    Notes
    -----
    Mean of :func:`ripple_volts` over all patterns, each as likely; follows from not knowing which.

    Examples
    --------
    >>> count = np.array([0.0, 1.0, 2.0])
    >>> expected_ripple_volts(40.0, Alternator(), diodes_open=count, battery_ohm=0.006).round(2).tolist()
    [0.11, 0.37, 0.55]
    """
    given = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in (amps, volts, battery_ohm, diodes_open)))
    mean, held, ohm, counts = (np.atleast_1d(one) for one in given)
    number, found = _counts(counts), np.zeros(mean.shape)
    for n in np.unique(number):
        rows = number == n
        for pattern, weight in bridge_kinds(int(n)):
            if pattern.mean > 0.0:
                one = ripple_volts(
                    mean[rows], alternator, volts=held[rows], battery_ohm=ohm[rows], open_diodes=pattern.open_diodes
                )
                found[rows] += weight * np.asarray(one)
    return found.reshape(given[0].shape)


def _counts(diodes_open: Values) -> NDArray[np.intp]:
    given = np.asarray(diodes_open, dtype=np.float64)
    whole = np.rint(given)
    if np.any(~((given >= 0.0) & (given <= _MOST_DIODES))) or np.any(np.abs(whole - given) > 1e-9):
        raise EngineDefinitionError("a count of open diodes that cannot be", expected="a whole number from 0 to 6")
    return whole.astype(np.intp)


def _crest_for(
    wave: NDArray[np.float64], amps: NDArray[np.float64], emf: NDArray[np.float64], ohm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The crest at which the bridge gives this mean current, by halving: the mean grows with it."""
    low = emf / wave.max()
    high = low + 2.0 * (amps * ohm + emf) / np.mean(wave)
    for _ in range(45):
        middle = 0.5 * (low + high)
        given = np.mean(np.maximum(middle[..., None] * wave - emf[..., None], 0.0), axis=-1) / ohm
        low, high = np.where(given < amps, middle, low), np.where(given < amps, high, middle)
    found: NDArray[np.float64] = 0.5 * (low + high)
    return found
