"""A timing drive written down a second time, for the benchmarks only: what every reading would be.

Nothing here comes from ``predict`` or ``infer``: the formulas are those of docs/physics.md and docs/physics.md,
the spreads those of docs/catalogue.md, evaluated exactly for many engines side by side. What is only a guess
in the program (how far a worn guide shortens the tight side, say) is a range here, and each engine has
its own value. So agreement of the two means that neither slipped, and a difference has a cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.drive import CRANK, Stage
from witnessmark.engine.state import state_variables
from witnessmark.engine.teeth import stage_steps
from witnessmark.engine.types import Engine

__all__ = [
    "LINEAR",
    "Array",
    "Drive",
    "Latent",
    "Spot",
    "apparent",
    "covariance",
    "edited",
    "linear_part",
    "phaser_holds",
    "sample_healthy",
    "spread_of",
    "sprocket_phase",
    "unlisted",
]

Array = NDArray[np.float64]
Spot = tuple[str, str]  # variable, place id

# What sound engines differ in along straight lines: integrated in closed form, never sampled.
LINEAR = ("phaser_rest", "sprocket_slip", "wheel_slip", "sensor_offset", "learnt_error")
# What they differ in otherwise: bounded, or multiplied: sampled.
_PER_CHAIN = ("elongation", "guide_wear", "slack")
_PER_CAM = ("phaser_lock_play", "phaser_gain", "phaser_rate")
_PER_WHEEL = ("wheel_runout", "sensor_gap", "sensor_gain")
_USUAL_TIGHT = {True: (34.0, 54.0), False: (8.0, 18.0)}  # pitches: from the crank; between neighbours
_SPOOL_FELT = 0.14  # an offset the control cannot make good; sound valves are at ± 0.05
_EXACT_WEAR = 0.99  # exact geometry gives 1 % less than the first order (docs/physics.md, 7.404 for 7.478)


@dataclass(frozen=True)
class Drive:
    """One engine whose layout and sign are settled, with its share among what a description allows."""

    engine: Engine
    weight: float = 1.0
    sign: float = 1.0
    paths: dict[str, tuple[tuple[Stage, str], ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, engine: Engine, weight: float = 1.0) -> Drive:
        """Walk from the crank to every cam."""
        drive = engine.drive
        assert drive is not None
        paths = {cam.id: drive.path(cam.id) for cam in engine.cams}
        return cls(engine, weight, float(engine.reporting.sign.exact or 1.0), paths)

    @property
    def cams(self) -> tuple[str, ...]:
        """Ids of the camshafts."""
        return tuple(self.paths)

    @property
    def wheels(self) -> tuple[str, ...]:
        """Ids of the tone wheels."""
        return (CRANK, *self.paths)

    @property
    def stages(self) -> tuple[Stage, ...]:
        """All chains and belts."""
        assert self.engine.drive is not None
        return self.engine.drive.stages

    def presence(self, cam: str) -> float:
        """Chance that a cam has a phaser."""
        assert self.engine.drive is not None
        phaser = self.engine.drive.phaser(cam)
        return 0.0 if phaser is None else phaser.presence


@dataclass
class Latent:
    """n engines side by side: every sampled state variable, and every number of the engine itself."""

    n: int
    state: dict[Spot, Array]
    own: dict[str, Array]
    teeth: dict[str, NDArray[np.intp]]  # stage -> index into the stage's possible counts
    moved: dict[str, Array] = field(default_factory=dict)  # what nothing in the list explains

    def get(self, variable: str, place: str) -> Array:
        """A state variable, healthy mean where nothing samples or edits it."""
        value = self.state.get((variable, place))
        if value is None:
            mean = 0.0 if variable in LINEAR else state_variables()[variable].healthy
            return np.full(self.n, mean)
        return value

    def extra(self, name: str) -> Array:
        """What an unlisted disturbance adds to something."""
        return self.moved.get(name, np.zeros(self.n))


def truncated(rng: np.random.Generator, n: int, variable: str) -> Array:
    """Healthy draws of a state variable within its bounds."""
    v = state_variables()[variable]
    low, high = ndtr((v.low - v.healthy) / v.sd), ndtr((min(v.high, 1e6) - v.healthy) / v.sd)
    return np.asarray(v.healthy + v.sd * ndtri(rng.uniform(low, high, n)))


def sample_healthy(drive: Drive, n: int, rng: np.random.Generator) -> Latent:
    """Sound engines of this layout, n of them: what is not straight-line, and what the description leaves open."""
    state: dict[Spot, Array] = {}
    for stage in drive.stages:
        if stage.kind == "chain":
            state |= {(name, stage.id): truncated(rng, n, name) for name in _PER_CHAIN}
    for cam in drive.cams:
        state |= {(name, cam): truncated(rng, n, name) for name in _PER_CAM}
    for wheel in drive.wheels:
        state |= {(name, wheel): truncated(rng, n, name) for name in _PER_WHEEL}
    own = {
        # Even wear w over a guide that turns the chain by an angle gives up w times it: 8 to 30 degrees.
        "guide_gain": np.radians(rng.uniform(8.0, 30.0, n)),
        "tensioner_gain": rng.uniform(0.8, 3.8, n),  # plunger's travel for surplus
        "scatter_base": rng.uniform(0.1, 0.2, n),
        "scatter_slack": rng.uniform(0.05, 0.11, n),
        "play_late": rng.uniform(0.35, 0.65, n),  # share of a loose lock's play that drag takes up
        "weak_below": rng.normal(0.35, 0.05, n),
    }
    teeth = {stage.id: _draw_teeth(drive, stage, n, rng) for stage in drive.stages}
    for stage in drive.stages:
        own[f"step:{stage.id}"] = _step_of(drive, stage)[teeth[stage.id]]
        for sprocket in stage.driven:
            own[f"tight:{stage.mesh(sprocket.shaft)}"] = _draw_tight(stage, sprocket.shaft, n, rng)
    for cam in drive.cams:
        own |= _draw_phaser(drive, cam, n, rng)
        for name in (f"phase:{cam}", f"phase_scope:{cam}"):
            own[name] = rng.uniform(0.0, 2.0 * np.pi, n)
    return Latent(n, state, own, teeth)


def _draw_teeth(drive: Drive, stage: Stage, n: int, rng: np.random.Generator) -> NDArray[np.intp]:
    assert drive.engine.drive is not None
    weights = np.asarray(stage_steps(drive.engine.drive, stage).weights)
    return rng.choice(len(weights), size=n, p=weights / weights.sum())


def _step_of(drive: Drive, stage: Stage) -> Array:
    """Crank degrees that pass while one pitch passes, for every possible count (docs/physics.md)."""
    assert drive.engine.drive is not None
    labels = stage_steps(drive.engine.drive, stage).labels
    steps = []
    for label in labels:
        shaft, count = label.rsplit(" ", 1)
        if shaft == "cam":
            steps.append(720.0 / int(count))
        elif shaft == CRANK:
            steps.append(360.0 / int(count))
        else:
            steps.append(360.0 / int(count) / shaft_speed(drive, shaft))
    return np.array(steps)


def shaft_speed(drive: Drive, shaft: str) -> float:
    """Speed of an idler over the crank's, from the teeth before it."""
    assert drive.engine.drive is not None
    speed = 1.0
    for stage, arrived in drive.engine.drive.path(shaft):
        speed *= (stage.driver.teeth.exact or 1.0) / (stage.sprocket_on(arrived).teeth.exact or 1.0)
    return speed


def _draw_tight(stage: Stage, shaft: str, n: int, rng: np.random.Generator) -> Array:
    length, pitch = stage.sprocket_on(shaft).tight_mm, stage.pitch_mm.mean or 8.0
    if length.exact is not None:
        return np.full(n, length.exact / pitch)
    first = stage.driver.shaft == CRANK and shaft == stage.driven[0].shaft
    low, high = _USUAL_TIGHT[first]
    if length.low is not None and length.high is not None:
        low, high = length.low / pitch, length.high / pitch
    return rng.uniform(low, high, n)


def _draw_phaser(drive: Drive, cam: str, n: int, rng: np.random.Generator) -> dict[str, Array]:
    assert drive.engine.drive is not None
    phaser = drive.engine.drive.phaser(cam)
    if phaser is None:
        return {f"reach:{cam}": np.zeros(n), f"asked:{cam}": np.zeros(n), f"idle:{cam}": np.zeros(n)}
    there = (rng.random(n) < phaser.presence).astype(float)
    reach = phaser.range_deg
    size = np.full(n, reach.exact) if reach.exact is not None else rng.uniform(reach.low or 0, reach.high or 0, n)
    asked = rng.uniform(0.0, 1.0, n)
    idle = np.where(rng.random(n) < 0.75, 0.0, rng.uniform(0.0, 0.2, n))
    return {f"reach:{cam}": size, f"there:{cam}": there, f"asked:{cam}": asked * size, f"idle:{cam}": idle * size}


def edited(latent: Latent, kind: Kind, theta: Array, rows: slice, into: dict[Spot, Array]) -> None:
    """Write a fault's edit (docs/catalogue.md: + adds, x multiplies, = sets) into some rows of a copy."""
    for variable, place, op, amount in kind.changes(theta):
        values = into.setdefault((variable, place), latent.get(variable, place).copy())
        part = values[rows]
        values[rows] = part + amount if op == "add" else part * amount if op == "multiply" else amount


def unlisted(drive: Drive, n: int, rng: np.random.Generator) -> dict[str, Array]:
    """Something this list does not know: it moves several readings without the order that the listed faults keep."""
    moved = {}
    for cam in drive.cams:
        moved[f"cam:{cam}"] = rng.normal(0.0, 12.0, n) * (rng.random(n) < 0.8)
        moved[f"mark:{cam}"] = rng.normal(0.0, 1.0, n) * (rng.random(n) < 0.5)
        moved[f"scatter:{cam}"] = rng.exponential(1.0, n) * (rng.random(n) < 0.4)
        moved[f"lost:{cam}"] = 1.0 * (rng.random(n) < 0.3)
    moved["tdc"] = rng.normal(0.0, 8.0, n) * (rng.random(n) < 0.5)
    moved[f"lost:{CRANK}"] = 1.0 * (rng.random(n) < 0.3)
    for stage in drive.stages:
        moved[f"chain:{stage.id}"] = rng.exponential(4.0, n) * (rng.random(n) < 0.5)
    return moved


def sprocket_phase(drive: Drive, latent: Latent, cam: str, *, own_slip: bool = True) -> Array:
    """Phase of a cam's sprocket in crank degrees: whole pitches, slips, less wear (docs/physics.md)."""
    phase = np.zeros(latent.n)
    path = drive.paths[cam]
    for k, (stage, arrived) in enumerate(path):
        lost = np.zeros(latent.n)
        if stage.kind == "chain":
            tight = np.zeros(latent.n)
            for sprocket in stage.driven:
                tight += latent.own[f"tight:{stage.mesh(sprocket.shaft)}"]
                if sprocket.shaft == arrived:
                    break
            pitch = stage.pitch_mm.mean or 8.0
            lost = _EXACT_WEAR * latent.get("elongation", stage.id) / 100.0 * tight
            lost = lost + latent.own["guide_gain"] * latent.get("guide_wear", stage.id) / pitch
        ends = stage.mesh(stage.driver.shaft), stage.mesh(arrived)
        pitches = latent.get("pitch_slip", ends[0]) + latent.get("pitch_slip", ends[1]) - lost
        phase = phase + pitches * latent.own[f"step:{stage.id}"] + latent.get("sprocket_slip", ends[0])
        if own_slip or k < len(path) - 1:
            phase = phase + latent.get("sprocket_slip", ends[1])
    return phase


def phaser_holds(drive: Drive, latent: Latent, cam: str, command: Array) -> Array:
    """Where the phaser holds a cam: what is commanded, a stuck spool's share of the range, less a loose lock's play."""
    there = latent.own.get(f"there:{cam}", np.zeros(latent.n))
    reach = latent.own[f"reach:{cam}"]
    moved = latent.get("phaser_gain", cam) * command
    spool = latent.get("spool_offset", cam)
    pushed = np.clip(moved + spool * reach, np.minimum(0.0, reach), np.maximum(0.0, reach))
    play = latent.own["play_late"] * latent.get("phaser_lock_play", cam)
    return latent.get("phaser_rest", cam) - play * there + there * np.where(np.abs(spool) > _SPOOL_FELT, pushed, moved)


def sensed(latent: Latent, wheel: str) -> Array:
    """How much earlier than its shaft a wheel's signal comes; swapped leads move it a part of a tooth (physics.md)."""
    flipped = 0.5 * (1.0 - latent.get("sensor_polarity", wheel))
    return latent.get("wheel_slip", wheel) + latent.get("sensor_offset", wheel) + 3.0 * flipped


def apparent(drive: Drive, latent: Latent, cam: str, command: Array) -> Array:
    """Phase of a cam at the sensors, + = early; NaN where the cam stands still (docs/physics.md)."""
    phase = sprocket_phase(drive, latent, cam) + phaser_holds(drive, latent, cam, command)
    phase = phase + sensed(latent, cam) - sensed(latent, CRANK) + latent.extra(f"cam:{cam}")
    runout = latent.get("wheel_runout", CRANK) * np.sin(latent.own[f"phase:{cam}"])
    runout = runout + latent.get("wheel_runout", cam) * np.sin(latent.own[f"phase_scope:{cam}"])
    turning = np.ones(latent.n)
    for stage, _ in drive.paths[cam]:
        turning = turning * latent.get("drive_connected", stage.id)
    return np.where(turning > 0.5, phase + runout, np.nan)


def linear_part(drive: Drive, cam: str) -> dict[Spot, float]:
    """Coefficients of the straight-line variables in a cam's apparent phase, crank degrees each."""
    found: dict[Spot, float] = {("wheel_slip", cam): 1.0, ("sensor_offset", cam): 1.0, ("phaser_rest", cam): 1.0}
    found[("wheel_slip", CRANK)] = found[("sensor_offset", CRANK)] = -1.0
    for stage, arrived in drive.paths[cam]:
        for shaft in (stage.driver.shaft, arrived):
            found[("sprocket_slip", stage.mesh(shaft))] = 1.0
    if drive.engine.drive is not None and drive.engine.drive.phaser(cam) is None:
        del found[("phaser_rest", cam)]
    return found


def covariance(rows: Sequence[dict[Spot, float]], others: Sequence[dict[Spot, float]] | None = None) -> Array:
    """Covariance that sound engines' straight-line variables put on sums of them."""
    right = rows if others is None else others
    result = np.zeros((len(rows), len(right)))
    for i, a in enumerate(rows):
        for j, b in enumerate(right):
            result[i, j] = sum(by * b[spot] * spread_of(spot) ** 2 for spot, by in a.items() if spot in b)
    return result


def spread_of(spot: Spot) -> float:
    """Standard deviation of one straight-line variable; a tolerance carries its own: ("tolerance 0.5", place)."""
    name = spot[0]
    return float(name.split()[1]) if name.startswith("tolerance") else state_variables()[name].sd
