"""How rough it runs to whoever sits in it: cylinders that pull unevenly, and what shakes the seat beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.cams import true_phase
from witnessmark.predict.evenness import of_the_cylinders, torques
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS
from witnessmark.predict.vibration import shaken_seat
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES"]

_OVERLAP_FREE, _OVERLAP = 6.0, 0.02  # degrees more overlap without harm, roughness for each beyond; our guess
_BURNT = 0.01  # roughness for each mm² of exhaust led back at idle; our guess
_FULL, _FELT = 3.0, 0.35  # the grade's end, and the unevenness that brings it to two thirds; our guess
# Unevenness that is felt alike for each m/s² at the seat: 0.4 is grade 1, 1.0 grade 2, as ISO 2631-1:1997, annex C, has
# "a little uncomfortable" from 0.315 and "uncomfortable" from 0.8 m/s² (from memory).
_SHAKEN = 0.4
_FEELS = ("mount_stiffness", "unbalance", "shudder_torque")


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
    felt = _SHAKEN * shaken_seat(batch, query.condition)
    total = np.sqrt(uneven**2 + (0.3 * lost) ** 2 + _mixed_with_burnt(batch, query.condition) ** 2 + felt**2)
    return np.asarray(_FULL * (1.0 - np.exp(-total / _FELT)))


def _not_running(model: DriveModel, query: Query) -> str | None:
    stands = query.condition.state in (*STANDS, "cranking")
    return "how it runs is felt while it runs" if stands else None


def _of_roughness(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from of_the_cylinders(model)
    for name in _FEELS:
        yield Nuisance(name, "driveline", *healthy_of(name, "driveline"))


# People differ in what they call rough by half a grade (data/quantities.toml); engines of one kind by less: our guess.
RULES: Mapping[str, Rule] = {"runs_rough": Rule(_rough, Tolerance(0.25), _not_running, _of_roughness)}
