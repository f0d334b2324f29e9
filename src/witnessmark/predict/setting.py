"""Speed and warmth at which something is read: as the condition says, else what is usual of its state."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from witnessmark.predict.batch import Batch
from witnessmark.predict.model import Values
from witnessmark.predict.rule import Nuisance
from witnessmark.vocabulary import Condition

__all__ = ["HOT_C", "STANDS", "ambient_c", "oil_c", "own_speed", "own_warmth", "speed_rpm", "weather"]

HOT_C = 90.0
"""An engine's warmth once it has run for a while, in Celsius."""

STANDS = ("off", "key_on")
"""States in which the crank does not turn."""

# Speed in rpm, mean and spread; our guess, except that "raised" is about 2,500 by definition.
_SPEED = {
    "idle": (750.0, 60.0),
    "warm_up": (1000.0, 150.0),
    "raised": (2500.0, 120.0),
    "cruise": (2200.0, 400.0),
    "acceleration": (3000.0, 600.0),
    "full_load": (4000.0, 800.0),
    "snap": (3000.0, 800.0),
    "overrun": (2200.0, 400.0),
}
# Warmth of oil and coolant in Celsius, mean and spread, our guess: nobody has said whether it was run before.
_SOAKED = ("off", "key_on", "cranking")
_SOAKED_C, _SOAKED_SD = 25.0, 15.0
_WARMTH = {"warm_up": (50.0, 15.0)}
_AIR_C, _AIR_SPREAD = 20.0, 10.0
_COLDEST, _HOTTEST = -40.0, 150.0


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
        0 with the engine off; of cranking nothing is said here.
    """
    if condition.state in STANDS:
        return 0.0
    if condition.speed_rpm is not None:
        return condition.speed_rpm
    state = condition.state if condition.state in _SPEED else "idle"
    return batch.number(f"speed:{state}", _SPEED[state][0])


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
    if condition.speed_rpm is None and condition.state not in (*STANDS, "cranking"):
        state = condition.state if condition.state in _SPEED else "idle"
        yield Nuisance(f"speed:{state}", "", *_SPEED[state])


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
    open_one = _open_warmth(condition)
    return np.clip(batch.number(open_one.variable, open_one.mean), _COLDEST, _HOTTEST)


def _open_warmth(condition: Condition) -> Nuisance:
    """A soaked engine's temperature is one unknown for whatever is read of it."""
    state = str(condition.state or "idle")
    if state in _SOAKED:
        return Nuisance("heat:soaked_c", "", _SOAKED_C, _SOAKED_SD)
    return Nuisance(f"heat:oil_c:{state}", "", *_WARMTH.get(state, (HOT_C, 6.0)))


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
        yield _open_warmth(condition)


def ambient_c(batch: Batch) -> Values:
    """Temperature of the air outside.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    float or array, shape (n,) [C]
    """
    return np.clip(batch.number("heat:outside_c", _AIR_C), _COLDEST, 60.0)


def weather() -> Nuisance:
    """What is open of the air outside.

    Returns
    -------
    Nuisance
    """
    return Nuisance("heat:outside_c", "", _AIR_C, _AIR_SPREAD)
