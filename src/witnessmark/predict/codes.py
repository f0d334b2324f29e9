"""Which codes a state would set: probabilities over limits that are themselves uncertain.

A code is a limit crossed by a quantity, given that its monitor ran. The limits are the maker's and seldom known. Those
of the timing drive are one unknown per engine, shared by all its codes and integrated over; every other code has a
limit of its own (:mod:`witnessmark.predict.codelimits`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import Code, codes
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine, cam_id
from witnessmark.predict import codeair, codedrive, codeparts
from witnessmark.predict.batch import Batch
from witnessmark.predict.codedrive import felt_key, monitored_phase
from witnessmark.predict.codelimits import LIMIT_ODDS, LIMITS_DEG
from witnessmark.predict.model import DriveModel, Numbers

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

_FALSE = 0.02  # a code that nothing physical explains (docs/physics.md, "codes": our guess)
_MISSES = 0.08  # a monitor that ought to set and has not, or is not there


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
    if code is None or code.of not in ("crank", "cam"):
        return ("unknown" if code is None else code.of, name)
    about: object = CRANK if code.of == "crank" else cam_of_code(engine, code)
    return (code.kind, code.bank if code.kind == "bank_relation" else about)


def code_chance(
    model: DriveModel, name: str, state: State, numbers: Numbers, rows: int, *, batch: Batch | None = None
) -> NDArray[np.float64] | None:
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
    batch : Batch, optional
        Of the same model, state, numbers and rows: what other quantities have worked out for it is used.

    Returns
    -------
    ndarray, shape (n, m), or None
        m limits of :func:`limits_of`; None where nothing here predicts the code, or this engine has not what it is
        about.
    """
    code = codes().get(name)
    if code is None:
        return None
    limits, _ = limits_of(model.engine)
    physical: NDArray[np.float64] | None
    if code.of in ("crank", "cam") and code.kind in _OF_DRIVE:
        physical = _OF_DRIVE[code.kind](model, code, state, numbers, limits)
    elif (code.of, code.kind) in _OTHERS:
        shared = Batch(model, state, numbers, rows) if batch is None else batch
        found = _OTHERS[code.of, code.kind](shared, code)
        physical = None if found is None else np.asarray(found, dtype=np.float64)[:, None]
    else:
        return None
    if physical is None:
        return None
    physical = np.broadcast_to(physical, (rows, limits.size))
    return np.asarray(_FALSE + (1.0 - _FALSE - _MISSES) * physical)


_Limits = NDArray[np.float64]
_Drive = Callable[[DriveModel, Code, State, Numbers, _Limits], NDArray[np.float64]]
_Other = Callable[[Batch, Code], NDArray[np.float64] | None]


def _correlation(m: DriveModel, code: Code, s: State, n: Numbers, limits: _Limits) -> NDArray[np.float64]:
    return codedrive.correlation(m, cam_of_code(m.engine, code), s, n, limits)


def _bank_relation(m: DriveModel, code: Code, s: State, n: Numbers, limits: _Limits) -> NDArray[np.float64]:
    return codedrive.bank_relation(m, code.bank, s, n, limits)


def _slow(m: DriveModel, code: Code, s: State, n: Numbers, limits: _Limits) -> NDArray[np.float64]:
    return codedrive.slow(m, cam_of_code(m.engine, code), s, n, limits)


def _off_target(sign: float) -> _Drive:
    return lambda m, code, s, n, limits: codedrive.off_target(m, cam_of_code(m.engine, code), s, n, limits, sign=sign)


def _position(kind: str) -> _Drive:
    def rule(m: DriveModel, code: Code, s: State, n: Numbers, limits: _Limits) -> NDArray[np.float64]:
        wheel = CRANK if code.of == "crank" else cam_of_code(m.engine, code)
        return codedrive.sensor(m, wheel, s, limits, kind=kind)

    return rule


def _sensor(name: str, kind: str) -> _Other:
    return lambda batch, code: codeparts.sensor(batch, name, kind)


def _idle(kind: str) -> _Other:
    return lambda batch, code: codeair.idle(batch, kind)


_SIGNALS = ("circuit", "performance", "low", "high", "intermittent")

_OF_DRIVE: Mapping[str, _Drive] = {
    "correlation": _correlation,
    "bank_relation": _bank_relation,
    "over_advanced": _off_target(1.0),
    "over_retarded": _off_target(-1.0),
    "slow": _slow,
    **{kind: _position(kind) for kind in _SIGNALS},
}

_OTHERS: Mapping[tuple[str, str], _Other] = {
    ("cam", "actuator"): lambda batch, code: codeparts.oil_valve(batch, cam_of_code(batch.model.engine, code)),
    ("mixture", "lean"): lambda batch, code: codeair.mixture(batch, code.bank or 1, sign=1.0),
    ("mixture", "rich"): lambda batch, code: codeair.mixture(batch, code.bank or 1, sign=-1.0),
    ("rail", "low"): lambda batch, code: codeair.rail(batch, high=False),
    ("rail", "high"): lambda batch, code: codeair.rail(batch, high=True),
    ("catalyst", "efficiency"): lambda batch, code: codeair.catalyst(batch, code.bank or 1),
    ("cylinder", "misfire"): lambda batch, code: codeparts.misfire(batch, code.cylinder),
    ("engine", "misfire"): lambda batch, code: codeparts.misfire(batch, None),
    ("wheel", "not_learnt"): lambda batch, code: codeparts.learnt_wheel(batch),
    **{("idle", kind): _idle(kind) for kind in ("control", "below_target", "above_target")},
    **{(name, kind): _sensor(name, kind) for name in ("maf", "map", "iat") for kind in _SIGNALS},
}
