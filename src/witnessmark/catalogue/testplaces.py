"""Where tests outside the timing drive read, by what the test files call it; and what an intervention is done to.

A spot is a place and, where something is changed meanwhile, what it is changed at: the misfires of cylinder 4 while the
coils of 3 and 4 are exchanged.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence

from witnessmark.catalogue.electricplaces import always_live, sources
from witnessmark.engine.drive import CRANK
from witnessmark.engine.intervention import HOSES
from witnessmark.engine.stateplaces import banks_of, is_boosted, state_places
from witnessmark.engine.supply import SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.vocabulary import Place, quantity

__all__ = ["SPOTS", "Spot"]

Spot = tuple[Place, str]
_Lister = Callable[[Engine], list[Spot]]

_SMOKED = ("intake_duct", "charge_pipe", "charge_cooler", "plenum", "servo", "branch", "crankcase", "runner")
_LOOKED_AT = ("intake_duct", "charge_pipe", "charge_cooler", "branch", "servo", "crankcase")
_CONTACTS = ("pin", "relay", "fuse", "link")  # wires and splices are out of sight
_CHARGED = ("charge_pipe", "turbo")
_SUBSTITUTED = ("maf", "map", "ect", "iat")
_GASES = ("CO", "CO2", "O2", "HC")
_CARRIERS = ("wire", "splice", "pin", "fuse", "link", "relay", "ground")


def _plain(places: Iterable[Place]) -> list[Spot]:
    return [(place, "") for place in places]


def _fixed(**keys: str) -> _Lister:
    return lambda engine: _plain([Place.of(**keys)])


def _heard(zone: str) -> _Lister:
    """A zone that is listened at; a charger's only where there is one."""
    return lambda engine: _plain([Place.of(zone=zone)] if zone not in _CHARGED or is_boosted(engine) else [])


def _cylinders(engine: Engine) -> range:
    return range(1, engine.cylinders + 1)


def _of_cylinders(key: str, name: str = "{}") -> _Lister:
    return lambda engine: _plain(Place.of(**{key: name.format(k)}) for k in _cylinders(engine))


def _of_state(key: str, kind: str, only: Sequence[str] = ()) -> _Lister:
    """Places of a kind that the state has, by their ids; only those whose name begins with one of ``only``."""

    def listed(engine: Engine) -> list[Spot]:
        names = [n for n in state_places(engine, kind) if not only or n.startswith(tuple(only))]
        return _plain(Place.of(**{key: name}) for name in names)

    return listed


def _banks(engine: Engine) -> list[Spot]:
    return _plain(Place.of(bank=bank) for bank in banks_of(engine))


def _gases(engine: Engine) -> list[Spot]:
    return _plain(Place.of(bank=bank, gas=gas) for bank in banks_of(engine) for gas in _GASES)


def _valves(*events: str) -> _Lister:
    def listed(engine: Engine) -> list[Spot]:
        names = [name.removeprefix("cylinder_") for name in state_places(engine, "valve")]
        return _plain(Place.of(valve=name + event) for name in names for event in events)

    return listed


def _cam_pairs(engine: Engine) -> list[Spot]:
    """Every cam against the first: what is between two others follows."""
    first, *others = engine.cams
    return _plain(
        Place.of(bank=cam.bank, cam=cam.kind, other_bank=first.bank, other_cam=first.kind)
        for cam in others
        if (cam.bank, cam.kind) != (first.bank, first.kind)
    )


def _learnt(engine: Engine) -> list[Spot]:
    trims = [Place.of(learnt_item="fuel_trim", bank=bank) for bank in banks_of(engine)]
    return _plain([Place.of(learnt_item="crank_variation"), Place.of(learnt_item="throttle_zero"), *trims])


def _orders(engine: Engine) -> list[Spot]:
    firing = engine.cylinders / 2.0
    orders = dict.fromkeys([0.5, 1.0, 2.0, firing])
    names = [*(f"engine:{order:g}" for order in orders), "shaft:1", "wheel:1"]
    return _plain(Place.of(order=name) for name in names)


def _fitted(engine: Engine) -> list[Spot]:
    """Numbered parts beside wheels and position sensors."""
    names = [*(f"plug_{k}" for k in _cylinders(engine)), *(f"injector_{k}" for k in _cylinders(engine))]
    return _plain(Place.of(part=name) for name in (*names, *state_places(engine, "sensor")))


# ---------------------------------------------------------------- nodes of the supply graph


def _nodes(choose: Callable[[SupplyNode], bool]) -> _Lister:
    return lambda engine: _plain(Place.of(node=node.id) for node in supply_of(engine) if choose(node))


def _is_signal(node: SupplyNode) -> bool:
    return node.signal is not None or node.kind == "reference5"


def _signal_pairs(engine: Engine) -> list[Spot]:
    """Each signal with the next of the list: enough to show which of them are lost together."""
    names = [node.id for node in supply_of(engine) if _is_signal(node)]
    return _plain(Place.of(node=one, other_node=other) for one, other in itertools.pairwise(names))


def _references(engine: Engine) -> tuple[str, ...]:
    return sources(supply_of(engine))


def _battery_node(engine: Engine) -> list[Spot]:
    return _plain([Place.of(node=supply_of(engine).battery.id)])


def _modules(engine: Engine) -> list[str]:
    return [node.id for node in supply_of(engine) if node.kind == "module"]


# ---------------------------------------------------------------- while something is changed


def _swapped(engine: Engine) -> list[Spot]:
    """The cylinder that gives its part away, with the next: 1 with 2, the last with 1."""
    n = engine.cylinders
    return [(Place.of(cylinder=k), f"{k}-{k % n + 1}") for k in _cylinders(engine)] if n > 1 else []


def _partner(engine: Engine) -> list[Spot]:
    n = engine.cylinders
    return [(Place.of(cylinder=k % n + 1), f"{k}-{k % n + 1}") for k in _cylinders(engine)] if n > 1 else []


def _by(what: Callable[[Engine], Sequence[str]], where: _Lister) -> _Lister:
    """Each place of one list, with each thing that is changed of another."""
    return lambda engine: [(place, name) for (place, _), name in itertools.product(where(engine), what(engine))]


def _one(engine: Engine) -> list[Spot]:
    return _plain([Place()])


def _hoses(engine: Engine) -> list[str]:
    return [hose for hose in HOSES if hose != "fuel_filter"]


def _joints(engine: Engine) -> list[str]:
    return ["plenum", *(f"runner_{k}" for k in _cylinders(engine))]


def _command_valves(engine: Engine) -> list[str]:
    there = state_places(engine, "flow_valve")
    return [name for name in ("purge", "egr", "wastegate") if name in there]


def _wastegates(engine: Engine) -> list[str]:
    return [name for name in _command_valves(engine) if name == "wastegate"]


def _substitutes(engine: Engine) -> list[str]:
    there = state_places(engine, "sensor")
    return [name for name in there if name in _SUBSTITUTED or name.startswith("o2_front")]


def _feeds(engine: Engine) -> list[str]:
    """What stands between the battery and a module: its relays, fuses, grounds."""
    graph = supply_of(engine)
    return [node.id for node in graph if node.kind in _CARRIERS and set(graph.fed_by(node.id)) & set(_modules(engine))]


def _reference_loads(engine: Engine) -> list[Spot]:
    graph = supply_of(engine)
    return [
        (Place.of(node=name), load)
        for name in _references(engine)
        for load in graph.fed_by(name)
        if graph.node(load).kind == "load"
    ]


def _drawers(engine: Engine) -> tuple[str, ...]:
    return always_live(supply_of(engine))


def _position_nodes(engine: Engine) -> list[Spot]:
    names = {node.id for node in supply_of(engine)}
    shafts = (CRANK, *(cam.id for cam in engine.cams))
    spots = [(shaft, shaft if shaft == CRANK else f"cam_{shaft.replace('.', '_')}") for shaft in shafts]
    return [(Place.of(position=shaft), node if node in names else shaft) for shaft, node in spots]


def _numbers(engine: Engine) -> list[str]:
    return [str(k) for k in _cylinders(engine)]


def _bank_numbers(engine: Engine) -> list[str]:
    return [str(bank) for bank in banks_of(engine)]


SPOTS: Mapping[str, _Lister] = {
    "cylinder": _of_cylinders("cylinder"),
    "bank": _banks,
    "valve": _valves(""),
    "valve_event": _valves(".opens", ".shuts"),
    "cam_pair": _cam_pairs,
    "coil": _of_state("actuator", "coil"),
    "injector": _of_state("actuator", "injector"),
    "pump_actuator": _fixed(actuator="pump"),
    "pump": _fixed(pump="pump"),
    "rail": _fixed(rail="rail"),
    "battery": _fixed(battery="battery"),
    "driveline": _fixed(driveline="driveline"),
    "fuel": _fixed(fuel="fuel"),
    "oxygen": _of_state("sensor", "oxygen_sensor"),
    "front_oxygen": _of_state("sensor", "oxygen_sensor", ("o2_front",)),
    "exhaust_port": _of_state("sensor", "oxygen_sensor"),
    "coolant": _fixed(sensor="ect"),
    "temperature": lambda engine: _plain(Place.of(sensor=name) for name in ("ect", "iat")),
    "track": lambda engine: _plain(Place.of(sensor=name) for name in ("throttle_sensor", "pedal")),
    "position": _of_state("position", "position"),
    "learnt": _learnt,
    "gas": _gases,
    "order": _orders,
    "air_duct": _of_state("duct", "air_duct", _SMOKED),
    "exhaust_duct": _of_state("duct", "exhaust_duct"),
    "fitted_part": _fitted,
    "fluid": lambda engine: _plain(Place.of(fluid=name) for name in ("oil", "coolant")),
    "plug": _of_cylinders("plug"),
    "looked_duct": _of_state("duct", "air_duct", _LOOKED_AT),
    "tyres": _fixed(part="tyres"),
    "boot": _of_cylinders("part", "boot_{}"),
    "belt": _fixed(part="belt"),
    "engine_mount": _fixed(part="engine_mount"),
    "air_filter": _fixed(duct="air_filter"),
    "vent": _fixed(duct="crankcase"),
    "oily_duct": _of_state("duct", "air_duct", ("intake_duct", "charge_pipe")),
    "air_meter": _fixed(sensor="maf"),
    "pcv": _fixed(part="pcv"),
    "throttle": _fixed(part="throttle"),
    "oil": _fixed(fluid="oil"),
    "pickup": _fixed(duct="pickup"),
    **{zone: _fixed(zone=zone) for zone in (*quantity("look").zones, *quantity("smell").zones)},
    **{f"{zone}_heard": _heard(zone) for zone in quantity("noise").zones},
    "module": lambda engine: _plain(Place.of(module=name) for name in _modules(engine)),
    "feed_node": _nodes(lambda node: node.is_electrical and node.kind not in ("battery", "reference5")),
    "reference_node": lambda engine: _plain(Place.of(node=name) for name in _references(engine)),
    "signal_node": _nodes(_is_signal),
    "signal_pair": _signal_pairs,
    "bus_node": _nodes(lambda node: node.kind == "bus"),
    "load_node": _nodes(lambda node: node.kind == "load"),
    "contact_node": _nodes(lambda node: node.kind in _CONTACTS),
    "ground_node": _nodes(lambda node: node.kind == "ground"),
    "switched_node": _nodes(lambda node: node.driver is not None),
    "battery_node": _battery_node,
    "swapped": _swapped,
    "partner": _partner,
    "by_cylinder": _by(_numbers, _one),
    "by_bank": _by(_bank_numbers, _one),
    "by_hose": _by(_hoses, _one),
    "bank_by_hose": _by(_hoses, _banks),
    "rail_by_fuel_hose": lambda engine: [(Place.of(rail="rail"), "fuel_filter")],
    "by_joint": _by(_joints, _one),
    "bank_by_joint": _by(_joints, _banks),
    "by_valve": _by(_command_valves, _one),
    "by_wastegate": _by(_wastegates, _one),
    "bank_by_valve": _by(_command_valves, _banks),
    "by_sensor": _by(_substitutes, _one),
    "bank_by_sensor": _by(_substitutes, _banks),
    "temperature_unplugged": lambda engine: [(Place.of(sensor=name), name) for name in ("ect", "iat")],
    "coil_node": lambda engine: [(Place.of(node=f"coil_{k}"), str(k)) for k in _cylinders(engine)],
    "coil_heated": lambda engine: [(Place.of(cylinder=k), f"coil_{k}") for k in _cylinders(engine)],
    "position_by_node": _position_nodes,
    "module_by_feed": _by(_feeds, lambda engine: _plain(Place.of(module=name) for name in _modules(engine))),
    "reference_by_load": _reference_loads,
    "bus_by_module": _by(_modules, _nodes(lambda node: node.kind == "bus")),
    "battery_by_load": _by(_drawers, _battery_node),
}
"""Lists of spots, by the name that ``each`` gives them."""
