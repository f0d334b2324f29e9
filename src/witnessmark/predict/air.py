"""Where the engine of a batch settles in a condition: one operating point that all readings of air and fuel share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.airpath import AirPath, Metering
from witnessmark.physics.airstate import AirState
from witnessmark.physics.demand import Demand, full_load, idling, running
from witnessmark.physics.leanburn import burns_diluted, unfired_share, work_of_mixture
from witnessmark.physics.operating import OperatingPoint, operating_point
from witnessmark.predict.airdescribed import OPEN, Described, air_path, described, size_of, variants
from witnessmark.predict.airedits import air_state
from witnessmark.predict.airrows import differing, flat, put, rows_of, shaped, table_of, taken
from witnessmark.predict.batch import Batch
from witnessmark.predict.cylinderair import commands
from witnessmark.predict.model import Values
from witnessmark.predict.setting import ambient_c, ambient_kpa, coolant_c, loads_a, speed_rpm
from witnessmark.predict.solvedrows import SolvedRows
from witnessmark.vocabulary import Condition

__all__ = [
    "KEPT_ROWS",
    "LOADED",
    "RUNNING",
    "Settled",
    "ambient",
    "blended",
    "described_of",
    "idle_reach",
    "settled",
    "speed_of",
]

Array = NDArray[np.float64]

RUNNING = ("cranking", "warm_up", "idle", "raised", "cruise", "acceleration", "full_load", "snap", "overrun")
"""States in which the crank turns."""
LOADED = ("acceleration", "full_load", "snap")
"""States in which a charger shows."""
_IDLING = ("idle", "warm_up")
KEPT_ROWS = 60_000
"""Rows of operating points that stay solved: some 50 MB, a batch of every fault in ten conditions."""
_KEPT = SolvedRows(KEPT_ROWS)
_RICHER = 0.02  # share of a cylinder's work that the mixture has to cost before the point is settled anew
_ROUNDS = 4
_DARK = 0.7  # share of cycles without fire with which no engine keeps running; our guess
_WATTS_PER_AMPERE = 550.0 / 35.0  # at the shaft, for what is switched on: 13.5 V by 0.86
_CRANKING_AREA = 0.6  # of what idle control can open; our guess
_WARM_REACH = 0.6  # of what idle control can open, when warm: with all that may be switched on it takes a half, and the
# rest is for a cold engine; our guess
_COLD_C, _WARM_C = 20.0, 70.0  # from where to where it takes back that rest; our guess
_OVERRUN_AREA = 0.33  # the same on overrun: about what warm idle takes here; our guess


@dataclass(frozen=True, slots=True)
class Settled:
    """An operating point with what its readings need besides.

    Parameters
    ----------
    point : OperatingPoint
        Of an engine of the described displacement.
    size : ndarray, shape (n,) [-]
        Displacement over the described one: flows go with it.
    path : AirPath
    runs : ndarray, shape (n,) [0/1]
        0 where the engine does not keep running.
    work : ndarray, shape (n, cylinders) [-]
        Share of the work of its air that each cylinder gives.
    filling : ndarray, shape (n, cylinders) [-]
    ambient : ndarray, shape (n,) [Pa]
    """

    point: OperatingPoint
    size: Array
    path: AirPath
    runs: Array
    work: Array
    filling: Array
    ambient: Array


def described_of(batch: Batch) -> Described:
    """What the description of a batch's engine settles, worked out once.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    Described
    """
    return batch.once("air:described", lambda: described(batch.model.engine))


def ambient(batch: Batch) -> Array:
    """Pressure outside.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n,) [Pa]
    """
    return np.broadcast_to(1000.0 * np.asarray(ambient_kpa(batch)), (batch.rows,))


def speed_of(batch: Batch, condition: Condition, *, wanted: bool = False) -> Values:
    """Speed that is held, or at idle wanted.

    Parameters
    ----------
    batch : Batch
    condition : Condition
    wanted : bool
        What idle control wants, whatever speed was noted beside the reading.

    Returns
    -------
    float or array, shape (n,) [rpm]
    """
    free = wanted and (condition.state or "idle") in _IDLING
    found: Values = np.clip(speed_rpm(batch, replace(condition, speed_rpm=None) if free else condition), 100.0, 9000.0)
    return found


def settled(
    batch: Batch, condition: Condition, metering: Metering, *, boosted: bool, governed: bool = False
) -> Settled:
    """The operating point of one kind of engine in a condition.

    Parameters
    ----------
    batch : Batch
    condition : Condition
        Its state is one in which the engine turns.
    metering : str
    boosted : bool
    governed : bool
        At idle: with the speed that its control wants, not with the one noted.

    Returns
    -------
    Settled
    """
    governed = governed and condition.speed_rpm is not None
    key = ("air", condition.state, condition.speed_rpm, condition.coolant_c, condition.phaser, metering, boosted)
    return batch.once((*key, governed), lambda: _settle(batch, condition, metering, boosted, governed))


def _settle(batch: Batch, condition: Condition, metering: Metering, boosted: bool, governed: bool) -> Settled:
    said = described_of(batch)
    speed = speed_of(batch, condition, wanted=governed)
    path = air_path(batch, said, metering, boosted=boosted)
    state = air_state(batch, said, condition, speed)
    demand = _demand(batch, path, condition, speed)
    if condition.state == "full_load":
        demand = replace(demand, held_trim=_held(batch, condition, metering, boosted))
    # One row is n rows where nothing differs; physics lays everything out alike.
    state = replace(state, leak_area_plenum=np.broadcast_to(np.asarray(state.leak_area_plenum), (batch.rows,)))
    fires = condition.state not in ("overrun", "cranking")
    few, which, key = differing(path, state, demand, batch.rows)
    once = path.of(few), rows_of(state, few, batch.rows), rows_of(demand, few, batch.rows)
    # Conditions that say more, and ask the same of the engine, have the same answer.
    point, work = batch.once(("air rows", metering, boosted, fires, key), lambda: _solved(*once, fires=fires))
    point, work = taken(point, which), work[which]
    filling = np.asarray(state.filling)
    runs = np.where(np.mean(work * filling, axis=1) > 0.25, 1.0, 0.0)
    dark = np.mean(np.asarray(unfired_share(point.fuelling.lambda_cylinder)), axis=1) > _DARK
    runs = (
        np.where(dark, 0.0, runs * (1.0 - point.stalls))
        if fires
        else np.where(np.mean(filling, axis=1) > 0.0, 1.0, 0.0)
    )
    size = np.broadcast_to(np.asarray(size_of(batch, said)), (batch.rows,))
    return Settled(point, size, path, runs, work, filling, ambient(batch))


def _solved(path: AirPath, state: AirState, demand: Demand, *, fires: bool) -> tuple[OperatingPoint, Array]:
    """Rows that were not solved lately, for this batch or another: what an intervention leaves alone stays solved."""
    n = len(np.asarray(state.leak_area_plenum))
    beside, table = table_of(path, state, demand, n)

    def anew(rows: NDArray[np.bool_]) -> Array:
        some = path.of(rows), rows_of(state, rows, n), rows_of(demand, rows, n)
        point = operating_point(*some)
        if fires:
            return flat(*_with_mixture(*some, point))
        return flat(point, np.broadcast_to(np.asarray(some[1].work), point.fuelling.lambda_cylinder.shape))

    return shaped(path, _KEPT.of((beside, fires), table, anew))


def _demand(batch: Batch, path: AirPath, condition: Condition, speed: Values) -> Demand:
    state = condition.state or "idle"
    shared: dict[str, Any] = {
        "ambient_pressure": ambient(batch),
        "ambient_temperature": 273.15 + np.asarray(ambient_c(batch)),
        "intake_early": commands(batch, "intake", condition),
        "exhaust_early": commands(batch, "exhaust", condition),
    }
    if state in ("idle", "warm_up", "raised", "cruise"):
        shared |= _drawn(batch)
    if state in _IDLING:
        late = np.clip(np.asarray(batch.number("air:idle_work", OPEN["air:idle_work"][0])), 0.3, 1.0)
        return replace(
            idling(path, speed), **shared, work_share=late, area_high=idle_reach(batch, condition) * path.idle_area
        )
    if state == "cranking":
        area = _CRANKING_AREA * path.idle_area * np.maximum(np.asarray(batch.number("air:cranking_area", 1.0)), 0.05)
        return replace(Demand(speed, 0.0, area, area, closed_loop=False), **shared)
    if state == "overrun":
        area = _OVERRUN_AREA * path.idle_area * np.maximum(np.asarray(batch.number("air:overrun_area", 1.0)), 0.05)
        return replace(Demand(speed, 0.0, area, area, closed_loop=False), **shared)
    if state in ("full_load", "snap"):
        rich = np.clip(np.asarray(batch.number("air:lambda_full", 0.88)), 0.6, 1.2)
        kpa = np.asarray(batch.number("air:boost_kpa", 70.0)) if state == "full_load" and path.boost else 0.0
        return replace(full_load(path, speed, lambda_wanted=rich, boost_wanted=1000.0 * np.maximum(kpa, 0.0)), **shared)
    key = f"air:load_kpa:{state}"
    load = 1000.0 * np.maximum(np.asarray(batch.number(key, OPEN.get(key, (0.0, 0.0))[0])), 0.0)
    target = 1000.0 * np.maximum(np.asarray(batch.number("air:boost_kpa", 70.0)), 0.0)
    asked = replace(running(path, speed, load), **shared)
    return replace(asked, boost_wanted=target) if state == "acceleration" and path.boost else asked


def idle_reach(batch: Batch, condition: Condition) -> Array:
    """Share of what idle control can open that it will open at this warmth.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n,) or () [-]
    """
    warm = np.clip((np.asarray(coolant_c(batch, condition)) - _COLD_C) / (_WARM_C - _COLD_C), 0.0, 1.0)
    return np.asarray(1.0 - (1.0 - _WARM_REACH) * warm)


def _drawn(batch: Batch) -> dict[str, Any]:
    """What alternator and compressor take, of an engine of the described size."""
    size = np.asarray(size_of(batch, described_of(batch)))
    compressor = np.maximum(np.asarray(batch.number("air:compressor_w", OPEN["air:compressor_w"][0])), 0.0)
    electric = _WATTS_PER_AMPERE * np.asarray(loads_a(batch))
    return {"electric_watts": electric / size, "compressor_watts": compressor / size}


def _held(batch: Batch, condition: Condition, metering: Metering, boosted: bool) -> Array:
    """Trim that goes on at full load: what was learnt at part load, by a share of the computers; a mean over banks."""
    learnt = settled(batch, replace(condition, state="cruise", speed_rpm=None), metering, boosted=boosted)
    share = np.clip(np.asarray(batch.number("air:held_share", OPEN["air:held_share"][0])), 0.0, 1.0)
    stale = [batch.column("learnt_error", f"fuel_trim:bank_{b + 1}") for b in range(learnt.path.n_banks)]
    held = share * (np.mean(learnt.point.fuelling.trim, axis=1) + np.mean(stale, axis=0))
    return np.asarray(np.clip(held, -60.0, 60.0))


def _with_mixture(
    path: AirPath, state: AirState, demand: Demand, point: OperatingPoint
) -> tuple[OperatingPoint, Array]:
    """The point again where cylinders work less for want or excess of fuel, or for exhaust in their charge.

    At idle less work means more air, and of more air a leak is less: so a few rounds, the later ones half way, and only
    for the states that have not come to rest.
    """
    sound = np.asarray(work_of_mixture(np.asarray(demand.lambda_wanted)))
    asked = np.maximum(sound[:, None] if sound.ndim else sound, 0.1)
    given = np.broadcast_to(np.asarray(state.work), point.fuelling.lambda_cylinder.shape)
    share = np.ones_like(given)
    for turn in range(_ROUNDS):
        burnt = np.asarray(work_of_mixture(point.fuelling.lambda_cylinder)) / asked
        burnt = burnt * np.asarray(burns_diluted(point.dilution))[:, None]
        rows = np.any(np.abs(burnt - share) > _RICHER, axis=1)
        if not np.any(rows):
            break
        share = share.copy()
        share[rows] = burnt[rows] if turn == 0 else 0.5 * (share[rows] + burnt[rows])
        few = replace(rows_of(state, rows, len(rows)), work=(given * share)[rows])
        point = put(point, operating_point(path.of(rows), few, rows_of(demand, rows, len(rows))), rows)
    return point, given * share


def blended(
    batch: Batch, condition: Condition, pick: Callable[[Settled], Array], *, governed: bool = False, ask: bool = True
) -> Array:
    """A reading over the kinds of engine that the description allows, by their shares.

    Parameters
    ----------
    batch : Batch
    condition : Condition
        Without a state: idle and cruise, by their shares.
    pick : callable (Settled) -> ndarray, shape (n,) or (n, m)
    governed : bool
        As :func:`settled`.
    ask : bool
        Whether a reading needs the engine to keep running: NaN where it does not.

    Returns
    -------
    ndarray, shape (n,) or (n, m)
    """
    if condition.state is None:
        share = np.clip(np.asarray(batch.number("air:at_idle", OPEN["air:at_idle"][0])), 0.0, 1.0)
        idle, road = (
            blended(batch, replace(condition, state=state), pick, governed=governed, ask=ask)
            for state in ("idle", "cruise")
        )
        return np.asarray(share * idle.T + (1.0 - share) * road.T).T
    total: Array = np.zeros(batch.rows)
    said = described_of(batch)
    for share, metering, boosted in variants(batch, said, loaded=condition.state in LOADED):
        found = settled(batch, condition, metering, boosted=boosted, governed=governed)
        value = pick(found).T
        value = np.where(found.runs > 0.5, value, np.nan) if ask else value
        total = total + np.where(np.asarray(share) == 0.0, 0.0, share * value)
    return total.T
