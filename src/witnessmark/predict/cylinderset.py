"""The cylinders of an engine together: their ids, their displacement, and what each leaks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import state_places
from witnessmark.predict.airdescribed import described
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel

__all__ = ["cylinders", "displacement_l", "leaks_mm2"]


def cylinders(model: DriveModel) -> tuple[str, ...]:
    """Ids of the cylinders, as state variables go by them.

    Parameters
    ----------
    model : DriveModel

    Returns
    -------
    tuple of str
    """
    return tuple(f"cylinder_{k}" for k in range(1, model.engine.cylinders + 1))


def displacement_l(model: DriveModel) -> tuple[float, float]:
    """Displacement of the engine and how well it is known.

    Parameters
    ----------
    model : DriveModel

    Returns
    -------
    tuple of (float, float), shape () each [L]
        Mean and spread: one number for all that is predicted of this engine.
    """
    said = described(model.engine)
    return said.litres, said.litres_sd


def leaks_mm2(batch: Batch) -> NDArray[np.float64]:
    """What every cylinder leaks past rings, valves and gasket beyond a sound one.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n, cylinders) [mm2]
    """
    places = cylinders(batch.model)
    leak = batch.table("ring_leak", places) - healthy_of("ring_leak", places[0])[0]
    leak = leak + np.maximum(batch.table("gasket_leak", places), 0.0)
    for kind in ("intake", "exhaust"):
        valves = tuple(f"{place}.{kind}" for place in places)
        leak = leak + batch.table("valve_leak", valves) - healthy_of("valve_leak", valves[0])[0]
    for pair in state_places(batch.model.engine, "pair"):
        both = np.maximum(batch.column("gasket_leak", pair), 0.0)[:, None]
        members = pair.removeprefix("cylinder_").split("-")
        leak = leak + both * np.array([float(place.removeprefix("cylinder_") in members) for place in places])
    return np.asarray(np.maximum(leak, 0.0))
