"""Places of cylinders, air, exhaust, fuel, ignition, oil and driveline, as far as this engine has them.

How likely a part is that a description does not speak of (a recirculation valve, an air meter, a fuel rail's sensor) is
our guess, to be replaced by counts; a part that the engine has not gives no place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from witnessmark.catalogue.partwords import part_words
from witnessmark.catalogue.placeof import PlaceOf
from witnessmark.engine.stateplaces import banks_of, is_boosted, state_places
from witnessmark.engine.types import Engine

__all__ = ["BUILDERS", "NEEDS"]

_Builder = Callable[[Engine], list[PlaceOf]]

# What each cylinder has one of: where else edits of a fault of the cylinder may apply.
_OWN = ("cylinder", "coil", "plug", "boot", "injector", "runner", "port")
_CYLINDER_ZONES: Mapping[str, str] = {
    "cylinder": "bottom_end",
    "coil": "plugs",
    "plug": "plugs",
    "boot": "plugs",
    "injector": "injectors",
    "runner": "intake",
    "port": "intake",
}

_ZONES: Mapping[str, str] = {
    **dict.fromkeys(
        ("plenum", "servo", "branch", "intake_duct", "air_filter", "charge_pipe", "charge_cooler"), "intake"
    ),
    **dict.fromkeys(("throttle", "purge", "pcv", "egr", "wastegate"), "intake"),
    **dict.fromkeys(("maf", "map", "iat"), "air_sensors"),
    **dict.fromkeys(("pickup", "gallery"), "oil"),
    **dict.fromkeys(("fuel_filter", "tank_vent", "fuel", "pump", "regulator", "high_pump", "rail"), "fuel"),
    **dict.fromkeys(("battery", "alternator", "starter"), "battery"),
    "crankcase": "oil",
    "tail": "exhaust",
    "ect": "cooling",
    "throttle_sensor": "intake",
    "pedal": "cabin",
    "knock": "intake",
    "driveline": "driveline",
    "crank_variation": "computer",
    "throttle_zero": "computer",
}


def _cylinders(kind: str) -> _Builder:
    def build(engine: Engine) -> list[PlaceOf]:
        found = []
        for k in range(1, engine.cylinders + 1):
            ids = tuple((name, (f"{name}_{k}",)) for name in _OWN)
            words, zones = f"cylinder {k}", frozenset({_CYLINDER_ZONES[kind]})
            own = (("self", (f"{kind}_{k}",)), *ids, ("engine", ("engine",)))
            found.append(PlaceOf("cylinder", str(k), words, f"cylinder_{k}", words, zones, own))
        return found

    return build


def _valves(engine: Engine) -> list[PlaceOf]:
    found = []
    for name in state_places(engine, "valve"):
        cylinder, _, kind = name.partition(".")
        number = cylinder.rpartition("_")[2]
        words = f"{kind} valve of cylinder {number}"
        ids = (("self", (name,)), ("cylinder", (cylinder,)))
        found.append(PlaceOf("valve", f"{number}.{kind}", words, name, f"the {words}", frozenset({"valve_gear"}), ids))
    return found


def _pairs(engine: Engine) -> list[PlaceOf]:
    found = []
    for name in state_places(engine, "pair"):
        a, b = name.rpartition("_")[2].split("-")
        words = f"cylinders {a} and {b}"
        found.append(_place("pair", f"{a}-{b}", words, words, name, "bottom_end"))
    return found


def _place(key: str, name: str, words: str, scope_words: str, state: str, zone: str, presence: float = 1.0) -> PlaceOf:
    ids = (("self", (state,)),)
    return PlaceOf(key, name, words, state, scope_words, frozenset({zone}), ids, presence)


def _named(key: str, name: str, presence: Callable[[Engine], float] = lambda engine: 1.0) -> _Builder:
    """A part that the engine has one of, by its name."""

    def build(engine: Engine) -> list[PlaceOf]:
        chance = presence(engine)
        words = part_words(engine, name)
        return [_place(key, name, words, f"the {words}", name, _ZONES[name], chance)] if chance > 0.0 else []

    return build


def _of_banks(key: str, kind: str, zone: str) -> _Builder:
    """What every bank has one of."""

    def build(engine: Engine) -> list[PlaceOf]:
        found = []
        for bank in banks_of(engine):
            name = f"{kind}_{bank}"
            words = part_words(engine, name)
            article = "" if kind == "bank" else "the "
            found.append(_place(key, str(bank) if key == "bank" else name, words, f"{article}{words}", name, zone))
        return found

    return build


def _engine(zone: str) -> _Builder:
    return lambda engine: [_place("engine", "engine", "engine", "the engine", "engine", zone)]


def _cooling(engine: Engine) -> list[PlaceOf]:
    """Coolant is one, whichever cylinder's account it is missing from; a leak to the outside takes from the first."""
    (place,) = _engine("cooling")(engine)
    return [replace(place, state_ids=(*place.state_ids, ("coolant", ("cylinder_1",))))]


def _with(other: str, build: _Builder) -> _Builder:
    """What edits of a fault there may befall besides: a part that the engine has one of."""

    def built(engine: Engine) -> list[PlaceOf]:
        return [replace(place, state_ids=(*place.state_ids, (other, (other,)))) for place in build(engine)]

    return built


def _rail_sensor(engine: Engine) -> list[PlaceOf]:
    chance = {"direct": 1.0, "port": 0.3, "single_point": 0.0}.get(str(engine.breathing.air.injection), 0.5)
    words = "rail pressure sensor"
    return [_place("sensor", "rail", words, f"the {words}", "rail", "fuel", chance)] if chance > 0.0 else []


def _fuel_trims(engine: Engine) -> list[PlaceOf]:
    found = []
    for bank in banks_of(engine):
        words = f"fuel trim of bank {bank}" if len(banks_of(engine)) > 1 else "fuel trim"
        name = f"fuel_trim:bank_{bank}"
        found.append(_place("learnt_item", name, words, f"the {words}", name, "computer"))
    return found


def _boosted(engine: Engine) -> float:
    return 1.0 if is_boosted(engine) else 0.0


def _meter(engine: Engine) -> float:
    return {"air_meter": 1.0, "both": 1.0, "speed_density": 0.0}.get(str(engine.breathing.air.metering), 0.6)


def _pressure_sensor(engine: Engine) -> float:
    return {"air_meter": 0.5, "both": 1.0, "speed_density": 1.0}.get(str(engine.breathing.air.metering), 0.75)


def _high_pump(engine: Engine) -> float:
    return {"direct": 1.0, "None": 0.4}.get(str(engine.breathing.air.injection), 0.0)


def _signals(engine: Engine) -> list[PlaceOf]:
    """Sensors but those of position: what a wrong part may be fitted for."""
    kinds = ("maf", "map", "ect", "iat", "o2_front", "o2_rear", "throttle_sensor", "pedal", "knock", "rail_sensor")
    return [place for kind in kinds for place in BUILDERS[kind](engine)]


_BRANCHES = ("plenum", "servo", "branch", "crankcase", "intake_duct", "air_filter")

BUILDERS: Mapping[str, _Builder] = {
    **{kind: _cylinders(kind) for kind in _OWN},
    "valve": _valves,
    "pair": _pairs,
    "oil": _engine("oil"),
    "cooling": _cooling,
    "accessories": _engine("belt"),
    "turbo": lambda engine: _engine("intake")(engine) if engine.breathing.air.boost == "turbo" else [],
    **{name: _named("duct", name) for name in _BRANCHES},
    **{name: _named("duct", name, _boosted) for name in ("charge_pipe", "charge_cooler")},
    **{name: _named("duct", name) for name in ("fuel_filter", "tank_vent", "pickup", "gallery", "tail")},
    "exhaust_front": _of_banks("duct", "exhaust_front", "exhaust"),
    "catalyst": _of_banks("duct", "catalyst", "exhaust"),
    "exhaust_bank": _of_banks("bank", "bank", "exhaust"),
    **{name: _named("actuator", name) for name in ("throttle", "purge", "alternator", "starter")},
    "pcv": _with("crankcase", _named("actuator", "pcv")),
    "regulator": _with("plenum", _named("actuator", "regulator")),
    "egr": _named("actuator", "egr", lambda engine: 0.4),
    "wastegate": _named("actuator", "wastegate", _boosted),
    "high_pump": _named("actuator", "high_pump", _high_pump),
    "maf": _named("sensor", "maf", _meter),
    "map": _named("sensor", "map", _pressure_sensor),
    **{name: _named("sensor", name) for name in ("ect", "iat", "throttle_sensor", "pedal")},
    "knock": _named("sensor", "knock", lambda engine: 0.95),
    "rail_sensor": _rail_sensor,
    "o2_front": _of_banks("sensor", "o2_front", "exhaust"),
    "o2_rear": _of_banks("sensor", "o2_rear", "exhaust"),
    "signal": _signals,
    "pump": _named("pump", "pump"),
    "rail": lambda engine: [_place("rail", "rail", "rail", "the rail", "rail", "fuel")],
    "fuel": _named("fuel", "fuel"),
    "battery": _named("battery", "battery"),
    "driveline": _named("driveline", "driveline"),
    **{name: _named("learnt_item", name) for name in ("crank_variation", "throttle_zero")},
    "trim": _fuel_trims,
}
"""Kinds of place, by what the fault files call them."""

NEEDS: Mapping[str, Callable[[Engine], float]] = {
    "hydraulic_lash": lambda engine: 0.7,
    "solid_lash": lambda engine: 0.4,
    "valve_mode": lambda engine: 0.12,
    "automatic": lambda engine: 0.6,
    "manual": lambda engine: 0.4,
    "intake_flaps": lambda engine: 0.25,
    "secondary_air": lambda engine: 0.2,
    "turbo": lambda engine: 1.0 if engine.breathing.air.boost == "turbo" else 0.0,
    "fuel_return": lambda engine: 0.0 if engine.breathing.air.injection == "direct" else 0.4,
}
"""What a row may ask for that no description speaks of, as the chance that the engine has it. Our guess."""
