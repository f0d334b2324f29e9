"""5 V sources that hold their voltage until they cannot: too much current, too little supply, or pushed from outside.

Each source is in one of four modes, in each of which the network is linear; the modes are changed until every source
is in the one that its own current and voltage call for (docs/physics.md, "references").
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.network import Eliminated, NetworkSolution, eliminate
from witnessmark.physics.wiring import Regulator, Wiring

__all__ = ["RegulatorLimits", "settle"]

_REGULATING, _LIMITED, _OFF, _SATURATED = range(4)
_SENSE_SIEMENS = 1e-5  # the divider by which a regulator senses its output, our guess; keeps an idle output settled
_MOST_ROUNDS = 100
_PATIENCE = 10  # rounds in which all sources change at once; then one at a time

_Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RegulatorLimits:
    """What a source can.

    Parameters
    ----------
    source_ohm : float [ohm]
        By how much it gives way while it regulates.
    limit_amps : float [A]
        Above this it holds the current and lets the voltage go.
    volts : float [V]
    headroom_volts : float [V]
        Least difference between its supply and its output at the limit; proportionally less below it. Our guess.
    """

    source_ohm: float
    limit_amps: float
    volts: float = 5.0
    headroom_volts: float = 0.5

    @property
    def pass_ohm(self) -> float:
        """Resistance of its pass element when wide open [ohm]."""
        return self.headroom_volts / self.limit_amps


def settle(
    wiring: Wiring, limits: Sequence[RegulatorLimits], *, siemens: _Array, fixed_volts: _Array, driven: _Array
) -> NetworkSolution:
    """Solve a wiring with its 5 V sources each in the mode that fits.

    Parameters
    ----------
    wiring : Wiring
    limits : sequence of RegulatorLimits
        One for each of the wiring's regulators.
    siemens : array, shape (n, branches) [S]
        Conductances; those of the sources' own branches are set here.
    fixed_volts : array, shape (n, 2) [V]
    driven : array, shape (n, terminals) [A]
        Current driven into each terminal from outside.

    Returns
    -------
    NetworkSolution
        As the current of a source's branch "source" stands what it takes from its module's supply and gives at its
        output, whatever its mode; that of "pass" is 0.

    Raises
    ------
    EngineDefinitionError
        If no set of modes is found that fits.

    Notes
    -----
    Follows from a series regulator: what it gives it takes from its supply, it sinks nothing, and it holds the lesser
    of its voltage, its current limit, and what its supply leaves through the open pass element. Holds for steady
    values; foldback and thermal shutdown are left out.

    Examples
    --------
    A source of 0.1 A into 100 ohm and into 10 ohm:

    >>> import numpy as np
    >>> from witnessmark.engine.supply import SupplyGraph, SupplyNode
    >>> from witnessmark.physics.supply import SupplyEdits, solve_supply
    >>> nodes = (SupplyNode("batt", "battery"), SupplyNode("ref", "reference5", "ecu"))
    >>> edits = SupplyEdits(resistance={"ref": 0.0}, shorting={("ref", "ground"): np.array([0.01, 0.1])})
    >>> solve_supply(SupplyGraph("one", nodes), edits).reference_volts["ref"].round(3).tolist()
    [4.995, 1.0]
    """
    sources = list(zip(wiring.regulators, limits, strict=True))
    columns = {(branch.node, branch.kind): i for i, branch in enumerate(wiring.branches)}
    circuit = _Circuit(wiring, sources, columns, siemens, fixed_volts, driven)
    mode = np.full((len(siemens), len(sources)), _REGULATING)
    told = NetworkSolution(np.empty((len(siemens), len(wiring.terminals))), np.empty_like(siemens))
    left = np.arange(len(siemens))
    for turn in range(_MOST_ROUNDS):
        network, amps = circuit.of(left).solved(mode[left])
        better = _modes(network, sources, mode[left], amps)
        told.volts[left], told.amps[left] = network.volts, _with_currents(network, sources, columns, amps).amps
        # Every set of values stands for itself: those that have settled are done.
        unsettled = np.any(better != mode[left], axis=1)
        if not np.any(unsettled):
            return told
        mode[left] = better if turn < _PATIENCE else _first_only(mode[left], better)
        left = left[unsettled]
    raise EngineDefinitionError("the 5 V sources do not settle", todo="Look at what joins two of them")


@dataclass(frozen=True, slots=True)
class _Circuit:
    """A wiring with its sources, for n sets of values."""

    wiring: Wiring
    sources: Sequence[tuple[Regulator, RegulatorLimits]]
    columns: dict[tuple[str, str], int]
    siemens: _Array
    fixed_volts: _Array
    driven: _Array

    def of(self, rows: NDArray[np.intp]) -> _Circuit:
        """The same for some of the sets."""
        if len(rows) == len(self.siemens):
            return self
        some = (self.siemens[rows], self.fixed_volts[rows], self.driven[rows])
        return _Circuit(self.wiring, self.sources, self.columns, *some)

    def solved(self, mode: NDArray[np.int_]) -> tuple[NetworkSolution, _Array]:
        """The network with every source in its mode, and what leaves each output."""
        ready, pushed = _in_modes(self.wiring, self.sources, self.columns, self.siemens, mode)

        def given(amps: _Array) -> NetworkSolution:
            moved = _moved(self.wiring, self.sources, mode, amps)
            return ready.solve(self.fixed_volts, self.driven + pushed + moved)

        network = given(self._currents(ready, given, mode))
        return network, _leaving(network, self.sources, self.columns, mode)

    def _currents(
        self, ready: Eliminated, given: Callable[[_Array], NetworkSolution], mode: NDArray[np.int_]
    ) -> _Array:
        """The current of each source in these modes, itself drawn from its module's supply.

        What leaves each output depends linearly on what is taken from the supplies: a + M x. It is solved for
        x = a + M x, from the network without and from what one ampere taken by each source in turn adds.
        """
        n, k = mode.shape
        if k == 0:
            return np.zeros((n, 0))
        without = _leaving(given(np.zeros((n, k))), self.sources, self.columns, mode)
        each = np.stack([_moved(self.wiring, self.sources, mode, np.eye(k)[[j] * n]) for j in range(k)])
        more = _leaving(ready.respond(each), self.sources, self.columns, mode)
        matrix = np.moveaxis(more, 0, 2)
        found = np.empty_like(without)
        found[:] = np.linalg.solve(np.eye(k) - matrix, without[..., None])[..., 0]
        # Once more through the network: the last digits of the sum above are lost where a current is small.
        return _leaving(given(found), self.sources, self.columns, mode)


def _first_only(mode: NDArray[np.int_], better: NDArray[np.int_]) -> NDArray[np.int_]:
    """Change one source at a time, the first that wants to: what goes round together cannot so."""
    changed = better != mode
    first = changed & (np.cumsum(changed, axis=1) == 1)
    return np.where(first, better, mode)


def _in_modes(
    wiring: Wiring,
    sources: Sequence[tuple[Regulator, RegulatorLimits]],
    columns: dict[tuple[str, str], int],
    siemens: _Array,
    mode: NDArray[np.int_],
) -> tuple[Eliminated, _Array]:
    """The network with every source in its mode, and what the sources drive by their own EMF and limit."""
    siemens, pushed = siemens.copy(), np.zeros((len(siemens), len(wiring.terminals)))
    for k, (one, lim) in enumerate(sources):
        regulating, limited, saturated = (mode[:, k] == m for m in (_REGULATING, _LIMITED, _SATURATED))
        name = one.node.id
        siemens[:, columns[name, "source"]] = np.where(regulating, 1.0 / lim.source_ohm, 0.0)
        siemens[:, columns[name, "sense"]] = _SENSE_SIEMENS
        siemens[:, columns[name, "pass"]] = np.where(saturated, 1.0 / lim.pass_ohm, 0.0)
        behind = np.where(regulating, lim.volts / lim.source_ohm, 0.0)
        held = np.where(limited, lim.limit_amps, 0.0)
        pushed[:, one.out] += behind + held
        pushed[:, one.minus] -= behind
        pushed[:, one.plus] -= held
    return eliminate(len(wiring.terminals), wiring.ends, siemens=siemens, fixed=[0, 1]), pushed


def _moved(
    wiring: Wiring,
    sources: Sequence[tuple[Regulator, RegulatorLimits]],
    mode: NDArray[np.int_],
    given: _Array,
) -> _Array:
    """A regulating source is drawn from minus to out; this moves its current from minus to plus, where it takes it."""
    moved = np.zeros((len(mode), len(wiring.terminals)))
    for k, (one, _) in enumerate(sources):
        amps = np.where(mode[:, k] == _REGULATING, given[:, k], 0.0)
        moved[:, one.minus] += amps
        moved[:, one.plus] -= amps
    return moved


def _leaving(
    network: NetworkSolution,
    sources: Sequence[tuple[Regulator, RegulatorLimits]],
    columns: dict[tuple[str, str], int],
    mode: NDArray[np.int_],
) -> _Array:
    """What leaves each output: from the currents, whose last digits are good, and not from 5 V less nearly 5 V."""
    if not sources:
        return np.zeros(mode.shape)
    names = [one.node.id for one, _ in sources]
    amps = np.stack(
        [network.amps[..., columns[name, "path"]] + network.amps[..., columns[name, "sense"]] for name in names],
        axis=-1,
    )
    return np.where(mode == _OFF, 0.0, amps)


def _modes(
    network: NetworkSolution,
    sources: Sequence[tuple[Regulator, RegulatorLimits]],
    mode: NDArray[np.int_],
    amps: _Array,
) -> NDArray[np.int_]:
    """Which modes the sources' own voltages and currents call for."""
    if not sources:
        return mode
    return np.stack([_mode(network, one, lim, mode[:, k], amps[:, k]) for k, (one, lim) in enumerate(sources)], axis=1)


def _mode(
    network: NetworkSolution, one: Regulator, lim: RegulatorLimits, mode: NDArray[np.int_], amps: _Array
) -> NDArray[np.int_]:
    """Which mode a source's own voltage and current call for."""
    out, plus, minus = (network.volts[:, i] for i in (one.out, one.plus, one.minus))
    own, left = out - minus, plus - out
    tiny = 1e-9
    too_much = amps > lim.limit_amps * (1.0 + tiny)
    no_room = left < np.minimum(amps, lim.limit_amps) * lim.pass_ohm - tiny
    high = own + amps * lim.source_ohm > lim.volts + tiny
    from_regulating = np.select([amps < -tiny, no_room, too_much], [_OFF, _SATURATED, _LIMITED], _REGULATING)
    from_limited = np.select([high, no_room], [_REGULATING, _SATURATED], _LIMITED)
    from_off = np.where((own < lim.volts - tiny) & (left > tiny), _REGULATING, _OFF)
    from_saturated = np.select([amps < -tiny, high, too_much], [_OFF, _REGULATING, _LIMITED], _SATURATED)
    every = [from_regulating, from_limited, from_off, from_saturated]
    return np.select([mode == m for m in range(4)], every)


def _with_currents(
    network: NetworkSolution,
    sources: Sequence[tuple[Regulator, RegulatorLimits]],
    columns: dict[tuple[str, str], int],
    amps: _Array,
) -> NetworkSolution:
    told = network.amps.copy()
    for k, (one, _) in enumerate(sources):
        told[:, columns[one.node.id, "source"]] = amps[:, k]
        told[:, columns[one.node.id, "pass"]] = 0.0
    return NetworkSolution(network.volts, told)
