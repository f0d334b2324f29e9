"""What a scope's lead ends in: clamps, pick-ups and plain leads, each with its gain, zero, band and noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.filters import high_pass, low_pass

__all__ = ["Probe", "clamp", "kilovolt_pickup", "lead", "probed"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Probe:
    """One probe.

    Parameters
    ----------
    unit : str
        Of what it shows.
    per_volt : float
        As its label says, in ``unit`` for each volt.
    zero_v : float [V]
        That it gives for none, as its label says.
    gain : float [-]
        Over its label.
    offset : float
        Its zero, off, in ``unit``.
    band_hz : float [Hz]
        Up to which it follows.
    low_hz : float [Hz]
        Below which it does not, 0 for one that shows a level.
    noise : float
        Standard deviation, in ``unit``.
    """

    unit: str
    per_volt: float
    zero_v: float = 0.0
    gain: float = 1.0
    offset: float = 0.0
    band_hz: float = np.inf
    low_hz: float = 0.0
    noise: float = 0.0

    @property
    def shown(self) -> tuple[float, float]:
        """Scale and offset that make its volts what its label says, in ``unit``."""
        return self.per_volt, -self.per_volt * self.zero_v


def probed(values: FloatArray, step_s: float, probe: Probe, rng: np.random.Generator) -> FloatArray:
    """Volts that a probe gives.

    Parameters
    ----------
    values : array, shape (n,)
        In the probe's unit, evenly spaced.
    step_s : float [s]
    probe : Probe
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [V]
    """
    shown = probe.gain * values
    if probe.low_hz > 0.0:
        shown = high_pass(shown, step_s, probe.low_hz)
    shown = low_pass(shown, step_s, probe.band_hz) + probe.offset
    shown = shown + rng.normal(0.0, 1.0, values.size) * probe.noise
    return np.asarray(shown / probe.per_volt + probe.zero_v)


def clamp(most_amps: float, rng: np.random.Generator) -> Probe:
    """A current clamp: large ones coarse and slow, small ones fine.

    Parameters
    ----------
    most_amps : float [A]
        For which it is made.
    rng : numpy.random.Generator

    Returns
    -------
    Probe
    """
    large = most_amps > 100.0
    return Probe(
        "A",
        1000.0 if large else 10.0,
        gain=float(rng.normal(1.0, 0.015)),
        # Its zero is set by hand, and what iron keeps of it moves it again.
        offset=float(rng.normal(0.0, 0.004)) * most_amps,
        band_hz=float(rng.uniform(4e3, 20e3) if large else rng.uniform(15e3, 100e3)),
        noise=float(rng.uniform(0.0006, 0.0025)) * most_amps,
    )


def kilovolt_pickup(rng: np.random.Generator) -> Probe:
    """A capacitive pick-up on an ignition lead or coil: its gain is set by how it sits, and it shows no level.

    Parameters
    ----------
    rng : numpy.random.Generator

    Returns
    -------
    Probe
    """
    return Probe(
        "kV", 10.0, gain=float(rng.normal(1.0, 0.08)), offset=float(rng.normal(0.0, 0.05)),
        band_hz=float(rng.uniform(120e3, 400e3)), low_hz=float(rng.uniform(0.3, 3.0)),
        noise=float(rng.uniform(0.02, 0.08)),
    )  # fmt: skip


def lead(rng: np.random.Generator, *, divided: float = 1.0) -> Probe:
    """A plain lead, perhaps with a divider.

    Parameters
    ----------
    rng : numpy.random.Generator
    divided : float [-]
        Volts on the wire for one at the scope.

    Returns
    -------
    Probe
    """
    plain = Probe("V", divided, gain=float(rng.normal(1.0, 0.003)), offset=float(rng.normal(0.0, 0.005)) * divided)
    return replace(plain, noise=float(rng.uniform(0.0005, 0.003)) * divided)
