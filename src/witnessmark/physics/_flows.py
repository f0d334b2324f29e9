"""All flows of air and exhaust of an engine at a plenum pressure and a speed: what ``operating`` brings to balance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._breathing import FUEL_SHARE, Breathing, Turning
from witnessmark.physics._pressures import behind
from witnessmark.physics._root import Fewer, falling_root_of
from witnessmark.physics._together import settled_together
from witnessmark.physics._turbo import compressed
from witnessmark.physics.exhaust import BackPressure
from witnessmark.physics.nozzle import GAMMA_AIR, R_AIR, signed_flow

__all__ = ["Charged", "Flows", "cylinder_flow", "flows_at"]

Array = NDArray[np.float64]
Rows = NDArray[np.bool_] | NDArray[np.intp]

_SECANTS, _AGREES = 12, 1e-12  # steps at most, and what is left over in the end, of what could leave


@dataclass(frozen=True, slots=True)
class Flows:
    """Flows in kg/s, pressures in Pa; of the whole engine (n,) unless said otherwise."""

    plenum: Array
    leaving: Array  # (n, banks), into the exhaust
    cylinders: Array  # (n, banks), all gas
    levels: BackPressure  # (n, banks)
    port: Array  # mean over the cylinders
    egr: Array
    returned: Array  # exhaust that comes back while both valves are open, more than at rest
    purge: Array
    runner: Array  # (n, cylinders)
    at_plenum: Array  # air that leaks in there
    pcv: Array
    throttle: Array  # what the throttle would have to pass
    charge: Array  # behind the compressor, ahead of the cooler
    upstream: Array  # ahead of the throttle
    charge_leak: Array
    metered: Array
    vapour: Array  # fuel that came with purge and plenum leak
    runner_vapour: Array  # (n, cylinders), fuel that came with runner leaks
    air: Array  # all that can burn it
    warm: Array  # temperature in the plenum
    ahead_temperature: Array


def flows_at(breath: Breathing, plenum: Array, turning: Turning, leaving: Array | None = None) -> Flows:
    """Everything that flows at a plenum pressure and a speed; what leaves, where it is known, as it agrees."""
    t_ahead, t = breath.plenum_temperature(plenum)
    if leaving is None:
        leaving = _settled_leaving(breath, plenum, turning, t)
    gas, by_bank, levels, back = breath.through(turning, plenum, leaving, t, t_ahead)
    purge, runner, leak, pcv = breath.drawn_in(plenum, t)
    vapour, runner_vapour = breath.vapours(purge, runner, leak)
    whole, egr = gas.sum(axis=1), by_bank.sum(axis=1)
    throttle = whole - egr - purge - runner.sum(axis=1) - leak - pcv
    charge, upstream, lost, metered = _upstream(breath, throttle, pcv * breath.f["hose"], levels, leaving, t_ahead)
    return Flows(
        plenum=plenum,
        leaving=leaving,
        cylinders=gas,
        levels=levels,
        port=breath.mean_port(levels),
        egr=egr,
        returned=back.sum(axis=1),
        purge=purge,
        runner=runner,
        at_plenum=leak,
        pcv=pcv,
        throttle=throttle,
        charge=charge,
        upstream=upstream,
        charge_leak=lost,
        metered=metered,
        vapour=vapour,
        runner_vapour=runner_vapour,
        air=whole - egr - vapour - runner_vapour.sum(axis=1),
        warm=t,
        ahead_temperature=t_ahead,
    )


def _upstream(
    breath: Breathing, throttle: Array, ventilation: Array, levels: BackPressure, leaving: Array, t_ahead: Array
) -> tuple[Array, Array, Array, Array]:
    """Pressures behind compressor and cooler, what the charge pipe loses, what the meter passes."""
    wanted, share = throttle + ventilation, breath.f["free"] / breath.f["inlet"]
    if breath.path.boost is None:
        level = breath.behind_filter(np.maximum(wanted, 0.0))
        return level, level, np.zeros(breath.n), wanted * share
    charged = Charged(breath, wanted, breath.turbo_power(levels, leaving), t_ahead)
    upstream = charged.settled()
    charge, lost, _ = charged.chain(upstream)
    return charge, upstream, lost, (wanted + lost) * share


class Charged:
    """What a compressor of a given power makes of the air that is wanted of it."""

    def __init__(self, breath: Breathing, wanted: Array, power: Array, t_ahead: Array) -> None:
        self.breath, self.wanted, self.power, self.t_ahead = breath, wanted, power, t_ahead

    def of(self, rows: Rows) -> Charged:
        """In some of the states."""
        return Charged(self.breath.of(rows), self.wanted[rows], self.power[rows], self.t_ahead[rows])

    def chain(self, pressure: Array) -> tuple[Array, Array, Array]:
        """Charge behind the compressor, what the pipe loses, and the pressure ahead of the throttle that follows."""
        p0, t0, f = self.breath.d["ambient_pressure"], self.breath.d["ambient_temperature"], self.breath.f
        lost = np.asarray(signed_flow(f["pipe"], pressure, p0, self.t_ahead, t0))
        passed = np.maximum(self.wanted + lost, 1e-6)
        charge = np.asarray(self.breath.behind_filter(passed) * compressed(self.power, passed, t0))
        return charge, lost, np.asarray(behind(passed, f["cooler"], charge, self.t_ahead, GAMMA_AIR, R_AIR))

    def left(self, unknown: Array) -> Array:
        """For ``settled_together``: the pressure over that outside."""
        p0 = self.breath.d["ambient_pressure"]
        return np.asarray(self.chain(unknown[:, 0] * p0)[2] / p0)[:, None] - unknown

    def settled(self) -> Array:
        """The pressure ahead of the throttle that agrees with what the pipe loses at it."""
        p0 = self.breath.d["ambient_pressure"]
        low, high = np.full((1, 1), 0.02), np.full((1, 1), 5.0)
        x, got = settled_together(self, np.asarray(self.chain(p0)[2] / p0)[:, None], low, high)
        upstream = x[:, 0] * p0
        if not np.all(got):
            hard = self.of(~got)
            few = Fewer(hard, hard.of, len(hard.wanted))
            ambient = hard.breath.d["ambient_pressure"]
            upstream[~got] = falling_root_of(
                lambda p, rows: few.of(rows).chain(np.asarray(p))[2] - p, 0.02 * ambient, 5.0 * ambient
            )
        return upstream


def cylinder_flow(
    breath: Breathing, plenum: Array, speed: Array, warm: Array, near: Array | None = None
) -> tuple[Array, Array, Array, BackPressure, Array]:
    """Gas that each bank draws, what of it is recirculated exhaust (n,), what leaves each bank, its back pressure, and
    exhaust that comes back through the overlap (n,), more than at rest.
    """
    turning = breath.turning(speed)
    leaving = _settled_leaving(breath, plenum, turning, warm, near)
    gas, egr, levels, back = breath.through(turning, plenum, leaving, warm, warm - breath.path.charge_warming)
    return gas, egr.sum(axis=1), leaving, levels, back.sum(axis=1)


def _settled_leaving(
    breath: Breathing, plenum: Array, turning: Turning, warm: Array, near: Array | None = None
) -> Array:
    """What leaves each bank at given pressures in the plenum: the more leaves, the higher the back pressure, the less
    is drawn and the more recirculates; so it has one value that agrees with itself.
    """
    problem = _Leaving(breath, plenum, turning, warm)
    return _agreed(problem, (1.0 + FUEL_SHARE) * turning.swept / warm[:, None] * turning.intake * plenum[:, None], near)


@dataclass(frozen=True, slots=True)
class _Leaving:
    """What leaves the banks at given pressures in the plenum."""

    breath: Breathing
    plenum: Array
    turning: Turning
    warm: Array

    def of(self, rows: Rows) -> _Leaving:
        """In some of the states."""
        return _Leaving(self.breath.of(rows), self.plenum[rows], self.turning.of(rows), self.warm[rows])

    def surplus(self, leaving: Array) -> Array:
        """What would leave, over what is taken to."""
        t_ahead = self.warm - self.breath.path.charge_warming
        gas, egr, _, _ = self.breath.through(self.turning, self.plenum, leaving, self.warm, t_ahead)
        return np.asarray((1.0 + FUEL_SHARE) * (gas - egr) - leaving)


def _agreed(problem: _Leaving, most: Array, near: Array | None) -> Array:
    """What leaves, where nothing is left over: by secants from what would leave against no exhaust at all, or from what
    left near by; each row on its own. Rows that do not get there are bracketed.
    """
    last = most if near is None else near
    last_over = over = problem.surplus(last)
    found = np.maximum(last + over, 0.0)
    if near is not None:
        found = np.where(np.abs(over) <= _AGREES * most + 1e-18, near, found)
    for _ in range(_SECANTS):
        over = problem.surplus(found)
        rests = np.abs(over) <= _AGREES * most + 1e-18
        if np.all(rests):
            return found
        slope = (over - last_over) / np.where(found == last, 1.0, found - last)
        step = np.where(slope < -0.5, -over / np.minimum(slope, -0.5), over)
        last, last_over = np.where(rests, last, found), np.where(rests, last_over, over)
        found = np.where(rests, found, np.maximum(found + step, 0.0))
    stuck = np.any(np.abs(problem.surplus(found)) > _AGREES * most + 1e-18, axis=1)
    if np.any(stuck):
        hard_ones = problem.of(stuck)
        few = Fewer(hard_ones, hard_ones.of, int(np.count_nonzero(stuck)))
        top = 2.0 * most[stuck]
        slow = falling_root_of(lambda x, rows: few.of(rows).surplus(np.asarray(x)), 0.0 * top, top)
        hard = np.abs(problem.surplus(found))[stuck] > _AGREES * most[stuck] + 1e-18
        found[stuck] = np.where(hard, slow, found[stuck])
    return found
