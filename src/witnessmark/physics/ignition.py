"""Spark ignition by coil: what the coil stores, what it can give, and how long the spark burns.

What the gap demands is in :mod:`witnessmark.physics.spark` (docs/physics.md, "ignition").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.actuator import ramp_current, ramp_time
from witnessmark.physics.chain import Values

__all__ = ["Coil", "available_kv", "coil_current", "dwell_for", "spark_duration", "stored_energy"]


@dataclass(frozen=True, slots=True)
class Coil:
    """An ignition coil with its driver and its secondary circuit; sizes our guess.

    Parameters
    ----------
    ohm : float [ohm]
        Primary winding, driver and wiring of a sound circuit.
    henry : float [H]
        Primary.
    limit_amps : float [A]
        Where the driver holds the current.
    turns : float [-]
        Secondary turns for one of the primary.
    coupling : float [-]
        Share of the primary's energy that reaches the secondary.
    picofarad : float [pF]
        Of secondary, lead and plug together.
    secondary_ohm : float [ohm]
        Of the secondary circuit, suppressors included.
    clamp_volts : float [V]
        At which the driver clamps its primary side.
    """

    ohm: float = 0.6
    henry: float = 0.003
    limit_amps: float = 7.5
    turns: float = 80.0
    coupling: float = 0.6
    picofarad: float = 75.0
    secondary_ohm: float = 12000.0
    clamp_volts: float = 450.0


def coil_current(
    seconds: Values, volts: Values, coil: Coil, *, winding: Values = 1.0, wiring_ohm: Values = 0.0
) -> Values:
    """Primary current so long after the dwell began.

    Parameters
    ----------
    seconds : float or array, shape (n,) [s]
    volts : float or array, shape (n,) [V]
        Across coil and driver.
    coil : Coil
    winding : float or array, shape (n,) [-]
        The winding's resistance as a multiple of a sound one's; 1e9 for open.
    wiring_ohm : float or array, shape (n,) [ohm]
        More than a sound circuit has.

    Returns
    -------
    float or array, shape (n,) [A]

    Notes
    -----
    As :func:`witnessmark.physics.actuator.ramp_current`, from memory, any textbook. A coil with shorted turns ramps
    faster than this, for its inductance falls.

    Examples
    --------
    >>> f"{coil_current(0.002, 14.0, Coil()):.2f} A, {coil_current(0.002, 8.0, Coil()):.2f} A"
    '7.50 A, 4.40 A'
    """
    ohm = np.multiply(coil.ohm, winding) + wiring_ohm
    return ramp_current(seconds, volts, ohm, coil.henry, limit_amps=coil.limit_amps)


def dwell_for(amps: Values, volts: Values, coil: Coil, *, winding: Values = 1.0, wiring_ohm: Values = 0.0) -> Values:
    """Dwell that a current needs: longer on a low battery.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
    volts : float or array, shape (n,) [V]
    coil : Coil
    winding : float or array, shape (n,) [-]
    wiring_ohm : float or array, shape (n,) [ohm]

    Returns
    -------
    float or array, shape (n,) [s]
        Infinite where the current is out of reach.

    Notes
    -----
    As :func:`witnessmark.physics.actuator.ramp_time`; follows from the ramp.

    Examples
    --------
    >>> [f"{1000 * dwell_for(7.0, volts, Coil()):.1f} ms" for volts in (14.0, 10.0, 6.0)]
    ['1.8 ms', '2.7 ms', '6.0 ms']
    """
    return ramp_time(amps, volts, np.multiply(coil.ohm, winding) + wiring_ohm, coil.henry)


def stored_energy(amps: Values, coil: Coil, *, coil_energy: Values = 1.0) -> Values:
    """Energy that a coil holds at the end of its dwell.

    Parameters
    ----------
    amps : float or array, shape (n,) [A]
    coil : Coil
    coil_energy : float or array, shape (n,) [-]
        Share of a sound coil's energy: less with shorted turns or a weak driver.

    Returns
    -------
    float or array, shape (n,) [J]

    Notes
    -----
    E = L i²/2, any textbook (worked example read: 6 mH at 3 A hold 27 mJ; docs/references.md, [coil_example]_).

    Examples
    --------
    >>> f"{1000 * stored_energy(7.0, Coil()):.0f} mJ"
    '74 mJ'
    """
    return 0.5 * coil.henry * np.square(amps) * coil_energy


def available_kv(energy: Values, coil: Coil, *, plug_shunt_us: Values = 0.0) -> Values:
    """Highest voltage that a coil can put on a plug that does not fire.

    Parameters
    ----------
    energy : float or array, shape (n,) [J]
        From :func:`stored_energy`.
    coil : Coil
    plug_shunt_us : float or array, shape (n,) [uS]
        Conductance of the soot across the plug.

    Returns
    -------
    float or array, shape (n,) [kV]

    Raises
    ------
    EngineDefinitionError
        For an energy or a shunt below zero.

    Notes
    -----
    V₀ = √(2 η E/C), and with a shunt G the first peak of a parallel circuit of L, C and G that starts from its current:
    V₀ exp(-ζ arccos ζ/√(1-ζ²)), ζ = G/2 √(L/C), L = turns² times the primary's (with arcosh for ζ > 1). Follows from
    the circuit's differential equation. At most what turns times the driver's clamp allow. Holds until the gap fires.

    Examples
    --------
    >>> energy = stored_energy(7.0, Coil())
    >>> [f"{available_kv(energy, Coil(), plug_shunt_us=us):.1f}" for us in (0.0, 0.5, 2.0, 10.0)]
    ['34.3', '28.5', '18.6', '6.1']
    """
    if np.any(~(np.asarray(energy) >= 0.0)) or np.any(~(np.asarray(plug_shunt_us) >= 0.0)):
        raise EngineDefinitionError("a coil's energy or a plug's shunt below zero", expected="0 or more")
    farad = coil.picofarad * 1e-12
    peak = np.sqrt(2.0 * coil.coupling * np.asarray(energy, dtype=np.float64) / farad)
    damping = 0.5e-6 * np.asarray(plug_shunt_us, dtype=np.float64) * np.sqrt(coil.henry * coil.turns**2 / farad)
    volts = peak * np.exp(-_damped(damping))
    kv: Values = np.minimum(volts, coil.clamp_volts * coil.turns) / 1000.0
    return kv


def _damped(damping: Values) -> Values:
    """ζ arccos ζ/√(1-ζ²), its continuation beyond 1, and 1 where they meet."""
    z = np.asarray(damping, dtype=np.float64)
    under, over = np.minimum(z, 1.0 - 1e-9), np.maximum(z, 1.0 + 1e-9)
    below = under * np.arccos(under) / np.sqrt(1.0 - under**2)
    above = over * np.arccosh(over) / np.sqrt(over**2 - 1.0)
    return np.where(np.abs(z - 1.0) < 1e-6, 1.0, np.where(z < 1.0, below, above))


def spark_duration(
    energy: Values, firing_kv: Values, coil: Coil, *, burn_volts: Values = 900.0, more_ohm: Values = 0.0
) -> Values:
    """How long a spark burns.

    Parameters
    ----------
    energy : float or array, shape (n,) [J]
        From :func:`stored_energy`.
    firing_kv : float or array, shape (n,) [kV]
        At which the gap broke down.
    coil : Coil
    burn_volts : float or array, shape (n,) [V]
        Across the gap while it burns (:func:`witnessmark.physics.spark.burn_volts`).
    more_ohm : float or array, shape (n,) [ohm]
        In the secondary circuit, beyond the sound one's.

    Returns
    -------
    float or array, shape (n,) [s]
        0 where the firing voltage took all there was.

    Notes
    -----
    Charging the capacitance takes C V²/2; with what is left the secondary current i₀ = √(2 E/L) runs down by
    L di/dt = -(V_burn + R i), which takes L/R ln(1 + R i₀/V_burn). Follows from that equation, for a burning voltage
    that does not depend on the current. A higher firing voltage burns shorter, as any pattern shows.

    Examples
    --------
    >>> energy = stored_energy(7.0, Coil())
    >>> [f"{1000 * spark_duration(energy, kv, Coil()):.2f} ms" for kv in (8.0, 25.0)]
    ['1.01 ms', '0.77 ms']
    """
    farad, henry = coil.picofarad * 1e-12, coil.henry * coil.turns**2
    left = np.maximum(coil.coupling * np.asarray(energy) - 0.5 * farad * np.square(np.multiply(firing_kv, 1000.0)), 0.0)
    amps = np.sqrt(2.0 * left / henry)
    ohm = coil.secondary_ohm + np.asarray(more_ohm, dtype=np.float64)
    seconds: Values = henry / ohm * np.log1p(ohm * amps / burn_volts)
    return seconds
