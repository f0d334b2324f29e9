"""Which codes a state would set: probabilities over limits that are themselves uncertain.

A code is a limit crossed by a quantity, given that its monitor ran. The limits are the maker's and seldom known. Those
of the timing drive are one unknown per engine, shared by all its codes and integrated over; every other code has a
limit of its own (:mod:`witnessmark.predict.codelimits`). Most follow from what the code's row says: a quantity and a
limit (:mod:`witnessmark.predict.codethreshold`) or a part and its circuit (:mod:`witnessmark.predict.codecircuit`). Why
the others are not predicted says :mod:`witnessmark.predict.codeunpredicted`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import Code, codes
from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.engine.supply_names import cam_node
from witnessmark.engine.types import Engine, cam_id
from witnessmark.predict import codedrive
from witnessmark.predict.batch import Batch
from witnessmark.predict.codedrive import felt_key, monitored_phase
from witnessmark.predict.codelimits import LIMIT_ODDS, LIMITS_DEG
from witnessmark.predict.codeunpredicted import why_no_chance
from witnessmark.predict.model import DriveModel, Numbers

__all__ = [
    "LIMITS_DEG",
    "LIMIT_ODDS",
    "cam_of_code",
    "code_chance",
    "felt_key",
    "is_of_the_drive",
    "is_predicted",
    "limits_of",
    "monitored_phase",
    "same_sense",
]

_FALSE = 0.005  # a code of the drive that nothing physical explains (docs/physics.md, "codes": our guess)
_FALSE_ELSEWHERE = 0.001  # any other: of some 300 that an engine may set, one in three engines has one for nothing
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
    if is_of_the_drive(code):
        physical = code.share * _OF_DRIVE[code.kind](model, code, state, numbers, limits)
        if code.kind == "intermittent" and any(variable == "dropout_rate" for variable, _ in state.edits):
            physical = np.maximum(physical, code.share * _shaken(model, code, state, numbers, rows, batch)[:, None])
    else:
        shared = Batch(model, state, numbers, rows) if batch is None else batch
        found = _other(shared, code)
        physical = None if found is None else code.share * np.asarray(found, dtype=np.float64)[:, None]
    if physical is None:
        return None
    physical = np.broadcast_to(physical, (rows, limits.size))
    false = _FALSE if is_of_the_drive(code) else _FALSE_ELSEWHERE
    return np.asarray(false + (1.0 - false - _MISSES) * physical)


def is_predicted(code: Code) -> bool:
    """Whether a rule here gives the chance of a code, on an engine that has what it is about.

    Parameters
    ----------
    code : Code

    Returns
    -------
    bool
    """
    return is_of_the_drive(code) or _rule(code) is not None


def is_of_the_drive(code: Code) -> bool:
    """Whether a code is predicted by the rules of the timing drive, whose limits are one unknown of the engine.

    Parameters
    ----------
    code : Code

    Returns
    -------
    bool
    """
    return code.of in _DRIVEN and code.kind in _OF_DRIVE


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
        wheel = cam_of_code(m.engine, code) if code.of == "cam" else CRANK
        return codedrive.sensor(m, wheel, s, limits, kind=kind)

    return rule


_SIGNALS = ("circuit", "performance", "low", "high", "intermittent")

_OF_DRIVE: Mapping[str, _Drive] = {
    "correlation": _correlation,
    "bank_relation": _bank_relation,
    "over_advanced": _off_target(1.0),
    "over_retarded": _off_target(-1.0),
    "slow": _slow,
    **{kind: _position(kind) for kind in _SIGNALS},
    "no_signal": _position("circuit"),
}

_DRIVEN = ("crank", "cam", "speed_input", "cam_cold")
"""What codes of the timing drive, its wheels and their sensors are about."""


def _shaken(
    model: DriveModel, code: Code, state: State, numbers: Numbers, rows: int, batch: Batch | None
) -> NDArray[np.float64]:
    """A position sensor whose contacts come and go."""
    from witnessmark.predict.codecircuit import comes_and_goes

    name = cam_node("cam", cam_of_code(model.engine, code)) if code.of == "cam" else CRANK
    return comes_and_goes(Batch(model, state, numbers, rows) if batch is None else batch, name)


def _other(batch: Batch, code: Code) -> NDArray[np.float64] | None:
    rule = _rule(code)
    found = None if rule is None else rule(batch, code)
    if found is None or code.circuit != "signal" or not code.quantity:
        return found
    from witnessmark.predict.codecircuit import looked_at

    return found * looked_at(batch, code)


def _rule(code: Code) -> _Other | None:
    """How a code outside the timing drive is predicted; imported at need, for the supply graph takes its time."""
    from witnessmark.predict import codeparts

    special: Mapping[tuple[str, str], _Other] = {
        ("cam", "actuator"): lambda batch, one: codeparts.oil_valve(batch, cam_of_code(batch.model.engine, one)),
        ("maf", "performance"): codeparts.against_pressure,
        ("catalyst", "efficiency"): codeparts.catalyst,
        ("cylinder", "misfire"): codeparts.misfire,
        ("engine", "misfire"): codeparts.misfire,
        ("misfire_kind", "one_cylinder"): codeparts.misfire,
        ("misfire_kind", "first_turns"): codeparts.misfire,
        ("valve_lift", "stuck_off"): codeparts.lift,
        ("valve_lift", "stuck_on"): codeparts.lift,
        ("o2_exchanged", "exchanged"): codeparts.exchanged,
    }
    if why_no_chance(code) is not None:
        return None
    if (code.of, code.kind) in special:
        return special[code.of, code.kind]
    if code.quantity and code.limit:
        from witnessmark.predict.codethreshold import crossed

        return crossed
    if code.circuit and code.part:
        from witnessmark.predict.codecircuit import KINDS, circuit

        return circuit if code.kind in KINDS else None
    return None
