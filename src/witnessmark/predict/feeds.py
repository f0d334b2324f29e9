"""What still reaches a part through its fuses, relays, wires and grounds: along its own way, without the whole net.

Voltages at rest and under load are the network's affair (:mod:`witnessmark.physics.supply`); whether a part works at
all follows from the resistance in its way, a short that takes its feed down, and who switches it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.predict.batch import Batch
from witnessmark.predict.logistic import expit

__all__ = ["alive", "any_module", "extra_ohm", "modules", "way_of"]

_USUAL_LOAD_OHM = 10.0  # of a part whose resistance nothing says
_WORKS_ABOVE, _WORKS_SD = 0.55, 0.06  # share of its usual current with which a part still works; our guess
_BLOWN_S = 0.5  # a short of so much blows a fuse; our guess
_DRAGGED_S = 0.02  # and of so much drags a 5 V source down: 0.1 A at 5 V


def modules(engine: Engine) -> tuple[str, ...]:
    """Ids of the modules that stand in the graph.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of str
        At least "ecu".
    """
    found = tuple(node.id for node in supply_of(engine) if node.kind == "module")
    return found or ("ecu",)


def way_of(engine: Engine, part: str) -> tuple[str, ...]:
    """Every node that a part's current passes: itself, what feeds it, and its grounds.

    Parameters
    ----------
    engine : Engine
    part : str

    Returns
    -------
    tuple of str
        The part alone where the graph does not know it.
    """
    graph = supply_of(engine)
    found: list[str] = []
    ahead = [part]
    while ahead:
        name = ahead.pop(0)
        if name in found or (graph.has(name) and graph.node(name).kind == "battery"):
            continue
        found.append(name)
        if graph.has(name):
            node = graph.node(name)
            ahead += [one for one in (node.feed, node.ground) if one is not None]
    return tuple(found)


def extra_ohm(batch: Batch, part: str) -> NDArray[np.float64]:
    """Resistance in a part's way beyond a sound one's.

    Parameters
    ----------
    batch : Batch
    part : str

    Returns
    -------
    ndarray, shape (n,) [ohm]
    """
    total = np.zeros(batch.rows)
    for node in way_of(batch.model.engine, part):
        usual, _ = healthy_of("resistance", node)
        total = total + np.maximum(batch.column("resistance", node) - usual, 0.0)
    return total


def alive(batch: Batch, part: str) -> NDArray[np.float64]:
    """Chance that a part has what it needs to work: current, and whoever switches it.

    Parameters
    ----------
    batch : Batch
    part : str

    Returns
    -------
    ndarray, shape (n,) [-]

    Notes
    -----
    Docs/physics.md, "what reaches a part": its current over the usual, I/I₀ = R/(R w + ΔR), by Ohm's law.
    """
    return batch.once(("alive", part), lambda: _alive(batch, part))


def _alive(batch: Batch, part: str) -> NDArray[np.float64]:
    graph = supply_of(batch.model.engine)
    node = graph.node(part) if graph.has(part) else None
    own = (node.load_ohm.mean if node is not None else None) or _USUAL_LOAD_OHM
    winding = np.maximum(batch.column("winding", part), 1e-3)
    share = own / (own * winding + extra_ohm(batch, part))
    chance = expit((share - _WORKS_ABOVE) / _WORKS_SD) / expit((1.0 - _WORKS_ABOVE) / _WORKS_SD)
    chance = np.minimum(chance, 1.0) * _not_shorted(batch, part)
    if node is not None and node.driver is not None:
        chance = chance * np.clip(batch.column("driver_ok", node.driver.split(".")[0]), 0.0, 1.0)
    return np.asarray(chance)


def _not_shorted(batch: Batch, part: str) -> NDArray[np.float64]:
    """A short anywhere along the way, or anywhere on the same 5 V source."""
    graph = supply_of(batch.model.engine)
    chance = np.ones(batch.rows)
    behind_source = True
    way = way_of(batch.model.engine, part)
    sources = [name for name in way if graph.has(name) and graph.node(name).kind == "reference5"]
    for name in way:
        if sources and name == sources[0]:
            behind_source = False
        limit = _DRAGGED_S if sources and behind_source else _BLOWN_S
        chance = chance * expit((limit - _shorting(batch, name)) / (0.1 * limit))
    for source in sources:
        for name in (source, *graph.fed_by(source)):
            if name not in way or name == source:
                chance = chance * expit((_DRAGGED_S - _shorting(batch, name)) / (0.1 * _DRAGGED_S))
    return chance


def _shorting(batch: Batch, name: str) -> NDArray[np.float64]:
    """A short is to ground where nothing else is said."""
    return np.asarray(batch.column("shorting", name) + batch.column("shorting", f"{name}:ground"))


def any_module(batch: Batch, variable: str) -> NDArray[np.float64]:
    """Whether any module has this yes-or-no variable set.

    Parameters
    ----------
    batch : Batch
    variable : str
        "inhibit", "module_silent".

    Returns
    -------
    ndarray, shape (n,) [-]
        Chance.
    """
    free = np.ones(batch.rows)
    for name in modules(batch.model.engine):
        free = free * (1.0 - np.clip(batch.column(variable, name), 0.0, 1.0))
    return 1.0 - free
