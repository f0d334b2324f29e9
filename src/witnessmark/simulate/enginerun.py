"""A whole engine over time: gas, crank speed, starter and sparks together, cycle after cycle.

The gas is solved crank angle by crank angle while the crank speeds up and slows down under it; a governor sets the
throttle from cycle to cycle as an idle controller does. Nothing here knows how it will be measured.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics.burn import Burn
from witnessmark.physics.crankspeed import inertia_by_angle
from witnessmark.physics.firing import GasAtSpark
from witnessmark.physics.gaspath import Run, State, start_state
from witnessmark.simulate.breathing import Breather, Cycle
from witnessmark.simulate.combustion import Combustion, firing_of
from witnessmark.simulate.cranking import Starting
from witnessmark.simulate.draws import stream
from witnessmark.simulate.motion import Motion
from witnessmark.simulate.parts import edit_of

__all__ = ["EngineRun", "Spark", "cranked", "running"]

FloatArray = NDArray[np.float64]

_TOP_RAD_S = 700.0
_STANDS_RAD_S = 0.8
_REST_S = 0.25
"""How long a cranked engine stands before its starter engages."""
_ARMATURE = 2.0  # a geared-up armature makes the crank about twice as heavy to turn
_COLD_DRAG = 1.3  # of a warm engine's, while it is cranked; our guess
_HEAT_SPREAD, _LEAK_SPREAD = 0.03, 0.06
_SETTLING, _GOVERNED = 60, 30
_CRANKING_THROTTLE_M2 = 30e-6  # for each litre: closed, with the idle bypass open; our guess
_STALLS_RPM = 200.0
_FAR_ABOVE, _DASHPOT = -0.2, 1.1
_LONGEST_SNAP = 14  # cycles
_RPM = np.pi / 30.0


@dataclass(frozen=True, slots=True)
class Spark:
    """One firing.

    Parameters
    ----------
    cylinder : int
    at_s : float [s]
        In the run's time.
    pressure_pa, kelvin : float [Pa], [K]
        In the cylinder then.
    lit : bool
        Whether it leapt the gap.
    burnt : bool
        Whether the charge burnt.
    """

    cylinder: int
    at_s: float
    pressure_pa: float
    kelvin: float
    lit: bool
    burnt: bool


@dataclass(frozen=True, slots=True, eq=False)
class EngineRun:
    """What a whole engine did.

    Parameters
    ----------
    breather : Breather
    motion : Motion
        Time from the first step kept; crank angle counted on.
    names : tuple of str
        Of the volumes.
    pressure_pa, temperature_k : array, shape (n, volumes) [Pa], [K]
        At ``motion.times_s``.
    sparks : tuple of Spark
        In order of time; none while it is cranked.
    starter_amps : array, shape (n,) [A]
        Zero where no starter turns.
    starting : Starting, optional
        The circuit, where it is cranked.
    engaged_s : float [s]
        When its starter engaged.
    combustion : Combustion, optional
        Where it runs.
    stopped_s : float [s]
        When it came to stand against its starter; infinite where it went on turning.
    """

    breather: Breather
    motion: Motion
    names: tuple[str, ...]
    pressure_pa: FloatArray
    temperature_k: FloatArray
    sparks: tuple[Spark, ...]
    starter_amps: FloatArray
    starting: Starting | None = None
    combustion: Combustion | None = None
    stopped_s: float = np.inf
    engaged_s: float = 0.0

    def of(self, name: str) -> FloatArray:
        """Pressure in one volume, shape (n,) [Pa]."""
        return self.pressure_pa[:, self.names.index(name)]


@dataclass
class _Kept:
    """Runs laid end to end."""

    runs: list[Run]
    sparks: list[Spark]
    before_s: float = 0.0

    def add(self, run: Run, start_deg: float, cycle: int) -> None:
        shifted = replace(run, time_s=run.time_s + self.before_s, angle_deg=run.angle_deg + start_deg + 720.0 * cycle)
        self.runs.append(shifted)
        step = run.angle_deg[1] - run.angle_deg[0]
        self.before_s = float(shifted.time_s[-1] + np.radians(step) / run.state.speed_rad_s)


def _start_deg(breather: Breather, rng: np.random.Generator) -> float:
    """Where an engine comes to rest, between two compressions; no burn spans it, so that cycles can be joined there."""
    spacing = 720.0 / len(breather.tops_deg)
    return float(spacing * (rng.integers(len(breather.tops_deg)) + rng.uniform(0.58, 0.7)))


def _inertia(breather: Breather, start_deg: float, heavier: float) -> FloatArray:
    mechanics = breather.world.vehicle.mechanics
    parts = [(one.geometry, breather.tops_deg[n] - start_deg) for n, one in enumerate(breather.skeleton.cylinders, 1)]
    return inertia_by_angle(
        heavier * mechanics.inertia_kgm2, parts, mechanics.reciprocating_kg, breather.skeleton.points
    )


def _varied(breather: Breather, throttle_m2: float, rng: np.random.Generator) -> Cycle:
    """A cycle as no two are alike: heat to the walls, oil on the rings, valves that bind now and then."""
    heat = {n: float(np.exp(rng.normal(0.0, _HEAT_SPREAD))) for n in breather.numbers}
    leak = {n: float(np.exp(rng.normal(0.0, _LEAK_SPREAD))) for n in breather.numbers}
    hangs = tuple(
        (kind, n)
        for kind in ("intake", "exhaust")
        for n in breather.numbers
        if rng.random() < breather.hang_chance(kind, n)
    )
    return Cycle(throttle_m2, heat=heat, leak=leak, hangs=hangs)


def cranked(breather: Breather, starting: Starting, *, seconds: float, seed: int) -> EngineRun:
    """An engine turned by its starter from rest, without spark or fuel.

    Parameters
    ----------
    breather : Breather
    starting : Starting
    seconds : float [s]
    seed : int

    Returns
    -------
    EngineRun

    Notes
    -----
    The gas and the crank together: :meth:`witnessmark.physics.gaspath.GasPath.march` with the starter's torque over
    speed less friction.
    """
    rng = stream(seed, "cranked")
    start = _start_deg(breather, rng)
    mechanics = breather.world.vehicle.mechanics
    speeds = np.linspace(0.0, _TOP_RAD_S, 1401)
    drag = (mechanics.drag_nm + mechanics.drag_nms * speeds) * _COLD_DRAG
    drag = drag + max(edit_of(breather.world.state, "accessory_drag", "engine"), 0.0)
    torque = starting.torque_nm(speeds) - drag
    inertia = _inertia(breather, start, _ARMATURE)
    throttle = _CRANKING_THROTTLE_M2 * 1000.0 * breather.swept_m3 + _throttle_error(breather)
    kept, state, cycle = _Kept([], []), None, 0
    while kept.before_s < seconds:
        path = breather.path(_varied(breather, throttle, rng), start)
        state = state or start_state(path, 1.5)
        run = path.march(state, 1, inertia_kgm2=inertia, torque_nm=torque, top_rad_s=_TOP_RAD_S)
        kept.add(run, start, cycle)
        state, cycle = run.state, cycle + 1
        if run.speed_rad_s[20:].min() < _STANDS_RAD_S:
            break
    return _cranked_run(breather, starting, path.names, kept, seconds)


def _throttle_error(breather: Breather) -> float:
    return 0.7e-6 * edit_of(breather.world.state, "area_error", "throttle")


def _cranked_run(
    breather: Breather, starting: Starting, names: tuple[str, ...], kept: _Kept, seconds: float
) -> EngineRun:
    time, angle, speed, pressure, kelvin = _joined(kept)
    slow = np.flatnonzero(speed[20:] < _STANDS_RAD_S)
    stopped = np.inf
    if slow.size:
        # The starter cannot push it over this compression: it stands, and what is squeezed leaks away.
        last = int(slow[0]) + 20
        stopped = float(time[last])
        more = np.arange(stopped + 2e-4, max(seconds, stopped) + 0.1, 2e-4)
        gone = np.exp(-(more - stopped) / 0.3)[:, None]
        held = pressure[-1, -1] + (pressure[last] - pressure[-1, -1]) * gone
        time, angle = np.append(time[: last + 1], more), np.append(angle[: last + 1], np.full(more.size, angle[last]))
        speed = np.append(speed[: last + 1], np.zeros(more.size))
        pressure = np.vstack([pressure[: last + 1], held])
        kelvin = np.vstack([kelvin[: last + 1], np.repeat(kelvin[last : last + 1], more.size, axis=0)])
    rest = np.arange(0.0, _REST_S, 1e-3)
    amps = np.append(np.zeros(rest.size), starting.amps(speed))
    time, stopped = np.append(rest, time + _REST_S), stopped + _REST_S
    angle, speed = np.append(np.full(rest.size, angle[0]), angle), np.append(np.zeros(rest.size), speed)
    pressure = np.vstack([np.repeat(pressure[:1], rest.size, axis=0), pressure])
    kelvin = np.vstack([np.repeat(kelvin[:1], rest.size, axis=0), kelvin])
    motion = Motion(time, angle, speed / _RPM)
    return EngineRun(
        breather, motion, names, pressure, kelvin, (), amps, starting=starting, stopped_s=stopped, engaged_s=_REST_S
    )


def _joined(kept: _Kept) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    return (
        np.concatenate([r.time_s for r in kept.runs]),
        np.concatenate([r.angle_deg for r in kept.runs]),
        np.concatenate([r.speed_rad_s for r in kept.runs]),
        np.vstack([r.pressure_pa for r in kept.runs]),
        np.vstack([r.temperature_k for r in kept.runs]),
    )


def running(
    breather: Breather,
    combustion: Combustion,
    *,
    rpm: float,
    seconds: float,
    seed: int,
    snap_s: float | None = None,
) -> EngineRun:
    """An engine that runs by itself at a speed its governor holds.

    Parameters
    ----------
    breather : Breather
    combustion : Combustion
    rpm : float [rpm]
    seconds : float [s]
        Kept; what it takes to settle comes before.
    seed : int
    snap_s : float, optional [s]
        When in the part kept the throttle is snapped open; shut again as it passes 3200 rpm, or after some cycles.

    Returns
    -------
    EngineRun

    Raises
    ------
    InputError
        If the engine in its state does not keep running.
    """
    rng = stream(seed, "running")
    start = _start_deg(breather, rng)
    speeds = np.linspace(0.0, _TOP_RAD_S, 1401)
    mechanics = breather.world.vehicle.mechanics
    drag = mechanics.drag_nm + mechanics.drag_nms * speeds + 4.0  # pump, alternator
    drag = drag + max(edit_of(breather.world.state, "accessory_drag", "engine"), 0.0)
    wanted = rpm * _RPM
    plant = _Plant(breather, combustion, start, _inertia(breather, start, 1.0), -drag, rng)
    area = plant.settled(wanted, float(np.interp(wanted, speeds, drag)))
    governor = _Governor(area, wanted, error_m2=_throttle_error(breather))
    for _ in range(_GOVERNED):
        plant.turn(governor.area(plant.speed), free=True, push=governor.push(plant.speed))
    plant.kept = _Kept([], [])
    while plant.kept.before_s < seconds:
        snapped = snap_s is not None and plant.kept.before_s > snap_s and not governor.let_go(plant.speed)
        area = 15.0 * governor.most if snapped else governor.area(plant.speed)
        plant.turn(area, free=True, push=1.0 if snapped else governor.push(plant.speed))
    time, angle, speed, pressure, kelvin = _joined(plant.kept)
    motion = Motion(time, angle, speed / _RPM)
    sparks = tuple(sorted(plant.kept.sparks, key=lambda one: one.at_s))
    nothing = np.zeros(time.size)
    return EngineRun(breather, motion, plant.names, pressure, kelvin, sparks, nothing, combustion=combustion)


class _Plant:
    """The engine as its governor finds it."""

    def __init__(
        self, breather: Breather, combustion: Combustion, start: float, inertia: FloatArray, torque: FloatArray,
        rng: np.random.Generator,
    ) -> None:  # fmt: skip
        self.breather, self.combustion, self.start = breather, combustion, start
        self.inertia, self.torque, self.rng = inertia, torque, rng
        self.state: State | None = None
        self.speed, self.cycle = 0.0, 0
        self.names: tuple[str, ...] = ()
        self.kept = _Kept([], [])
        self.last: dict[int, GasAtSpark] = {}

    def settled(self, speed: float, drag: float) -> float:
        """Throttle area that carries the drag at an even speed [m2]."""
        area, needed = 8e-6 * 1000.0 * self.breather.swept_m3, drag * 4.0 * np.pi
        self.speed = speed
        error = max(_throttle_error(self.breather), 0.0)
        for k in range(_SETTLING):
            run = self.turn(area + error, free=False)
            short = (needed - float(run.work_j[0].sum())) / max(needed, 50.0)
            area = float(np.clip(area * np.exp(np.clip(0.25 * short, -0.15, 0.15)), 1e-8, 2e-3))
            if k > 25 and abs(short) < 0.03:
                break
        return area

    def turn(self, throttle_m2: float, *, free: bool, push: float = 1.0) -> Run:
        """One cycle; ``push`` scales its work, as ignition timing does."""
        cycle, lit = self._fired(_varied(self.breather, max(throttle_m2, 1e-9), self.rng))
        cycle = replace(cycle, strength={n: push * share for n, share in cycle.strength.items()})
        path = self.breather.path(cycle, self.start)
        self.names = path.names
        self.state = self.state or start_state(path, self.speed)
        if free:
            run = path.march(self.state, 1, inertia_kgm2=self.inertia, torque_nm=self.torque, top_rad_s=_TOP_RAD_S)
        else:
            run = path.march(replace(self.state, speed_rad_s=self.speed), 1)
        turns = run.speed_rad_s.min() >= _STALLS_RPM * _RPM  # which no number is not, either
        if not turns or not np.isfinite(run.pressure_pa[-1]).all():
            raise InputError(
                "The engine does not keep running in this state", todo="Record it while cranking, or with less wrong"
            )
        self._note_sparks(run, lit, cycle)
        self.kept.add(run, self.start, self.cycle)
        self.state, self.speed, self.cycle = run.state, float(run.speed_rad_s.mean()), self.cycle + 1
        return run

    def _fired(self, cycle: Cycle) -> tuple[Cycle, dict[int, bool]]:
        burns: dict[int, Burn] = {}
        strength, lit = {}, {}
        for n in self.breather.numbers:
            gas = self.last.get(n, GasAtSpark())
            share = float(np.asarray(firing_of(self.combustion, self.breather.world.state, n, gas).misfire_share))
            lit[n] = bool(self.rng.random() >= share)
            burns[n], strength[n] = self.combustion.burns(n, lit[n], self.rng)
            if self.breather.stands_open(n) or any(n == hanging for _, hanging in cycle.hangs):
                strength[n] = 0.0  # what is not held is not compressed, and what burns of it goes out again
        return replace(cycle, burns=burns, strength=strength), lit

    def _note_sparks(self, run: Run, lit: dict[int, bool], cycle: Cycle) -> None:
        for n in self.breather.numbers:
            at = (self.breather.tops_deg[n] - self.combustion.spark_deg - self.start) % 720.0
            k = int(np.searchsorted(run.angle_deg, at)) % run.angle_deg.size
            column = self.names.index(f"c{n}")
            gas = GasAtSpark(float(run.pressure_pa[k, column]), float(run.temperature_k[k, column]))
            self.last[n] = gas
            if n not in self.combustion.silent:
                when = self.kept.before_s + float(run.time_s[k])
                burnt = cycle.strength[n] > 0.0
                self.kept.sparks.append(Spark(n, when, float(gas.pressure), float(gas.kelvin), lit[n], burnt))


class _Governor:
    """Sets the throttle from cycle to cycle: quick in proportion, slow in sum."""

    def __init__(self, area_m2: float, wanted_rad_s: float, *, error_m2: float) -> None:
        self.base, self.sum, self.wanted, self.error = area_m2, 0.0, wanted_rad_s, error_m2
        self.most = max(area_m2, 1e-6)
        self.last = wanted_rad_s
        self._open = 0

    def area(self, speed: float) -> float:
        """Area for the next cycle [m2]."""
        miss = (self.wanted - speed) / self.wanted
        falls = max(self.last - speed, 0.0) / self.wanted
        self.last = speed
        if miss < _FAR_ABOVE:
            # Coming down from far above, it waits a little open, as a dashpot does, or the engine falls through idle.
            return (_DASHPOT + falls) * self.base + self.error
        self.sum = float(np.clip(self.sum + 0.05 * miss, -0.9, 1.5))
        set_area = self.base * (1.0 + self.sum + 0.35 * miss + (2.5 * falls if falls > 0.1 else 0.0))
        return max(set_area, 0.0) + self.error

    def push(self, speed: float) -> float:
        """What ignition timing adds or takes from this cycle's work [-]."""
        return float(np.clip(1.0 + 1.2 * (self.wanted - speed) / self.wanted, 0.85, 1.12))

    def let_go(self, speed: float) -> bool:
        """Whether the snap is over; asked once a cycle while it lasts."""
        self._open = _LONGEST_SNAP if speed > 3200.0 * _RPM else self._open + 1
        return self._open >= _LONGEST_SNAP
