"""What each cylinder is given to light: λ, burnt gas and the pressure it is drawn from, by the one operating point."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.leanburn import burns_diluted, unfired_share
from witnessmark.predict.air import Settled, blended
from witnessmark.predict.batch import Batch
from witnessmark.predict.setting import turned
from witnessmark.vocabulary import Condition

__all__ = ["lambda_of", "plenum_of", "unlightable"]

_Array = NDArray[np.float64]

_SAME = 1e-9
_LEANEST = 50.0  # λ of a cylinder that gets no fuel


def lambda_of(batch: Batch, condition: Condition) -> _Array:
    """λ of every cylinder: its own air and fuel, and what the bank's trim makes of the mean.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    array, shape (n, cylinders) [-]
        50 of a cylinder without fuel.
    """
    return batch.once(("lambda", condition), lambda: blended(batch, turned(condition), _lambdas, ask=False))


def _lambdas(found: Settled) -> _Array:
    return np.minimum(found.point.fuelling.lambda_cylinder, _LEANEST)


def plenum_of(batch: Batch, condition: Condition) -> _Array:
    """Absolute pressure in the plenum.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    array, shape (n,) [Pa]
    """
    key = ("plenum", condition)
    return batch.once(key, lambda: blended(batch, turned(condition), lambda f: f.point.plenum_pressure, ask=False))


def unlightable(batch: Batch, condition: Condition) -> _Array:
    """Chance that a sound spark does not light what is in a cylinder: too lean, too rich, too much exhaust in it.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    array, shape (n, cylinders) [-]
    """
    return batch.once(("unlightable", condition), lambda: blended(batch, turned(condition), _fails, ask=False))


def _fails(found: Settled) -> _Array:
    diluted = found.point.dilution[:, None]
    # Burnt gas narrows what can be lit: each tenth of it takes a tenth of λ (our guess).
    # A λ held at 1 is not lean, whichever way its last digit fell.
    narrowed = _lambdas(found) + np.where(_lambdas(found) > 1.0 + _SAME, np.maximum(diluted, 0.0), 0.0)
    return np.asarray(1.0 - (1.0 - np.asarray(unfired_share(narrowed))) * np.asarray(burns_diluted(diluted)))
