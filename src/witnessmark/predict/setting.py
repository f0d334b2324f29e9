"""What all readings of one engine share of its surroundings: speed, warmth, weather, what is switched on.

As the condition says, else what is usual of its state. One key and one spread for each, whoever asks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from witnessmark.predict.batch import Batch
from witnessmark.predict.model import Values
from witnessmark.predict.rule import Nuisance
from witnessmark.vocabulary import Condition

__all__ = [
    "HOT_C", "SHARED", "STANDS", "ambient_c", "ambient_kpa", "coolant_c", "loads_a", "oil_c", "own_speed", "own_warmth",
    "pressure", "speed_rpm", "turned", "usual_rpm", "weather",
]  # fmt: skip

HOT_C = 90.0
"""An engine's warmth once it has run for a while, in Celsius."""

STANDS = ("off", "key_on")
"""States in which the crank does not turn."""

SHARED: Mapping[str, tuple[float, float]] = {
    # Speed in rpm; our guess, except that "raised" is about 2,500 by definition. A cold engine idles faster.
    "speed:cranking": (200.0, 30.0),
    "speed:idle": (750.0, 60.0),
    "speed:raised": (2500.0, 100.0),
    "speed:cruise": (2200.0, 400.0),
    "speed:acceleration": (3000.0, 500.0),
    "speed:full_load": (4500.0, 600.0),
    "speed:snap": (2500.0, 300.0),
    "speed:overrun": (2200.0, 400.0),
    # Celsius: the air, an engine that was run before or not (nobody has said), one on its way, hot oil; our guess.
    "heat:outside_c": (20.0, 10.0),
    "heat:soaked_c": (25.0, 15.0),
    "heat:warm_up_c": (50.0, 15.0),
    "heat:oil_c": (HOT_C, 6.0),
    "air:ambient_kpa": (100.0, 2.5),  # near sea level; our guess
    "electric:loads_a": (
        35.0,
        9.5,
    ),  # at 13.5 V, between nothing switched on and all of it; our guess
}
"""Numbers that several readings share, by key: mean and spread of sound engines as they are looked at."""

_SOAKED = (*STANDS, "cranking")
_COLDEST, _HOTTEST = -40.0, 150.0
_FAST_BELOW_C, _RPM_PER_K, _MOST_K = 70.0, 7.0, 60.0  # how much faster a cold engine idles; our guess


def _number(batch: Batch, key: str) -> Values:
    return batch.number(key, SHARED[key][0])


def turned(condition: Condition) -> Condition:
    """The condition with its engine turning: what is asked of a standing one is asked of it cranked.

    Parameters
    ----------
    condition : Condition

    Returns
    -------
    Condition
        Idle where nothing is said.
    """
    state = condition.state or "idle"
    return replace(condition, state="cranking" if state in STANDS else state)


def usual_rpm(state: str | None) -> float:
    """Usual speed of a state.

    Parameters
    ----------
    state : str, optional
        Idle where nothing is said.

    Returns
    -------
    float, shape () [rpm]
    """
    if state in STANDS:
        return 0.0
    cold = _RPM_PER_K * (_FAST_BELOW_C - SHARED["heat:warm_up_c"][0]) if state == "warm_up" else 0.0
    return SHARED[_speed_key(state)][0] + cold


def _speed_key(state: str | None) -> str:
    return f"speed:{state}" if f"speed:{state}" in SHARED else "speed:idle"


def speed_rpm(batch: Batch, condition: Condition) -> Values:
    """Speed of the crank while something is read.

    Parameters
    ----------
    batch : Batch
    condition : Condition
        Idle where nothing is said.

    Returns
    -------
    float or array, shape (n,) [rpm]
        0 with the engine off. A cold engine idles faster.
    """
    if condition.state in STANDS:
        return 0.0
    if condition.speed_rpm:
        return condition.speed_rpm
    key = _speed_key(condition.state)
    if key != "speed:idle":
        return _number(batch, key)
    cold = np.clip(_FAST_BELOW_C - np.asarray(coolant_c(batch, condition)), 0.0, _MOST_K)
    return _number(batch, key) + _RPM_PER_K * cold


def own_speed(condition: Condition) -> Iterator[Nuisance]:
    """What is open of the speed.

    Parameters
    ----------
    condition : Condition

    Yields
    ------
    Nuisance
        None where the speed was said.
    """
    if not condition.speed_rpm and condition.state not in (*STANDS, "cranking"):
        key = _speed_key(condition.state)
        yield Nuisance(key, "", *SHARED[key])
        if condition.state == "warm_up":
            yield from own_warmth(condition)


def coolant_c(batch: Batch, condition: Condition) -> Values:
    """Warmth of the coolant.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [C]
        As given; soaked before a start, between while warming up, else what the thermostat holds.
    """
    if condition.coolant_c is not None:
        return condition.coolant_c
    holds = batch.get("thermostat_temp", "engine")
    if condition.state in _SOAKED:
        return _number(batch, "heat:soaked_c")
    return np.minimum(_number(batch, "heat:warm_up_c"), holds) if condition.state == "warm_up" else holds


def oil_c(batch: Batch, condition: Condition) -> Values:
    """Warmth of the oil, taken as the coolant's.

    Parameters
    ----------
    batch : Batch
    condition : Condition

    Returns
    -------
    float or array, shape (n,) [C]
    """
    if condition.coolant_c is not None:
        return float(np.clip(condition.coolant_c, _COLDEST, _HOTTEST))
    return np.clip(_number(batch, _warmth_key(condition)), _COLDEST, _HOTTEST)


def _warmth_key(condition: Condition) -> str:
    """A soaked engine's temperature is one unknown for whatever is read of it."""
    if condition.state in _SOAKED:
        return "heat:soaked_c"
    return "heat:warm_up_c" if condition.state == "warm_up" else "heat:oil_c"


def own_warmth(condition: Condition) -> Iterator[Nuisance]:
    """What is open of the oil's warmth.

    Parameters
    ----------
    condition : Condition

    Yields
    ------
    Nuisance
        None where the coolant's temperature was said.
    """
    if condition.coolant_c is None:
        key = _warmth_key(condition)
        yield Nuisance(key, "", *SHARED[key])


def ambient_c(batch: Batch) -> Values:
    """Temperature of the air outside.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    float or array, shape (n,) [C]
    """
    return np.clip(_number(batch, "heat:outside_c"), _COLDEST, 60.0)


def weather() -> Nuisance:
    """What is open of the air outside.

    Returns
    -------
    Nuisance
    """
    return Nuisance("heat:outside_c", "", *SHARED["heat:outside_c"])


def ambient_kpa(batch: Batch) -> Values:
    """Pressure outside.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    float or array, shape (n,) [kPa]
    """
    return np.clip(_number(batch, "air:ambient_kpa"), 50.0, 110.0)


def pressure() -> Nuisance:
    """What is open of the pressure outside.

    Returns
    -------
    Nuisance
    """
    return Nuisance("air:ambient_kpa", "", *SHARED["air:ambient_kpa"])


def loads_a(batch: Batch) -> Values:
    """Current of what is switched on, at 13.5 V.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    float or array, shape (n,) [A]
    """
    return np.maximum(_number(batch, "electric:loads_a"), 0.0)
