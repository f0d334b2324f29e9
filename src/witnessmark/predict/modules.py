"""What modules say, and whether they do: their supply, their answers, the start they permit, the bus between them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_usual import supply_of
from witnessmark.physics.normal import ndtr
from witnessmark.predict.batch import Batch
from witnessmark.predict.boardvolts import of_charging
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.supplies import RUNNING, solution
from witnessmark.predict.wires import along, carrying, named, sound_electrics
from witnessmark.vocabulary import Query

__all__ = ["RULES", "answering"]

_FEWEST_VOLTS = 6.5  # on which a module still works; our guess
_FRAMES = 1000.0  # on a bus in a second; our guess
_DRIVEN_VOLTS, _DOMINANT_VOLTS, _TERMINATION_OHM = 2.0, 0.9, 60.0  # ISO 11898-2, from memory
_BUS_SCATTER_VOLTS = 0.15  # our guess


def _supply_reported(batch: Batch, query: Query) -> Values:
    """What a module finds between its own supply and its own ground; nothing where it does not run."""
    module, found = str(query.place.get("module")), solution(batch, query.condition.state)
    graph = supply_of(batch.model.engine)
    volts = found.load_volts[module] if graph.has(module) else found.volts[graph.battery.id]
    silent = np.asarray(batch.get("module_silent", module)) > 0.5
    asleep = query.condition.state == "off"
    return np.where((volts < _FEWEST_VOLTS) | silent | asleep, np.nan, volts)


def answering(batch: Batch, module: str, state: str | None) -> Values:
    """Chance that a module speaks.

    Parameters
    ----------
    batch : Batch
    module : str
    state : str, optional

    Returns
    -------
    float or array, shape (n,) [-]
        Not silent, fed, and on a bus that carries.
    """
    graph, found = supply_of(batch.model.engine), solution(batch, state)
    alive = 1.0 - np.clip(batch.column("module_silent", module), 0.0, 1.0)
    if graph.has(module):
        alive = alive * ndtr((found.load_volts[module] - _FEWEST_VOLTS) / 0.5)
    for bus in graph:
        if bus.kind == "bus" and module in bus.ends:
            alive = alive * (1.0 - np.minimum(_bad_frames(batch, bus.id), 1.0) ** 4)
    return alive


def _answers(batch: Batch, query: Query) -> Values:
    if query.condition.state == "off":  # asleep
        return np.nan
    return 0.995 * answering(batch, str(query.place.get("module")), query.condition.state)


def _permitted(batch: Batch, query: Query) -> Values:
    """Chance that the start is permitted: one module that inhibits is enough."""
    graph, module = supply_of(batch.model.engine), str(query.place.get("module"))
    free = np.ones(batch.rows)
    for name in {module, "ecu", *(node.id for node in graph if node.kind == "module")}:
        free = free * (1.0 - np.clip(batch.column("inhibit", name), 0.0, 1.0))
    return 0.99 * free


def _calibration(batch: Batch, query: Query) -> Values:
    return 0.02 + 0.95 * np.clip(batch.column("calibration_match", str(query.place.get("module"))), 0.0, 1.0)


def _bad_frames(batch: Batch, bus: str) -> Values:
    """Share of the frames on a bus that are lost: the level against what receivers need, and contacts that go."""
    nodes = [bus]
    more = np.maximum(sum(batch.column("resistance", n) for n in nodes) - healthy_of("resistance", bus)[0], 0.0)
    leak = sum((batch.column(v, p) for v, p in batch.state.edits if v == "shorting" and p.partition(":")[0] == bus),
               np.zeros(batch.rows))  # fmt: skip
    volts = _DRIVEN_VOLTS / (1.0 + more / _TERMINATION_OHM + leak * _TERMINATION_OHM)
    lost = batch.column("dropout_rate", bus) * 0.02 / 60.0
    return np.asarray(ndtr((_DOMINANT_VOLTS - volts) / _BUS_SCATTER_VOLTS) + lost / (1.0 + lost))


def _bus_errors(batch: Batch, query: Query) -> Values:
    return 0.01 + _FRAMES * np.minimum(_bad_frames(batch, str(query.place.get("node"))), 1.0)


# ---------------------------------------------------------------- what may be asked


def _modules(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    """Those described, and whoever else hangs on a bus or has a pin."""
    pins = [pin.partition(".")[0] for node in graph for pin in (node.driver, node.signal, node.coil) if pin]
    ends = [end for node in graph for end in node.ends]
    return dict.fromkeys([*(node.id for node in graph if node.kind == "module"), *pins, *ends, "ecu"])


def _buses(model: DriveModel, graph: SupplyGraph) -> Iterable[str]:
    return (node.id for node in graph if node.kind == "bus")


def _known_to(model: DriveModel, query: Query) -> Tolerance:
    """What a starter draws is the maker's and the weather's."""
    return Tolerance(0.4 if query.condition.state == "cranking" else 0.1)


def _board(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """Along the way to the module, and while it runs what charging systems differ in."""
    yield from along("module")(model, query)
    if query.condition.state is None or query.condition.state in RUNNING:
        yield from of_charging(model, query)
        graph = supply_of(model.engine)
        yield from sound_electrics(graph, carrying(graph, "alternator"), query.condition.state)


# Tolerances beyond the healthy spread: our guess.
RULES: Mapping[str, Rule] = {
    "supply_reported": Rule(_supply_reported, _known_to, named("module", _modules), _board),
    "bus_errors": Rule(_bus_errors, Tolerance(0.05, 0.5), named("node", _buses)),
    "module_answers": Rule(_answers, Tolerance(), named("module", _modules)),
    "start_permitted": Rule(_permitted, Tolerance(), named("module", _modules)),
    "calibration_id_match": Rule(_calibration, Tolerance(), named("module", _modules)),
}
