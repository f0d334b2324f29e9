"""How evenly the cylinders pull: each one's torque over a sound one's (docs/physics.md, "evenness")."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.firingwork import firing_work
from witnessmark.predict.misfires import misfiring
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance
from witnessmark.vocabulary import Condition

__all__ = ["of_the_cylinders", "torques"]


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
    Docs/physics.md, "evenness": what its firings give, as far as they burn.
    """
    return batch.once(
        ("torques", condition), lambda: firing_work(batch, condition) * (1.0 - misfiring(batch, condition))
    )


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
