"""How each cylinder fires, firing after firing: spark or none, mixture, and what differs from cycle to cycle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.physics.burn import Burn
from witnessmark.physics.firing import Firing, FiringState, GasAtSpark, fire
from witnessmark.physics.ignition import Coil
from witnessmark.physics.injector import dead_time
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import edit_of, place
from witnessmark.simulate.wiring import SOUND, Way, ways_of
from witnessmark.simulate.world import World

__all__ = ["Combustion", "build_combustion", "firing_of"]

_SPREAD = 0.06  # of work from cycle to cycle at idle; from memory: 5 to 10 %
_LEAN, _RICH = (1.25, 1.65), (0.75, 0.55)  # where mixtures begin to miss, and always do; from memory, our guess
_INJECTOR_OHM, _PULL_IN_VOLTS, _IDLE_PULSE_S = 12.0, 6.2, 1.6e-3
_NO_CURRENT = 5.0  # times its resistance, from which a winding's current lifts no needle any more
_DELAY_DEG = 5.0  # from spark to the first burning that shows


@dataclass(frozen=True, slots=True)
class Combustion:
    """How a running engine's cylinders fire.

    Parameters
    ----------
    spark_deg : float [deg]
        Before firing top dead centre, as it truly happens.
    coil : Coil
        Of this make.
    volts : float [V]
        At coil and driver.
    dwell_s : float [s]
    mixture : mapping of int to float [-]
        λ of each cylinder.
    silent : tuple of int
        Cylinders whose spark or fuel is taken away for the test.
    ways : mapping of str to Way
        What the wiring leaves of the voltage for each coil and injector, and puts in its way.
    """

    spark_deg: float
    coil: Coil
    volts: float
    dwell_s: float
    mixture: Mapping[int, float]
    silent: tuple[int, ...] = ()
    ways: Mapping[str, Way] = field(default_factory=dict)

    def way(self, part: str) -> Way:
        """The way of a coil, an injector or the pump."""
        return self.ways.get(part, SOUND)

    def burns(self, n: int, lit: bool, rng: np.random.Generator) -> tuple[Burn, float]:
        """How one charge burns, and its heat over that of all its air burnt [-]; 0 where it does not.

        Parameters
        ----------
        n : int
        lit : bool
            Whether there was a spark in the gap.
        rng : numpy.random.Generator

        Returns
        -------
        Burn
        float
        """
        ratio = self.mixture.get(n, 1.0)
        late, wide, chance = rng.normal(0.0, 2.0), rng.normal(1.0, 0.06), rng.random()
        off = max(ratio - 1.05, 0.9 - ratio, 0.0)
        lasts = float(np.clip(58.0 * wide * (1.0 + 2.0 * off), 25.0, 120.0))
        burn = Burn(_DELAY_DEG + float(late) + 12.0 * off - self.spark_deg, lasts)
        strength = rng.normal(1.0, _SPREAD * (1.0 + 8.0 * off)) * min(1.0, 1.0 / ratio)
        missing = max((ratio - _LEAN[0]) / (_LEAN[1] - _LEAN[0]), (_RICH[0] - ratio) / (_RICH[0] - _RICH[1]))
        if n in self.silent or not lit or chance < missing:
            return burn, 0.0
        return burn, float(np.clip(strength, 0.05, 1.3))


def build_combustion(
    world: World, mixture: Mapping[int, float], *, spark_deg: float, volts: float, silent: tuple[int, ...] = ()
) -> Combustion:
    """How this vehicle's cylinders fire.

    Parameters
    ----------
    world : World
    mixture : mapping of int to float [-]
        λ of each cylinder.
    spark_deg : float [deg]
        Before top dead centre, as commanded; a crank wheel that has slipped early fires early.
    volts : float [V]
    silent : tuple of int

    Returns
    -------
    Combustion
    """
    rng = stream(world.vehicle.seed, "coils")
    coil = Coil(
        ohm=float(rng.uniform(0.45, 0.8)), henry=float(rng.uniform(0.0024, 0.0042)),
        limit_amps=float(rng.uniform(6.5, 8.5)), turns=float(rng.uniform(72.0, 92.0)),
        picofarad=float(rng.uniform(60.0, 90.0)),
    )  # fmt: skip
    true = spark_deg + world.early_deg[CRANK]
    ways = ways_of(world.vehicle.engine, world.state, volts)
    leaner = {n: ratio / max(_fed(world.state, n, ways, volts), 1e-3) for n, ratio in mixture.items()}
    return Combustion(true, coil, volts, float(rng.uniform(0.0022, 0.0036)), leaner, silent, ways)


def _fed(state: State, n: int, ways: Mapping[str, Way], volts: float) -> float:
    """Share of its fuel that an injector gives on what current reaches it: less pulse is left behind its dead time."""
    way = ways[place("injector", n)]
    winding = max(edit_of(state, "winding", place("injector", n)), 1e-3)
    left = volts * way.share * winding * _INJECTOR_OHM / (winding * _INJECTOR_OHM + way.more_ohm)
    if winding > _NO_CURRENT or left <= _PULL_IN_VOLTS:
        return 0.0
    sound, late = (float(np.asarray(dead_time(v))) for v in (volts, min(left, volts)))
    return float(np.clip(1.0 - (late - sound) / _IDLE_PULSE_S, 0.0, 1.0))


def firing_of(combustion: Combustion, state: State, n: int, gas: GasAtSpark, *, gap_scale: float = 1.0) -> Firing:
    """One firing of a cylinder.

    Parameters
    ----------
    combustion : Combustion
    state : State
    n : int
    gas : GasAtSpark
    gap_scale : float [-]
        Of the gap's demand this time: where the spark starts is chance.

    Returns
    -------
    Firing
    """
    held = FiringState(
        coil_energy=max(edit_of(state, "coil_energy", place("coil", n)), 0.0),
        winding=max(edit_of(state, "winding", place("coil", n)), 1e-3),
        spark_gap=max(edit_of(state, "spark_gap", place("plug", n)) * gap_scale, 0.0),
        plug_shunt=max(edit_of(state, "plug_shunt", place("plug", n)), 0.0),
        boot_kv=edit_of(state, "breakdown_kv", place("boot", n)),
        plug_kv=edit_of(state, "breakdown_kv", place("plug", n)),
        boot_ohm=max(edit_of(state, "resistance", place("boot", n)), 0.0),
    )
    way = combustion.way(place("coil", n))
    volts = combustion.volts * way.share
    return fire(held, gas, combustion.coil, volts=volts, dwell=combustion.dwell_s, wiring_ohm=way.more_ohm)
