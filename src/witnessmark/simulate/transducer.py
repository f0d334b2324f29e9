"""A pressure transducer with its adaptor: a tube that rings, a membrane that warms, a converter's volts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.filters import low_pass, resonance
from witnessmark.simulate.probes import Probe

__all__ = ["Transducer", "draw_transducer", "sensed_kpa", "tube_hz"]

FloatArray = NDArray[np.float64]

_SOUND_M_S = 360.0  # in the lukewarm gas of a hose


@dataclass(frozen=True, slots=True)
class Transducer:
    """One transducer on its adaptor.

    Parameters
    ----------
    tube_m, tube_mm : float [m], [mm]
        Length and bore of what leads to the membrane.
    volume_cm3 : float [cm3]
        Ahead of the membrane.
    damping : float [-]
        Of the gas that swings in the tube.
    gain : float [-]
        Over what its sheet says.
    offset_kpa : float [kPa]
        Its zero, off.
    warming_kpa, warming_s : float [kPa], [s]
        How far its zero drifts as the membrane warms, and how quickly.
    shock_kpa_per_mpa : float [kPa/MPa]
        By how much hot gas makes it read low just behind a peak.
    probe : Probe
        From its pressure to volts.
    """

    tube_m: float
    tube_mm: float
    volume_cm3: float
    damping: float
    gain: float
    offset_kpa: float
    warming_kpa: float
    warming_s: float
    shock_kpa_per_mpa: float
    probe: Probe

    @property
    def added_m3(self) -> float:
        """What it adds to the room above the piston [m3]."""
        return float(1e-6 * self.volume_cm3 + np.pi / 4.0 * (1e-3 * self.tube_mm) ** 2 * self.tube_m)


def tube_hz(tube_m: float, tube_mm: float, volume_cm3: float) -> float:
    """Lowest frequency of a tube that ends in a small volume.

    Parameters
    ----------
    tube_m, tube_mm : float [m], [mm]
    volume_cm3 : float [cm3]

    Returns
    -------
    float [Hz]

    Notes
    -----
    k L tan(k L) = A L/V: follows from a plane wave in the tube and an even pressure in the volume. Without a volume it
    is a quarter wave, c/4L; with a large one Helmholtz's c/2π √(A/(V L)).
    """
    share = np.pi / 4.0 * (1e-3 * tube_mm) ** 2 * tube_m / max(1e-6 * volume_cm3, 1e-15)
    low, high = 0.0, 0.5 * np.pi
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if middle * np.tan(middle) < share else (low, middle)
    return float(low * _SOUND_M_S / (2.0 * np.pi * tube_m))


def draw_transducer(rng: np.random.Generator, *, full_scale_kpa: float = 3500.0) -> Transducer:
    """A transducer as workshops have them.

    Parameters
    ----------
    rng : numpy.random.Generator
    full_scale_kpa : float [kPa]

    Returns
    -------
    Transducer
    """
    tube_m, tube_mm = float(rng.choice([0.04, 0.06, 0.12, 0.3, 0.5])), float(rng.uniform(3.0, 5.0))
    # Gas rubs along a hose: a long one hardly rings, it only lags. Our guess.
    damping = float(rng.uniform(0.12, 0.3)) + 0.7 * tube_m
    # Half a volt at no pressure, four and a half at full scale: ratiometric, as most are (common practice, no source).
    probe = Probe("kPa", full_scale_kpa / 4.0, zero_v=0.5, noise=float(rng.uniform(0.0004, 0.0015)) * full_scale_kpa)
    return Transducer(
        tube_m, tube_mm, float(rng.uniform(0.2, 1.0)), damping,
        gain=float(rng.normal(1.0, 0.01)), offset_kpa=float(rng.normal(0.0, 0.004)) * full_scale_kpa,
        warming_kpa=float(rng.normal(0.0, 0.005)) * full_scale_kpa, warming_s=float(rng.uniform(0.4, 2.0)),
        shock_kpa_per_mpa=float(rng.uniform(0.0, 12.0)), probe=probe,
    )  # fmt: skip


def sensed_kpa(transducer: Transducer, pressure_pa: FloatArray, step_s: float, *, least_kpa: float = 1.0) -> FloatArray:
    """What a transducer makes of a pressure, before noise and converter.

    Parameters
    ----------
    transducer : Transducer
    pressure_pa : array, shape (n,) [Pa]
        At its tube's mouth, evenly spaced.
    step_s : float [s]
    least_kpa : float [kPa]
        Less than nothing there is not: a gauge pressure may go down to minus the surroundings'.

    Returns
    -------
    array, shape (n,) [kPa]
    """
    one = transducer
    ringing = resonance(pressure_pa / 1e3, step_s, tube_hz(one.tube_m, one.tube_mm, one.volume_cm3), one.damping)
    ringing = np.maximum(ringing, least_kpa)
    shock = one.shock_kpa_per_mpa * 1e-3 * low_pass(np.maximum(ringing - 300.0, 0.0), step_s, 8.0)
    since = step_s * np.arange(pressure_pa.size)
    drift = one.offset_kpa + one.warming_kpa * (1.0 - np.exp(-since / one.warming_s))
    return np.asarray(one.gain * ringing + drift - shock)
