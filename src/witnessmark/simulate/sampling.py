"""From signals on an engine to the samples of one file: clock, converter, columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording.types import Recording, RegularTime, Trace
from witnessmark.simulate.channels import Window
from witnessmark.simulate.draws import stream
from witnessmark.simulate.instruments import Scope, sampled, set_range
from witnessmark.simulate.probes import Probe
from witnessmark.source import Step, digest_bytes
from witnessmark.vocabulary import Condition

__all__ = ["Sampling", "Signal", "recorded"]

FloatArray = NDArray[np.float64]

_LEAD_S = 0.03  # computed ahead of the first sample, so that filters have forgotten their beginning


@dataclass(frozen=True, slots=True, eq=False)
class Sampling:
    """When one file's samples are taken.

    Parameters
    ----------
    window : Window
    scope : Scope
    seconds : float [s]
    """

    window: Window
    scope: Scope
    seconds: float

    @property
    def time(self) -> RegularTime:
        """As the file counts it."""
        return RegularTime(self.window.zero_s, self.scope.step_s, max(round(self.seconds / self.scope.step_s), 2))

    @property
    def lead(self) -> int:
        """Samples computed ahead of the first."""
        return min(round(_LEAD_S / self.scope.step_s), 40_000)

    def times_s(self, channel: int = 0) -> FloatArray:
        """The motion's time of every sample, the lead included, shape (lead + n,) [s].

        Parameters
        ----------
        channel : int
            Cheap converters take their channels one after the other.
        """
        count = np.arange(-self.lead, self.time.count, dtype=np.float64)
        file = self.window.zero_s + self.scope.step_s * count
        return self.window.to_motion(file) + channel * self.scope.skew_s


@dataclass(frozen=True, slots=True, eq=False)
class Signal:
    """One channel as it reaches the scope.

    Parameters
    ----------
    name : str
        Heading of its column.
    role : str
        As a note beside the recording says.
    volts : array, shape (lead + n,) [V]
    probe : Probe
        What its volts mean.
    wheel : str, optional
    range_v : (float, float), optional [V]
        Set by hand; else to the signal.
    """

    name: str
    role: str
    volts: FloatArray
    probe: Probe
    wheel: str | None = None
    range_v: tuple[float, float] | None = None


def recorded(
    signals: Sequence[Signal], sampling: Sampling, condition: Condition, *, name: str, seed: int, vehicle: int
) -> Recording:
    """The file that a scope writes of some signals.

    Parameters
    ----------
    signals : sequence of Signal
    sampling : Sampling
    condition : Condition
    name : str
    seed : int
    vehicle : int
        Its seed.

    Returns
    -------
    Recording
    """
    traces = tuple(
        _trace(signal, k, sampling, stream(seed, "sampling", signal.name)) for k, signal in enumerate(signals)
    )
    content = b"".join(np.ascontiguousarray(trace.raw).tobytes() for trace in traces)
    return Recording(
        traces=traces,
        digest=digest_bytes(np.asarray(sampling.time.span_s).tobytes() + content),
        name=name,
        format="simulated",
        history=(Step("simulate", f"seed {seed}, vehicle {vehicle}"),),
        condition=condition,
    )


def _ranged(scope: Scope, volts: FloatArray) -> Scope:
    """Whoever looks at single events sets the range to hold them, not to what is there most of the time."""
    most = float(np.max(np.abs(volts)))
    return set_range(scope, np.full(8, min(most, 49.0)))


def _trace(signal: Signal, column: int, sampling: Sampling, rng: np.random.Generator) -> Trace:
    volts, scope = signal.volts[sampling.lead :], sampling.scope
    if signal.range_v is not None:
        scope = replace(scope, low_v=signal.range_v[0], high_v=signal.range_v[1])
    elif scope.ranged:
        scope = _ranged(scope, volts)
    # Its own noise and drift are shares of the range it is set to.
    reach = (scope.high_v - scope.low_v) / 20.0
    quieter = replace(scope, noise_v=scope.noise_v * reach, drift_v=scope.drift_v * reach, hum_v=scope.hum_v * reach)
    counts, per_count, at_zero = sampled(volts, quieter, rng)
    per_volt, offset = signal.probe.shown
    return Trace(
        name=signal.name,
        channel=column,
        raw=counts,
        time=sampling.time,
        unit=signal.probe.unit,
        role=signal.role,
        scale=per_count * per_volt,
        offset=at_zero * per_volt + offset,
        wheel=signal.wheel,
    )
