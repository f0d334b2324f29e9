"""How evenly the cylinders pull: each one's torque over a sound one's (docs/physics.md, "evenness")."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics.leanburn import unfired_share, work_of_mixture
from witnessmark.predict.batch import Batch
from witnessmark.predict.misfires import misfiring
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.sealing import more_than_sound
from witnessmark.vocabulary import Condition

__all__ = ["of_the_cylinders", "torques"]

_LEAK_HALF_MM2 = 30.0  # of a firing stroke at idle; our guess


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
