"""What a supply graph says by itself: which nodes hang on which, what their paths measure, how sound ones differ."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from witnessmark.engine.number import Number
from witnessmark.engine.state import healthy_of
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.engine.supply_usual import supply_of
from witnessmark.errors import one_of
from witnessmark.physics.supply import USUAL_LOAD_OHM
from witnessmark.predict.battery import of_a_battery
from witnessmark.predict.cranking import of_cranking
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance
from witnessmark.vocabulary import Condition, Query

__all__ = [
    "along",
    "behind",
    "carrying",
    "described_ohm",
    "is_actuator",
    "is_pulsed",
    "load_ohm",
    "named",
    "path_ohm",
    "reference_of",
    "relative_sd",
    "shaken",
    "sound_electrics",
]

_PULSED = ("coil", "injector")
_SOUND_OHM = healthy_of("resistance", "fuse")[0]


def behind(graph: SupplyGraph, name: str) -> tuple[str, ...]:
    """Ids of all nodes that a node hangs on, itself first: its feed, its ground, the module that reads or drives it.

    Parameters
    ----------
    graph : SupplyGraph
    name : str

    Returns
    -------
    tuple of str
        The battery left out; only ``name`` where it is no node of the graph.
    """
    return _behind(graph, name, pins=True)


def shaken(graph: SupplyGraph, names: Iterable[str]) -> tuple[str, ...]:
    """Where the state may keep contacts that come and go, for nodes and for the places they lie in.

    Parameters
    ----------
    graph : SupplyGraph
    names : iterable of str
        Ids of nodes; others are kept as they are.

    Returns
    -------
    tuple of str
        The nodes, and each connector, harness and zone that one of them lies in ("connector:c9"): what moves such a
        place takes all that lies in it at the same moment.
    """
    nodes = graph.by_id
    found = dict.fromkeys(names)
    for name in tuple(found):
        node = nodes.get(name)
        for key in ("connector", "harness", "zone") if node is not None else ():
            if getattr(node, key):
                found[f"{key}:{getattr(node, key)}"] = None
    return tuple(found)


def _behind(graph: SupplyGraph, name: str, *, pins: bool) -> tuple[str, ...]:
    nodes = graph.by_id
    found, ahead = [name], [name]
    while ahead:
        node = nodes.get(ahead.pop())
        if node is None:
            continue
        others = [node.feed, node.ground]
        if pins:
            others += [pin.partition(".")[0] for pin in (node.driver, node.signal, node.coil) if pin]
        for one in others:
            if one is not None and one in nodes and one not in found and nodes[one].kind != "battery":
                found.append(one)
                ahead.append(one)
    return tuple(found)


def reference_of(graph: SupplyGraph, name: str) -> str | None:
    """The 5 V source that a node is fed from.

    Parameters
    ----------
    graph : SupplyGraph
    name : str

    Returns
    -------
    str or None
        The node itself if it is one; None where none feeds it.
    """
    nodes = graph.by_id
    node = nodes.get(name)
    while node is not None and node.kind != "reference5":
        node = nodes.get(node.feed) if node.feed is not None else None
    return node.id if node is not None else None


def path_ohm(node: SupplyNode, resistance: Values) -> Values:
    """Resistance of a node's own path from the state variable: what sound nodes differ in is a share of what they have.

    Parameters
    ----------
    node : SupplyNode
    resistance : float or array, shape (n,) [ohm]
        State variable of that name, 0.02 where sound.

    Returns
    -------
    float or array, shape (n,) [ohm]
        The described one for 0.02, nothing for nothing; whatever is above 0.02 counts in full.
    """
    return described_ohm(node) * np.minimum(resistance, _SOUND_OHM) / _SOUND_OHM + np.maximum(
        np.subtract(resistance, _SOUND_OHM), 0.0
    )


def described_ohm(node: SupplyNode) -> float:
    """Resistance of a node's own path as described, the usual one where it is not.

    Parameters
    ----------
    node : SupplyNode

    Returns
    -------
    float, shape () [ohm]
    """
    # A reference's own number is its source's; its wire counts as any sound path.
    mean = None if node.kind == "reference5" else node.ohm.mean
    return _SOUND_OHM if mean is None else mean


def sound_electrics(graph: SupplyGraph, names: Iterable[str], state: str | None) -> Iterable[Nuisance]:
    """What sound supplies differ in, along some nodes.

    Parameters
    ----------
    graph : SupplyGraph
    names : iterable of str
    state : str, optional
        Of the condition; nothing counts where everything is asleep.

    Returns
    -------
    iterable of Nuisance
        What differs in the battery and, while it cranks, in the starter and the engine; and the resistance of each
        node, in its own proportion.
    """
    if state == "off":
        return
    if state == "cranking":
        yield from of_cranking(Condition("cranking"))
        yield Nuisance("winding", "starter", *healthy_of("winding", "starter"))
        names = [*names, *carrying(graph, "starter")]
    elif state == "key_on":
        yield from of_a_battery()
    else:
        yield Nuisance("battery_resistance", "battery", *healthy_of("battery_resistance", "battery"))
    for name in dict.fromkeys(names):
        node = graph.node(name)
        if node.is_electrical and node.kind != "battery":
            mean, sd = healthy_of("resistance", name)
            yield Nuisance("resistance", name, mean, sd * min(1.0, described_ohm(node) / mean))


def carrying(graph: SupplyGraph, name: str) -> tuple[str, ...]:
    """Ids of the nodes that a node's own current passes: itself, its feeds, its grounds.

    Parameters
    ----------
    graph : SupplyGraph
    name : str

    Returns
    -------
    tuple of str
        The battery left out; empty where it is no node of the graph.
    """
    return tuple(one for one in _behind(graph, name, pins=False) if graph.has(one))


def relative_sd(number: Number, usual: float) -> float:
    """Spread of a described number as a share of it; the usual share where it is a guess.

    Parameters
    ----------
    number : Number
    usual : float [-]

    Returns
    -------
    float, shape () [-]
    """
    if not number.is_known or number.source.kind == "guess" or not number.mean:
        return usual
    return max(0.02, (number.sd or 0.0) / number.mean)


def is_actuator(node: SupplyNode) -> bool:
    """Whether a node is something that a winding or a heater works in, rather than a sensor.

    Parameters
    ----------
    node : SupplyNode

    Returns
    -------
    bool
        A heated sensor has a driver for its heater beside the pin that reads it.
    """
    return node.kind == "load" and (node.signal is None or node.driver is not None)


def is_pulsed(node: SupplyNode) -> bool:
    """Whether a node is a coil or an injector, which draw one after another.

    Parameters
    ----------
    node : SupplyNode

    Returns
    -------
    bool
    """
    return node.kind == "load" and node.id.partition("_")[0] in _PULSED


def load_ohm(node: SupplyNode) -> float:
    """Resistance of a load as described, the usual one where it is not.

    Parameters
    ----------
    node : SupplyNode

    Returns
    -------
    float, shape () [ohm]
    """
    return node.load_ohm.mean or USUAL_LOAD_OHM["load"].exact or 0.0


def along(key: str) -> Callable[[DriveModel, Query], Iterable[Nuisance]]:
    """What sound supplies differ in, along the way to the node that a place names.

    Parameters
    ----------
    key : str

    Returns
    -------
    callable
        As a rule's ``nuisances``.
    """

    def differs(model: DriveModel, query: Query) -> Iterable[Nuisance]:
        graph, name = supply_of(model.engine), str(query.place.get(key))
        return sound_electrics(graph, carrying(graph, name), query.condition.state)

    return differs


def named(
    key: str, known: Callable[[DriveModel, SupplyGraph], Iterable[str]]
) -> Callable[[DriveModel, Query], str | None]:
    """Refuses what is not among the names that an engine has.

    Parameters
    ----------
    key : str
        Of the place.
    known : callable

    Returns
    -------
    callable
        As a rule's ``refuses``.
    """

    def refuses(model: DriveModel, query: Query) -> str | None:
        names, name = list(known(model, supply_of(model.engine))), str(query.place.get(key))
        return None if name in names else one_of(f"{key} of this engine", name, names).message

    return refuses
