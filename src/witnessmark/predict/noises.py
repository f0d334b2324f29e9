"""What ears hear, graded, by zone: leaks that hiss and blow, valves that tick, chains that rattle.

What sounds how is common practice, no source; sizes are our guess. A leak's loudness goes with its area and with the
pressure across it to the power 1.5, the power of a flow through a hole (follows from Bernoulli: ½ρv³A, v² ∝ Δp).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import banks_of, is_boosted, state_places
from witnessmark.predict.asking import answer, sound_batch
from witnessmark.predict.batch import Batch
from witnessmark.predict.boardvolts import alternator_volts
from witnessmark.predict.grading import Scale
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.observed import Observed, Sign, differing, shown_by
from witnessmark.predict.oil import gallery_kpa, sound_oil
from witnessmark.predict.rule import Nuisance, Rule
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Condition, Place, Query, quantity

__all__ = ["OBSERVED", "RULES"]

_Array = NDArray[np.float64]

_VACUUM_KPA, _BOOST_KPA = 60.0, 60.0  # at which a leak counts by its area alone
_PULSE_KPA = 1.0  # of the pulses themselves, however free the pipe; our guess
_HIDDEN = {"plenum": 0.5, "runner": 0.5}  # loudness of a leak under a manifold, over one in the open; our guess
_PULLING = 1.6  # how much better an exhaust leak is heard when the engine pulls; our guess
_PULLS = ("acceleration", "full_load", "snap")
_STARVED_KPA, _STARVED_BLUR = 60.0, 25.0  # oil pressure below which lifters tick, as half a millimetre does; our guess
_THIN_MM = 0.5
_SUMP_KPA = 1.0  # below the air outside, in a sound crankcase at most: below it seals begin to howl; our guess


def _query(name: str, condition: Condition, **place: str | int) -> Query:
    return Query(name, Place.of(**place), condition)


def _told(batch: Batch, query: Query) -> _Array:
    """What another rule reads, nothing where it reads nothing."""
    found = answer(batch, query)
    return np.zeros(batch.rows) if found is None else np.nan_to_num(found)


# ---------------------------------------------------------------- leaks


def _leaking(batch: Batch, ducts: tuple[str, ...]) -> _Array:
    total = np.zeros(batch.rows)
    for duct in ducts:
        heard = _HIDDEN.get(duct.rpartition("_")[0] or duct, 1.0)
        total = total + heard * np.maximum(batch.column("leak_area", duct), 0.0)
    return total


def _sucking(model: DriveModel) -> tuple[str, ...]:
    runners = tuple(duct for duct in state_places(model.engine, "air_duct") if duct.startswith("runner"))
    return ("plenum", "servo", "branch", *runners)


def _hiss(batch: Batch, place: str, condition: Condition) -> Values:
    """Of vacuum [mm2 at 60 kPa]."""
    vacuum = answer(batch, _query("manifold_vacuum", condition))
    assert vacuum is not None
    vacuum = np.maximum(vacuum, 0.0)
    return _leaking(batch, _sucking(batch.model)) * (vacuum / _VACUUM_KPA) ** 1.5


def _boost_hiss(batch: Batch, place: str, condition: Condition) -> Values:
    """Of boost [mm2 at 60 kPa]."""
    boost = np.maximum(_told(batch, _query("boost_pressure", condition)), 0.0)
    return _leaking(batch, ("charge_pipe", "charge_cooler")) * (boost / _BOOST_KPA) ** 1.5


def _roar_in(batch: Batch, place: str, condition: Condition) -> Values:
    """The filter's muffling gone: a duct that is open."""
    return np.maximum(batch.column("leak_area", "intake_duct"), 0.0)


def _exhaust(batch: Batch, condition: Condition, ducts: tuple[str, ...]) -> _Array:
    """Area, by what stands before it over what stands there in a sound engine, whose own noise hides it [mm2]."""
    leaks = sum((np.maximum(batch.column("leak_area", duct), 0.0) for duct in ducts), np.zeros(batch.rows))
    usual = np.maximum(_back_kpa(sound_batch(batch), condition), _PULSE_KPA)
    pressure = np.maximum(_back_kpa(batch, condition), _PULSE_KPA) / usual
    return np.asarray((_PULLING if condition.state in _PULLS else 1.0) * leaks * np.clip(pressure, 0.2, 10.0) ** 1.5)


def _back_kpa(batch: Batch, condition: Condition) -> _Array:
    banks = banks_of(batch.model.engine)
    asked = [_query("exhaust_back_pressure", condition, sensor=f"o2_front_{bank}") for bank in banks]
    return np.asarray(np.max([_told(batch, query) for query in asked], axis=0))


def _fronts(model: DriveModel) -> tuple[str, ...]:
    return tuple(duct for duct in state_places(model.engine, "exhaust_duct") if duct.startswith("exhaust_front"))


def _blow(batch: Batch, place: str, condition: Condition) -> Values:
    return _exhaust(batch, condition, state_places(batch.model.engine, "exhaust_duct"))


def _puff(batch: Batch, place: str, condition: Condition) -> Values:
    """A small hole ahead of the catalyst ticks with each firing."""
    return _exhaust(batch, condition, _fronts(batch.model))


def _of_leaks(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for duct in _sucking(model):
        yield Nuisance("leak_area", duct, *healthy_of("leak_area", duct))


def _of_exhaust(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for duct in state_places(model.engine, "exhaust_duct"):
        yield Nuisance("leak_area", duct, *healthy_of("leak_area", duct))


# ---------------------------------------------------------------- the engine itself


def _ticking(batch: Batch, place: str, condition: Condition) -> Values:
    """The loosest valve, and lifters without oil [mm]."""
    lash = batch.table("lash_error", state_places(batch.model.engine, "valve")).max(axis=1)
    starved = 1.0 / (1.0 + np.exp((gallery_kpa(batch, condition) - _STARVED_KPA) / _STARVED_BLUR))
    return np.asarray(np.maximum(lash, 0.0) + _THIN_MM * starved)


def _of_valves(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for valve in state_places(model.engine, "valve"):
        yield Nuisance("lash_error", valve, *healthy_of("lash_error", valve))
    yield from sound_oil(condition)


def _cold_rattle(batch: Batch, place: str, condition: Condition) -> Values:
    """Seconds that the drive rattles before its oil comes [s]; once it runs, what slack is left to beat."""
    if condition.state in ("cranking", "warm_up"):
        return _told(batch, _query("rattle_time", condition))
    drive = batch.model.engine.drive
    chains = [] if drive is None else [stage.id for stage in drive.stages if stage.kind == "chain"]
    usual = healthy_of("slack", "primary")[0]
    slack = [np.maximum(batch.column("slack", chain) - usual, 0.0) for chain in chains]
    return np.max(slack, axis=0) / 3.0 if slack else np.zeros(batch.rows)


def _of_rattle(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    drive = model.engine.drive
    for stage in () if drive is None else drive.stages:
        if stage.kind == "chain":
            yield Nuisance("slack", stage.id, *healthy_of("slack", stage.id))
    yield from sound_oil(condition)


def _pinking(batch: Batch, place: str, condition: Condition) -> Values:
    """What the computer takes back because it hears it, of the worst cylinder [deg]."""
    count = range(1, batch.model.engine.cylinders + 1)
    return np.asarray(np.max([_told(batch, _query("knock_retard", condition, cylinder=k)) for k in count], axis=0))


def _of_pinking(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for name in ("fuel_octane", "fuel_ethanol"):
        yield Nuisance(name, "fuel", *healthy_of(name, "fuel"))


def _sucked(batch: Batch, place: str, condition: Condition) -> Values:
    """Vacuum in the crankcase beyond a sound one's, and air that whistles in through its seals [kPa]."""
    gauge = -_told(batch, _query("crankcase_pressure", replace(condition, state=condition.state or "idle")))
    seal = np.maximum(batch.column("leak_area", "crankcase"), 0.0)
    return np.maximum(gauge - _SUMP_KPA, 0.0) + 0.02 * np.minimum(seal, 100.0)


# ---------------------------------------------------------------- around it


def _humming(batch: Batch, place: str, condition: Condition) -> Values:
    """Open diodes hum by the current that the others carry [diodes at 40 A]."""
    amps = alternator_volts(batch, condition)[1]
    return np.maximum(batch.column("diodes_open", "alternator"), 0.0) * np.clip(amps / 40.0, 0.0, 3.0) ** 0.5


def _slipping(batch: Batch, place: str, condition: Condition) -> Values:
    """Torque that the belt must carry beyond what it usually does [N m]."""
    return np.maximum(batch.column("accessory_drag", "engine"), 0.0)


def _straining(batch: Batch, place: str, condition: Condition) -> Values:
    """A pump that works against a blocked filter, or has little left to give [-]."""
    blocked = np.maximum(batch.column("restriction", "fuel_filter") - 0.1, 0.0)
    return blocked + 0.8 * np.maximum(1.0 - batch.column("lift_pump_flow", "pump") - 0.1, 0.0)


_DRAG = differing("accessory_drag", at="engine")
_STARTING = ("cranking", "warm_up", "idle", "raised")
SIGNS: Mapping[tuple[str, str], Sign] = {
    ("intake", "hiss"): Sign(_hiss, Scale((2.5, 8.0, 25.0), blur=0.45, seen=0.93), _of_leaks, RUNNING),
    ("intake", "roar"): Sign(
        _roar_in, Scale((25.0, 80.0, 200.0), blur=0.5, seen=0.9), differing("leak_area", at="intake_duct"), _PULLS
    ),
    ("charge_pipe", "hiss"): Sign(
        _boost_hiss, Scale((5.0, 20.0, 60.0), blur=0.5, seen=0.93), states=("acceleration", "full_load")
    ),
    ("exhaust", "roar"): Sign(_blow, Scale((12.0, 40.0, 150.0), blur=0.5), _of_exhaust, RUNNING),
    ("exhaust", "tick"): Sign(_puff, Scale((3.0, 10.0, 40.0), blur=0.5, seen=0.9), _of_exhaust, RUNNING),
    ("valve_cover", "tick"): Sign(_ticking, Scale((0.2, 0.5, 1.2), blur=0.3), _of_valves, RUNNING),
    ("front_cover", "rattle"): Sign(
        _cold_rattle, Scale((1.8, 3.5, 6.5), blur=0.35), _of_rattle, ("cranking", *RUNNING)
    ),
    ("block", "knock"): Sign(_pinking, Scale((4.2, 6.8, 9.5), blur=0.3, seen=0.85), _of_pinking, ("cruise", *_PULLS)),
    ("bellhousing", "knock"): shown_by("flexplate_play", (0.4, 1.0, 2.0), at="driveline", states=_STARTING),
    ("bellhousing", "rattle"): shown_by("flexplate_play", (0.3, 0.9, 2.2), at="driveline", seen=0.8, states=_STARTING),
    ("alternator", "whine"): Sign(_humming, Scale((0.5, 1.2, 2.5), seen=0.8), states=RUNNING),
    ("belt", "squeal"): Sign(_slipping, Scale((12.0, 25.0, 45.0), seen=0.85), _DRAG, RUNNING),
    ("belt", "grumble"): Sign(_slipping, Scale((8.0, 20.0, 45.0), seen=0.7), _DRAG, RUNNING),
    ("belt", "whine"): Sign(_slipping, Scale((10.0, 25.0, 50.0), seen=0.5), _DRAG, RUNNING),
    ("starter", "grumble"): shown_by("starter_drag", (30.0, 60.0, 110.0), at="starter", seen=0.8, states=("cranking",)),
    ("fuel_pump", "whine"): Sign(
        _straining,
        Scale((0.35, 0.6, 0.9), blur=0.3, seen=0.75),
        differing("lift_pump_flow", at="pump"),
        ("key_on", *RUNNING),
    ),
    ("turbo", "whine"): shown_by(
        "turbo_efficiency", (0.2, 0.4, 0.65), less=True, at="engine", seen=0.85, states=_PULLS
    ),
    ("crankcase", "whine"): Sign(
        _sucked, Scale((0.8, 2.0, 5.0), blur=0.4, seen=0.8), differing("leak_area", at="crankcase"), RUNNING
    ),
    ("driveline", "grumble"): shown_by(
        "shudder_torque", (25.0, 55.0, 110.0), at="driveline", seen=0.8, states=("cruise", "acceleration", "full_load")
    ),
}

_UNHEARD: Mapping[tuple[str, str], str] = {
    ("block", ""): "play of bearings and pistons is no variable of the state: a knock at the block is spark knock here",
    ("exhaust", "rattle"): "no variable of the state says that a catalyst or a shield is loose",
    ("driveline", ""): "play and bearings of the driveline are no variables of the state",
    (
        "alternator",
        "",
    ): "bearings of the alternator are no variable of the state; what drags on the belt is heard there",
}


def _zone(model: DriveModel, query: Query) -> tuple[str, str] | str:
    name, known = str(query.place.get("zone")), quantity("noise").zones
    if name not in known:
        return f"nobody listens at “{name}”: {', '.join(known)}"
    if name in ("turbo", "charge_pipe") and not is_boosted(model.engine):
        return "this engine has no charger"
    if name == "front_cover" and model.engine.drive is None:
        return "nothing is known of the timing drive"
    return name, name


OBSERVED = Observed("noise", _zone, SIGNS, _UNHEARD)
"""Everything that is listened for."""

RULES: Mapping[str, Rule] = {"noise": OBSERVED.rule()}
