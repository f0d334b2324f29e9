"""One cylinder's firing from its state: coil, winding, boot, plug and gap together.

(docs/physics.md, "ignition")
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values
from witnessmark.physics.ignition import Coil, available_kv, coil_current, spark_duration, stored_energy
from witnessmark.physics.spark import breakdown_kv, burn_volts, misfire_share, spark_way_kv

__all__ = ["BOOT_GAP_KV", "OPEN_BOOT_OHM", "Firing", "FiringState", "GasAtSpark", "fire"]

OPEN_BOOT_OHM = 1e7
"""From here on a boot's path is a gap that the spark has to leap, in ohm; our guess."""

BOOT_GAP_KV = 8.0
"""What such a gap takes, in kV; our guess: some 3 mm of air."""


@dataclass(frozen=True, slots=True)
class FiringState:
    """State variables of one cylinder's ignition; each a number or an array over n states.

    Parameters
    ----------
    coil_energy : float or array, shape (n,) [-]
    winding : float or array, shape (n,) [-]
    spark_gap : float or array, shape (n,) [mm]
    plug_shunt : float or array, shape (n,) [uS]
    boot_kv, plug_kv : float or array, shape (n,) [kV]
        State variable breakdown_kv of each.
    boot_ohm : float or array, shape (n,) [ohm]
        State variable resistance of the boot, beyond the sound circuit's.
    """

    coil_energy: Values = 1.0
    winding: Values = 1.0
    spark_gap: Values = 0.9
    plug_shunt: Values = 0.01
    boot_kv: Values = 40.0
    plug_kv: Values = 40.0
    boot_ohm: Values = 0.0


@dataclass(frozen=True, slots=True)
class GasAtSpark:
    """What lies between the electrodes when it fires.

    Parameters
    ----------
    pressure : float or array, shape (n,) [Pa]
        Absolute.
    kelvin : float or array, shape (n,) [K]
    mixture : float or array, shape (n,) [-]
        Factor on the demand: above 1 for a lean one.
    """

    pressure: Values = 5e5
    kelvin: Values = 600.0
    mixture: Values = 1.0


@dataclass(frozen=True, slots=True)
class Firing:
    """What a firing shows.

    Parameters
    ----------
    primary_amps : float or array, shape (n,) [A]
        At the end of the dwell.
    required_kv : float or array, shape (n,) [kV]
        That the gap asks for, boot's gap included.
    available_kv : float or array, shape (n,) [kV]
    firing_kv : float or array, shape (n,) [kV]
        At which the circuit breaks down, wherever; where nothing breaks down, what is available.
    spark_seconds : float or array, shape (n,) [s]
        How long it burns, wherever; 0 where nothing breaks down.
    misfire_share : float or array, shape (n,) [-]
        Of firings without a spark in the gap.
    """

    primary_amps: Values
    required_kv: Values
    available_kv: Values
    firing_kv: Values
    spark_seconds: Values
    misfire_share: Values


def fire(
    state: FiringState,
    gas: GasAtSpark,
    coil: Coil,
    *,
    volts: Values = 14.0,
    dwell: Values = 0.003,
    wiring_ohm: Values = 0.0,
    electrodes: Values = 0.85,
) -> Firing:
    """A firing of one cylinder.

    Parameters
    ----------
    state : FiringState
    gas : GasAtSpark
    coil : Coil
    volts : float or array, shape (n,) [V]
        Across coil, driver and ``wiring_ohm``; zero and less: not fed.
    dwell : float or array, shape (n,) [s]
    wiring_ohm : float or array, shape (n,) [ohm]
        More than a sound primary circuit has.
    electrodes : float or array, shape (n,) [-]
        As for :func:`witnessmark.physics.spark.breakdown_kv`.

    Returns
    -------
    Firing

    Raises
    ------
    EngineDefinitionError
        For a resistance of the boot below zero.

    Notes
    -----
    The chain of :mod:`witnessmark.physics.ignition` and :mod:`witnessmark.physics.spark`; follows from putting them one
    behind the other. A boot of more than 10 megohm is a gap of 8 kV, less is resistance of the secondary circuit: it
    shortens the spark and costs no voltage before the spark, since hardly any current flows then. Both our guess.

    Examples
    --------
    A sound one, a worn gap with a weak coil under load, a leaking boot under load:

    >>> load = GasAtSpark(14e5, 650.0)
    >>> states = (FiringState(), FiringState(coil_energy=0.25, spark_gap=1.6), FiringState(boot_kv=9.0))
    >>> found = [fire(state, load, Coil()) for state in states]
    >>> [f"{one.firing_kv:.1f} kV, {one.misfire_share:.2f}" for one in found]
    ['15.4 kV, 0.00', '18.3 kV, 1.00', '9.0 kV, 1.00']
    """
    boot = np.asarray(state.boot_ohm, dtype=np.float64)
    if np.any(~(boot >= 0.0)):
        raise EngineDefinitionError("a boot with a resistance below zero", expected="0 ohm or more")
    fed = np.maximum(volts, 0.0)
    amps = coil_current(dwell, fed, coil, winding=state.winding, wiring_ohm=wiring_ohm)
    energy = stored_energy(amps, coil, coil_energy=state.coil_energy)
    available = available_kv(energy, coil, plug_shunt_us=state.plug_shunt)
    gap = breakdown_kv(state.spark_gap, gas.pressure, gas.kelvin, electrodes=electrodes, mixture=gas.mixture)
    leap = np.where(boot >= OPEN_BOOT_OHM, BOOT_GAP_KV, 0.0)
    breaking, _ = spark_way_kv(gap, state.boot_kv, state.plug_kv, boot_gap_kv=leap)
    required = np.add(gap, leap)
    sparks = np.asarray(breaking <= available)
    burning = burn_volts(state.spark_gap, gas.pressure)
    series = np.where(boot >= OPEN_BOOT_OHM, 0.0, boot)
    lasting = spark_duration(energy, breaking, coil, burn_volts=burning, more_ohm=series)
    return Firing(
        primary_amps=amps,
        required_kv=required,
        available_kv=available,
        firing_kv=np.minimum(breaking, available),
        spark_seconds=np.where(sparks, lasting, 0.0),
        misfire_share=misfire_share(required, available, np.minimum(state.boot_kv, state.plug_kv)),
    )
