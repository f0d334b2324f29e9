"""5 V sources that hold their voltage until they cannot: too much current, too little supply, or pushed from outside.

Each source is in one of four modes, in each of which the network is linear; the modes are changed until every source
is in the one that its own current and voltage call for (docs/physics.md, "references").
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.network import Eliminated, NetworkSolution, Reduced, eliminate, reduce_network
from witnessmark.physics.wiring import Wiring

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
    if not wiring.regulators:
        ready = eliminate(len(wiring.terminals), wiring.ends, siemens=siemens, fixed=_FIXED)
        return ready.solve(fixed_volts, driven)
    circuit = _Circuit.of(wiring, limits, siemens, fixed_volts, driven)
    n, k = len(siemens), len(limits)
    mode, given = np.full((n, k), _REGULATING), np.empty((n, k))
    left = np.arange(n)
    for turn in range(_MOST_ROUNDS):
        some = circuit.some(left)
        network, given[left] = some.solved(mode[left])
        better = _modes(network, circuit.sources, mode[left], some.leaving(network, mode[left]))
        # Every set of values stands for itself: those that have settled are done.
        unsettled = np.any(better != mode[left], axis=1)
        if not np.any(unsettled):
            return _told(wiring, circuit, mode, given, siemens, fixed_volts, driven)
        mode[left] = better if turn < _PATIENCE else _first_only(mode[left], better)
        left = left[unsettled]
    raise EngineDefinitionError("the 5 V sources do not settle", todo="Look at what joins two of them")


_FIXED = (0, 1)  # terminals: the battery's negative post, and its EMF


@dataclass(frozen=True, slots=True)
class _Source:
    """A source with its terminals, and the columns of its own branches and of all that leads away from its output."""

    limits: RegulatorLimits
    out: int
    plus: int
    minus: int
    own: Mapping[str, int]
    away: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class _Circuit:
    """All that the sources stand in, reduced to their own terminals, for n sets of values.

    What is not theirs stays as it is whatever modes they are in: it is eliminated once, and only the little that is
    left is solved for each mode tried.
    """

    reduced: Reduced
    sources: tuple[_Source, ...]
    ends: tuple[tuple[int, int], ...]
    siemens: _Array
    fixed_volts: _Array
    driven: _Array

    @classmethod
    def of(
        cls,
        wiring: Wiring,
        limits: Sequence[RegulatorLimits],
        siemens: _Array,
        fixed_volts: _Array,
        driven: _Array,
    ) -> _Circuit:
        whole = siemens.copy()
        columns = {(branch.node, branch.kind): i for i, branch in enumerate(wiring.branches)}
        own = [columns[one.node.id, kind] for one in wiring.regulators for kind in _OWN]
        whole[:, own] = 0.0
        at = [end for one in wiring.regulators for end in (one.out, one.plus, one.minus)]
        reduced = reduce_network(len(wiring.terminals), wiring.ends, siemens=whole, fixed=_FIXED, left=at)
        place = {node: i for i, node in enumerate(reduced.left)}
        ends, sources = list(reduced.mesh), []
        for one, lim in zip(wiring.regulators, limits, strict=True):
            out, plus, minus = place[one.out], place[one.plus], place[one.minus]
            away = tuple((i, 1.0 if a == out else -1.0) for i, (a, b) in enumerate(reduced.mesh) if out in (a, b))
            numbers = {kind: len(ends) + i for i, kind in enumerate(_OWN)}
            ends += [(out, plus if kind == "pass" else minus) for kind in _OWN]
            sources.append(_Source(lim, out, plus, minus, numbers, away))
        few = np.concatenate([reduced.siemens, np.zeros((len(siemens), len(own)))], axis=1)
        return cls(reduced, tuple(sources), tuple(ends), few, fixed_volts, reduced.injected(driven))

    def some(self, rows: NDArray[np.intp]) -> _Circuit:
        """The same for some of the sets."""
        if len(rows) == len(self.siemens):
            return self
        return replace(self, siemens=self.siemens[rows], fixed_volts=self.fixed_volts[rows], driven=self.driven[rows])

    def solved(self, mode: NDArray[np.int_]) -> tuple[NetworkSolution, _Array]:
        """What is left with every source in its mode, and the current that each takes from its supply and gives."""
        ready, pushed = self.in_modes(mode)

        def given(amps: _Array) -> NetworkSolution:
            return ready.solve(self.fixed_volts, self.driven + pushed + self._moved(mode, amps))

        amps = self._currents(ready, given, mode)
        return given(amps), amps

    def in_modes(self, mode: NDArray[np.int_]) -> tuple[Eliminated, _Array]:
        """What is left made ready in these modes, and what the sources drive by their own EMF and limit."""
        siemens, pushed = self.siemens.copy(), np.zeros((len(mode), len(self.reduced.left)))
        for k, one in enumerate(self.sources):
            lim = one.limits
            regulating, limited = mode[:, k] == _REGULATING, mode[:, k] == _LIMITED
            for kind, value in _conductances(lim, mode[:, k]).items():
                siemens[:, one.own[kind]] = value
            behind = np.where(regulating, lim.volts / lim.source_ohm, 0.0)
            held = np.where(limited, lim.limit_amps, 0.0)
            pushed[:, one.out] += behind + held
            pushed[:, one.minus] -= behind
            pushed[:, one.plus] -= held
        return eliminate(len(self.reduced.left), self.ends, siemens=siemens, fixed=_FIXED), pushed

    def leaving(self, network: NetworkSolution, mode: NDArray[np.int_]) -> _Array:
        """What leaves each output: from the currents, whose last digits are good, and not from 5 V less nearly 5 V."""
        return self._answered(network, mode, self.driven)

    def _answered(self, network: NetworkSolution, mode: NDArray[np.int_], driven: _Array) -> _Array:
        each = []
        for one in self.sources:
            # What is driven in elsewhere reaches the output through the branches that were eliminated.
            amps = network.amps[..., one.own["sense"]] - driven[..., one.out]
            for column, sign in one.away:
                amps = amps + sign * network.amps[..., column]
            each.append(amps)
        return np.where(mode == _OFF, 0.0, np.stack(each, axis=-1))

    def _currents(
        self, ready: Eliminated, given: Callable[[_Array], NetworkSolution], mode: NDArray[np.int_]
    ) -> _Array:
        """The current of each source in these modes, itself drawn from its module's supply.

        What leaves each output depends linearly on what is taken from the supplies: a + M x. It is solved for
        x = a + M x, from the network without and from what one ampere taken by each source in turn adds.
        """
        n, k = mode.shape
        without = self.leaving(given(np.zeros((n, k))), mode)
        each = np.stack([self._moved(mode, np.eye(k)[[j] * n]) for j in range(k)])
        more = self._answered(ready.respond(each), mode, np.zeros_like(self.driven))
        matrix = np.moveaxis(more, 0, 2)
        found = np.empty_like(without)
        found[:] = np.linalg.solve(np.eye(k) - matrix, without[..., None])[..., 0]
        # Once more through the network: the last digits of the sum above are lost where a current is small.
        return self.leaving(given(found), mode)

    def _moved(self, mode: NDArray[np.int_], given: _Array) -> _Array:
        ends = [(one.plus, one.minus) for one in self.sources]
        return _moved(ends, len(self.reduced.left), mode, given)


_OWN = ("source", "sense", "pass")
"""Branches that a source sets by its mode."""


def _conductances(lim: RegulatorLimits, mode: NDArray[np.int_]) -> Mapping[str, _Array | float]:
    return {
        "source": np.where(mode == _REGULATING, 1.0 / lim.source_ohm, 0.0),
        "sense": _SENSE_SIEMENS,
        "pass": np.where(mode == _SATURATED, 1.0 / lim.pass_ohm, 0.0),
    }


def _moved(ends: Sequence[tuple[int, int]], nodes: int, mode: NDArray[np.int_], given: _Array) -> _Array:
    """A regulating source is drawn from minus to out; this moves its current from minus to plus, where it takes it."""
    moved = np.zeros((len(mode), nodes))
    for k, (plus, minus) in enumerate(ends):
        amps = np.where(mode[:, k] == _REGULATING, given[:, k], 0.0)
        moved[:, minus] += amps
        moved[:, plus] -= amps
    return moved


def _told(
    wiring: Wiring,
    circuit: _Circuit,
    mode: NDArray[np.int_],
    given: _Array,
    siemens: _Array,
    fixed_volts: _Array,
    driven: _Array,
) -> NetworkSolution:
    """The whole network in the modes that fit, with what each source takes and gives."""
    columns = {(branch.node, branch.kind): i for i, branch in enumerate(wiring.branches)}
    whole = siemens.copy()
    for k, (one, source) in enumerate(zip(wiring.regulators, circuit.sources, strict=True)):
        for kind, value in _conductances(source.limits, mode[:, k]).items():
            whole[:, columns[one.node.id, kind]] = value
    rest, pushed = circuit.in_modes(mode)
    driving = driven + _moved([(one.plus, one.minus) for one in wiring.regulators], len(wiring.terminals), mode, given)
    driving[:, list(circuit.reduced.left)] += pushed
    network = circuit.reduced.whole(rest, whole).solve(fixed_volts, driving)
    amps = network.amps.copy()
    for k, one in enumerate(wiring.regulators):
        name = one.node.id
        leaving = amps[:, columns[name, "path"]] + amps[:, columns[name, "sense"]]
        amps[:, columns[name, "source"]] = np.where(mode[:, k] == _OFF, 0.0, leaving)
        amps[:, columns[name, "pass"]] = 0.0
    return NetworkSolution(network.volts, amps)


def _first_only(mode: NDArray[np.int_], better: NDArray[np.int_]) -> NDArray[np.int_]:
    """Change one source at a time, the first that wants to: what goes round together cannot so."""
    changed = better != mode
    first = changed & (np.cumsum(changed, axis=1) == 1)
    return np.where(first, better, mode)


def _modes(
    network: NetworkSolution,
    sources: Sequence[_Source],
    mode: NDArray[np.int_],
    amps: _Array,
) -> NDArray[np.int_]:
    """Which modes the sources' own voltages and currents call for."""
    return np.stack([_mode(network, one, mode[:, k], amps[:, k]) for k, one in enumerate(sources)], axis=1)


def _mode(network: NetworkSolution, one: _Source, mode: NDArray[np.int_], amps: _Array) -> NDArray[np.int_]:
    """Which mode a source's own voltage and current call for."""
    lim = one.limits
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
