"""Misfires: the chance that a firing fails, and what a counter that watches the crank makes of it.

Each way to fail has its chance, and a firing succeeds where none of them takes it (docs/physics.md, "misfires"). The
counter is fed by the crank wheel: what is wrong with the wheel counts as misfires too, and so does a firing that burns
and gives too little.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.gasengine import firing_tops_deg
from witnessmark.physics.normal import ndtr
from witnessmark.predict.airdescribed import described
from witnessmark.predict.batch import Batch
from witnessmark.predict.charge import PLENUM_KPA
from witnessmark.predict.firingwork import lacking
from witnessmark.predict.mixing import unlightable
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sparking import own_failure
from witnessmark.predict.sparks import fired, no_cylinder
from witnessmark.predict.supplies import RUNNING, speed_of
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES", "WHEEL_PHASE", "false_count", "misfire_chance", "misfiring"]

_Array = NDArray[np.float64]

WHEEL_PHASE = "wheel:phase_deg"
"""The number under which it may be assumed where in the turn the crank wheel's error is largest, in crank degrees."""

_ALWAYS = 0.0005  # of firings, of any engine; our guess
_LOST_J, _INERTIA = 125.0, 0.15  # joule of one lost event at idle, kg m2: HANDBOOK §4, the 95 rpm dip
_LIMIT, _NOISE = 0.5, 0.15  # of a real misfire's dip: where the counter counts, and its noise; our guess
_PHASES = np.deg2rad(np.arange(0.0, 360.0, 30.0))


def misfire_chance(batch: Batch, cylinder: int, condition: Condition) -> _Array:
    """Chance that a firing of a cylinder fails.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition
        One in which the engine turns.

    Returns
    -------
    array, shape (n,) [-]
    """
    return batch.once(("misfire", cylinder, condition), lambda: _chance(batch, cylinder, condition))


def _chance(batch: Batch, cylinder: int, condition: Condition) -> _Array:
    own = own_failure(batch, cylinder, condition, fired(batch, cylinder, condition))
    return np.asarray(1.0 - (1.0 - _ALWAYS) * (1.0 - own) * (1.0 - unlightable(batch, condition)[:, cylinder - 1]))


def misfiring(batch: Batch, condition: Condition) -> _Array:
    """Chance that a firing fails, of every cylinder.

    Parameters
    ----------
    batch : Batch
    condition : Condition
        One in which the engine turns.

    Returns
    -------
    array, shape (n, cylinders) [-]
    """
    count = range(1, batch.model.engine.cylinders + 1)
    return np.stack([misfire_chance(batch, k, condition) for k in count], axis=1)


# ---------------------------------------------------------------- the counter


def _dip(model: DriveModel, state: str, rpm: float) -> float:
    """By how much a lost event lengthens its segment, as a share: E = J ω Δω, and E goes with the charge."""
    litres = described(model.engine).litres
    work = _LOST_J * litres / model.engine.cylinders / 0.5 * PLENUM_KPA[state] / PLENUM_KPA["idle"]
    return work / (_INERTIA * litres / 2.0 * (rpm * np.pi / 30.0) ** 2)


def false_count(batch: Batch, cylinder: int, condition: Condition) -> _Array:
    """Chance that the counter takes a firing that burnt for a misfire: it gave too little, or the wheel is not true.

    Parameters
    ----------
    batch : Batch
    cylinder : int
    condition : Condition

    Returns
    -------
    array, shape (n,) [-]
        The wheel's error comes round once a turn, so that cylinders a turn apart get the same. Where in the turn it
        stands is assumed (:data:`WHEEL_PHASE`) or averaged over.
    """
    rpm = max(speed_of(condition.state, condition.speed_rpm), 100.0)
    size = _wheel_error(batch)
    top = _top_deg(batch.model, cylinder)
    assumed = batch.numbers.get(WHEEL_PHASE)
    phases = _PHASES if assumed is None else np.deg2rad(np.atleast_1d(assumed))
    # Averaged over where it may stand, or at the one place assumed for each state.
    swing = np.cos(np.deg2rad(top) - phases)
    error = size[:, None] * (swing[None, :] if assumed is None else swing[:, None] * np.ones((batch.rows, 1)))
    dip = error / _dip(batch.model, condition.state or "idle", rpm) + lacking(batch, condition)[:, [cylinder - 1]]
    return np.asarray(ndtr((dip - _LIMIT) / _NOISE).mean(axis=1) - ndtr(-_LIMIT / _NOISE))


def _wheel_error(batch: Batch) -> _Array:
    """Of a segment's time, as a share: what was learnt wrong, and runout that came after it was learnt."""
    learnt = batch.column("learnt_error", "crank_variation") / 100.0
    segment = np.deg2rad(720.0 / batch.model.engine.cylinders)
    # Runout swings edges by ±r; a segment from a to a+s sees 2 sin(s/2) of it, at most all of it.
    runout = np.deg2rad(np.maximum(batch.column("wheel_runout", CRANK) - healthy_of("wheel_runout", CRANK)[0], 0.0))
    seen = 2.0 * np.sin(min(segment, np.pi) / 2.0) * runout / segment
    play = np.deg2rad(batch.column("flexplate_play", "driveline")) / segment * 0.2
    bad = 0.02 * batch.column("wheel_bad_teeth", CRANK)
    return np.asarray(np.sqrt(learnt**2 + seen**2 + play**2 + bad**2))


def _top_deg(model: DriveModel, cylinder: int) -> float:
    """Firing top within the turn; evenly spread in the order of numbers where the firing order is not known."""
    try:
        return firing_tops_deg(model.engine)[cylinder] % 360.0
    except EngineDefinitionError:
        return (720.0 / model.engine.cylinders * (cylinder - 1)) % 360.0


def _count(batch: Batch, query: Query) -> Values:
    """Of a thousand firings of the cylinder; none is counted where the engine does not run by itself."""
    if (query.condition.state or "idle") not in RUNNING or query.condition.state == "overrun":
        return np.nan
    cylinder = int(query.place.get("cylinder") or 1)
    fails = misfire_chance(batch, cylinder, query.condition)
    return 1000.0 * (1.0 - (1.0 - fails) * (1.0 - np.maximum(false_count(batch, cylinder, query.condition), 0.0)))


# ---------------------------------------------------------------- what sound engines differ in


def _sound_firing(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """A sound engine stands far from all limits: what comes nearest to them."""
    k = query.place.get("cylinder")
    for variable, place in (
        ("coil_energy", f"coil_{k}"),
        ("spark_gap", f"plug_{k}"),
        ("injector_flow", f"cylinder_{k}"),
        ("leak_area", f"runner_{k}"),
        ("area_error", "egr"),
        ("learnt_error", "crank_variation"),
        ("wheel_runout", CRANK),
    ):
        yield Nuisance(variable, place, *healthy_of(variable, place))


# What is counted of a weak cylinder hangs on the maker's limit: ±0.07 of a dip about the half is e^±0.8 where a fifth
# of its firings are counted (the flank of the normal law). Our guess.
RULES: Mapping[str, Rule] = {
    "misfire_count": Rule(_count, Tolerance(2.0, 0.8), no_cylinder, _sound_firing),
}
