"""How evenly the cylinders pull: each one's torque over a sound one's (docs/physics.md, "evenness")."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics.leanburn import unfired_share, work_of_mixture
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import true_phase
from witnessmark.predict.misfires import misfiring
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sealing import more_than_sound
from witnessmark.predict.setting import STANDS
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "of_the_cylinders", "torques"]

_LEAK_HALF_MM2 = 30.0  # of a firing stroke at idle; our guess
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
    Docs/physics.md, "evenness": misfires and λ of each cylinder as everywhere; leaks past rings and valves.
    """
    return batch.once(("torques", condition), lambda: _torques(batch, condition))


def _torques(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    places = cylinders_of(batch.model.engine)
    lift = np.ones((batch.rows, len(places)))
    for kind in ("intake", "exhaust"):
        valves = tuple(f"{place}.{kind}" for place in places)
        lift = lift * np.clip(batch.table("lift_scale", valves), 0.0, 1.0) ** 0.5
    slow = 750.0 / np.maximum(
        condition.speed_rpm or (750.0 if (condition.state or "idle") == "idle" else 2200.0), 300.0
    )
    held = 1.0 / (1.0 + more_than_sound(batch) * slow / _LEAK_HALF_MM2)
    asleep = 1.0 - np.clip(batch.table("valve_mode_error", places), 0.0, 1.0)
    mixture = lambda_of(batch, condition)  # its work counts cycles that fail; they are in the misfires here
    given = np.asarray(work_of_mixture(mixture)) / np.maximum(1.0 - np.asarray(unfired_share(mixture)), 0.01)
    fired = 1.0 - misfiring(batch, condition)
    return np.asarray(held * lift * given * fired * (0.3 + 0.7 * asleep))


def _mixed_with_burnt(batch: Batch, condition: Condition) -> NDArray[np.float64]:
    """Unevenness from one cycle to the next at idle: exhaust in the charge by more overlap, or led back."""
    if (condition.state or "idle") not in ("idle", "warm_up"):
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
    stands = query.condition.state in (*STANDS, "cranking")
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
    for place in cylinders_of(model.engine):
        for name in ("injector_flow", "ring_leak"):
            yield Nuisance(name, place, *healthy_of(name, place))


def _of_roughness(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from of_the_cylinders(model)


# People differ in what they call rough by half a grade (data/quantities.toml); engines of one kind by less: our guess.
RULES: Mapping[str, Rule] = {"runs_rough": Rule(_rough, Tolerance(0.25), _not_running, _of_roughness)}
