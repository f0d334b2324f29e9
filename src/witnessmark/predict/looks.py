"""What eyes see, graded: which place of the state is meant, and what of it shows (docs/predicting.md)."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from witnessmark.engine.stateplaces import is_boosted, state_places
from witnessmark.engine.supply_usual import supply_of
from witnessmark.errors import one_of
from witnessmark.predict import lookcylinders, lookplaces, looksmoke
from witnessmark.predict.marks import shaft_of
from witnessmark.predict.model import DriveModel
from witnessmark.predict.observed import Observed
from witnessmark.predict.rule import Rule
from witnessmark.vocabulary import Query

__all__ = ["OBSERVED", "RULES"]

_Spot = tuple[str, str]
_DUCTS = {"air_filter": "filter", "intake_duct": "intake_duct", "charge_pipe": "charge_pipe", "charge_cooler": "cooler"}
_DUCTS |= {"crankcase": "vent", "plenum": "joint", "branch": "hose", "servo": "hose", "pickup": "pickup"}
_DUCTS |= {"fuel_filter": "filter"}
_PARTS = ("belt", "engine_mount", "flexplate", "throttle", "pcv", "egr", "turbo", "tyres", "regulator")
_NUMBERED_PARTS = ("boot", "plug", "coil", "injector")


def _numbered(kind: str) -> Callable[[DriveModel, str], _Spot | str]:
    """Plugs, cylinders: by their number, with or without their name."""

    def found(model: DriveModel, name: str) -> _Spot | str:
        return _known(model, kind, f"{kind}_{name.removeprefix(f'{kind}_')}")

    return found


def _known(model: DriveModel, kind: str, name: str) -> _Spot | str:
    places = state_places(model.engine, kind)
    return (kind, name) if name in places else one_of(f"{kind} of this engine", name, places).message


def _valve(model: DriveModel, name: str) -> _Spot | str:
    return _known(model, "valve", name if name.startswith("cylinder_") else f"cylinder_{name}")


def _duct(model: DriveModel, name: str) -> _Spot | str:
    engine = model.engine
    exhaust = state_places(engine, "exhaust_duct")
    known = (*state_places(engine, "air_duct"), *state_places(engine, "fluid_duct"), *exhaust)
    if name not in known:
        return one_of("duct of this engine", name, known).message
    if name in exhaust:
        return "exhaust", name
    stem = name.rpartition("_")[0] if name[-1].isdigit() else name
    return {"runner": "joint", "port": "port"}.get(stem) or _DUCTS.get(name, name), name


def _node(model: DriveModel, name: str) -> _Spot | str:
    graph = supply_of(model.engine)
    return ("node", name) if graph.has(name) else one_of("node", name, [node.id for node in graph]).message


def _sensor(model: DriveModel, name: str) -> _Spot | str:
    return ("maf", "maf") if name == "maf" else ("sensor", name)


def _fluid(model: DriveModel, name: str) -> _Spot | str:
    return (name, "engine") if name in ("oil", "coolant") else one_of("fluid", name, ("oil", "coolant")).message


def _part(model: DriveModel, name: str) -> _Spot | str:
    stem = name.rpartition("_")[0]
    if stem in _NUMBERED_PARTS:
        return _known(model, stem, name)
    if name == "turbo" and not is_boosted(model.engine):
        return "this engine has no charger"
    return (name, name) if name in _PARTS else ("part", name)


def _wheel(model: DriveModel, name: str) -> _Spot | str:
    return "wheel", shaft_of(model, name)  # which there are has been seen to: predict.drive.misplaced


def _mesh(model: DriveModel, name: str) -> _Spot | str:
    """A mesh by its id, or by its shaft; the crank's own is where its stage is driven from."""
    drive = model.engine.drive
    assert drive is not None
    known = {stage.mesh(sprocket.shaft): sprocket.shaft for stage in drive.stages for sprocket in stage.sprockets}
    found = name if name in known else next((mesh for mesh, shaft in known.items() if name == shaft), None)
    return ("mesh", found) if found else one_of("mesh of this drive", name, known).message


_HOMES: Mapping[str, Callable[[DriveModel, str], _Spot | str]] = {
    "part": _part,
    "wheel": _wheel,
    "mesh": _mesh,
    "chain": lambda model, name: ("chain", name),
    "sensor": _sensor,
    "node": _node,
    "duct": _duct,
    "fluid": _fluid,
    "fuel": lambda model, name: ("fuel", "fuel"),
    "plug": _numbered("plug"),
    "cylinder": _numbered("cylinder"),
    "valve": _valve,
    "zone": lambda model, name: (name, name),
}


def _where(model: DriveModel, query: Query) -> _Spot | str:
    """Kind of place and place id of the state; why there is none."""
    keys = [key for key, _ in query.place.items if key != "word"]
    if len(keys) != 1 or keys[0] not in _HOMES:
        return "say one place that was looked at: plug=3, duct=intake_duct, node=engine_ground, zone=tail_pipe …"
    return _HOMES[keys[0]](model, str(query.place.get(keys[0])))


OBSERVED = Observed(
    "look",
    _where,
    {**lookcylinders.SIGNS, **looksmoke.SIGNS, **lookplaces.SIGNS},
    {**lookcylinders.UNSEEN, **lookplaces.UNSEEN},
)
"""Everything that is looked at."""

RULES: Mapping[str, Rule] = {"look": OBSERVED.rule()}
