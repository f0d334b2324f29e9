"""Whether it starts: it has to crank, and spark, fuel, compression, a crank signal and permission have to be there.

(docs/physics.md, "starting")
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.predict.asking import answer, sound_batch
from witnessmark.predict.batch import Batch
from witnessmark.predict.codedrive import monitored_phase
from witnessmark.predict.cranking import cranking, of_cranking, turns
from witnessmark.predict.feeds import alive, any_module, modules
from witnessmark.predict.logistic import expit, step
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sealing import held, kept_by_late_cams
from witnessmark.predict.signals import lost_signal
from witnessmark.predict.sparking import usual_failure
from witnessmark.predict.startmixture import mixture_lights
from witnessmark.vocabulary import Condition, Place, Query

__all__ = ["RULES", "squeezes"]

_COMPUTER_V, _COMPUTER_SD = 6.5, 0.4  # below it a computer resets; our guess
_BURNS_SHARE, _BURNS_SD = 0.5, 0.07  # of the cylinders that have to work; our guess
_HOLDS, _HOLDS_SD = 0.5, 0.06  # of its usual compression that a cylinder needs to fire; our guess
_LEAST_LIFT = 0.1  # share of its lift with which a valve still fills a slow cylinder; these two after the gas kernel
_OUT_OF_STEP_DEG, _OUT_OF_STEP_SD, _REFUSE = 35.0, 8.0, 0.7
"""Crank degrees by which a cam may seem off its place before a computer no longer knows where it is, and the share of
computers that then give neither spark nor fuel; our guess. That two or three teeth off end in no start is common
practice, no source."""
_FUEL_SHARE, _FUEL_SD = 0.5, 0.08  # of the usual pressure, below which it does not start; our guess


def squeezes(batch: Batch) -> NDArray[np.float64]:
    """Compression of every cylinder while cranked, as a share of a sound one's.

    Parameters
    ----------
    batch : Batch

    Returns
    -------
    ndarray, shape (n, cylinders) [-]

    Notes
    -----
    Docs/physics.md, "starting": a short sum stands for the cylinder's gas exchange, which takes seconds to tabulate
    where half of it is all that is asked.
    """
    places = cylinders_of(batch.model.engine)
    squeezed = held(batch) / np.maximum(batch.table("clearance_scale", places), 0.1)
    opened = np.clip(batch.table("lift_scale", tuple(f"{p}.intake" for p in places)) / _LEAST_LIFT, 0.0, 1.0)
    moving = kept_by_late_cams(batch)
    for cam in batch.model.engine.cams:
        moving = moving * np.asarray(batch.model.connected(cam.id, batch.state))
    return np.asarray(np.clip(squeezed * opened, 0.0, 2.0) * moving[:, None])


def _fuelled(batch: Batch) -> NDArray[np.float64]:
    """Chance that fuel arrives: pressure against a sound engine's, pump and injectors alive."""
    query = Query("fuel_pressure", Place.of(rail="rail"), Condition("cranking"))
    own, sound = answer(batch, query), answer(sound_batch(batch), query)
    if own is not None and sound is not None:
        share = np.nan_to_num(own / np.maximum(sound, 1.0))
    else:
        blocked = np.clip(batch.column("restriction", "fuel_filter"), 0.0, 1.0)
        share = np.maximum(batch.column("lift_pump_flow", "pump"), 0.0) * 3.0 * (1.0 - blocked)
    pressed = step((np.minimum(share, 1.0) - _FUEL_SHARE) / _FUEL_SD)
    return np.asarray(pressed * alive(batch, "pump"))


def _burning(batch: Batch, query: Query) -> NDArray[np.float64]:
    """Chance that enough cylinders have spark, fuel of their own and compression."""
    now = Condition("cranking")
    count = range(1, batch.model.engine.cylinders + 1)
    sprayed = np.clip(batch.table("injector_flow", cylinders_of(batch.model.engine)), 0.0, 1.0)
    sprayed = sprayed * np.stack([alive(batch, f"injector_{k}") for k in count], axis=1)
    holds = step((squeezes(batch) - _HOLDS) / _HOLDS_SD)
    lit = 1.0 - np.stack([usual_failure(batch, k, now) for k in count], axis=1)
    working = (lit * expit((sprayed - 0.4) / 0.05) * holds).mean(axis=1)
    return np.asarray(step((working - _BURNS_SHARE) / _BURNS_SD))


def _in_step(batch: Batch) -> NDArray[np.float64]:
    """Chance that the computer makes sense of crank and cams together, as they seem to it."""
    known = np.ones(batch.rows)
    for cam in batch.model.engine.cams:
        off = np.abs(np.nan_to_num(np.asarray(monitored_phase(batch.model, cam.id, batch.state, batch.numbers))))
        known = np.minimum(known, 1.0 - _REFUSE * step((off - _OUT_OF_STEP_DEG) / _OUT_OF_STEP_SD))
    return known


def _starts(batch: Batch, query: Query) -> Values:
    own = modules(batch.model.engine)[0]
    free = (1.0 - any_module(batch, "inhibit")) * (1.0 - np.clip(batch.column("module_silent", own), 0.0, 1.0))
    awake = alive(batch, own) * expit((cranking(batch, query.condition).volts - _COMPUTER_V) / _COMPUTER_SD)
    told = (1.0 - lost_signal(batch.model, (CRANK,), batch.state)[:, 0]) * alive(batch, CRANK)
    told = told * _in_step(batch)
    ready = free * awake * told * _fuelled(batch) * _burning(batch, query) * mixture_lights(batch, query.condition)
    return np.asarray(turns(batch, query.condition) * ready)


def _of_starting(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    yield from of_cranking(query.condition)


RULES: Mapping[str, Rule] = {"starts": Rule(_starts, Tolerance(), nuisances=_of_starting)}
