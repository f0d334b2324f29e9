"""How evenly the cylinders pull: each one's torque over a sound one's (docs/physics.md, "evenness")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State, healthy_of
from witnessmark.physics.firing import GasAtSpark
from witnessmark.predict.asking import answer, with_state
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import true_phase
from witnessmark.predict.cylinderset import cylinders, leaks_mm2
from witnessmark.predict.feeds import alive
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sparking import sparks
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["RULES", "of_the_cylinders", "torques"]

_VOLTS = 14.0
# Gas at the spark by state, pressure and temperature; our guess.
_GAS = {
    "idle": GasAtSpark(5e5, 600.0),
    "warm_up": GasAtSpark(5e5, 560.0),
    "raised": GasAtSpark(5e5, 610.0),
    "cruise": GasAtSpark(8e5, 630.0),
    "acceleration": GasAtSpark(12e5, 650.0),
    "full_load": GasAtSpark(14e5, 650.0),
}
# Air of all cylinders in g/s, for two litres; our guess.
_AIR = {"idle": 2.5, "warm_up": 3.5, "raised": 8.0, "cruise": 15.0, "acceleration": 40.0, "full_load": 90.0}
_CHOKED = 0.166  # g/s through each mm² with a coefficient of 0.7 at 25 °C (1.174 g/s for a hole of 3 mm: check values)
_LEAK_HALF_MM2 = 30.0  # of a firing stroke at idle; our guess
_LEAN, _LEAN2, _RICH2 = 0.5, 3.0, 0.6  # torque lost by a lean and by a rich cylinder; our guess
_OVERLAP_FREE, _OVERLAP = 6.0, 0.02  # degrees more overlap without harm, roughness for each beyond; our guess
_BURNT = 0.01  # roughness for each mm² of exhaust led back at idle; our guess
_FULL, _FELT = 3.0, 0.35  # the grade's end, and the unevenness that brings it to two thirds; our guess


def torques(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """Torque of every cylinder over that of a sound one.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n, cylinders) [-]

    Notes
    -----
    Docs/physics.md, "evenness": misfires as predicted elsewhere where they are, else by the spark alone; mixture of
    each cylinder against the mean that the trim holds; leaks past rings and valves.
    """
    key = ("torques", condition.state, condition.speed_rpm, condition.coolant_c)
    return batch.once(key, lambda: _torques(batch, condition))


def _state(condition: Condition) -> str:
    return condition.state if condition.state in _GAS else "idle"


def _torques(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    places = cylinders(batch.model)
    lift = np.ones((batch.rows, len(places)))
    for kind in ("intake", "exhaust"):
        valves = tuple(f"{place}.{kind}" for place in places)
        lift = lift * np.clip(batch.table("lift_scale", valves), 0.0, 1.0) ** 0.5
    slow = 750.0 / np.maximum(condition.speed_rpm or (750.0 if _state(condition) == "idle" else 2200.0), 300.0)
    held = 1.0 / (1.0 + leaks_mm2(batch) * slow / _LEAK_HALF_MM2)
    asleep = 1.0 - np.clip(batch.table("valve_mode_error", places), 0.0, 1.0)
    fired = 1.0 - _misfires(batch, condition)
    return np.asarray(held * lift * _by_mixture(batch, condition) * fired * (0.3 + 0.7 * asleep))


def _by_mixture(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """The trim holds the mean; what a cylinder has more or less of than the others stays its own."""
    count = batch.model.engine.cylinders
    places = cylinders(batch.model)
    fed = np.stack([alive(batch, f"injector_{k}") for k in range(1, count + 1)], axis=1)
    sprayed = np.clip(batch.table("injector_flow", places), 0.0, 2.0) * fed
    air = _AIR[_state(condition)] / count
    dripping = np.maximum(batch.table("injector_leak", places), 0.0) * 1e-3 * 14.0 / air
    runners = tuple(f"runner_{k}" for k in range(1, count + 1))
    leaning = np.maximum(batch.table("leak_area", runners), 0.0) * _CHOKED / air
    rich = (sprayed + dripping) / (1.0 + leaning)
    alive_ones = np.maximum((rich > 0.05).sum(axis=1, keepdims=True), 1)
    mean = np.sum(rich * (rich > 0.05), axis=1, keepdims=True) / alive_ones
    off = rich / np.maximum(mean, 0.05) - 1.0
    lost = np.where(off < 0.0, -_LEAN * off + _LEAN2 * off**2, _RICH2 * off**2)
    return np.asarray(np.clip(1.0 - lost, 0.0, 1.0))


def _misfires(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """Share of each cylinder's firings that are lost, as a true wheel counts them: a bent one only counts wrong."""
    count = range(1, batch.model.engine.cylinders + 1)
    true = with_state(batch, "true wheel", State({k: v for k, v in batch.state.edits.items() if not _of_wheel(*k)}))
    told = [answer(true, Query("misfire_count", Place.of(cylinder=k), condition)) for k in count]
    found = [one for one in told if one is not None]
    if len(found) == len(told):
        return np.clip(np.nan_to_num(np.stack(found, axis=1), nan=1000.0) / 1000.0, 0.0, 1.0)
    return 1.0 - sparks(batch, _GAS[_state(condition)], _VOLTS)


def _of_wheel(variable: str, place: str) -> bool:
    return variable in ("wheel_runout", "wheel_bad_teeth") or (variable, place) == ("learnt_error", "crank_variation")


def _mixed_with_burnt(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """Unevenness from one cycle to the next at idle: exhaust in the charge by more overlap, or led back."""
    if _state(condition) not in ("idle", "warm_up"):
        return np.zeros(batch.rows)
    more = np.zeros(batch.rows)
    cams = {(cam.bank, cam.kind): cam.id for cam in batch.model.engine.cams}
    for (bank, kind), cam in cams.items():
        other = cams.get((bank, "exhaust"))
        if kind == "intake" and other is not None:
            phases = [true_phase(batch.model, one, batch.state, batch.numbers, 0.0) for one in (cam, other)]
            more = np.maximum(more, np.asarray(phases[0]) - np.asarray(phases[1]) - _OVERLAP_FREE)
    back = np.maximum(batch.column("area_error", "egr"), 0.0)
    return np.asarray(_OVERLAP * np.maximum(more, 0.0) + _BURNT * np.minimum(back, 100.0))


def _rough(batch: Batch, query: Query) -> Values:
    each = torques(batch, query.condition)
    uneven = each.std(axis=1)
    lost = 1.0 - each.mean(axis=1)
    total = np.sqrt(uneven**2 + (0.3 * lost) ** 2 + _mixed_with_burnt(batch, query.condition) ** 2)
    return np.asarray(_FULL * (1.0 - np.exp(-total / _FELT)))


def _not_running(model: DriveModel, query: Query) -> str | None:
    stands = query.condition.state in ("off", "key_on", "cranking")
    return "how it runs is felt while it runs" if stands else None


def of_the_cylinders(model: DriveModel) -> Iterator[Nuisance]:
    """What the cylinders of a sound engine differ in.

    Parameters
    ----------
    model : DriveModel

    Yields
    ------
    Nuisance
    """
    for place in cylinders(model):
        for name in ("injector_flow", "ring_leak"):
            yield Nuisance(name, place, *healthy_of(name, place))


def _of_roughness(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from of_the_cylinders(model)


# People differ in what they call rough by half a grade (data/quantities.toml); engines of one kind by less: our guess.
RULES: Mapping[str, Rule] = {"runs_rough": Rule(_rough, Tolerance(0.25), _not_running, _of_roughness)}
