"""What a supply graph offers one of its loads: open voltage, the resistance of the way, and what its current adds.

A coil or an injector draws for milliseconds while all else goes on. Everything around it is one source behind one
resistance (docs/physics.md, "feeds"), so that one solved network serves all of them in turn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics.network import eliminate
from witnessmark.physics.supply import DRIVER_OHM, OPEN_OHM, SupplySolution

__all__ = ["Feed", "feeds"]

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Feed:
    """What stands around one load.

    Parameters
    ----------
    volts : array, shape (n,) [V]
        Across the load if it drew nothing.
    way_ohm : array, shape (n,) [ohm]
        Of everything that its current passes besides itself, its driver included.
    rises : mapping of str to array, shape (n,) [A/A]
        By how much the current along each node's own path rises for one ampere of this load.
    """

    volts: _Array
    way_ohm: _Array
    rises: Mapping[str, _Array]


def feeds(solution: SupplySolution, loads: Sequence[str]) -> Mapping[str, Feed]:
    """What a solved supply graph offers some of its loads, each by itself.

    Parameters
    ----------
    solution : SupplySolution
        Whatever the loads in question do in it, they are taken off it here.
    loads : sequence of str

    Returns
    -------
    mapping of str to Feed

    Raises
    ------
    InputError
        For a node that is no load.

    Notes
    -----
    Thévenin's theorem, from memory: with the branch of conductance g that switches the load in place, one ampere across
    it shows R, and without it 1/(1/R - g). The 5 V sources are left as they are, which for loads on the battery's side
    is right to the little that a reference draws differently.

    Examples
    --------
    A lamp of 0.5 ohm behind a fuse of 0.1 ohm; the battery's own resistance is 6 milliohm:

    >>> from witnessmark.engine.number import Number
    >>> from witnessmark.engine.supply import SupplyGraph, SupplyNode
    >>> from witnessmark.physics.supply import SupplyEdits, solve_supply
    >>> lamp = SupplyNode("lamp", "load", "f1", ground="batt", load_ohm=Number.exactly(0.5))
    >>> graph = SupplyGraph("lamp", (SupplyNode("batt", "battery"), SupplyNode("f1", "fuse", "batt"), lamp))
    >>> found = feeds(solve_supply(graph, SupplyEdits(resistance={"f1": 0.1, "lamp": 0.0})), ["lamp"])["lamp"]
    >>> f"{found.volts[0]:.2f} V, {found.way_ohm[0]:.3f} ohm, {found.rises['f1'][0]:.2f}"
    '12.60 V, 0.106 ohm, 1.00'
    """
    wiring, n = solution.wiring, len(solution.siemens)
    columns = {(branch.node, branch.kind): i for i, branch in enumerate(wiring.branches)}
    paths = {branch.node: i for i, branch in enumerate(wiring.branches) if branch.kind == "path"}
    switching = [_switching(columns, name) for name in loads]
    # The sense branch keeps an idle reference settled; the same small leak does here.
    siemens = solution.siemens.copy()
    for (_, kind), column in columns.items():
        if kind == "sense":
            siemens[:, column] = 1e-5
    ready = eliminate(len(wiring.terminals), wiring.ends, siemens=siemens, fixed=[0, 1])
    drawn = np.zeros((len(loads), len(wiring.terminals)))
    for row, column in enumerate(switching):
        a, b = wiring.branches[column].ends
        drawn[row, a] -= 1.0
        drawn[row, b] += 1.0
    answer = ready.respond(drawn)
    found = {}
    for row, (name, column) in enumerate(zip(loads, switching, strict=True)):
        a, b = wiring.branches[column].ends
        own = solution.siemens[:, column]
        seen = np.maximum(answer.volts[row, :, b] - answer.volts[row, :, a], 0.0)
        # 1/(1/R - g), written so that an open way stays one.
        without = seen / np.maximum(1.0 - own * seen, 1e-9)
        across = solution.network.volts[:, a] - solution.network.volts[:, b]
        lifted = 1.0 / np.maximum(1.0 - own * seen, 1e-9)
        way = without
        if wiring.branches[column].kind == "driver":
            load = 1.0 / np.maximum(solution.siemens[:, columns[name, "load"]], 1.0 / OPEN_OHM)
            way = np.maximum(without - load, 0.0) + DRIVER_OHM
        rises = {node: answer.amps[row, :, path] * lifted for node, path in paths.items()}
        found[name] = Feed(across * lifted, np.broadcast_to(way, (n,)), rises)
    return found


def _switching(columns: Mapping[tuple[str, str], int], name: str) -> int:
    """The branch that switches a load: its driver where it has one in its way, else the load itself."""
    for kind in ("driver", "load"):
        if (name, kind) in columns:
            return columns[name, kind]
    raise InputError(f"{name} takes no current", expected="a load of the supply graph")
