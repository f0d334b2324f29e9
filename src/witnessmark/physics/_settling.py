"""Where the balances of an operating point settle: together where they do, by brackets within brackets where not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._balance import (
    FASTEST,
    SLOWEST,
    Settled,
    highest,
    lowest,
    mean_pressure,
    settled_at_area,
    settled_at_both,
    settled_at_load,
)
from witnessmark.physics._breathing import Breathing, Turning
from witnessmark.physics._flows import Flows, flows_at
from witnessmark.physics._root import Fewer, falling_root_of
from witnessmark.physics.nozzle import signed_flow

__all__ = ["settled", "throttle_flow"]

Array = NDArray[np.float64]

_NONE = 1.0  # m2: an area that no throttle has
_PRECISE = 1e-12  # share of a speed


def settled(breath: Breathing) -> tuple[Settled, Array, Array]:
    """Speed, plenum pressure and what leaves; throttle area with its error; whether it stalls."""
    speed, governed = breath.d["speed_rpm"], breath.d["governed"] > 0.0
    error = breath.hole("area_error_throttle")
    least, most = (np.maximum(breath.d[end] + error, 0.0) for end in ("area_low", "area_high"))
    turning, stalls = breath.turning(speed), np.zeros(breath.n)
    where = Settled(speed.copy(), np.empty(breath.n), np.empty_like(turning.swept), np.ones(breath.n, dtype=np.bool_))
    needed, area = np.full(breath.n, np.nan), least.copy()
    free = (most > least) | governed  # of the others the area is what it is
    if np.any(free):
        carried, needed[free] = _area_for_load(breath.of(free), turning.of(free))
        where.put(free, carried)
        area[free] = np.clip(needed[free], least[free], most[free])
    stopped = area != needed
    adrift = stopped & governed
    if np.any(adrift):
        few, own = breath.of(adrift), turning.of(adrift)
        near = where.of(adrift)
        found, stalls[adrift] = _speed_for_area(few, own, area[adrift], needed[adrift], near)
        where.put(adrift, found)
        stopped[adrift] = ~found.got
    if np.any(stopped):
        own = breath.turning(where.speed) if np.any(adrift) else turning
        where.put(stopped, _plenum_for_area(breath.of(stopped), own.of(stopped), area[stopped]))
    return where, area, stalls


def _area_for_load(breath: Breathing, turning: Turning) -> tuple[Settled, Array]:
    """Where the load is carried, and the throttle area that takes (below 0: with none at all it is too much)."""
    where = settled_at_load(breath, turning)
    hard = ~where.got
    if np.any(hard):

        def short(few: _Engine, plenum: Array) -> Array:
            return _short(few.breath, flows_at(few.breath, plenum, few.turning), few.turning.speed)

        where.put(hard, _bracketed(_Engine(breath, turning, where.plenum).of(hard), short))
    found = flows_at(breath, where.plenum, turning, where.leaving)
    flux = np.maximum(throttle_flow(np.ones(breath.n), found), 1e-9)
    # Where the load is out of reach even the widest throttle would not do.
    beyond = _short(breath, found, turning.speed) > 1.0
    return where, np.where(beyond, _NONE, np.clip(found.throttle / flux, -_NONE, _NONE))


def _plenum_for_area(breath: Breathing, turning: Turning, area: Array) -> Settled:
    """Where a throttle of that area feeds the engine."""
    where = settled_at_area(breath, turning, area)
    hard = ~where.got
    if np.any(hard):

        def surplus(few: _Engine, plenum: Array) -> Array:
            found = flows_at(few.breath, plenum, few.turning)
            return throttle_flow(few.area, found) - found.throttle

        where.put(hard, _bracketed(_Engine(breath, turning, area).of(hard), surplus))
    return where


@dataclass(frozen=True, slots=True)
class _Engine:
    """An engine in some states at a speed, with a throttle's area where it is given."""

    breath: Breathing
    turning: Turning
    area: Array

    def of(self, rows: NDArray[Any]) -> _Engine:
        """In some of the states."""
        return _Engine(self.breath.of(rows), self.turning.of(rows), self.area[rows])


def _bracketed(engine: _Engine, over: Callable[[_Engine, Array], Array]) -> Settled:
    """The plenum pressure at which a falling function of it passes zero, or the end at which it is nearer to it."""
    few = Fewer(engine, engine.of, engine.breath.n)
    ends = lowest(engine.breath), highest(engine.breath)
    plenum = np.asarray(falling_root_of(lambda p, rows: over(few.of(rows), np.asarray(p)), *ends))
    leaving = flows_at(engine.breath, plenum, engine.turning).leaving
    return Settled(engine.turning.speed, plenum, leaving, np.ones(engine.breath.n, dtype=np.bool_))


def _speed_for_area(
    breath: Breathing, turning: Turning, area: Array, needed: Array, near: Settled
) -> tuple[Settled, Array]:
    """Speed at which just that area carries the load, and whether there is none so low; of those settled together with
    plenum and exhaust, those too.
    """
    slow, fast = SLOWEST * breath.d["speed_rpm"], FASTEST * breath.d["speed_rpm"]

    def left(few: Breathing, own: Array, speed: Array) -> Array:
        return own - _area_for_load(few, few.turning(speed))[1]

    at_slow, at_fast = left(breath, area, slow), left(breath, area, fast)
    speed = np.where(np.abs(at_fast) < np.abs(at_slow), fast, slow)
    inside = np.sign(at_slow) * np.sign(at_fast) <= 0.0
    where = Settled(speed, near.plenum, near.leaving, np.zeros(breath.n, dtype=np.bool_))
    if np.any(inside):
        few, own = breath.of(inside), area[inside]
        some = near.of(inside)
        where.put(inside, settled_at_both(few, turning.of(inside), own, needed[inside], some))
    hard = inside & ~where.got
    if np.any(hard):
        engine = _Engine(breath, turning, area).of(hard)
        rest = Fewer(engine, engine.of, engine.breath.n)
        where.speed[hard] = falling_root_of(
            lambda v, rows: left(rest.of(rows).breath, rest.of(rows).area, np.asarray(v)),
            slow[hard],
            fast[hard],
            precision=_PRECISE,
        )
    return where, np.where(at_slow < 0.0, 1.0, 0.0)


def _short(breath: Breathing, found: Flows, speed: Array) -> Array:
    """How much of the load is not carried."""
    return np.asarray(breath.d["load"] - mean_pressure(breath, found.air, found.port, found.plenum, speed))


def throttle_flow(area: Array, found: Flows) -> Array:
    """What a throttle of that area passes."""
    return np.asarray(signed_flow(area, found.upstream, found.plenum, found.ahead_temperature, found.warm))
