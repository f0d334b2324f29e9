"""One vehicle's alternator, battery and consumers with the engine running."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.engine.state import State
from witnessmark.physics.battery import battery_ohm, open_circuit_volts
from witnessmark.physics.charging import Alternator, alternator_amps, charging_volts
from witnessmark.physics.rectifier import diode_patterns
from witnessmark.simulate.draws import stream
from witnessmark.simulate.parts import edit_of

__all__ = ["Onboard", "build_onboard"]

_CHARGED_V = 0.9  # by which a battery stands above its rest after some minutes of charge; from memory


@dataclass(frozen=True, slots=True)
class Onboard:
    """The electrical system with the engine running.

    Parameters
    ----------
    alternator : Alternator
    output : float [-]
        Share of a sound alternator's.
    open_diodes : tuple of int
    load_siemens : float [S]
        Of all consumers.
    emf_v : float [V]
        Of the battery on charge.
    battery_ohm : float [ohm]
    celsius : float [C]
        Of the regulator.
    """

    alternator: Alternator
    output: float
    open_diodes: tuple[int, ...]
    load_siemens: float
    emf_v: float
    battery_ohm: float
    celsius: float

    def volts(self, rpm: float) -> float:
        """Mean voltage at the battery at an engine speed [V]."""
        most = alternator_amps(rpm, self.alternator, output=self.output, diodes_open=len(self.open_diodes))
        return float(np.asarray(charging_volts(
            most, self.alternator, load_siemens=self.load_siemens, emf=self.emf_v, battery_ohm=self.battery_ohm,
            celsius=self.celsius,
        )))  # fmt: skip

    def amps(self, rpm: float) -> float:
        """What the alternator then gives [A]."""
        volts = self.volts(rpm)
        return max(volts * self.load_siemens + (volts - self.emf_v) / self.battery_ohm, 0.0)


def build_onboard(state: State, seed: int, *, loads_on: bool = False) -> Onboard:
    """The electrical system of a vehicle.

    Parameters
    ----------
    state : State
    seed : int
        Of the vehicle.
    loads_on : bool
        Lamps, fan and rear window switched on.

    Returns
    -------
    Onboard
    """
    rng = stream(seed, "onboard")
    usual = Alternator()
    alternator = Alternator(
        most_amps=usual.most_amps * float(rng.uniform(0.8, 1.3)), cut_in_rpm=float(rng.uniform(1000.0, 1250.0)),
        pole_pairs=int(rng.choice([6, 6, 6, 8])), pulley=float(rng.uniform(2.4, 3.0)),
        phase_ohm=float(rng.uniform(0.1, 0.2)), regulated_volts=float(rng.uniform(14.1, 14.6)),
    )  # fmt: skip
    count = round(np.clip(edit_of(state, "diodes_open", "alternator"), 0.0, 6.0))
    patterns = diode_patterns(count)
    which = patterns[int(rng.integers(len(patterns)))]
    load = float(rng.uniform(1.6, 2.4)) + (float(rng.uniform(2.5, 3.5)) if loads_on else 0.0)
    charge = float(np.clip(edit_of(state, "battery_charge", "battery"), 0.0, 1.0))
    ohm = battery_ohm(edit_of(state, "battery_resistance", "battery"), charge=charge, celsius=30.0)
    return Onboard(
        alternator, max(edit_of(state, "alternator_output", "alternator"), 0.0), which, load,
        float(np.asarray(open_circuit_volts(charge, 30.0))) + _CHARGED_V, float(np.asarray(ohm)), 60.0,
    )  # fmt: skip
