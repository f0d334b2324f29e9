"""Random supply graphs, a fault drawn on each, and what would be found: the generator of ``shared_causes``.

It has its own shares, ranges and noise, and asks nothing of ``witnessmark.infer``. Sound vehicles differ here in every
path's resistance; readings have noise, a bias that one instrument puts on all of them, and now and then a wrong digit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.catalogue.codes import codes
from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.number import Number
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_check import check_supply
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.predict.batch import Batch
from witnessmark.predict.codecircuit import KINDS
from witnessmark.predict.codenames import meant
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.predict.model import DriveModel
from witnessmark.predict.run import expect, why_not
from witnessmark.source import Source
from witnessmark.vocabulary import Condition, Place, Query

KEY_ON = Condition("key_on", complaint="present")
IDLE = Condition("idle", complaint="present")
_OF_CODES = 0.6  # of the codes there are, those that this maker has
_SAID = Source("written", "drawn")
_PLACES = ("connector", "harness", "zone")

# How often each kind of node fails, and in which way: the design's table of shares, and odds of our own for the ways.
SHARES = {
    "wire": 0.30, "pin": 0.32, "ground": 0.15, "splice": 0.06, "relay": 0.06, "fuse": 0.03, "reference5": 0.05,
    "bus": 0.03,
}  # fmt: skip
WHOLE_PLACES = 0.06  # of all faults: a connector or a harness as a whole
WAYS = {
    "wire": "orgsv", "pin": "orgsnvw", "ground": "orv", "splice": "or", "relay": "or", "fuse": "orv",
    "reference5": "ogs", "bus": "orgv", "connector": "orvw", "harness": "ogv",
}  # fmt: skip
ODDS = {"o": 0.2, "r": 0.35, "g": 0.12, "s": 0.05, "n": 0.03, "v": 0.3, "w": 0.1}
SIZES = {
    "r": (0.2, 40.0),
    "g": (0.05, 50.0),
    "s": (0.05, 50.0),
    "n": (0.05, 50.0),
    "v": (2.0, 400.0),
    "w": (3e-4, 0.08),
}
_FAMILY = {"load": "wire", "module": "wire", "link": "fuse"}


@dataclass(frozen=True)
class Fault:
    """One edit at one site."""

    site: str
    kind: str
    way: str
    size: float
    state: State


def _number(value: float) -> Number:
    return Number.exactly(round(float(value), 5), _SAID)


class _Drawer:
    """A graph as it grows."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.nodes: list[SupplyNode] = []
        self.pin = 30
        self.connectors: dict[str, list[str]] = {}
        self.harnesses = ["engine", "body", "injection"][: int(rng.integers(1, 4))]
        self.zones = ["head", "left wing", "intake side", "bulkhead"]

    def some(self, values: Sequence[str]) -> str:
        return str(values[int(self.rng.integers(len(values)))])

    def path(self, name: str, kind: str, feed: str, low: float = 0.002, high: float = 0.012, **more: object) -> str:
        own = _number(self.rng.uniform(low, high))
        self.nodes.append(SupplyNode(name, kind, feed, ohm=own, **more))  # type: ignore[arg-type]
        return name

    def module_pin(self) -> str:
        self.pin += 1
        return f"ecu.{self.pin}"

    def lies(self, share: float = 0.5) -> dict[str, str]:
        """Where it lies, or nothing said."""
        found = {}
        if self.rng.random() < share:
            found["harness"] = self.some(self.harnesses)
        if self.rng.random() < share:
            found["zone"] = self.some(self.zones)
        return found

    def in_connector(self, feed: str) -> str:
        """A pin in a connector that others may share."""
        name = f"c{int(self.rng.integers(1, 6))}"
        pins = self.connectors.setdefault(name, [])
        own = f"{name}.{len(pins) + 1}"
        beside = (pins[-1],) if pins else ()
        self.path(own, "pin", feed, connector=name, beside=beside, **self.lies(0.3))
        pins.append(own)
        return own

    def load(self, name: str, feed: str, ohm: float, **more: object) -> None:
        self.nodes.append(
            SupplyNode(
                name,
                "load",
                feed,
                ohm=_number(self.rng.uniform(0.003, 0.01)),
                load_ohm=_number(ohm),
                **{**self.lies(0.3), **more},  # type: ignore[arg-type]
            )
        )


def draw_engine(rng: np.random.Generator) -> Engine:
    """An engine whose supplies are a random graph of 8 to 60 loads.

    Parameters
    ----------
    rng : Generator
    """
    count = int(np.round(8.0 * (60.0 / 8.0) ** (rng.random() ** 2)))
    cylinders = int(rng.choice([2, 3, 4, 4, 5, 6, 8]))
    draw = _Drawer(rng)
    draw.nodes.append(SupplyNode("battery", "battery"))
    trunk = draw.path("main_link", "link", "battery") if rng.random() < 0.6 else "battery"
    grounds = [draw.path("body_ground", "ground", "battery", 0.0005, 0.002)]
    for name in ("engine_ground", "head_ground", "wing_ground")[: int(rng.integers(1, 4))]:
        grounds.append(draw.path(name, "ground", draw.some(["battery", *grounds]), 0.0005, 0.003, **draw.lies()))
    relays = [draw.path(f"relay_{k}", "relay", trunk, coil=f"ecu.{k}") for k in range(1, int(rng.integers(2, 5)))]
    relays[0] = _renamed(draw, relays[0], "main_relay")
    fuses = [
        draw.path(f"fuse_{k}", "fuse", draw.some([*relays, trunk] if k > 2 else relays))
        for k in range(1, int(rng.integers(3, 5 + count // 8)))
    ]
    fed = draw.path("fuse_ecu", "fuse", draw.some([relays[0], trunk]))
    draw.nodes.append(
        SupplyNode("ecu", "module", fed, draw.some(grounds), ohm=_number(0.004), load_ohm=_number(12.0), **draw.lies())
    )
    others = ["gearbox", "brakes"][: int(rng.integers(0, 3))]
    for name in others:
        draw.nodes.append(
            SupplyNode(name, "module", draw.some(fuses), draw.some(grounds), ohm=_number(0.004), load_ohm=_number(20.0))
        )
    if others:
        draw.nodes.append(SupplyNode("can", "bus", ends=("ecu", *others), **draw.lies()))  # type: ignore[arg-type]
    _loads(draw, count, cylinders, fuses, grounds)
    graph = SupplyGraph("drawn", tuple(draw.nodes), ("oil_pump",), _SAID)
    check_supply(graph)
    bare = Engine("drawn", cylinders=cylinders, banks=1, layout="inline")
    return replace(candidate_engines(bare)[0].engine, supply=graph)


def _renamed(draw: _Drawer, old: str, new: str) -> str:
    draw.nodes = [replace(node, id=new) if node.id == old else node for node in draw.nodes]
    return new


def _loads(draw: _Drawer, count: int, cylinders: int, fuses: Sequence[str], grounds: Sequence[str]) -> None:
    rng = draw.rng
    sensors = ["map", "throttle_sensor", "pedal", "rail", "boost", "ect", "iat", "maf"]
    switched = [f"coil_{k}" for k in range(1, cylinders + 1)] + [f"injector_{k}" for k in range(1, cylinders + 1)]
    switched += ["purge", "wastegate", "high_pump", "o2_front_1", "o2_rear_1", "pump"]
    names = list(rng.permutation([*sensors, *switched]))[: max(6, int(count * rng.uniform(0.6, 0.95)))]
    names += [f"valve_{k}" for k in range(1, 1 + max(0, count - len(names)))]
    signal_ground = draw.path("sensor_ground", "ground", "ecu", 0.004, 0.01, **draw.lies())
    references = [f"ref_{letter}" for letter in "abc"[: int(rng.integers(1, 4))]]
    for name in references:
        draw.nodes.append(SupplyNode(name, "reference5", "ecu", limit_amps=_number(rng.uniform(0.08, 0.2))))
    ways: dict[str, list[str]] = {name: [name] for name in [*fuses, *references]}
    for name in [*fuses, *references]:
        for k in range(int(rng.integers(0, 3))):
            feed = draw.some(ways[name])
            if rng.random() < 0.5:
                ways[name].append(draw.in_connector(feed))
            elif name in fuses or rng.random() < 0.5:
                ways[name].append(draw.path(f"s_{name}_{k + 1}", "splice", feed, **draw.lies()))
    for name in map(str, names):
        if name in ("ect", "iat"):
            draw.nodes.append(
                SupplyNode(f"pull_{name}", "reference5", "ecu", ohm=_number(2200.0), limit_amps=_number(0.003))
            )
            draw.load(name, f"pull_{name}", 2000.0, ground=signal_ground, signal=draw.module_pin())
        elif name in sensors and name != "maf":
            feed = draw.some(ways[draw.some(references)])
            draw.load(name, feed, rng.uniform(500, 1500), ground=signal_ground, signal=draw.module_pin())
        elif name == "maf":
            draw.load(name, draw.some(ways[draw.some(fuses)]), 90.0, ground=signal_ground, signal=draw.module_pin())
        elif name.startswith("coil"):
            draw.load(name, _home(draw, "coil", ways, fuses), 0.6, ground=draw.some(grounds), driver=draw.module_pin())
        elif name.startswith("injector"):
            draw.load(name, _home(draw, "injector", ways, fuses), 12.0, driver=draw.module_pin())
        elif name.startswith("o2"):
            pins = {"driver": draw.module_pin(), "signal": draw.module_pin()}
            draw.load(name, draw.some(ways[draw.some(fuses)]), 8.0, **pins)
        elif name == "pump":
            draw.load(name, draw.some(ways[draw.some(fuses)]), 2.0, ground=draw.some(grounds))
        else:
            own = {"driver": draw.module_pin()} if rng.random() < 0.7 else {"ground": draw.some(grounds)}
            draw.load(name, draw.some(ways[draw.some(fuses)]), rng.uniform(6, 30), **own)


def _home(draw: _Drawer, what: str, ways: dict[str, list[str]], fuses: Sequence[str]) -> str:
    """Coils, and injectors, hang on one fuse, some of them on what branches off it."""
    fuse = fuses[(1 if what == "injector" else 0) % len(fuses)]
    return draw.some(ways[fuse])


# ---------------------------------------------------------------- faults


def draw_fault(graph: SupplyGraph, rng: np.random.Generator) -> Fault:
    """A site by the shares of kinds, a way, a size.

    Parameters
    ----------
    graph : SupplyGraph
    rng : Generator
    """
    if rng.random() < WHOLE_PLACES:
        key = str(rng.choice(["connector", "harness"]))
        values = [v for v in dict.fromkeys(getattr(n, key) for n in graph) if v and len(_members(graph, key, v)) > 1]
        if values:
            value = str(rng.choice(values))
            return _fault(graph, f"{key}:{value}", key, _members(graph, key, value), rng)
    families: dict[str, list[SupplyNode]] = {}
    for node in graph:
        family = _FAMILY.get(node.kind, node.kind)
        pull_up = node.kind == "reference5" and (node.ohm.mean or 0.0) > 100.0
        if family in SHARES and not pull_up:
            families.setdefault(family, []).append(node)
    names = list(families)
    shares = np.array([SHARES[name] for name in names])
    family = str(rng.choice(names, p=shares / shares.sum()))
    node = families[family][int(rng.integers(len(families[family])))]
    return _fault(graph, node.id, family, (node.id,), rng)


def _members(graph: SupplyGraph, key: str, value: str) -> tuple[str, ...]:
    return tuple(name for name in graph.sharing(key, value) if graph.node(name).is_electrical)


def _fault(graph: SupplyGraph, site: str, kind: str, nodes: Sequence[str], rng: np.random.Generator) -> Fault:
    ways = [way for way in WAYS[kind] if way != "n" or graph.node(nodes[0]).beside]
    odds = np.array([ODDS[way] for way in ways])
    way = str(rng.choice(ways, p=odds / odds.sum()))
    low, high = SIZES.get(way, (1.0, 1.0))
    size = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    edits: dict[tuple[str, str], float] = {}
    for name in nodes:
        if way == "o":
            edits["resistance", name] = 1e9
        elif way == "r":
            edits["resistance", name] = 0.02 + size
        elif way in "gsn":
            end = {"g": "", "s": ":supply", "n": f":{(graph.node(name).beside or ('',))[0]}"}[way]
            edits["shorting", f"{name}{end}"] = size
        elif way == "w":
            edits["shorting", name] = size
            edits["resistance", name] = 0.02 + 0.1 * 1e4 ** rng.random()
    if way == "v":
        edits["dropout_rate", site] = size
    return Fault(site, kind, way, size, State(edits))


# ---------------------------------------------------------------- findings


def offered(engine: Engine, rng: np.random.Generator) -> tuple[list[Query], list[str]]:
    """What is looked at on this vehicle: readings, and codes whose monitors exist.

    Parameters
    ----------
    engine : Engine
    rng : Generator
    """
    graph, model = engine.supply, DriveModel.of(engine)
    assert graph is not None
    wanted = [one for one in codes().values() if one.circuit and one.part and one.kind in KINDS]
    asked = [one.id for one in wanted if any(graph.has(name) for name, _ in meant(engine, one))]
    asked += ["P0641", "P0642", "P0643", "P0651", "P0652", "P0653", "P0562", "U0100", "U0101"]
    sound = Batch(model, HEALTHY, {}, 1)
    asked = [name for name in asked if code_chance(model, name, HEALTHY, {}, 1, batch=sound) is not None]
    asked = [name for name in asked if rng.random() < _OF_CODES]
    loads = [node.id for node in graph if node.kind in ("load", "module")]
    paths = [node.id for node in graph if node.is_electrical and node.kind != "battery"]
    measured = rng.permutation(paths)[: int(np.ceil(len(paths) * rng.uniform(0.3, 0.9)))]
    queries = [Query("branch_drop", Place.of(node=str(name)), IDLE) for name in measured]
    queries += [Query("reference_volts", Place.of(node=n.id), KEY_ON) for n in graph if n.kind == "reference5"]
    queries += [Query("module_answers", Place.of(module=n.id), KEY_ON) for n in graph if n.kind == "module"]
    queries += [Query("bus_errors", Place.of(node=n.id), KEY_ON) for n in graph if n.kind == "bus"]
    watched = [str(name) for name in rng.permutation(loads)[: int(rng.integers(6, 15))]]
    queries += [Query("signal_dropouts", Place.of(node=name), IDLE) for name in watched]
    queries += [
        Query("dropouts_together", Place.of(node=a, other_node=b), IDLE)
        for i, a in enumerate(watched[:5])
        for b in watched[i + 1 : 5]
    ]
    return [query for query in queries if why_not(model, query) is None], asked


def found_on(
    engine: Engine, state: State, queries: Sequence[Query], asked: Sequence[str], rng: np.random.Generator
) -> list[Finding]:
    """What would be found with this state: noise, a bias of each instrument, wrong digits, monitors that have not run.

    Parameters
    ----------
    engine : Engine
    state : State
        Of the fault alone; what sound vehicles differ in is drawn here.
    queries : sequence of Query
    asked : sequence of str
        Codes.
    rng : Generator
    """
    model, whole = DriveModel.of(engine), _differing(engine, state, rng)
    mean = expect(model, queries, whole).mean[0]
    bias: dict[str, float] = {}
    found = []
    for query, value in zip(queries, mean, strict=True):
        kind = query.kind
        if kind.kind == "yes_no":
            yes = rng.random() < np.nan_to_num(value)
            found.append(_finding(query, float(yes != (rng.random() < kind.sd)), kind.sd))
        elif not np.isnan(value):
            shift = bias.setdefault(kind.instrument, rng.normal(0.0, 0.5))
            sd = kind.default_sd(value)
            read = value + sd * (rng.normal() + shift)
            if rng.random() < 0.004:
                read *= float(rng.choice([0.1, 10.0]))
            found.append(_finding(query, max(read, 0.0) if kind.name != "branch_drop" else read, max(sd, 0.01)))
    not_run = rng.uniform(0.0, 0.2)
    batch, odds = Batch(model, whole, {}, 1), limits_of(engine)[1]
    for name in asked:
        chance = code_chance(model, name, whole, {}, 1, batch=batch)
        assert chance is not None
        place, is_set = Place.of(code=name), rng.random() < float(chance[0] @ odds)
        ran = rng.random() >= not_run
        found.append(_finding(Query("code_state", place, KEY_ON), float(is_set and ran), 0.02))
        if not ran:
            found.append(_finding(Query("monitor_ran", place, KEY_ON), 0.0, 0.02))
    return found


def _finding(query: Query, value: float, sd: float) -> Finding:
    return Finding(query.quantity, query.place, float(value), float(sd), query.condition, Provenance("typed"))


def _differing(engine: Engine, state: State, rng: np.random.Generator) -> State:
    """Every path a little better or worse than described, as sound ones are."""
    assert engine.supply is not None
    edits = dict(state.edits)
    for node in engine.supply:
        if node.is_electrical and node.kind != "battery":
            own = max(0.001, rng.normal(0.02, 0.01))
            key = ("resistance", node.id)
            edits[key] = edits[key] - 0.02 + own if key in edits else own
    return State(edits)


def shows(engine: Engine, states: Sequence[State], queries: Sequence[Query], asked: Sequence[str]) -> list[int]:
    """In how many of the things looked at each state shows, well beyond noise and what sound vehicles differ in.

    Parameters
    ----------
    engine : Engine
    states : sequence of State
    queries : sequence of Query
    asked : sequence of str
    """
    model, rows, every = DriveModel.of(engine), 1 + len(states), [HEALTHY, *states]
    keys = {key for state in states for key in state.edits}
    whole = State({key: np.array([float(np.ravel(one.get(*key))[0]) for one in every]) for key in keys})
    told = np.nan_to_num(expect(model, queries, whole, rows=rows).mean)
    count = np.zeros(rows, dtype=int)
    for j, query in enumerate(queries):
        sound = told[0, j]
        if query.kind.kind == "yes_no":
            count += np.abs(told[:, j] - sound) > 0.3
        else:
            usual = np.hypot(query.kind.default_sd(sound), 0.02 + 0.3 * abs(sound))
            count += np.abs(told[:, j] - sound) > 4.0 * usual
    odds, batch = limits_of(engine)[1], Batch(model, whole, {}, rows)
    for name in asked:
        chance = code_chance(model, name, whole, {}, rows, batch=batch)
        assert chance is not None
        count += np.abs((chance - chance[:1]) @ odds) > 0.3
    return [int(one) for one in count[1:]]
