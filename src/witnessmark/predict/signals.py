"""Position signals that are lost: weak, far away, damaged, foreign, reversed, standing still."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.predict.logistic import step
from witnessmark.predict.model import DriveModel, Values

__all__ = ["column", "faded", "lost_signal"]


def column(values: Values) -> NDArray[np.float64]:
    """Values as one column.

    Parameters
    ----------
    values : float or array, shape (n,)

    Returns
    -------
    ndarray, shape (n, 1)
    """
    return np.atleast_1d(np.asarray(values, dtype=np.float64))[:, None]


def faded(state: State, wheel: str) -> NDArray[np.float64]:
    """Chance that a position signal is too weak for its input at a moment.

    Parameters
    ----------
    state : State
        n states side by side.
    wheel : str
        "crank" or a cam.

    Returns
    -------
    ndarray, shape (n, 1) or (1, 1) [-]
    """
    gain = column(state.get("sensor_gain", wheel)) / (1.0 + 0.35 * (column(state.get("sensor_gap", wheel)) - 1.0))
    return np.asarray(step((0.35 - gain) / 0.1))


def lost_signal(model: DriveModel, wheels: tuple[str, ...], state: State) -> NDArray[np.float64]:
    """Chance that one of several position signals is lost or spoilt.

    Parameters
    ----------
    model : DriveModel
    wheels : tuple of str
        "crank", cams.
    state : State
        n states side by side.

    Returns
    -------
    ndarray, shape (n, 1) or (1, 1) [-]
    """
    chance = np.zeros((1, 1))
    for wheel in wheels:
        weak = faded(state, wheel)
        spoilt = 1.0 - np.exp(-0.5 * column(state.get("wheel_bad_teeth", wheel)))
        foreign = 0.5 * (column(state.get("fitted_part", wheel)) > 1.5)
        flipped = 0.4 * (column(state.get("sensor_polarity", wheel)) < 0.0)
        stopped = 1.0 - column(model.connected(wheel, state))
        sound = (1.0 - weak) * (1.0 - spoilt) * (1.0 - foreign) * (1.0 - flipped) * (1.0 - stopped)
        chance = 1.0 - (1.0 - chance) * sound
    return np.asarray(chance)
