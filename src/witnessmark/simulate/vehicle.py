"""One vehicle of an engine's kind: every number that the description leaves open is settled, every part has its errors.

The description says what is known; a vehicle is what stands in the yard. Absent numbers are drawn, parts are cut with
errors, sensors lag. Two captures of one vehicle share all that, as before and after a repair do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.number import Number
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.engine.types import Engine, ToneWheel
from witnessmark.errors import EngineDefinitionError
from witnessmark.simulate.torque import Mechanics
from witnessmark.simulate.wheels import CutWheel

__all__ = ["CamMotion", "SensorMake", "Vehicle", "build_vehicle", "settle", "stream"]

FloatArray = NDArray[np.float64]

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


def stream(seed: int, *purpose: str) -> np.random.Generator:
    """Random numbers for one purpose: a new purpose elsewhere leaves these as they are.

    Parameters
    ----------
    seed : int
    purpose : str
        Any words.

    Returns
    -------
    numpy.random.Generator
    """
    words = "/".join(purpose).encode()
    return np.random.default_rng([seed, *words])


def settle(number: Number, rng: np.random.Generator) -> float | None:
    """One value of what is known of a number; None where nothing is.

    Parameters
    ----------
    number : Number
    rng : numpy.random.Generator

    Returns
    -------
    float or None
    """
    if number.values:
        return float(rng.choice(number.values, p=number.weights))
    if number.low is not None and number.high is not None:
        return float(rng.uniform(number.low, number.high))
    return None


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
    wheels = {CRANK: _cut_crank(crank, kinds.get(CRANK), reference, stream(seed, "wheel", CRANK))}
    for cam in engine.cams:
        wheels[cam.id] = _cut_cam(kinds.get(cam.id), reference, stream(seed, "wheel", cam.id))
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


def _cut_crank(pattern: WheelPattern, wheel: ToneWheel | None, reference: float, rng: np.random.Generator) -> CutWheel:
    """Even edges as the pattern says, the other edges where tooth and flux put them."""
    even = np.asarray(pattern.edges_deg, dtype=np.float64)
    stated = wheel.even_edge if wheel is not None else None
    # A reluctance signal crosses downward at the middle of a tooth; a hall sensor may be made either way.
    hall = wheel is None or wheel.sensor_kind != "reluctance"
    even_rises = stated == "rising" if stated else bool(hall and rng.random() < 0.5)
    others = np.asarray(pattern.others_deg, dtype=np.float64)
    if not others.size:
        others = _flux_edges(pattern, rng)
    errors = _cutting_errors(even, float(np.exp(rng.normal(np.log(0.05), 0.5))), rng)
    other_errors = np.interp(others, even, errors, period=360.0) + rng.normal(0.0, 0.05, others.size)
    return _merged(360.0, reference, even, errors, others, other_errors, even_rises)


def _flux_edges(pattern: WheelPattern, rng: np.random.Generator) -> FloatArray:
    """The edges of the other kind: a share of the pitch behind their tooth, earlier or later beside a gap."""
    gaps = np.asarray(pattern.gaps_deg)
    usual = float(np.median(gaps))
    before = np.roll(gaps, 1)
    share = float(rng.uniform(0.35, 0.6))
    pulled = float(rng.uniform(0.05, 0.2)) * usual * float(rng.choice([-1.0, 1.0]))
    # The flux of a tooth beside a wide gap is not squeezed by a neighbour: its outer flank comes early or late.
    beside = (gaps > 1.3 * usual) | (before > 1.3 * usual)
    width = np.minimum(share * usual + np.where(beside, pulled, 0.0), 0.8 * gaps)
    return np.asarray((np.asarray(pattern.edges_deg) + width) % 360.0)


def _cutting_errors(edges: FloatArray, sd: float, rng: np.random.Generator) -> FloatArray:
    """Each edge for itself, and all together off centre; zero in the mean, as a fitted zero is."""
    if edges.size < 2:
        return np.zeros(edges.size)
    once = np.radians(edges) + rng.uniform(0.0, 2.0 * np.pi)
    errors = rng.normal(0.0, sd, edges.size) + abs(rng.normal(0.0, 0.05)) * np.sin(once)
    return np.asarray(errors - errors.mean())


def _merged(
    period: float,
    start: float,
    even: FloatArray,
    errors: FloatArray,
    others: FloatArray,
    other_errors: FloatArray,
    even_rises: bool,
) -> CutWheel:
    made = np.concatenate([even, others]) + start
    error = np.concatenate([errors, other_errors])
    is_even = np.concatenate([np.ones(even.size, dtype=bool), np.zeros(others.size, dtype=bool)])
    order = np.argsort(made % period, kind="stable")
    rising = is_even == even_rises
    return CutWheel(period, (made % period)[order], error[order], rising[order], is_even[order])


def _cut_cam(wheel: ToneWheel | None, reference: float, rng: np.random.Generator) -> CutWheel:
    """A cam wheel from the edges described, else from its pattern at a drawn place, else four uneven teeth."""
    error_sd = float(np.exp(rng.normal(np.log(0.10), 0.4)))  # crank degrees: twice the cutting error
    placed = _placed_edges(wheel, reference, rng)
    made = np.array([at for at, _ in placed]) % 720.0
    rising = np.array([up for _, up in placed])
    order = np.argsort(made)
    made, rising = made[order], rising[order]
    errors = rng.normal(0.0, error_sd, made.size)
    errors -= errors.mean()
    return CutWheel(720.0, made, errors, rising, np.ones(made.size, dtype=bool))


def _placed_edges(wheel: ToneWheel | None, reference: float, rng: np.random.Generator) -> list[tuple[float, bool]]:
    edges = wheel.edges if wheel is not None else ()
    found: list[tuple[float, bool]] = []
    for k, edge in enumerate(edges):
        after = settle(edge.after_tdc_deg, rng)
        behind = settle(edge.behind_index_deg, rng)
        if after is None and behind is not None:
            after = reference + behind
        if after is not None:
            found.append((after, edge.rising if edge.rising is not None else k % 2 == 0))
    if found and len(found) == len(edges):
        return found
    pattern = _cam_pattern(wheel)
    turned = float(rng.uniform(0.0, 720.0))
    even = [2.0 * a for a in pattern.edges_deg]
    others = [2.0 * a for a in pattern.others_deg] or [
        a + 0.5 * 2.0 * g for a, g in zip(even, pattern.gaps_deg, strict=True)
    ]
    return [(a + turned, True) for a in even] + [(a + turned, False) for a in others]


def _cam_pattern(wheel: ToneWheel | None) -> WheelPattern:
    if wheel is not None and wheel.gaps_deg:
        return WheelPattern.from_gaps(wheel.gaps_deg)
    return parse_wheel(wheel.pattern if wheel is not None and wheel.pattern else "4 uneven")
