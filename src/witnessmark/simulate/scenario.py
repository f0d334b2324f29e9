"""Test conditions: how the engine runs, what is commanded, what disturbs, and with what it is recorded."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from witnessmark.errors import one_of
from witnessmark.simulate.draws import stream
from witnessmark.simulate.instruments import Instrument, LogicAnalyser, Scope
from witnessmark.simulate.motion import Drive
from witnessmark.vocabulary import Condition

__all__ = ["RUNNING", "Command", "Disturbances", "Scenario", "draw_instrument", "draw_scenario", "drive_of"]

RUNNING = ("cranking", "idle", "raised", "full_load", "overrun", "run_up", "stop", "sweep")
"""How the engine may run: steadily (the first five), from standstill, to standstill, up and down through its speeds."""

_STATE = {"run_up": "cranking", "stop": "idle", "sweep": "raised"}
_USUAL_RPM = {"cranking": 210.0, "idle": 800.0, "raised": 2500.0, "full_load": 4000.0, "overrun": 2200.0}
# The starter's armature makes a cranked engine about twice as heavy to turn; on overrun the vehicle pushes.
_HEAVIER = {"cranking": 2.0, "overrun": 8.0}


@dataclass(frozen=True, slots=True)
class Command:
    """A phaser command: from this time of the recording on the cam shall stand so far from its rest (+ = early)."""

    at_s: float
    cam: str
    advance_deg: float


@dataclass(frozen=True, slots=True)
class Disturbances:
    """What does not belong to the engine.

    Parameters
    ----------
    glitches_hz : float [1/s]
        Short pulses on a switched signal.
    lost_hz : float [1/s]
        Teeth that leave no trace.
    dropouts_hz : float [1/s]
        Stretches of 2 to 30 ms in which a loose terminal holds the last level.
    sparks_v : float [V]
        Ringing that each ignition couples into every sampled channel.
    noise_v : float [V]
        Noise at the sensor, beside the instrument's own.
    """

    glitches_hz: float = 0.0
    lost_hz: float = 0.0
    dropouts_hz: float = 0.0
    sparks_v: float = 0.0
    noise_v: float = 0.0


@dataclass(frozen=True, slots=True)
class Scenario:
    """One test condition.

    Parameters
    ----------
    running : str
        One of :data:`RUNNING`.
    speed_rpm : float, optional [rpm]
        Speed aimed at; usual where left out.
    seconds : float [s]
        Length of the recording.
    instrument : LogicAnalyser or Scope
    commands : tuple of Command
    disturbances : Disturbances
    coolant_c : float, optional [C]
    complaint : str, optional
        "present" or "absent", where noted.
    time_zero_s : float [s]
        What the file calls the time of its first row.
    """

    running: str = "idle"
    speed_rpm: float | None = None
    seconds: float = 2.0
    instrument: Instrument = field(default_factory=LogicAnalyser)
    commands: tuple[Command, ...] = ()
    disturbances: Disturbances = field(default_factory=Disturbances)
    coolant_c: float | None = None
    complaint: str | None = None
    time_zero_s: float = 0.0

    def __post_init__(self) -> None:
        if self.running not in RUNNING:
            raise one_of("way of running", self.running, RUNNING)

    @property
    def rpm(self) -> float:
        """Speed aimed at [rpm]."""
        return self.speed_rpm if self.speed_rpm is not None else _USUAL_RPM.get(self.running, 800.0)

    def condition(self) -> Condition:
        """As a technician would note it; the speed itself is left to be measured."""
        return Condition(
            state=_STATE.get(self.running, self.running),
            coolant_c=self.coolant_c,
            phaser="moved" if self.commands else "parked",
            complaint=self.complaint,
        )


def drive_of(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float, float]:
    """What turns the crank in a scenario, the time before the recording starts [s], and how much heavier it turns.

    Parameters
    ----------
    scenario : Scenario
    rng : numpy.random.Generator
        Draws where within it the recording starts.

    Returns
    -------
    Drive
    float [s]
    float [-]
    """
    builder = _DRIVES.get(scenario.running, _steady)
    drive, before = builder(scenario, rng)
    heavier = _HEAVIER.get(scenario.running, 1.0)
    return drive, before, heavier


def _steady(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float]:
    rpm = scenario.rpm
    map_bar = 0.95 if scenario.running == "full_load" else float(rng.uniform(0.3, 0.42))
    # Long enough for the governor to have settled, at any point of the cycle.
    return Drive(rpm, ((0.0, rpm),), ((0.0, map_bar),)), 0.6 + float(rng.uniform(0.0, 120.0 / rpm))


def _cranking(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float]:
    rpm = scenario.rpm
    drive = Drive(
        rpm,
        ((0.0, 0.0),),
        ((0.0, 0.96),),
        fires=(np.inf, np.inf),
        starter=(0.0, np.inf),
        starter_nm=float(rng.uniform(240.0, 330.0)),
        starter_rpm=rpm * float(rng.uniform(0.99, 1.12)),
    )
    return drive, 0.5 + float(rng.uniform(0.0, 120.0 / rpm))


def _overrun(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float]:
    rpm = scenario.rpm
    cut = 0.5
    drive = Drive(rpm, ((0.0, rpm),), ((0.0, 0.35),), fires=(0.0, cut))
    return drive, cut + float(rng.uniform(0.02, 0.1))


def _run_up(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float]:
    # First it stands: the gas it was stopped with has pushed the pistons to where they rest.
    turns = 1.5
    fires = turns + float(rng.uniform(0.5, 1.0))
    drive = Drive(
        0.0,
        ((0.0, scenario.rpm),),
        ((0.0, 0.98), (fires, 0.95), (fires + 1.0, 0.35)),
        fires=(fires, np.inf),
        starter=(turns, fires + 0.3),
        starter_nm=float(rng.uniform(240.0, 330.0)),
        starter_rpm=float(rng.uniform(200.0, 300.0)),
    )
    return drive, turns - float(rng.uniform(0.0, 0.3))


def _stop(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float]:
    cut = 0.6 + float(rng.uniform(0.2, 0.6))
    drive = Drive(scenario.rpm, ((0.0, scenario.rpm),), ((0.0, 0.35), (cut, 0.35), (cut + 0.5, 0.9)), fires=(0.0, cut))
    return drive, 0.6


def _sweep(scenario: Scenario, rng: np.random.Generator) -> tuple[Drive, float]:
    up = max(scenario.rpm, 2500.0)
    middle = 0.6 + 0.5 * scenario.seconds
    points = ((0.0, 800.0), (0.7, 800.0), (middle, up), (0.6 + scenario.seconds, 900.0))
    return Drive(800.0, points, ((0.0, 0.35), (middle, 0.6), (0.6 + scenario.seconds, 0.3))), 0.6


_DRIVES = {"cranking": _cranking, "overrun": _overrun, "run_up": _run_up, "stop": _stop, "sweep": _sweep}


def draw_instrument(rng: np.random.Generator) -> Instrument:
    """An instrument as workshops have them, good or poor."""
    ppm = float(rng.normal(0.0, 30.0))
    if rng.random() < 0.5:
        return LogicAnalyser(tick_s=float(rng.choice([1.25e-7, 2.5e-7, 1e-6, 1e-5])), clock_ppm=ppm)
    bits = int(rng.choice([8, 12, 16]))
    step = float(rng.choice([5e-6, 1e-5, 2e-5, 5e-5, 1e-4]))
    reach = float(rng.choice([10.0, 20.0]))
    return Scope(
        step_s=step,
        bits=bits,
        low_v=-reach,
        high_v=reach,
        ranged=bool(rng.random() < 0.8),
        noise_v=float(rng.choice([0.003, 0.02, 0.08])),
        drift_v=float(rng.uniform(0.0, 0.3)),
        hum_v=float(rng.uniform(0.0, 0.05)),
        # Cheap converters take turns among their channels, some microseconds each.
        skew_s=min(float(rng.uniform(1e-6, 8e-6)), step / 8.0) if rng.random() < 0.25 else 0.0,
        clock_ppm=ppm,
    )


def draw_scenario(seed: int, *, running: str | None = None, instrument: Instrument | None = None) -> Scenario:
    """A test condition drawn by its seed.

    Parameters
    ----------
    seed : int
    running : str, optional
        Held instead of drawn.
    instrument : LogicAnalyser or Scope, optional
        Held instead of drawn.

    Returns
    -------
    Scenario
    """
    rng = stream(seed, "scenario")
    drawn = str(rng.choice(["cranking", "idle", "raised", "overrun", "run_up", "stop", "sweep"]))
    spread = {"cranking": (150.0, 280.0), "idle": (600.0, 1000.0), "raised": (1500.0, 3500.0)}
    way = running if running is not None else drawn
    low, high = spread.get(way, (0.0, 0.0))
    rpm = float(rng.uniform(low, high)) if high else None
    chosen = draw_instrument(rng)
    noisy = rng.random() < 0.3
    disturbances = Disturbances(
        glitches_hz=float(rng.uniform(0.0, 4.0)) if noisy else 0.0,
        lost_hz=float(rng.uniform(0.0, 1.0)) if noisy else 0.0,
        sparks_v=float(rng.uniform(0.0, 0.6)) if noisy else 0.0,
        noise_v=float(rng.uniform(0.0, 0.05)),
    )
    usual = Scenario(running=way)
    seconds = {"cranking": 3.0, "idle": 2.5, "raised": 1.2, "run_up": 2.5, "stop": 2.0, "sweep": 2.5}.get(way, 1.5)
    return replace(
        usual,
        speed_rpm=rpm,
        seconds=seconds * float(rng.uniform(0.8, 1.4)),
        instrument=instrument if instrument is not None else chosen,
        disturbances=disturbances,
        coolant_c=float(np.round(rng.uniform(70.0, 100.0))),
        time_zero_s=float(np.round(rng.choice([0.0, -rng.uniform(0.0, 0.5), rng.uniform(0.0, 20.0)]), 4)),
    )
