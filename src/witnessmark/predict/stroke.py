"""One cylinder followed through its cycle by the gas kernel, without combustion, between an intake and an exhaust.

What is read of it goes into tables (:mod:`witnessmark.predict.cylindertables`), one set for each regime: cranking,
idle, raised, open throttle.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.types import Engine
from witnessmark.physics.gasengine import usual_breathing, usual_sizes, valve_train
from witnessmark.physics.lift import Lobe
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.valveflow import Valves
from witnessmark.physics.wallheat import HOHENBERG
from witnessmark.predict.expansion import Axis

if TYPE_CHECKING:
    from witnessmark.physics.gaspath import GasPath, Run

__all__ = ["AMBIENT_PA", "PAIRS", "REGIMES", "RESULTS", "Regime", "Stroke", "axes_of", "described_by"]

Array = NDArray[np.float64]

AMBIENT_PA = 101_325.0
_GRID_DEG = 1.0  # within 0.1 % of the peak of steps of 0.25°
_ENERGY_J_PER_KG = 3e5  # what a change of energy is held against: it may pass through 0
_COLD_AND_HOT = (-0.85e5, 1.5e6)  # J/kg, between which a cycle is guessed to begin: 298 K and what burns
_SETTLED, _MOST_CYCLES = 4e-4, 40  # what the two ends of a cycle differ by: 0.01° of loss angle

RESULTS = ("peak", "loss", "exponent", "overlap", "plateau", "fresh", "residual", "torque", "pumping", "gulp", "puff")
"""log of peak over intake pressure; degrees the peak is before TDC; exponent from 80° to 30° before TDC; log of the
pressure at gas-exchange TDC, and in mid exhaust stroke, over the exhaust's; log of fresh charge at firing TDC over what
the stroke would hold of intake gas; burnt share of the charge; log of the greatest compression torque over intake
pressure times swept volume; work of gas exchange over swept volume, in units of intake pressure; log of what it draws
in one gulp and gives off in one puff, as "fresh"."""


@dataclass(frozen=True, slots=True)
class Regime:
    """Where a set of tables is anchored.

    Parameters
    ----------
    name : str
    speed : Axis
        [rpm]
    intake : Axis
        Absolute pressure [kPa].
    intake_k, exhaust_k, wall_k : float [K]
    burnt : float [-]
        Share of burnt gas in the exhaust.
    """

    name: str
    speed: Axis
    intake: Axis
    intake_k: float
    exhaust_k: float
    wall_k: float
    burnt: float


def _speed(rpm: float, below: int, above: int) -> Axis:
    return Axis("speed", "log", rpm, 0.3, below, above)


def _intake(kpa: float, step: float, below: int, above: int) -> Axis:
    return Axis("intake", "log", kpa, step, below, above)


# Temperatures: our guess.
REGIMES = {
    "cranking": Regime("cranking", _speed(200.0, 4, 3), _intake(100.0, 0.12, 4, 1), 300.0, 330.0, 330.0, 0.0),
    "idle": Regime("idle", _speed(800.0, 2, 3), _intake(36.0, 0.25, 2, 4), 315.0, 600.0, 380.0, 1.0),
    "raised": Regime("raised", _speed(2500.0, 3, 3), _intake(36.0, 0.25, 2, 4), 315.0, 700.0, 390.0, 1.0),
    "open": Regime("open", _speed(2500.0, 3, 3), _intake(95.0, 0.16, 5, 5), 315.0, 800.0, 400.0, 1.0),
}


def axes_of(regime: Regime) -> tuple[Axis, ...]:
    """What a cylinder's trace depends on.

    Parameters
    ----------
    regime : Regime

    Returns
    -------
    tuple of Axis
        Degrees a cam is early; degrees by which each flank of its lobe is shorter; lift over the described; play over
        the lift, and all ways out of the shut cylinder [mm2]; volume above the piston over the described; speed;
        pressures, the exhaust's [kPa gauge]; wall heat over the formula's.
    """
    cams = []
    for kind in ("intake", "exhaust"):
        cams += [
            Axis(f"{kind}_early", "even", 0.0, 10.0, 8, 8, 2),
            Axis(f"{kind}_short", "even", 0.0, 10.0, 2, 2),
            Axis(f"{kind}_lift", "log+", 1.0, 0.25374, 12, 2, 2, unit=0.05),
            Axis(f"{kind}_lash", "arc", 0.0, np.pi / 32.0, 0, 16),
        ]
    return (
        *cams,
        Axis("leak", "log+", 0.46, np.log1p(0.46 / 0.5), 1, 8, unit=0.5),
        Axis("clearance", "log", 1.0, 0.15, 4, 6, 2),
        regime.speed,
        regime.intake,
        Axis("exhaust", "log+", 0.0, 0.7, 0, 5, unit=10.0),
        Axis("heat", "log", 1.0, 0.45, 2, 2),
    )


PAIRS = (
    ("intake_early", "exhaust_early"), ("intake_early", "intake_short"), ("intake_early", "intake_lift"),
    ("intake_early", "leak"), ("intake_early", "speed"), ("intake_early", "intake"),
    ("intake_early", "exhaust"), ("exhaust_early", "exhaust_short"), ("exhaust_early", "exhaust_lift"),
    ("exhaust_early", "speed"), ("exhaust_early", "intake"), ("exhaust_early", "exhaust"), ("intake_lift", "speed"),
    ("intake_lift", "leak"), ("exhaust_lift", "intake"), ("exhaust_lift", "speed"), ("leak", "clearance"),
    ("leak", "speed"), ("leak", "intake"), ("leak", "heat"), ("intake", "exhaust"), ("speed", "heat"),
)  # fmt: skip


def described_by(engine: Engine) -> tuple[CylinderGeometry, Mapping[str, tuple[Lobe, Valves]], float]:
    """All that a cylinder's trace depends on of an engine's description.

    Parameters
    ----------
    engine : Engine
        What it does not describe is taken at the middle of what is usual.

    Returns
    -------
    sizes : CylinderGeometry
    trains : mapping of str to (Lobe, Valves)
        "intake" and "exhaust".
    runner : float, shape () [m3]
    """
    trains = {kind: valve_train(engine, kind) for kind in ("intake", "exhaust")}
    return usual_sizes(engine), trains, 1e-3 * float(usual_breathing(engine).air.runner_l.mean or 0.4)


class Stroke:
    """A cylinder of one engine in one regime, ready to be followed.

    Parameters
    ----------
    engine : Engine
        What it does not describe is taken at the middle of what is usual.
    regime : Regime
    """

    def __init__(self, engine: Engine, regime: Regime) -> None:
        self.regime = regime
        self.sizes, self.trains, self.runner_m3 = described_by(engine)
        self.axes = axes_of(regime)
        self._usual = {axis.name: axis.anchor for axis in self.axes}
        self._last: Array | None = None
        self._known: dict[str, Array] = {}
        self._degrees = np.arange(0.0, 720.0, _GRID_DEG)

    def __call__(self, at: Mapping[str, float]) -> Array:
        """What a trace shows.

        Parameters
        ----------
        at : mapping of str to float
            By axis; the rest at the anchor.

        Returns
        -------
        array, shape (results,)
            In the order of :data:`RESULTS`.
        """
        now = self._usual | dict(at)
        geometry = replace(self.sizes, compression_ratio=1.0 + (self.sizes.compression_ratio - 1.0) / now["clearance"])
        path, omega = self._path(now, geometry), now["speed"] * np.pi / 30.0
        run = self._settled(path, omega, at)
        return self._results(now, geometry, run.pressure_pa[:, 0], run.mass_kg[:, 0], run.state.gas[0])

    def _settled(self, path: GasPath, omega: float, at: Mapping[str, float]) -> Run:
        """A cycle that repeats itself; the better its beginning is guessed, the fewer come before it."""
        from witnessmark.physics.gaspath import State, start_state

        off = [_label(name, value) for name, value in at.items() if not np.isclose(value, self._usual[name])]
        state, guess = start_state(path, omega), self._guess(off)
        if guess is not None:
            state = State(guess, omega, state.burning)
        for _ in range(_MOST_CYCLES):
            run = path.march(state, 1)
            after = run.state
            change = np.abs(after.gas - state.gas)[:, :2] / (state.gas[:, :1] * (1.0, _ENERGY_J_PER_KG))
            state = after
            if change.max() < _SETTLED:
                break
            if not np.all(np.isfinite(after.gas)):  # a guess that leads out of the gas tables: begin as if never run
                state = start_state(path, omega)
        self._last = state.gas
        if len(off) < 2:
            self._known["".join(off)] = state.gas
        return run

    def _guess(self, off: list[str]) -> Array | None:
        """Mass, energy and burnt mass to begin with: where each number alone has led, summed up; else the last one."""
        sound = self._known.get("")
        alone = [self._known.get(label) for label in off]
        if sound is None or len(off) < 2 or any(one is None for one in alone):
            return None if self._last is None else self._last.copy()
        guess = sound.copy()
        mass, share = sound[:, 0].copy(), sound[:, 1:] / sound[:, :1]
        for one in alone:
            assert one is not None
            mass *= np.clip(one[:, 0] / sound[:, 0], 0.05, 20.0)
            share = share + one[:, 1:] / one[:, :1] - sound[:, 1:] / sound[:, :1]
        guess[:, 0], guess[:, 1] = mass, mass * np.clip(share[:, 0], *_COLD_AND_HOT)
        guess[:, 2] = mass * np.clip(share[:, 1], 0.0, 1.0)
        return guess

    def _path(self, now: Mapping[str, float], geometry: CylinderGeometry) -> GasPath:
        from witnessmark.physics.gaspath import Cylinder, GasPath, Link, Reservoir, Volume

        r, (_, inlet) = self.regime, self.trains["intake"]
        port = 0.8 * 0.25 * np.pi * (1e-3 * inlet.diameter_mm) ** 2 * inlet.count
        one = Cylinder("c", geometry, wall_k=r.wall_k, heat=replace(HOHENBERG, scale=now["heat"]))
        outside = [
            Reservoir("plenum", 1e3 * now["intake"], r.intake_k),
            Reservoir("exhaust", AMBIENT_PA + 1e3 * now["exhaust"], r.exhaust_k, r.burnt),
            Reservoir("case", AMBIENT_PA, 340.0),
        ]
        links = [
            Link("plenum", "runner", port),
            Link("runner", "c", self._opened("intake", now)),
            Link("c", "exhaust", self._opened("exhaust", now)),
            Link("c", "case", 1e-6 * now["leak"]),
        ]
        return GasPath([one], [Volume("runner", self.runner_m3)], outside, links, grid_deg=_GRID_DEG)

    def _opened(self, kind: str, now: Mapping[str, float]) -> Array:
        lobe, valves = self.trains[kind]
        short = min(now[f"{kind}_short"], 0.45 * lobe.duration_deg)
        lobe = Lobe(lobe.opens_deg + short, lobe.shuts_deg - short, lobe.lift_mm, lobe.law)
        lobe = lobe.with_lash(now[f"{kind}_lash"] * lobe.lift_mm, now[f"{kind}_lift"])
        return np.asarray(valves.area_m2(lobe.shifted(now[f"{kind}_early"]).at(self._degrees)))

    def _results(
        self, now: Mapping[str, float], geometry: CylinderGeometry, pressure: Array, mass: Array, last: Array
    ) -> Array:
        """Readings of one settled cycle; ``last`` is mass, energy and burnt mass at firing TDC."""
        p, degrees = np.roll(pressure, 360), self._degrees - 360.0
        intake, exhaust = 1e3 * now["intake"], AMBIENT_PA + 1e3 * now["exhaust"]
        swept = geometry.swept_m3
        holds = intake * swept / (287.0 * self.regime.intake_k)
        rising = (degrees >= -80.0) & (degrees <= -30.0)
        volume = np.asarray(geometry.volume_m3(degrees))
        exponent = -np.polyfit(np.log(volume[rising]), np.log(p[rising]), 1)[0]
        torque = (AMBIENT_PA - p) * geometry.area_m2 * np.asarray(geometry.slope_m(degrees))
        before = (degrees >= -120.0) & (degrees <= 0.0)
        exchange = pressure[180:541]
        swings = np.asarray(geometry.volume_m3(self._degrees[180:541]))
        top, loss = _top(degrees, p)
        plateau = pressure[240:321].mean()
        return np.array(
            [
                np.log(top / intake),
                loss,
                exponent,
                np.log(pressure[360] / exhaust),
                np.log(plateau / exhaust),
                np.log(max(float(last[0] - last[2]), 0.01 * holds) / holds),
                float(last[2] / last[0]),
                np.log(max(float(torque[before].max()), 1e-3 * intake * swept) / (intake * swept)),
                float(np.trapezoid(exchange, swings)) / (swept * intake),
                np.log(max(float(mass[300:700].max() - mass[300:700].min()), 0.02 * holds) / holds),
                np.log(max(float(mass[60:200].max() - mass[120:440].min()), 0.02 * holds) / holds),
            ]
        )


def _label(name: str, value: float) -> str:
    return f"{name}={value:.6g}"


def _top(degrees: Array, p: Array) -> tuple[float, float]:
    """Peak pressure and how many degrees before TDC it stands: a parabola through log p about the greatest value."""
    near = np.flatnonzero(np.abs(degrees) <= 60.0)
    k = int(near[np.argmax(p[near])])
    k = min(max(k, int(near[0]) + 3), int(near[-1]) - 3)
    x, y = degrees[k - 3 : k + 4] - degrees[k], np.log(p[k - 3 : k + 4])
    a, b, c = np.polyfit(x, y, 2)
    shift = float(np.clip(-b / (2.0 * a), -3.0, 3.0)) if a < 0.0 else 0.0
    return float(np.exp(a * shift**2 + b * shift + c)), -float(degrees[k] + shift)
