"""How the crank turns: speed and angle over time under gas, starter, friction and the idle governor.

Speed is not drawn as a curve but integrated from torque, so that combustion ripple, compression dips while cranking,
the run-up, the stop and the roll-back against the last compression come out by themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
from numba import njit
from numpy.typing import NDArray

from witnessmark.simulate.torque import CYCLE_STEPS, CylinderTorque, Mechanics, cylinder_torque

__all__ = ["Drive", "Motion", "integrate_motion"]

FloatArray = NDArray[np.float64]

_STEP_DEG = 0.6  # of crank angle at the highest speed expected
_LONGEST_STEP_S = 1e-4
_RPM = np.pi / 30.0


@dataclass(frozen=True, slots=True)
class Drive:
    """What turns the crank, over the time of the simulation (zero at its start).

    Parameters
    ----------
    start_rpm : float [rpm]
        Speed at the beginning.
    target_rpm, map_bar : tuple of (s, value)
        What the governor aims at, and the manifold's pressure [bar]; straight between the points given.
    fires : tuple of float [s]
        From when to when fuel burns.
    starter : tuple of float [s]
        From when to when the starter turns.
    starter_nm : float [N m]
        Its torque at rest, at the crank.
    starter_rpm : float [rpm]
        Crank speed at which its torque is gone.
    """

    start_rpm: float
    target_rpm: tuple[tuple[float, float], ...]
    map_bar: tuple[tuple[float, float], ...]
    fires: tuple[float, float] = (0.0, np.inf)
    starter: tuple[float, float] = (np.inf, np.inf)
    starter_nm: float = 300.0
    starter_rpm: float = 250.0


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Crank angle over time.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    crank_deg : array, shape (n,) [deg]
        Counted on over all turns; 0 and every 720 is the firing top dead centre of cylinder 1.
    speed_rpm : array, shape (n,) [rpm]
        Negative while it rolls back.
    """

    times_s: FloatArray
    crank_deg: FloatArray
    speed_rpm: FloatArray

    def angle_at(self, times_s: FloatArray | float) -> FloatArray:
        """Crank angle at times [deg]."""
        return np.asarray(np.interp(times_s, self.times_s, self.crank_deg))

    def between(self, from_s: float, to_s: float) -> Motion:
        """The part between two times."""
        first, last = np.searchsorted(self.times_s, [from_s, to_s])
        part = slice(max(int(first) - 1, 0), min(int(last) + 1, self.times_s.size))
        return Motion(self.times_s[part], self.crank_deg[part], self.speed_rpm[part])


def integrate_motion(
    mechanics: Mechanics,
    drive: Drive,
    *,
    seconds: float,
    firing_deg: Sequence[float],
    strength: FloatArray,
    start_deg: float,
) -> Motion:
    """Turn the crank.

    Parameters
    ----------
    mechanics : Mechanics
    drive : Drive
    seconds : float [s]
    firing_deg : sequence of float [deg]
        Firing top dead centre of each cylinder in the cycle, that of cylinder 1 being 0.
    strength : array, shape (cycles, cylinders)
        How strongly each combustion burns, about 1; used over again when the cycles run out.
    start_deg : float [deg]
        Crank angle at the beginning, 0..720.

    Returns
    -------
    Motion

    Notes
    -----
    J dw/dt = gas + inertia + starter - friction (docs/physics.md), midpoint rule at a fixed step of at most 0.6 degrees
    of crank angle. Friction holds the crank when all other torque is smaller than it.
    """
    tables = cylinder_torque(mechanics)
    highest = max(drive.start_rpm, *(rpm for _, rpm in drive.target_rpm), 300.0) * 1.25
    step_s = min(_LONGEST_STEP_S, _STEP_DEG / (6.0 * highest))
    count = int(np.ceil(seconds / step_s)) + 1
    times: FloatArray = np.arange(count, dtype=np.float64) * step_s
    target = np.interp(times, *_points(drive.target_rpm)) * _RPM
    map_bar = np.interp(times, *_points(drive.map_bar))
    burns = (times >= drive.fires[0]) & (times < drive.fires[1])
    turns = (times >= drive.starter[0]) & (times < drive.starter[1])
    throttle = _holding_throttle(tables, mechanics, drive, len(firing_deg))
    angle, speed = _integrate(
        np.stack([tables.per_bar, tables.constant, tables.burnt, tables.inertia]),
        np.radians(np.asarray(firing_deg, dtype=np.float64)),
        np.ascontiguousarray(strength, dtype=np.float64),
        target,
        map_bar,
        burns,
        turns,
        np.array(
            [
                step_s,
                np.radians(start_deg),
                drive.start_rpm * _RPM,
                throttle,
                mechanics.inertia_kgm2,
                mechanics.drag_nm,
                mechanics.drag_nms,
                drive.starter_nm,
                drive.starter_rpm * _RPM,
            ]
        ),
    )
    return Motion(times, angle * (180.0 / np.pi), speed / _RPM)


def _points(pairs: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [t for t, _ in pairs], [v for _, v in pairs]


def _holding_throttle(tables: CylinderTorque, mechanics: Mechanics, drive: Drive, cylinders: int) -> float:
    """Mean combustion torque of one cylinder that holds the starting speed [N m]."""
    gas = float(tables.per_bar.mean()) * drive.map_bar[0][1] + float(tables.constant.mean())
    drag = mechanics.drag_nm + mechanics.drag_nms * drive.start_rpm * _RPM
    return max(drag / cylinders - gas, 0.0)


_Kernel = Callable[..., tuple[FloatArray, FloatArray]]


def _integrate_python(
    tables: FloatArray,
    firing: FloatArray,
    strength: FloatArray,
    target: FloatArray,
    map_bar: FloatArray,
    burns: NDArray[np.bool_],
    turns: NDArray[np.bool_],
    numbers: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    step, theta, omega, throttle, inertia, drag, drag_slope, stall, free = numbers
    n_steps, n_cylinders, n_cycles = target.size, firing.size, strength.shape[0]
    per_radian = CYCLE_STEPS / (4.0 * np.pi)
    angles = np.empty(n_steps)
    speeds = np.empty(n_steps)
    filtered = omega
    for k in range(n_steps):
        angles[k] = theta
        speeds[k] = omega
        # The governor sees speed averaged over about a turn, as an idle controller does.
        filtered += (omega - filtered) * step / 0.08
        miss = target[k] - filtered
        throttle = min(max(throttle + step * 0.6 * miss, 0.0), 120.0)
        push = min(max(throttle + 0.35 * miss, 0.0), 160.0)
        acceleration = 0.0
        half_theta, half_omega = theta, omega
        for stage in range(2):
            torque = 0.0
            for i in range(n_cylinders):
                turned = half_theta - firing[i]
                cycle = np.floor(turned / (4.0 * np.pi))
                place = (turned - cycle * 4.0 * np.pi) * per_radian
                low = int(place)
                share = place - low
                low = low % CYCLE_STEPS
                high = (low + 1) % CYCLE_STEPS
                gas = tables[0, low] * (1.0 - share) + tables[0, high] * share
                rest = tables[1, low] * (1.0 - share) + tables[1, high] * share
                torque += gas * map_bar[k] + rest
                piston = tables[3, low] * (1.0 - share) + tables[3, high] * share
                torque += piston * half_omega * half_omega
                if burns[k]:
                    # The burn belongs to the nearest firing: just before it counts already.
                    which = int(np.floor(turned / (4.0 * np.pi) + 0.5)) % n_cycles
                    burnt = tables[2, low] * (1.0 - share) + tables[2, high] * share
                    torque += burnt * push * strength[which, i]
            if turns[k]:
                # A one-way clutch: the starter pushes, it never brakes.
                torque += max(stall * (1.0 - half_omega / free), 0.0)
            smooth = half_omega / 0.3
            smooth = min(max(smooth, -1.0), 1.0)
            if abs(half_omega) < 0.3 and abs(torque) < drag:
                acceleration = -half_omega / (20.0 * step)
            else:
                acceleration = (torque - drag * smooth - drag_slope * half_omega) / inertia
            if stage == 0:
                half_theta = theta + 0.5 * step * omega
                half_omega = omega + 0.5 * step * acceleration
        theta += step * half_omega
        omega += step * acceleration
    return angles, speeds


_integrate = cast(_Kernel, njit(cache=True, nogil=True)(_integrate_python))
