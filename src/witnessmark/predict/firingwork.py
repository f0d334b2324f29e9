"""What a firing that burns gives to the crank, over one of a sound cylinder (docs/physics.md, "work of a firing")."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.leanburn import unfired_share, work_of_mixture
from witnessmark.predict.air import described_of, speed_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.cylinderair import filling_of, leak_work
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.setting import turned
from witnessmark.vocabulary import Condition

__all__ = ["firing_work", "lacking"]

_Array = NDArray[np.float64]


def firing_work(batch: Batch, condition: Condition) -> _Array:
    """Torque of the firings that burn, by cylinder; those that fail are no part of it.

    Parameters
    ----------
    batch : Batch
    condition : Condition
        One in which the engine turns.

    Returns
    -------
    ndarray, shape (n, cylinders) [-]
        1 of a sound one.
    """
    return batch.once(("firing work", condition), lambda: _work(batch, condition))


def _work(batch: Batch, condition: Condition) -> _Array:
    said, speed = described_of(batch), speed_of(batch, turned(condition))
    held = filling_of(batch, said, speed) * leak_work(batch, said, speed)
    mixture = lambda_of(batch, condition)
    given = np.asarray(work_of_mixture(mixture)) / np.maximum(1.0 - np.asarray(unfired_share(mixture)), 0.01)
    return np.asarray(held * given)


def lacking(batch: Batch, condition: Condition) -> _Array:
    """What the burning firings of each cylinder lack of the others' work.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    ndarray, shape (n, cylinders) [-]
        0 where it gives as much as the middle one of all, 1 where it gives nothing.
    """
    work = firing_work(batch, condition)
    middle = np.maximum(np.median(work, axis=1, keepdims=True), 1e-6)
    return np.asarray(np.clip(1.0 - work / middle, 0.0, 1.0))
