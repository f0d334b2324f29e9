"""Which codes a state would set: probabilities over limits that are themselves uncertain.

A code is a limit crossed by a quantity, given that its monitor ran. The limits are the maker's and
seldom known: they are one unknown per engine, shared by all codes of a kind, and integrated over.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import Code, codes
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine, cam_id
from witnessmark.predict.cams import apparent_phase, command_of, reported_phase
from witnessmark.predict.model import DriveModel, Numbers, Values
from witnessmark.vocabulary import Condition

__all__ = [
    "LIMITS_DEG",
    "LIMIT_ODDS",
    "cam_of_code",
    "code_chance",
    "felt_key",
    "limits_of",
    "monitored_phase",
    "same_sense",
]

# Where crank-cam codes set, in crank degrees. Of the order of 5° to 10°: common practice, no source;
# shape and odds our guess.
LIMITS_DEG = np.array([4.0, 6.0, 8.0, 10.0, 13.0, 17.0])
LIMIT_ODDS = np.array([0.12, 0.22, 0.24, 0.2, 0.14, 0.08])
_BLUR_DEG = 1.2  # a monitor's own noise, and the healthy spread it sees; our guess
_FALSE = 0.02  # a code that nothing physical explains (docs/physics.md, "codes": our guess)
_MISSES = 0.08  # a monitor that ought to set and has not, or is not there
_BANK_RELATION_EXISTS = 0.5  # makers that split off the whole-bank code; our guess


def limits_of(engine: Engine) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The limits of the correlation codes and their odds: as described, else the usual ones.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    limits : ndarray, shape (m,) [deg]
    odds : ndarray, shape (m,) [-]
        Summing to 1. A described range becomes five limits of even odds.
    """
    described = engine.reporting.correlation_limit_deg
    if described.values:
        return np.asarray(described.values), np.asarray(described.weights)
    if described.low is not None and described.high is not None:
        return np.linspace(described.low, described.high, 5), np.full(5, 0.2)
    return LIMITS_DEG, LIMIT_ODDS


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


def cam_of_code(engine: Engine, code: Code) -> str:
    """The cam a code speaks of, by the description's naming of A and B.

    Parameters
    ----------
    engine : Engine
    code : Code

    Returns
    -------
    str
        Cam id; the single cam where there is one.
    """
    bank = code.bank if code.bank in {cam.bank for cam in engine.cams} else 1
    kinds = [cam.kind for cam in engine.cams if cam.bank == bank]
    if "single" in kinds or len(kinds) < 2:
        return cam_id(bank, kinds[0] if kinds else "single")
    a_is = engine.reporting.a_is or "intake"
    other = "exhaust" if a_is == "intake" else "intake"
    return cam_id(bank, a_is if code.side == "A" else other)


def same_sense(engine: Engine, name: str) -> tuple[object, ...]:
    """What a code speaks about on this engine: codes and namings with the same sense have the same chance.

    Parameters
    ----------
    engine : Engine
    name : str
        "P0016".

    Returns
    -------
    tuple
        Kind, and the wheel or bank it is about.
    """
    code = codes().get(name)
    if code is None:
        return ("unknown", name)
    about: object = CRANK if code.of == "crank" else cam_of_code(engine, code)
    return (code.kind, code.bank if code.kind == "bank_relation" else about)


def code_chance(model: DriveModel, name: str, state: State, numbers: Numbers, rows: int) -> NDArray[np.float64] | None:
    """Chance that a code is set, for every state and every possible limit.

    Parameters
    ----------
    model : DriveModel
    name : str
        "P0016".
    state : State
        n states side by side.
    numbers : mapping
    rows : int
        n.

    Returns
    -------
    ndarray, shape (n, m), or None
        m limits of :func:`limits_of`; None where nothing here predicts the code.
    """
    code = codes().get(name)
    if code is None or code.kind not in _RULES:
        return None
    limits, _ = limits_of(model.engine)
    physical = _RULES[code.kind](model, code, state, numbers, limits)
    physical = np.broadcast_to(physical, (rows, limits.size))
    return np.asarray(_FALSE + (1.0 - _FALSE - _MISSES) * physical)


def _column(values: Values) -> NDArray[np.float64]:
    return np.atleast_1d(np.asarray(values, dtype=np.float64))[:, None]


def _beyond(x: NDArray[np.float64], limits: NDArray[np.float64]) -> NDArray[np.float64]:
    return _step((x - limits[None, :]) / _BLUR_DEG)


def _step(spreads: NDArray[np.float64]) -> NDArray[np.float64]:
    """A blurred threshold: logistic, with the standard deviation of one unit."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.pi / 3.0**0.5 * np.clip(spreads, -30.0, 30.0))))


def _relation(model: DriveModel, cam: str, state: State, numbers: Numbers) -> NDArray[np.float64]:
    """Absolute apparent phase against what was learnt; a stopped cam is as wrong as can be."""
    return np.nan_to_num(np.abs(_column(monitored_phase(model, cam, state, numbers))), nan=180.0)


def _correlation(
    model: DriveModel, code: Code, state: State, numbers: Numbers, limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    cam = cam_of_code(model.engine, code)
    return np.maximum(_beyond(_relation(model, cam, state, numbers), limits), 0.7 * _lost(model, (cam, CRANK), state))


def _bank_relation(
    model: DriveModel, code: Code, state: State, numbers: Numbers, limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    cams = [cam.id for cam in model.engine.cams if cam.bank == code.bank]
    if not cams:  # a bank without a cam of its own has nothing to disagree
        return np.zeros((1, limits.size))
    chance = np.ones((1, limits.size))
    for cam in cams:
        chance = chance * _beyond(_relation(model, cam, state, numbers), limits)
    return _BANK_RELATION_EXISTS * chance


def _off_target(sign: float) -> Callable[..., NDArray[np.float64]]:
    def rule(
        model: DriveModel, code: Code, state: State, numbers: Numbers, limits: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Earlier (or later) than asked, parked or moved, whichever is further off."""
        cam = cam_of_code(model.engine, code)
        assert model.engine.drive is not None
        if model.engine.drive.phaser(cam) is None:
            return np.zeros((1, limits.size))
        worst = np.full((1, limits.size), 0.0)
        for condition in (Condition(state="idle", phaser="parked"), Condition(state="cruise", phaser="moved")):
            command, _ = command_of(model, cam, condition)
            reading = reported_phase(model, cam, state, {**numbers, "sign": 1.0}, command, less_target=True)
            reading = reading + numbers.get(felt_key(cam), 0.0)
            worst = np.maximum(worst, _beyond(np.nan_to_num(sign * _column(reading), nan=-180.0), limits))
        return 0.8 * worst

    return rule


def _slow(
    model: DriveModel, code: Code, state: State, numbers: Numbers, limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    cam = cam_of_code(model.engine, code)
    rate = _column(state.get("phaser_rate", cam)) * (np.abs(_column(state.get("phaser_gain", cam))) > 0.05)
    return np.asarray(0.7 * _step((45.0 - rate) / 15.0) * np.ones((1, limits.size)))


def _lost(model: DriveModel, wheels: tuple[str, ...], state: State) -> NDArray[np.float64]:
    """Chance that a position signal is lost or spoilt: weak, far away, damaged, standing still."""
    chance = np.zeros((1, 1))
    for wheel in wheels:
        gain = _column(state.get("sensor_gain", wheel)) / (1.0 + 0.35 * (_column(state.get("sensor_gap", wheel)) - 1.0))
        weak = _step((0.35 - gain) / 0.1)
        spoilt = 1.0 - np.exp(-0.5 * _column(state.get("wheel_bad_teeth", wheel)))
        foreign = 0.5 * (_column(state.get("fitted_part", wheel)) > 1.5)
        flipped = 0.4 * (_column(state.get("sensor_polarity", wheel)) < 0.0)
        stopped = 1.0 - _column(model.connected(wheel, state))
        sound = (1.0 - weak) * (1.0 - spoilt) * (1.0 - foreign) * (1.0 - flipped) * (1.0 - stopped)
        chance = 1.0 - (1.0 - chance) * sound
    return np.asarray(chance)


def _sensor(share: float) -> Callable[..., NDArray[np.float64]]:
    def rule(
        model: DriveModel, code: Code, state: State, numbers: Numbers, limits: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """A lost signal sets one or another of its sensor's codes, each with its share."""
        wheel = CRANK if code.of == "crank" else cam_of_code(model.engine, code)
        return np.asarray(share * _lost(model, (wheel,), state) * np.ones((1, limits.size)))

    return rule


_RULES: dict[str, Callable[..., NDArray[np.float64]]] = {
    "correlation": _correlation,
    "bank_relation": _bank_relation,
    "over_advanced": _off_target(1.0),
    "over_retarded": _off_target(-1.0),
    "slow": _slow,
    "circuit": _sensor(0.6),
    "performance": _sensor(0.5),
    "low": _sensor(0.2),
    "high": _sensor(0.1),
    "intermittent": _sensor(0.4),
}
