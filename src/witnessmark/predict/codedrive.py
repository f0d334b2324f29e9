"""Chances of the codes of the timing drive, its wheels and its sensors (docs/physics.md, "codes").

Every function gives the physical chance, before what codes do for no physical reason.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.predict.cams import apparent_phase, command_of, reported_phase
from witnessmark.predict.logistic import step
from witnessmark.predict.model import DriveModel, Numbers, Values
from witnessmark.predict.signals import column, lost_signal
from witnessmark.vocabulary import Condition

__all__ = [
    "bank_relation",
    "correlation",
    "felt_key",
    "monitored_phase",
    "off_target",
    "sensor",
    "slow",
]

_BLUR_DEG = 1.2  # a monitor's own noise, and the healthy spread it sees; our guess
_PERFORMANCE = 0.5  # computers that set the code of "system performance" for a phaser that answers slowly; our guess
_BANK_RELATION_EXISTS = 0.5  # makers that split off the whole-bank code; our guess
_SENSOR_SHARES = {"circuit": 0.6, "performance": 0.5, "low": 0.2, "high": 0.1, "intermittent": 0.4}


def felt_key(cam: str) -> str:
    """The key under which it may be assumed how far a sound engine's own differences move a cam, in crank degrees.

    Readings of the same cam tell it: a code and a reading see one and the same engine.

    Parameters
    ----------
    cam : str

    Returns
    -------
    str
    """
    return f"felt:{cam}"


def monitored_phase(model: DriveModel, cam: str, state: State, numbers: Numbers) -> Values:
    """What the computer's monitors see of a parked cam: apparent phase less what was learnt.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
        n states side by side.
    numbers : mapping of str to float or array, shape (n,)
        Description numbers assumed for this batch; :func:`felt_key` adds to the phase.

    Returns
    -------
    float or array, shape (n,) [deg]
        + = early; NaN where the cam stands still.
    """
    learnt = state.get("learnt_error", f"cam_zero:{cam}")
    return apparent_phase(model, cam, state, numbers, 0.0) - learnt + numbers.get(felt_key(cam), 0.0)


def _beyond(x: NDArray[np.float64], limits: NDArray[np.float64]) -> NDArray[np.float64]:
    return step((x - limits[None, :]) / _BLUR_DEG)


def _relation(model: DriveModel, cam: str, state: State, numbers: Numbers) -> NDArray[np.float64]:
    """Absolute apparent phase against what was learnt; a stopped cam is as wrong as can be."""
    return np.nan_to_num(np.abs(column(monitored_phase(model, cam, state, numbers))), nan=180.0)


def correlation(
    model: DriveModel, cam: str, state: State, numbers: Numbers, limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Crank and one cam do not agree.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
        n states side by side.
    numbers : mapping
    limits : ndarray, shape (m,) [deg]

    Returns
    -------
    ndarray, shape (n, m) or (1, m) [-]
    """
    relation = _beyond(_relation(model, cam, state, numbers), limits)
    return np.maximum(relation, 0.7 * lost_signal(model, (cam, CRANK), state))


def bank_relation(
    model: DriveModel, bank: int | None, state: State, numbers: Numbers, limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Crank and all cams of a bank do not agree.

    Parameters
    ----------
    model : DriveModel
    bank : int
    state : State
        n states side by side.
    numbers : mapping
    limits : ndarray, shape (m,) [deg]

    Returns
    -------
    ndarray, shape (n, m) or (1, m) [-]
        0 for a bank without a cam of its own: it has nothing to disagree.
    """
    cams = [cam.id for cam in model.engine.cams if cam.bank == bank]
    if not cams:
        return np.zeros((1, limits.size))
    chance = np.ones((1, limits.size))
    for cam in cams:
        chance = chance * _beyond(_relation(model, cam, state, numbers), limits)
    return _BANK_RELATION_EXISTS * chance


def off_target(
    model: DriveModel, cam: str, state: State, numbers: Numbers, limits: NDArray[np.float64], *, sign: float
) -> NDArray[np.float64]:
    """Earlier (or later) than asked, parked or moved, whichever is further off.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
        n states side by side.
    numbers : mapping
    limits : ndarray, shape (m,) [deg]
    sign : float [-]
        1 for earlier, -1 for later.

    Returns
    -------
    ndarray, shape (n, m) or (1, m) [-]
        0 without a phaser.

    Notes
    -----
    The codes of earlier read "over-advanced or system performance", those of later "over-retarded" only (SAE J2012,
    from memory): one that answers slowly sets the former on some computers.
    """
    assert model.engine.drive is not None
    if model.engine.drive.phaser(cam) is None:
        return np.zeros((1, limits.size))
    worst = np.full((1, limits.size), 0.0)
    for condition in (Condition(state="idle", phaser="parked"), Condition(state="cruise", phaser="moved")):
        command, _ = command_of(model, cam, condition)
        reading = reported_phase(model, cam, state, {**numbers, "sign": 1.0}, command, less_target=True)
        reading = reading + numbers.get(felt_key(cam), 0.0)
        worst = np.maximum(worst, _beyond(np.nan_to_num(sign * column(reading), nan=-180.0), limits))
    if sign < 0.0:
        return 0.8 * worst
    return np.maximum(0.8 * worst, _PERFORMANCE * slow(model, cam, state, numbers, limits))


def slow(
    model: DriveModel, cam: str, state: State, numbers: Numbers, limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    """A phaser answers slowly.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
        n states side by side.
    numbers : mapping
    limits : ndarray, shape (m,) [deg]

    Returns
    -------
    ndarray, shape (n, m) or (1, m) [-]
    """
    rate = column(state.get("phaser_rate", cam)) * (np.abs(column(state.get("phaser_gain", cam))) > 0.05)
    return np.asarray(0.7 * step((45.0 - rate) / 15.0) * np.ones((1, limits.size)))


def sensor(
    model: DriveModel, wheel: str, state: State, limits: NDArray[np.float64], *, kind: str
) -> NDArray[np.float64]:
    """A lost signal sets one or another of its sensor's codes, each with its share.

    Parameters
    ----------
    model : DriveModel
    wheel : str
        "crank" or a cam.
    state : State
        n states side by side.
    limits : ndarray, shape (m,) [deg]
    kind : str
        "circuit", "performance", "low", "high", "intermittent".

    Returns
    -------
    ndarray, shape (n, m) or (1, m) [-]
    """
    return np.asarray(_SENSOR_SHARES[kind] * lost_signal(model, (wheel,), state) * np.ones((1, limits.size)))
