"""The balances of an operating point as equations to be settled together: load, plenum, exhaust, compressor.

Unknown of each state are the plenum's pressure and what leaves each bank; with a throttle's area given the pressure
ahead of it where there is a compressor; and the speed, where both load and area are given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._breathing import FUEL_SHARE, Breathing, Turning
from witnessmark.physics._flows import Charged
from witnessmark.physics._together import settled_together
from witnessmark.physics.friction import friction_pressure, power_pressure
from witnessmark.physics.nozzle import signed_flow

__all__ = [
    "FASTEST",
    "SLOWEST",
    "Settled",
    "highest",
    "lowest",
    "mean_pressure",
    "settled_at_area",
    "settled_at_both",
    "settled_at_load",
]

Array = NDArray[np.float64]
Rows = NDArray[np.bool_]

SLOWEST, FASTEST = 0.3, 4.0
"""Of the speed wanted, between which idle is looked for."""
_LOAD = 1e5  # Pa: what a load is counted in
_HALVINGS = 12  # of a guess
_RATIOS = np.linspace(0.03, 0.999, 30)  # of pressures, between which a plenum is looked for at first


class Settled(NamedTuple):
    """Where states have settled, and which of them have."""

    speed: Array
    plenum: Array
    leaving: Array  # (n, banks)
    got: Rows

    def of(self, rows: Rows) -> Settled:
        """Some of them."""
        return Settled(self.speed[rows], self.plenum[rows], self.leaving[rows], self.got[rows])

    def put(self, rows: Rows, some: Settled) -> None:
        """Some of them settled anew."""
        for whole, part in zip(self, some, strict=True):
            whole[rows] = part


def mean_pressure(breath: Breathing, air: Array, port: Array, plenum: Array, speed: Array) -> Array:
    """Brake mean effective pressure."""
    return np.asarray(breath.f["worth"] * air / speed - _resisting(breath, speed) - (port - plenum))


def _resisting(breath: Breathing, speed: Array) -> Array:
    """Mean pressure of friction, accessories and drag."""
    path = breath.path
    rubbed = path.friction * friction_pressure(speed, path.displacement, path.n_cylinders)
    return np.asarray(rubbed + power_pressure(breath.f["taken"], speed, path.displacement) + breath.f["drag"])


def lowest(breath: Breathing) -> Array:
    """Least plenum pressure that is looked at."""
    return np.asarray(0.02 * breath.d["ambient_pressure"])


def highest(breath: Breathing) -> Array:
    """Greatest plenum pressure that is looked at."""
    return np.asarray((1.0 if breath.path.boost is None else 4.0) * breath.d["ambient_pressure"])


@dataclass(frozen=True, slots=True)
class _Balance:
    """Equations in pressures over that outside, flows over those of a full plenum, speeds over the one wanted."""

    breath: Breathing
    full: Array  # (n, banks): what would leave of a full plenum
    resisting: Array  # of no use where the speed is unknown
    turning: Turning | None  # None: the speed is unknown
    area: Array | None  # None: the area is unknown, and with it what the throttle passes

    @classmethod
    def of_engine(cls, breath: Breathing, turning: Turning, area: Array | None, *, speed_known: bool) -> _Balance:
        """Laid out for whatever is known."""
        hot = (breath.d["ambient_temperature"] + breath.path.charge_warming)[:, None]
        full = (1.0 + FUEL_SHARE) * turning.swept * turning.intake * breath.d["ambient_pressure"][:, None] / hot
        own = turning if speed_known else None
        return cls(breath, np.maximum(full, 1e-9), _resisting(breath, turning.speed), own, area)

    def of(self, rows: Rows) -> _Balance:
        """In some of the states."""
        area = None if self.area is None else self.area[rows]
        turning = None if self.turning is None else self.turning.of(rows)
        return _Balance(self.breath.of(rows), self.full[rows], self.resisting[rows], turning, area)

    @property
    def charged(self) -> bool:
        """Whether the pressure ahead of the throttle is unknown."""
        return self.area is not None and self.breath.path.boost is not None

    def settled(self, plenum: Array, leaving: Array, upstream: Array, speed: Array) -> Settled:
        """Together, from a guess."""
        breath, p0 = self.breath, self.breath.d["ambient_pressure"]
        banks = leaving.shape[1]
        columns, low, high = [plenum / p0, *(leaving / self.full).T], [0.02, *[0.0] * banks], [4.0, *[10.0] * banks]
        high[0] = 1.0 if breath.path.boost is None else 4.0
        if self.charged:
            columns.append(upstream / p0)
            low.append(0.02)
            high.append(5.0)
        if self.turning is None:
            columns.append(speed / breath.d["speed_rpm"])
            low.append(SLOWEST)
            high.append(FASTEST)
        x, got = settled_together(self, np.stack(columns, axis=1), np.array([low]), np.array([high]))
        found = speed if self.turning is not None else x[:, -1] * breath.d["speed_rpm"]
        return Settled(found, x[:, 0] * p0, x[:, 1 : 1 + banks] * self.full, got)

    def left(self, unknown: Array) -> Array:
        """What is left over of each balance."""
        breath, p0, banks = self.breath, self.breath.d["ambient_pressure"], self.full.shape[1]
        plenum, leaving = unknown[:, 0] * p0, unknown[:, 1 : 1 + banks] * self.full
        turning = self.turning
        if turning is None:
            turning = breath.turning(unknown[:, -1] * breath.d["speed_rpm"])
        t_ahead, t = breath.plenum_temperature(plenum)
        gas, egr, levels, _ = breath.through(turning, plenum, leaving, t, t_ahead)
        parts = list((((1.0 + FUEL_SHARE) * (gas - egr) - leaving) / self.full).T)
        fresh = gas.sum(axis=1) - egr.sum(axis=1)
        if self.area is None and not breath.mixed:
            return np.stack([self._load(fresh, np.asarray(levels.port), plenum, turning), *parts], axis=1)
        purge, runner, leak, pcv = breath.drawn_in(plenum, t)
        if self.area is None or self.turning is None:
            vapour, runners = breath.vapours(purge, runner, leak)
            parts.insert(0, self._load(fresh - vapour - runners.sum(axis=1), np.asarray(levels.port), plenum, turning))
        if self.area is not None:
            throttle = fresh - purge - runner.sum(axis=1) - leak - pcv
            wanted = throttle + pcv * breath.f["hose"]
            if self.charged:
                upstream = unknown[:, 1 + banks] * p0
                charged = Charged(breath, wanted, breath.turbo_power(levels, leaving), t_ahead)
                parts.append((charged.chain(upstream)[2] - upstream) / p0)
            else:
                upstream = breath.behind_filter(np.maximum(wanted, 0.0))
            passed = np.asarray(signed_flow(self.area, upstream, plenum, t_ahead, t))
            parts.append((passed - throttle) / self.full.sum(axis=1))
        return np.stack(parts, axis=1)

    def _load(self, air: Array, port: Array, plenum: Array, turning: Turning) -> Array:
        breath = self.breath
        resisting = self.resisting if self.turning is not None else _resisting(breath, turning.speed)
        mean = np.sum(np.asarray(port) * breath.share, axis=1)
        given = breath.f["worth"] * air / turning.speed - resisting - (mean - plenum)
        return np.asarray((breath.d["load"] - given) / _LOAD)


def settled_at_load(breath: Breathing, turning: Turning) -> Settled:
    """Where the load is carried, whatever area that takes."""
    p0, low, high = breath.d["ambient_pressure"], lowest(breath), highest(breath)
    balance = _Balance.of_engine(breath, turning, None, speed_known=True)
    plenum, port = 0.4 * p0, np.broadcast_to(p0[:, None], balance.full.shape)
    leaving = balance.full
    with np.errstate(all="ignore"):
        for _ in range(2):
            t_ahead, t = breath.plenum_temperature(plenum)
            needed = breath.d["load"] + balance.resisting + np.sum(port * breath.share, axis=1) - plenum
            air = np.maximum(needed * turning.speed / np.maximum(breath.f["worth"], 1e-9), 0.0)
            k = turning.swept / t[:, None]
            drawn = (air + np.sum(k * turning.exhaust * port, axis=1)) / np.sum(k * turning.intake, axis=1)
            plenum = np.clip(np.where(np.isfinite(drawn), drawn, p0), low, high)
            leaving = _leaving(turning, plenum, port, t)
            port = np.asarray(breath.exhaust_levels(leaving, t_ahead).port)
        leaving = _calmed(breath, turning, plenum, leaving)
    return balance.settled(plenum, leaving, p0, turning.speed)


def settled_at_area(breath: Breathing, turning: Turning, area: Array) -> Settled:
    """Where a throttle of that area feeds the engine, whatever load that carries."""
    p0, t0 = breath.d["ambient_pressure"], breath.d["ambient_temperature"]
    f, t = breath.f, t0 + breath.path.charge_warming
    upstream = p0 if breath.path.boost is None else p0 + np.maximum(breath.d["boost_wanted"], 0.1 * p0)
    # Two holes in a row, as in the crankcase; behind a compressor the filter's counts for nothing here.
    own = area if breath.path.boost is not None else 1.0 / np.hypot(1.0 / np.maximum(area, 1e-12), 1.0 / f["inlet"])
    holes = own + f["purge"] + f["plenum"] + f["pcv"] + f["runner"].sum(axis=1)
    # Flows at some pressures; the plenum's lies where what comes in gets less than what is drawn.
    came = holes[:, None] * signed_flow(1.0, upstream[:, None], _RATIOS * upstream[:, None], t0[:, None], t[:, None])
    k = turning.swept / t[:, None]
    by_inside, by_port = np.sum(k * turning.intake, axis=1), np.sum(k * turning.exhaust, axis=1)
    drawn = (by_inside * upstream)[:, None] * _RATIOS - (by_port * p0)[:, None]
    wide = np.sum(turning.overlap, axis=1)
    if np.any(wide):
        drawn = drawn - breath.displaced(wide[:, None], p0[:, None], _RATIOS * upstream[:, None], t[:, None])[1]
    over = came - np.maximum(drawn, 0.0)
    last = np.clip(np.count_nonzero(over > 0.0, axis=1), 1, len(_RATIOS) - 1)
    rows = np.arange(breath.n)
    one, other = over[rows, last - 1], over[rows, last]
    part = np.clip(one / np.where(one == other, 1.0, one - other), 0.0, 1.0)
    plenum = upstream * (_RATIOS[last - 1] + part * (_RATIOS[last] - _RATIOS[last - 1]))
    plenum = np.clip(plenum, lowest(breath), highest(breath))
    leaving = _calmed(breath, turning, plenum, _leaving(turning, plenum, np.broadcast_to(p0[:, None], k.shape), t))
    balance = _Balance.of_engine(breath, turning, area, speed_known=True)
    return balance.settled(plenum, leaving, upstream, turning.speed)


def settled_at_both(breath: Breathing, turning: Turning, area: Array, needed: Array, near: Settled) -> Settled:
    """The speed at which just that area carries the load; near is where it is carried at the speed wanted."""
    f, p0 = breath.f, breath.d["ambient_pressure"]
    leaks = f["purge"] + f["plenum"] + f["pcv"] + f["runner"].sum(axis=1)
    speed = breath.d["speed_rpm"] * np.clip((area + leaks) / np.maximum(needed + leaks, 1e-9), 0.4, 2.5)
    balance = _Balance.of_engine(breath, turning, area, speed_known=False)
    leaving = near.leaving * (speed / turning.speed)[:, None]
    return balance.settled(near.plenum, leaving, p0, speed)


def _leaving(turning: Turning, plenum: Array, port: Array, t: Array) -> Array:
    drawn = turning.swept / t[:, None] * (turning.intake * plenum[:, None] - turning.exhaust * port)
    return np.asarray((1.0 + FUEL_SHARE) * np.maximum(drawn, 0.0))


def _calmed(breath: Breathing, turning: Turning, plenum: Array, leaving: Array) -> Array:
    """A guess of what leaves, less where it would build up a pressure that lets much less leave."""
    t_ahead, t = breath.plenum_temperature(plenum)

    def would(few: Breathing, own: Turning, inside: Array, warm: Array, ahead_of_it: Array, out: Array) -> Array:
        gas, egr, _, _ = few.through(own, inside, out, warm, ahead_of_it)
        return np.maximum((1.0 + FUEL_SHARE) * (gas - egr), 0.0)

    found = would(breath, turning, plenum, t, t_ahead, leaving)
    choked = np.any(found < 0.7 * leaving, axis=1)
    if not np.any(choked):
        return found
    few, own = breath.of(choked), turning.of(choked)
    inside, warm, ahead_of_it = plenum[choked], t[choked], t_ahead[choked]
    low, high = np.zeros_like(leaving[choked]), leaving[choked]
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        more = would(few, own, inside, warm, ahead_of_it, middle) > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    found[choked] = 0.5 * (low + high)
    return found
