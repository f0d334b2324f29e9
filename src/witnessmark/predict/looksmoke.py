"""Smoke at the tail pipe by colour, and what the pipe itself shows: oil, coolant and fuel that go through the engine.

Which colour means what, and when each shows most (blue after overrun by the valve stems, under load by the rings; white
after a cold start by coolant that seeped in overnight) is common practice, no source; sizes are our guess.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import cylinders_of, is_boosted, state_places
from witnessmark.predict.airdescribed import described
from witnessmark.predict.batch import Batch
from witnessmark.predict.grading import Scale
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.observed import Sign
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Condition

__all__ = ["SIGNS", "coolant_burnt", "of_coolant", "of_oil", "oil_burnt", "richness"]

_Array = NDArray[np.float64]

# How much of what comes past stems, and past rings, burns in a state, over the mean: high vacuum draws past the stems,
# and what they pooled over night goes at once; load and speed pump past the rings. Our guess.
_BY_STEMS = {"warm_up": 2.0, "idle": 1.0, "raised": 0.8, "cruise": 0.6, "acceleration": 0.5, "full_load": 0.4}
_BY_STEMS |= {"snap": 1.5, "overrun": 2.5}
_BY_RINGS = {"warm_up": 0.8, "idle": 0.6, "raised": 1.2, "cruise": 1.0, "acceleration": 1.8, "full_load": 2.0}
_BY_RINGS |= {"snap": 1.5, "overrun": 1.5}
_RINGS_MM2 = 1.0  # more leak past the rings than a sound cylinder's, at which half the oil is theirs; our guess
_BY_VENT = 0.8  # g/h for each mm2 that the crankcase's valve stands too far open; our guess
_BY_TURBO = 60.0  # g/h of a charger that has lost all its efficiency; our guess
_LITRES = 2.0  # of an engine whose smoke is as dense as the scale takes it for
_COLD = {"warm_up": 2.0, "cranking": 2.0}  # coolant seeped in while it stood; our guess
_MORNING_MM2 = 0.017  # leak that steams as a sound engine does on a cold morning; our guess


def _from_each(batch: Batch, condition: Condition) -> _Array:
    """Oil that burns in every cylinder [g/h], shape (n, cylinders)."""
    state, places = condition.state or "idle", cylinders_of(batch.model.engine)
    oil = np.maximum(batch.table("oil_ingress", places), 0.0)
    leak = np.maximum(batch.table("ring_leak", places) - healthy_of("ring_leak", places[0])[0], 0.0)
    rings = leak / (leak + _RINGS_MM2)
    return np.asarray(oil * (rings * _BY_RINGS.get(state, 1.0) + (1.0 - rings) * _BY_STEMS.get(state, 1.0)))


def oil_burnt(batch: Batch, place: str, condition: Condition) -> _Array:
    """Oil that burns, for every two litres of the engine: as dense as its smoke is.

    Parameters
    ----------
    batch : Batch
    place : str
        Not asked for.
    condition : Condition

    Returns
    -------
    array, shape (n,) [g/h]
    """
    total = _from_each(batch, condition).sum(axis=1)
    total = total + _BY_VENT * np.maximum(batch.column("area_error", "pcv"), 0.0)
    if is_boosted(batch.model.engine):
        total = total + _BY_TURBO * np.clip(1.0 - batch.column("turbo_efficiency", "engine"), 0.0, 1.0)
    return np.asarray(total * _LITRES / described(batch.model.engine).litres)


def coolant_burnt(batch: Batch, place: str, condition: Condition) -> _Array:
    """Area through which coolant comes into the cylinders, as it shows in a state.

    Parameters
    ----------
    batch : Batch
    place : str
        Not asked for.
    condition : Condition

    Returns
    -------
    array, shape (n,) [mm2]
    """
    leaks = np.maximum(batch.table("gasket_leak", cylinders_of(batch.model.engine)), 0.0)
    sound = 2.5 * healthy_of("gasket_leak", "cylinder_1")[1]
    shows = _COLD.get(condition.state or "idle", 1.0) * np.maximum(leaks - sound, 0.0).sum(axis=1)
    return np.asarray(shows + (_MORNING_MM2 if condition.state in _COLD else 0.0))


def richness(batch: Batch, place: str, condition: Condition) -> _Array:
    """What λ lacks to 1, a mean over the cylinders.

    Parameters
    ----------
    batch : Batch
    place : str
        Not asked for.
    condition : Condition
        One in which fuel is given.

    Returns
    -------
    array, shape (n,) [-]
    """
    return np.asarray(np.maximum(1.0 - lambda_of(batch, condition), 0.0).mean(axis=1))


def _deposit(batch: Batch, place: str, condition: Condition) -> Values:
    """Soot in a cold pipe was left by how it last ran."""
    return richness(batch, place, Condition())


def of_oil(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    """What sound engines differ in, of the oil they burn.

    Parameters
    ----------
    model : DriveModel
    place : str
    condition : Condition

    Yields
    ------
    Nuisance
    """
    for cylinder in cylinders_of(model.engine):
        yield Nuisance("oil_ingress", cylinder, *healthy_of("oil_ingress", cylinder))
        yield Nuisance("ring_leak", cylinder, *healthy_of("ring_leak", cylinder))
    yield Nuisance("area_error", "pcv", *healthy_of("area_error", "pcv"))


def of_coolant(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    """The same of coolant that comes into the cylinders.

    Parameters
    ----------
    model : DriveModel
    place : str
    condition : Condition

    Yields
    ------
    Nuisance
    """
    for cylinder in cylinders_of(model.engine):
        yield Nuisance("gasket_leak", cylinder, *healthy_of("gasket_leak", cylinder))


def _of_lambda(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for sensor in state_places(model.engine, "oxygen_sensor"):
        if sensor.startswith("o2_front"):
            yield Nuisance("sensor_offset", sensor, *healthy_of("sensor_offset", sensor))
    yield Nuisance("regulator_error", "regulator", *healthy_of("regulator_error", "regulator"))


_FED = tuple(state for state in RUNNING if state != "overrun")
SIGNS: Mapping[tuple[str, str], Sign] = {
    ("tail_pipe", "blue"): Sign(oil_burnt, Scale((70.0, 160.0, 350.0)), of_oil, RUNNING),
    ("tail_pipe", "white"): Sign(coolant_burnt, Scale((0.05, 0.2, 0.8), blur=0.45), of_coolant, (*RUNNING, "cranking")),
    # Full load is meant to be rich by a tenth or so, and does not smoke.
    ("tail_pipe", "black"): Sign(richness, Scale((0.19, 0.28, 0.4), blur=0.15), _of_lambda, _FED),
    ("tail_pipe", "sooty"): Sign(_deposit, Scale((0.06, 0.13, 0.25)), _of_lambda, ("off", "key_on")),
    ("tail_pipe", "oily"): Sign(
        lambda batch, place, condition: oil_burnt(batch, place, Condition("cruise")),
        Scale((60.0, 140.0, 300.0)),
        of_oil,
        ("off", "key_on"),
    ),
}
"""What the tail pipe shows, by word."""
