"""Drives of our own making, with the state known at every moment, read fast or slowly; for tests only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.series import Log, log_of
from witnessmark.recording.types import ExplicitTime, Recording, Trace

__all__ = ["DRIVE", "drive_log", "log_from"]

Array = NDArray[np.float64]

# state, seconds, engine speed, road speed, pedal, load, manifold pressure, voltage at the stretch's end; in between all
# go there within a second (the road's speed evenly over the stretch). Invented.
DRIVE = (
    ("key_on", 6.0, 0.0, 0.0, 16.0, 0.0, 100.0, 12.4),
    ("cranking", 2.0, 210.0, 0.0, 16.0, 0.0, 92.0, 10.2),
    ("idle", 40.0, 760.0, 0.0, 16.0, 30.0, 34.0, 14.1),
    ("raised", 25.0, 2500.0, 0.0, 24.0, 24.0, 29.0, 14.2),
    ("idle", 30.0, 760.0, 0.0, 16.0, 30.0, 34.0, 14.1),
    ("acceleration", 20.0, 2600.0, 80.0, 45.0, 70.0, 75.0, 14.1),
    ("cruise", 60.0, 2300.0, 80.0, 28.0, 42.0, 48.0, 14.1),
    ("full_load", 8.0, 4200.0, 110.0, 95.0, 97.0, 98.0, 14.0),
    ("overrun", 15.0, 2000.0, 50.0, 16.0, 16.0, 22.0, 14.2),
    ("idle", 40.0, 760.0, 0.0, 16.0, 30.0, 34.0, 14.1),
)
_SWING = {"engine_speed": 8.0, "load": 0.6, "map": 0.5, "volts": 0.03, "pedal": 0.0, "vehicle_speed": 0.0}


def drive_log(
    rng: np.random.Generator,
    period_s: float,
    *,
    without: Iterable[str] = (),
    coolant_c: float = 88.0,
    late_s: float = 0,
) -> tuple[Log, Array, NDArray[np.str_]]:
    """A log of :data:`DRIVE`, its own times and the true state at each.

    Each signal is read ``late_s`` after the one before, as a tool does that asks for one after the other.
    """
    total = sum(row[1] for row in DRIVE)
    fine = np.arange(0.0, total, 0.05)
    ends = np.cumsum([row[1] for row in DRIVE])
    which = np.searchsorted(ends, fine, side="right")
    truth = np.array([DRIVE[k][0] for k in which])
    names = ("engine_speed", "vehicle_speed", "pedal", "load", "map", "volts")
    values = {name: _course(fine, ends, which, 2 + k, rng, _SWING[name]) for k, name in enumerate(names)}
    values["vehicle_speed"] = np.round(_road(fine, ends))
    values["coolant"] = np.full(fine.size, coolant_c)
    read: dict[str, tuple[Array, Array]] = {}
    for k, (name, series) in enumerate((n, v) for n, v in values.items() if n not in without):
        times = np.arange(0.0, total - 1.0, period_s) + k * late_s
        read[name] = (times, np.interp(times, fine, series))
    times = np.arange(0.0, total - 1.0, period_s)
    return log_from(read), times, truth[np.searchsorted(fine, times - 1e-9)]


def _course(fine: Array, ends: Array, which: NDArray[np.int_], at: int, rng: np.random.Generator, sway: float) -> Array:
    wanted = np.array([row[at] for row in DRIVE], dtype=np.float64)[which]
    starts = np.concatenate(([0.0], ends[:-1]))[which]
    before = np.array([row[at] for row in DRIVE], dtype=np.float64)[np.maximum(which - 1, 0)]
    share = np.minimum(fine - starts, 1.0)
    noise = np.convolve(rng.standard_normal(fine.size), np.ones(10) / np.sqrt(10.0), mode="same")
    return np.asarray(np.maximum(before + share * (wanted - before) + sway * noise * (wanted > 0), 0.0))


def _road(fine: Array, ends: Array) -> Array:
    """Evenly from one stretch's speed to the next; the vehicle is braked to a stop within the last overrun."""
    at = np.concatenate(([0.0], ends))
    speeds = np.array([0.0, *(row[3] for row in DRIVE)])
    speeds[-2] = 0.0
    return np.interp(fine, at, speeds)


def log_from(read: Mapping[str, tuple[Array, Array]], *, name: str = "drive.csv", **more: object) -> Log:
    """A log of signals with times and values each."""
    traces = tuple(
        Trace(f"col {role}", k, np.asarray(values), ExplicitTime(np.asarray(times)), role=role)
        for k, (role, (times, values)) in enumerate(read.items())
    )
    return log_of(Recording(traces, "sha256:invented", name, "csv", **more))  # type: ignore[arg-type]
