"""What noses smell, graded, by zone: fuel, burnt oil, coolant, sulphur, hot electrics, exhaust.

What smells of what is common practice, no source; sizes, and the share of leaks that reach a nose, are our guess.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import banks_of, cylinders_of, state_places
from witnessmark.engine.supply_usual import supply_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.grading import Scale
from witnessmark.predict.lookcylinders import unburnt
from witnessmark.predict.lookplaces import blown_by, heat_w
from witnessmark.predict.looksmoke import coolant_burnt, of_coolant, of_oil, oil_burnt, richness
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.observed import Observed, Sign, differing, shown_by
from witnessmark.predict.rule import Nuisance, Rule
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Condition, Query, quantity

__all__ = ["OBSERVED", "RULES"]

_RICH = 0.5  # a tenth of λ missing smells as this much of a tenth of the fuel unburnt does; our guess
_OUTWARD = 0.25  # share of the rails that lose their pressure to the outside; our guess
_BLEEDS = 150.0  # kPa a minute that smell as a canister half full of fuel does; our guess
_OVER_MM2 = 10.0  # of a leaking seal, for each kPa of pressure in the crankcase; our guess


def _fuel_behind(batch: Batch, place: str, condition: Condition) -> Values:
    """Fuel that leaves the engine: unburnt, and with too little air [-]."""
    lost = np.mean([unburnt(batch, cylinder) for cylinder in cylinders_of(batch.model.engine)], axis=0)
    return np.asarray(lost + _RICH * richness(batch, place, condition))


def _vapour(batch: Batch, place: str, condition: Condition) -> Values:
    """A canister full of fuel [-]."""
    return np.maximum(batch.column("inflow_fuel", "purge") - healthy_of("inflow_fuel", "purge")[0], 0.0)


def _bleeding(batch: Batch) -> Values:
    return np.maximum(batch.column("rail_bleed", "rail") - healthy_of("rail_bleed", "rail")[0], 0.0)


def _fuel_there(batch: Batch, place: str, condition: Condition) -> Values:
    """Vapour from a full canister, and a share of what the rail loses [-]."""
    return _vapour(batch, place, condition) + 0.5 * _OUTWARD * _bleeding(batch) / _BLEEDS


def _oil_outside(batch: Batch, place: str, condition: Condition) -> Values:
    """Seals of the crankcase that let oil on to hot parts, the more the crankcase is under pressure [mm2]."""
    seal = np.maximum(batch.column("leak_area", "crankcase"), 0.0)
    return seal + _OVER_MM2 * blown_by(batch, place, condition)


def _sulphur(batch: Batch, place: str, condition: Condition) -> Values:
    """A rich mixture over a catalyst that still works [-]."""
    banks = banks_of(batch.model.engine)
    works = np.mean([np.clip(batch.column("oxygen_storage", f"bank_{bank}"), 0.0, 1.0) for bank in banks], axis=0)
    return np.asarray(richness(batch, place, condition) * works)


def _hottest(batch: Batch, place: str, condition: Condition) -> Values:
    """Heat of the hottest contact [W]."""
    names = [node.id for node in supply_of(batch.model.engine) if node.is_electrical and node.kind != "battery"]
    return np.asarray(np.max([heat_w(batch, name, condition) for name in names], axis=0))


def _leaks(batch: Batch, ducts: tuple[str, ...]) -> Values:
    return sum((np.maximum(batch.column("leak_area", duct), 0.0) for duct in ducts), np.zeros(batch.rows))


def _fronts(model: DriveModel) -> tuple[str, ...]:
    return tuple(duct for duct in state_places(model.engine, "exhaust_duct") if duct.startswith("exhaust_front"))


def _gas_near(batch: Batch, place: str, condition: Condition) -> Values:
    return _leaks(batch, _fronts(batch.model))


def _gas_inside(batch: Batch, place: str, condition: Condition) -> Values:
    return _leaks(batch, state_places(batch.model.engine, "exhaust_duct"))


def _of_exhaust(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for duct in state_places(model.engine, "exhaust_duct"):
        yield Nuisance("leak_area", duct, *healthy_of("leak_area", duct))


def _of_mixture(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    for sensor in state_places(model.engine, "oxygen_sensor"):
        if sensor.startswith("o2_front"):
            yield Nuisance("sensor_offset", sensor, *healthy_of("sensor_offset", sensor))
    for cylinder in cylinders_of(model.engine):
        yield Nuisance("injector_flow", cylinder, *healthy_of("injector_flow", cylinder))


def _of_seals(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
    yield Nuisance("leak_area", "crankcase", *healthy_of("leak_area", "crankcase"))
    for cylinder in cylinders_of(model.engine):
        yield Nuisance("ring_leak", cylinder, *healthy_of("ring_leak", cylinder))


_FED = ("warm_up", "idle", "raised", "cruise")
_AIRED = ("idle", "raised", "cruise")
SIGNS: Mapping[tuple[str, str], Sign] = {
    # A cold engine is meant to be rich, and smells of it.
    ("exhaust", "fuel"): Sign(_fuel_behind, Scale((0.06, 0.12, 0.25), blur=0.4), _of_mixture, _FED),
    ("exhaust", "burnt_oil"): Sign(oil_burnt, Scale((60.0, 140.0, 300.0), blur=0.4), of_oil, RUNNING),
    ("exhaust", "coolant"): Sign(coolant_burnt, Scale((0.08, 0.3, 1.0), blur=0.5, seen=0.85), of_coolant, RUNNING),
    ("exhaust", "sulphur"): Sign(_sulphur, Scale((0.05, 0.1, 0.2), seen=0.7), _of_mixture, _AIRED),
    ("engine_bay", "fuel"): Sign(
        _fuel_there, Scale((0.25, 0.5, 0.9), blur=0.3, seen=0.85), differing("inflow_fuel", at="purge")
    ),
    ("engine_bay", "burnt_oil"): Sign(_oil_outside, Scale((8.0, 25.0, 70.0), blur=0.5, seen=0.7), _of_seals, RUNNING),
    ("engine_bay", "hot_electrics"): Sign(
        _hottest, Scale((14.0, 26.0, 48.0), blur=0.35, seen=0.8), states=("key_on", *RUNNING)
    ),
    ("engine_bay", "exhaust"): Sign(_gas_near, Scale((4.0, 15.0, 60.0), blur=0.5, seen=0.85), _of_exhaust, RUNNING),
    ("cabin", "exhaust"): Sign(_gas_inside, Scale((12.0, 40.0, 120.0), blur=0.5, seen=0.6), _of_exhaust, RUNNING),
    ("cabin", "hot_electrics"): Sign(
        _hottest, Scale((20.0, 38.0, 70.0), blur=0.35, seen=0.6), states=("key_on", *RUNNING)
    ),
    ("dipstick", "fuel"): shown_by("oil_fuel", (0.03, 0.06, 0.12), at="engine"),
}

_UNSMELT: Mapping[tuple[str, str], str] = {
    ("engine_bay", "coolant"): "no variable of the state says that coolant is lost outside the engine",
    ("cabin", "coolant"): "no variable of the state says that the heater leaks",
    ("cabin", "fuel"): "no variable of the state says that fuel gets into the cabin",
    ("engine_bay", "sulphur"): "no variable of the state boils a battery",
    ("dipstick", ""): "burnt or old oil is no variable of the state; fuel in it is",
}


def _zone(model: DriveModel, query: Query) -> tuple[str, str] | str:
    name, known = str(query.place.get("zone")), quantity("smell").zones
    return (name, name) if name in known else f"nobody smells at “{name}”: {', '.join(known)}"


OBSERVED = Observed("smell", _zone, SIGNS, _UNSMELT)
"""Everything that is smelt for."""

RULES: Mapping[str, Rule] = {"smell": OBSERVED.rule()}
