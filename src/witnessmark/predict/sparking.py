"""Which share of the firings spark in the gap, for every cylinder at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.firing import FiringState, GasAtSpark, fire
from witnessmark.physics.ignition import Coil
from witnessmark.predict.batch import Batch
from witnessmark.predict.feeds import alive
from witnessmark.predict.model import Values

__all__ = ["sparks"]


def sparks(batch: Batch, gas: GasAtSpark, volts: Values) -> NDArray[np.float64]:
    """Share of the firings of every cylinder that spark in the gap.

    Parameters
    ----------
    batch : Batch
    gas : GasAtSpark
        Between the electrodes.
    volts : float or array, shape (n,) [V]
        On board.

    Returns
    -------
    ndarray, shape (n, cylinders) [-]

    Notes
    -----
    :mod:`witnessmark.physics.firing`, and whether the coil is fed and switched at all.
    """
    count = batch.model.engine.cylinders
    names = {name: tuple(f"{name}_{k}" for k in range(1, count + 1)) for name in ("coil", "plug", "boot")}
    state = FiringState(
        coil_energy=np.maximum(batch.table("coil_energy", names["coil"]), 0.0),
        winding=np.maximum(batch.table("winding", names["coil"]), 1e-3),
        spark_gap=np.maximum(batch.table("spark_gap", names["plug"]), 0.0),
        plug_shunt=np.maximum(batch.table("plug_shunt", names["plug"]), 0.0),
        boot_kv=np.maximum(batch.table("breakdown_kv", names["boot"]), 0.1),
        plug_kv=np.maximum(batch.table("breakdown_kv", names["plug"]), 0.1),
        boot_ohm=np.maximum(batch.table("resistance", names["boot"]), 0.0),
    )
    across = np.broadcast_to(np.asarray(volts, dtype=np.float64), (batch.rows,))[:, None]
    missed = np.asarray(fire(state, gas, Coil(), volts=across).misfire_share)
    fed = np.stack([alive(batch, coil) for coil in names["coil"]], axis=1)
    return np.asarray((1.0 - missed) * fed)
