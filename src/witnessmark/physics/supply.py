"""Volts and amperes at every node of a supply graph, for many sets of edits at once.

An edit at one node changes the supply of everything beneath it, because the whole network is solved
(docs/physics.md, "supplies and grounds").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.number import Number
from witnessmark.engine.supply import SupplyGraph, SupplyNode
from witnessmark.errors import EngineDefinitionError, InputError, one_of
from witnessmark.physics.chain import Values
from witnessmark.physics.network import NetworkSolution
from witnessmark.physics.regulator import RegulatorLimits, settle
from witnessmark.physics.wiring import Branch, Wiring, wire
from witnessmark.source import Source

__all__ = [
    "DRIVER_OHM",
    "OPEN_OHM",
    "USUAL_LIMIT_AMPS",
    "USUAL_LOAD_OHM",
    "USUAL_OHM",
    "SupplyEdits",
    "SupplySolution",
    "solution_of",
    "solve_supply",
]

OPEN_OHM = 1e9
"""What stands for an open path, in ohm: the leak of a clean insulator, so that potentials stay settled."""

_LEAST_OHM = 1e-6

USUAL_OHM = Number.exactly(0.02, Source("guess", "a sound node: the state variable's healthy value"))
"""Resistance of a node's own path where none is described, in ohm."""

USUAL_LOAD_OHM = {
    "load": Number.exactly(12.0, Source("guess", "an actuator of about 1 A")),
    "sensor": Number.exactly(1000.0, Source("guess", "a sensor of about 5 mA")),
    "module": Number.exactly(15.0, Source("guess", "a control unit of somewhat under 1 A")),
}
"""Resistance of a load where none is described, in ohm."""

USUAL_LIMIT_AMPS = Number.exactly(0.1, Source("guess", "what a 5 V source gives before it gives way"))
"""Current limit of a 5 V source where none is described, in ampere."""

SOURCE_OHM = 0.1  # our guess: what little a regulated output gives way before its limit
DRIVER_OHM = 0.1
"""Resistance of a low-side driver when on, in ohm; our guess."""

_NOMINAL_VOLTS = 12.6  # at which a parasitic drain is stated

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SupplyEdits:
    """What differs from the description, each a number or an array over n sets of edits; all are optional.

    Parameters
    ----------
    resistance : mapping of str to float or array, shape (n,) [ohm]
        Of a node's own path, in place of the described one; :data:`OPEN_OHM` for open.
    shorting : mapping of (str, str) to float or array, shape (n,) [S]
        From a node to "ground", "supply", or another node.
    dropped : mapping of str to float or array, shape (n,) [-]
        1 where a node's contact is lost at this moment, 0 where it holds.
    winding : mapping of str to float or array, shape (n,) [-]
        A load's resistance as a multiple of the described one.
    switched : mapping of str to float or array, shape (n,) [-]
        1 where a load or relay is on (which is taken where nothing is said), 0 off; between: share of the time.
    driver_ok : mapping of str to float or array, shape (n,) [-]
        By module: 0 where its drivers are dead, and with them what they switch.
    parasitic_ma : mapping of str to float or array, shape (n,) [mA]
        A drain at a node, stated at 12.6 V.
    """

    resistance: Mapping[str, Values] = field(default_factory=dict)
    shorting: Mapping[tuple[str, str], Values] = field(default_factory=dict)
    dropped: Mapping[str, Values] = field(default_factory=dict)
    winding: Mapping[str, Values] = field(default_factory=dict)
    switched: Mapping[str, Values] = field(default_factory=dict)
    driver_ok: Mapping[str, Values] = field(default_factory=dict)
    parasitic_ma: Mapping[str, Values] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SupplySolution:
    """A solved supply graph; potentials are against the battery's negative post.

    Parameters
    ----------
    volts : mapping of str to array, shape (n,) [V]
        At every node that carries current.
    amps : mapping of str to array, shape (n,) [A]
        Through every node's own path, from its feed (of a ground: towards the battery).
    drops : mapping of str to array, shape (n,) [V]
        Across every node's own path at that current: what a meter laid along it shows.
    load_volts : mapping of str to array, shape (n,) [V]
        Across every load and module, its own return taken as zero.
    reference_volts : mapping of str to array, shape (n,) [V]
        At every 5 V reference, against the ground of its module.
    battery_amps : array, shape (n,) [A]
        Out of the battery.
    wiring : Wiring
    network : NetworkSolution
    siemens : array, shape (n, branches) [S]
        Conductances as edited; those of the 5 V sources themselves left at nothing.
    """

    volts: Mapping[str, _Array]
    amps: Mapping[str, _Array]
    drops: Mapping[str, _Array]
    load_volts: Mapping[str, _Array]
    reference_volts: Mapping[str, _Array]
    battery_amps: _Array
    wiring: Wiring
    network: NetworkSolution
    siemens: _Array


def solve_supply(
    graph: SupplyGraph,
    edits: SupplyEdits | None = None,
    *,
    emf: Values = 12.6,
    battery_ohm: Values = 0.006,
    alternator_amps: Values = 0.0,
) -> SupplySolution:
    """Potentials, currents and drops of a supply graph.

    Parameters
    ----------
    graph : SupplyGraph
        One that :func:`~witnessmark.engine.supply_check.check_supply` lets pass.
    edits : SupplyEdits, optional
        Sound as described if left out.
    emf : float or array, shape (n,) [V]
        Of the battery, behind its resistance.
    battery_ohm : float or array, shape (n,) [ohm]
    alternator_amps : float or array, shape (n,) [A]
        Driven into the battery's positive post.

    Returns
    -------
    SupplySolution

    Raises
    ------
    InputError
        For an edit at a node that is not there, or that cannot have it.
    EngineDefinitionError
        For a resistance, conductance or share that cannot be, and where the 5 V sources do not settle.

    Notes
    -----
    Kirchhoff's and Ohm's laws, from memory, by :func:`witnessmark.physics.network.solve_network`. Holds for steady
    currents: no inductance, no inrush, no heating; loads are resistors. A 5 V source: docs/physics.md, "references".

    Examples
    --------
    A 0.5 ohm lamp behind a fuse; the second time 0.1 ohm stands in its ground:

    >>> import numpy as np
    >>> from witnessmark.engine.supply import SupplyGraph, SupplyNode
    >>> from witnessmark.engine.number import Number
    >>> nodes = (
    ...     SupplyNode("batt", "battery"),
    ...     SupplyNode("f1", "fuse", "batt"),
    ...     SupplyNode("g1", "ground", "batt"),
    ...     SupplyNode("lamp", "load", "f1", ground="g1", load_ohm=Number.exactly(0.5)),
    ... )
    >>> edits = SupplyEdits(resistance={"g1": np.array([0.001, 0.1]), "f1": 0.001, "lamp": 0.001})
    >>> found = solve_supply(SupplyGraph("lamp", nodes), edits)
    >>> found.load_volts["lamp"].round(2).tolist(), found.drops["g1"].round(2).tolist()
    ([12.38, 10.36], [0.02, 2.07])
    """
    edits = edits or SupplyEdits()
    _refuse_strangers(graph, edits)
    wiring = wire(graph, shorts=edits.shorting, leaks=edits.parasitic_ma)
    columns = [_siemens(graph, branch, edits, battery_ohm) for branch in wiring.branches]
    n = _rows([*columns, emf, alternator_amps])
    siemens = np.stack([np.broadcast_to(np.asarray(c, dtype=np.float64), (n,)) for c in columns], axis=1)
    fixed = np.zeros((n, 2))
    fixed[:, 1] = emf
    driven = np.zeros((n, len(wiring.terminals)))
    driven[:, wiring.terminals.index(graph.battery.id)] += alternator_amps
    limits = [_limits(regulator.node) for regulator in wiring.regulators]
    network = settle(wiring, limits, siemens=siemens, fixed_volts=fixed, driven=driven)
    return solution_of(wiring, network, siemens)


def solution_of(wiring: Wiring, network: NetworkSolution, siemens: _Array) -> SupplySolution:
    """A solved network by the names of a supply graph's nodes.

    Parameters
    ----------
    wiring : Wiring
        Of the graph, with all shorts and drains that the network has.
    network : NetworkSolution
    siemens : array, shape (n, branches) [S]

    Returns
    -------
    SupplySolution

    Notes
    -----
    By definition: drops by Ohm's law from currents, loads and references between their two terminals.

    Examples
    --------
    >>> import numpy as np
    >>> from witnessmark.engine.supply import SupplyGraph, SupplyNode
    >>> lamp = SupplyNode("lamp", "load", "batt", ground="batt")
    >>> found = solve_supply(SupplyGraph("torch", (SupplyNode("batt", "battery"), lamp)))
    >>> again = solution_of(found.wiring, found.network, found.siemens)
    >>> bool(again.load_volts["lamp"][0] == found.load_volts["lamp"][0])
    True
    """
    number = {name: i for i, name in enumerate(wiring.terminals)}
    paths = {branch.node: column for column, branch in enumerate(wiring.branches) if branch.kind == "path"}
    battery = next(i for i, branch in enumerate(wiring.branches) if branch.kind == "battery")
    named = [*paths, wiring.branches[battery].node]
    amps = {name: network.amps[:, column] for name, column in paths.items()}
    return SupplySolution(
        volts={name: network.volts[:, number[name]] for name in named},
        amps=amps,
        # From current and resistance, not from the potentials: those of a sound joint differ in their last digits.
        drops={name: amps[name] / siemens[:, column] for name, column in paths.items()},
        load_volts={name: network.volts[:, number[name]] - network.volts[:, back] for name, back in wiring.returns},
        reference_volts={
            one.node.id: network.volts[:, number[one.node.id]] - network.volts[:, one.minus]
            for one in wiring.regulators
        },
        battery_amps=network.amps[:, battery],
        wiring=wiring,
        network=network,
        siemens=siemens,
    )


def _refuse_strangers(graph: SupplyGraph, edits: SupplyEdits) -> None:
    for key in ("resistance", "dropped", "winding", "switched"):
        for name in getattr(edits, key):
            node = graph.node(name)
            kinds = {"winding": ("load", "module"), "switched": ("load", "module", "relay")}.get(key)
            if not node.is_electrical or node.kind == "battery" or (kinds and node.kind not in kinds):
                raise InputError(f"a {node.kind} has no {key}", where=f"node {name}")
    modules = [*graph.parts, *(node.id for node in graph if node.kind == "module")]
    for name in edits.driver_ok:
        if name not in modules:
            raise one_of("module", name, modules)


def _rows(values: list[Values]) -> int:
    try:
        shape = np.broadcast_shapes((1,), *(np.shape(value) for value in values))
    except ValueError as error:
        raise InputError("edits of different lengths", expected="single numbers, or arrays of one length") from error
    if len(shape) != 1:
        raise InputError(f"edits of {len(shape)} dimensions", expected="single numbers, or arrays of one dimension")
    return int(shape[0])


def _siemens(graph: SupplyGraph, branch: Branch, edits: SupplyEdits, battery_ohm: Values) -> Values:
    node = graph.node(branch.node)
    if branch.kind == "battery":
        return _conductance(battery_ohm, branch.node)
    if branch.kind == "short":
        return _at_least_nothing(edits.shorting[branch.node, branch.to], branch.node, "shorting")
    if branch.kind == "leak":
        return _at_least_nothing(edits.parasitic_ma[branch.node], branch.node, "parasitic") / 1000.0 / _NOMINAL_VOLTS
    if branch.kind == "path":
        described = USUAL_OHM.mean if node.kind == "reference5" else _mean(node.ohm, USUAL_OHM)
        own = _conductance(edits.resistance.get(node.id, described), node.id)
        holding = 1.0 - _share(edits.dropped.get(node.id, 0.0), node.id, "dropped")
        return np.maximum(own * holding * (_on(node, edits) if node.kind == "relay" else 1.0), 1.0 / OPEN_OHM)
    if branch.kind == "driver":
        return np.maximum(_on(node, edits) / DRIVER_OHM, 1.0 / OPEN_OHM)
    if branch.kind == "load":
        ohm = _mean(node.load_ohm, USUAL_LOAD_OHM["sensor" if node.signal else node.kind])
        whole = _conductance(ohm * edits.winding.get(node.id, 1.0), node.id)
        # Behind a driver the driver alone switches, so that a load that is off still shows full supply behind it.
        return whole if node.ground is None else whole * _on(node, edits)
    return 0.0  # source, pass and sense of a reference: the regulator sets them


def _mean(number: Number, usual: Number) -> float:
    mean = number.mean if number.is_known else usual.mean
    assert mean is not None
    return mean


def _on(node: SupplyNode, edits: SupplyEdits) -> Values:
    pin = node.coil if node.kind == "relay" else node.driver
    alive = edits.driver_ok.get(pin.partition(".")[0], 1.0) if pin else 1.0
    return _share(edits.switched.get(node.id, 1.0), node.id, "switched") * _share(alive, node.id, "driver_ok")


def _conductance(ohm: Values | None, node: str) -> Values:
    if isinstance(ohm, float) and ohm >= 0.0:  # most are single numbers: an array of one takes ten times as long
        return 1.0 / min(max(ohm, _LEAST_OHM), OPEN_OHM)
    value = np.asarray(ohm, dtype=np.float64)
    if np.any(~(value >= 0.0)):
        raise EngineDefinitionError(
            f"a resistance of {np.min(value):g} ohm", expected="0 or more", where=f"node {node}"
        )
    return 1.0 / np.clip(value, _LEAST_OHM, OPEN_OHM)


def _at_least_nothing(value: Values, node: str, key: str) -> Values:
    given = np.asarray(value, dtype=np.float64)
    if np.any(~(given >= 0.0)) or np.any(np.isinf(given)):
        raise EngineDefinitionError(f"{key} of {np.min(given):g}", expected="0 or more", where=f"node {node}")
    return given


def _share(value: Values, node: str, key: str) -> Values:
    if isinstance(value, float) and 0.0 <= value <= 1.0:
        return value
    given = np.asarray(value, dtype=np.float64)
    if np.any(~((given >= 0.0) & (given <= 1.0))):
        raise EngineDefinitionError(f"{key} that is no share", expected="0 to 1", where=f"node {node}")
    return given


def _limits(node: SupplyNode) -> RegulatorLimits:
    return RegulatorLimits(
        source_ohm=max(_LEAST_OHM, node.ohm.mean if node.ohm.mean is not None else SOURCE_OHM),
        limit_amps=_mean(node.limit_amps, USUAL_LIMIT_AMPS),
    )
