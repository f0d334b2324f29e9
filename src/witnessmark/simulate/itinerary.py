"""How a vehicle is driven while its values are logged: fixed courses by the test that wants them, and whole drives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from witnessmark.errors import one_of

__all__ = ["COURSES", "DRIVES", "Phase", "phases_of"]

_KMH_PER_RPM = 0.034  # in a high gear
_GEARS = (0.0078, 0.0135, 0.0200, 0.0270, _KMH_PER_RPM)  # km/h for each rpm; our guess


@dataclass(frozen=True, slots=True)
class Phase:
    """A stretch of the drive.

    Parameters
    ----------
    state : str
        "key_on", "cranking", "idle", "raised", "cruise", "acceleration", "full_load", "snap" or "overrun".
    seconds : float [s]
    rpm : float [rpm]
        Wanted; of no account at idle, which the computer governs.
    load_pa : float [Pa]
        Brake mean effective pressure.
    to_rpm : float, optional [rpm]
        Wanted at its end, where speed rises or falls through it.
    kmh_per_rpm : float [km/h per rpm]
        Of the gear; 0 where none is engaged.
    kmh : tuple of (float, float) [km/h]
        Road speed at its beginning and its end where no gear is engaged.
    """

    state: str
    seconds: float
    rpm: float = 0.0
    load_pa: float = 0.0
    to_rpm: float | None = None
    kmh_per_rpm: float = 0.0
    kmh: tuple[float, float] = (0.0, 0.0)


def _rolling(state: str, seconds: float, rpm: float, load_pa: float = 0.0, *, to_rpm: float | None = None) -> Phase:
    return Phase(state, seconds, rpm, load_pa, to_rpm, _KMH_PER_RPM)


_KEY_ON, _CRANK = Phase("key_on", 7.0), Phase("cranking", 1.1)

COURSES: Mapping[str, tuple[tuple[Phase, ...], bool]] = {
    "trims_at_speeds": (
        (Phase("idle", 60.0), Phase("raised", 45.0, 2500.0), Phase("idle", 15.0),
         _rolling("cruise", 75.0, 2200.0, 3.2e5)),
        True,
    ),
    "air_readings": (
        (_KEY_ON, _CRANK, Phase("idle", 45.0), Phase("raised", 30.0, 2500.0), Phase("idle", 12.0),
         Phase("snap", 1.6, 4200.0, 6.0e5), Phase("overrun", 4.0, 2600.0, to_rpm=1200.0), Phase("idle", 20.0)),
        True,
    ),
    "cold_to_hot": (
        (_KEY_ON, _CRANK, Phase("idle", 420.0), Phase("raised", 720.0, 2500.0), Phase("idle", 120.0)), False
    ),
    "road_recorder": (
        (Phase("idle", 30.0), _rolling("cruise", 60.0, 1900.0, 2.6e5), _rolling("cruise", 20.0, 2600.0, 6.5e5),
         _rolling("overrun", 6.0, 2200.0, to_rpm=1200.0), _rolling("cruise", 90.0, 2300.0, 3.4e5),
         _rolling("overrun", 5.0, 1800.0, to_rpm=1200.0), Phase("idle", 40.0)),
        True,
    ),
}  # fmt: skip
"""Drives by the test that wants them, and whether the engine is hot at their beginning."""

DRIVES = ("cold_drive", "warm_drive", "start")
"""Drives that every seed makes anew: begun after a cold soak, or with a warm engine; or no more than a warm start."""


def phases_of(course: str, rng: np.random.Generator, *, minutes: float) -> tuple[tuple[Phase, ...], bool]:
    """The phases of a course or a drive, and whether the engine is hot at its beginning.

    Parameters
    ----------
    course : str
        One of :data:`COURSES` or :data:`DRIVES`.
    rng : numpy.random.Generator
    minutes : float [min]
        How long a drive of :data:`DRIVES` lasts at least; of no account for the others.

    Returns
    -------
    tuple of (tuple of Phase, bool)

    Raises
    ------
    InputError
        For a course that is not there.
    """
    if course in COURSES:
        return COURSES[course]
    if course not in DRIVES:
        raise one_of("drive", course, (*COURSES, *DRIVES))
    if course == "start":
        cranked = Phase("cranking", float(rng.uniform(0.7, 2.5)))
        return (Phase("key_on", float(rng.uniform(3.0, 6.0))), cranked, Phase("idle", 12.0)), True
    hot = course == "warm_drive"
    return tuple(_drive(rng, 60.0 * minutes, hot=hot)), hot


def _drive(rng: np.random.Generator, seconds: float, *, hot: bool) -> Iterator[Phase]:
    """Start, idle, and legs from one halt to the next, until the time is over; the last halt is long."""
    begun = rng.random() < 0.6 or not hot  # else the log was begun on the way
    passed = 0.0
    if begun:
        yield from (_KEY_ON, Phase("cranking", float(rng.uniform(0.7, 2.2))))
    first = Phase("idle", float(rng.uniform(25.0, 60.0) if hot else rng.uniform(30.0, 240.0)))
    yield first
    passed += first.seconds
    if rng.random() < 0.4:
        yield Phase("raised", float(rng.uniform(15.0, 40.0)), float(rng.uniform(1800.0, 2800.0)))
        yield Phase("idle", 12.0)
    while passed < seconds:
        for phase in _leg(rng):
            passed += phase.seconds
            yield phase
    yield Phase("idle", float(rng.uniform(40.0, 80.0)))
    if rng.random() < 0.3:
        yield Phase("snap", 1.6, 4200.0, 6.0e5)
        yield Phase("overrun", 4.0, 2600.0, to_rpm=1200.0)
        yield Phase("idle", 20.0)


def _leg(rng: np.random.Generator) -> Iterator[Phase]:
    """From a halt through the gears, along the road, and to the next halt."""
    top = int(rng.integers(1, len(_GEARS)))
    briskly = float(rng.uniform(0.6, 1.3))
    speed_kmh = 0.0
    for gear in range(top + 1):
        ratio = _GEARS[gear]
        start, end = max(speed_kmh / ratio, 1100.0), float(rng.uniform(2000.0, 3000.0)) * min(briskly, 1.15)
        if end > start + 200.0:
            full = briskly > 1.1 and gear in (1, 2)
            seconds = (1.6 + 1.3 * gear) * (end - start) / 1000.0 / briskly
            yield Phase("full_load" if full else "acceleration", max(seconds, 0.8), start, 5.5e5 * briskly, end, ratio)
            speed_kmh = end * ratio
        if gear < top:  # the clutch is down, the vehicle rolls
            below = speed_kmh / _GEARS[gear + 1]
            yield Phase("overrun", 0.6, end, to_rpm=max(below, 1000.0), kmh=(speed_kmh, speed_kmh))
    ratio = _GEARS[top]
    for _ in range(int(rng.integers(1, 4))):
        rpm = float(np.clip(speed_kmh / ratio * rng.uniform(0.85, 1.1), 1300.0, 3200.0))
        yield Phase("cruise", float(rng.uniform(20.0, 90.0)), rpm, float(rng.uniform(1.6e5, 4.5e5)), None, ratio)
        if rng.random() < 0.5:
            yield Phase("overrun", float(rng.uniform(3.0, 9.0)), rpm, to_rpm=max(0.8 * rpm, 1250.0), kmh_per_rpm=ratio)
            rpm = max(0.8 * rpm, 1250.0)
        speed_kmh = rpm * ratio
    yield Phase("overrun", float(rng.uniform(4.0, 10.0)), speed_kmh / ratio, to_rpm=1150.0, kmh_per_rpm=ratio)
    speed_kmh = 1150.0 * ratio
    yield Phase("idle", speed_kmh / float(rng.uniform(6.0, 11.0)), kmh=(speed_kmh, 0.0))
    yield Phase("idle", float(rng.uniform(8.0, 45.0)))
