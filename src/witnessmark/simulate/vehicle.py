"""One vehicle of an engine's kind: every number that the description leaves open is settled, every part has its errors.

The description says what is known; a vehicle is what stands in the yard. Absent numbers are drawn, parts are cut with
errors, sensors lag. Two captures of one vehicle share all that, as before and after a repair do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import Engine, ToneWheel
from witnessmark.errors import EngineDefinitionError
from witnessmark.simulate.cutting import cut_cam_wheel, cut_crank_wheel
from witnessmark.simulate.draws import settle, stream
from witnessmark.simulate.torque import Mechanics
from witnessmark.simulate.wheels import CutWheel

__all__ = ["CamMotion", "SensorMake", "Vehicle", "build_vehicle"]

_USUAL_TEETH = (20, 21, 22, 23, 24)
_USUAL_CRANK_WHEELS = ("60-2", "36-1", "36-2", "24-1")


@dataclass(frozen=True, slots=True)
class SensorMake:
    """How one position sensor behaves.

    Parameters
    ----------
    kind : str
        "hall" or "reluctance".
    lag_s : float [s]
        From the flux to the output.
    jitter_deg : float [deg]
        Scatter of the switching point, in crank degrees.
    """

    kind: str
    lag_s: float
    jitter_deg: float


@dataclass(frozen=True, slots=True)
class CamMotion:
    """How one cam moves about its mean phase, in crank degrees.

    Parameters
    ----------
    wobble_deg : float [deg]
        Amplitude of the swing that its lobes cause, once per lobe.
    wobble_at : float [rad]
        Where in the cycle.
    restless_deg : float [deg]
        Standard deviation of what differs from one firing to the next.
    hunting_deg, hunting_hz : float
        Slow limit cycle while a phaser is held off its stop [deg], [Hz].
    """

    wobble_deg: float
    wobble_at: float
    restless_deg: float
    hunting_deg: float
    hunting_hz: float


@dataclass(frozen=True, slots=True, eq=False)
class Vehicle:
    """One vehicle.

    Parameters
    ----------
    engine : Engine
        The description it is built to; unchanged.
    teeth : mapping of (stage, shaft) to int
    reference_deg : float [deg]
        Crank angle after firing TDC of cylinder 1 at which the crank wheel's index edge should pass, 0..360.
    wheels : mapping of wheel id to CutWheel
        As cut, healthy: no tooth lost, no run-out beyond the cutting.
    patterns : mapping of wheel id to WheelPattern
        Of the crank wheel, and of cam wheels that have one.
    sensors : mapping of wheel id to SensorMake
    cams : mapping of cam id to CamMotion
    firing_deg : tuple of float [deg]
        Firing top dead centre of each cylinder.
    mechanics : Mechanics
    guide_turning_deg : float [deg]
        By how much its tight-side guides turn the chain's direction (on the guide, not of the crank).
    lock_share : float [-]
        Where in the play of a worn phaser lock the cam rests, 0 at the stop, 1 fully late.
    seed : int
    """

    engine: Engine
    teeth: Mapping[tuple[str, str], int]
    reference_deg: float
    wheels: Mapping[str, CutWheel]
    patterns: Mapping[str, WheelPattern]
    sensors: Mapping[str, SensorMake]
    cams: Mapping[str, CamMotion]
    firing_deg: tuple[float, ...]
    mechanics: Mechanics
    guide_turning_deg: float
    lock_share: float
    seed: int


def build_vehicle(engine: Engine, seed: int) -> Vehicle:
    """A vehicle of this engine's kind.

    Parameters
    ----------
    engine : Engine
        With its drive and cams described; anything else may be absent.
    seed : int

    Returns
    -------
    Vehicle

    Raises
    ------
    EngineDefinitionError
        If the drive or the cams are not described: then settle one of the candidates first.
    """
    if engine.drive is None or not engine.cams:
        raise EngineDefinitionError(
            "a recording can be simulated only for a described drive",
            given=engine.name,
            todo="Describe its stages and cams, or take one of the candidates",
        )
    rng = stream(seed, "vehicle")
    reference = _reference(engine, rng)
    crank = _crank_wheel(engine)
    kinds = {wheel.id: wheel for wheel in engine.wheels}
    patterns = {CRANK: crank}
    wheels = {CRANK: cut_crank_wheel(crank, kinds.get(CRANK), reference, stream(seed, "wheel", CRANK))}
    for cam in engine.cams:
        wheels[cam.id] = cut_cam_wheel(kinds.get(cam.id), reference, stream(seed, "wheel", cam.id))
    names = [CRANK, *(cam.id for cam in engine.cams)]
    per_bank = max(1, engine.cylinders // (engine.banks or 1))
    return Vehicle(
        engine=engine,
        teeth=_teeth(engine, rng),
        reference_deg=reference,
        wheels=wheels,
        patterns=patterns,
        sensors={name: _sensor(kinds.get(name), stream(seed, "sensor", name)) for name in names},
        cams={cam.id: _cam_motion(stream(seed, "cam", cam.id)) for cam in engine.cams},
        firing_deg=_firing(engine),
        mechanics=_mechanics(engine, per_bank, stream(seed, "mechanics")),
        guide_turning_deg=float(rng.uniform(8.0, 30.0)),
        lock_share=float(rng.uniform(0.3, 0.7)),
        seed=seed,
    )


def _reference(engine: Engine, rng: np.random.Generator) -> float:
    drawn = float(rng.uniform(0.0, 360.0))
    wheel = engine.wheel(CRANK)
    known = settle(wheel.reference_deg, rng) if wheel is not None else None
    return drawn if known is None else known % 360.0


def _crank_wheel(engine: Engine) -> WheelPattern:
    wheel = engine.wheel(CRANK)
    if wheel is not None and wheel.gaps_deg:
        return WheelPattern.from_gaps(wheel.gaps_deg)
    return parse_wheel(wheel.pattern if wheel is not None and wheel.pattern else _USUAL_CRANK_WHEELS[0])


def _firing(engine: Engine) -> tuple[float, ...]:
    order = engine.firing_order or tuple(range(1, engine.cylinders + 1))
    step = 720.0 / engine.cylinders
    return tuple(order.index(cylinder) * step for cylinder in range(1, engine.cylinders + 1))


def _mechanics(engine: Engine, per_bank: int, rng: np.random.Generator) -> Mechanics:
    usual = Mechanics()
    count = engine.cylinders
    return replace(
        usual,
        compression_ratio=float(rng.uniform(9.5, 11.5)),
        reciprocating_kg=float(rng.uniform(0.4, 0.6)),
        inertia_kgm2=float(rng.uniform(0.12, 0.22)) * (0.6 + 0.1 * count),
        drag_nm=usual.drag_nm * (0.4 + 0.15 * count) * float(rng.uniform(0.8, 1.25)),
    )


def _teeth(engine: Engine, rng: np.random.Generator) -> dict[tuple[str, str], int]:
    """Teeth of every sprocket; what is not known is drawn so that every cam turns at half speed."""
    drive = engine.drive
    assert drive is not None
    cams = {cam.id for cam in engine.cams}
    speed = {CRANK: 1.0}  # of each shaft, over the crank's
    teeth: dict[tuple[str, str], int] = {}
    for stage in drive.stages:
        known = settle(stage.driver.teeth, rng)
        driver = round(known) if known is not None else int(rng.choice(_USUAL_TEETH))
        teeth[stage.id, stage.driver.shaft] = driver
        for sprocket in stage.driven:
            known = settle(sprocket.teeth, rng)
            if known is None:
                # A cam's own last stage has to bring it to half speed; an idler may turn as it likes.
                wanted = 0.5 if sprocket.shaft in cams else speed[stage.driver.shaft] * float(rng.choice([0.75, 1.0]))
                known = driver * speed[stage.driver.shaft] / wanted
            teeth[stage.id, sprocket.shaft] = round(known)
            speed[sprocket.shaft] = speed[stage.driver.shaft] * driver / round(known)
    return teeth


def _sensor(wheel: ToneWheel | None, rng: np.random.Generator) -> SensorMake:
    kind = (wheel.sensor_kind if wheel is not None else None) or "hall"
    lag = rng.uniform(2e-6, 14e-6) if kind == "hall" else rng.uniform(0.0, 6e-6)
    return SensorMake(kind, float(lag), float(rng.uniform(0.005, 0.03)))


def _cam_motion(rng: np.random.Generator) -> CamMotion:
    return CamMotion(
        wobble_deg=float(rng.uniform(0.02, 0.25)),
        wobble_at=float(rng.uniform(0.0, 2.0 * np.pi)),
        restless_deg=float(rng.uniform(0.02, 0.10)),
        hunting_deg=float(rng.uniform(0.05, 0.35)),
        hunting_hz=float(rng.uniform(0.5, 2.0)),
    )
