"""Every way of every site, weighed over its sizes: coarsely for all, then finely for those that count.

Sites that no finding can tell from one another are worked out once: a short beyond the same fuse, away from everything
that was read, is the same whichever wire it is on.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.supply import SupplyGraph
from witnessmark.engine.supply_usual import supply_of
from witnessmark.infer.quadrature import node_masses, worst_gaps
from witnessmark.infer.sharedlaw import AWAKE, Law
from witnessmark.infer.sharedsites import Site, Way
from witnessmark.predict.wires import behind

__all__ = ["Weighed", "lay_out", "scan"]

Array = NDArray[np.float64]

_COARSE = {
    "loose": np.array([0.0, 0.2, 0.4, 0.6, 0.8, 1.0]),  # no other volts: cheap
    "short": np.array([0.0, 0.2, 0.4, 0.6, 0.67, 0.74, 1.0]),  # drags a source, drops a feed, blows a fuse
    "wet": np.array([0.0, 0.35, 0.7, 1.0]),
}
_UNSUSPECTED = np.array([0.0, 0.5, 1.0])
_USUAL_COARSE = np.array([0.0, 0.3, 0.6, 0.85, 1.0])
_FINE = np.linspace(0.0, 1.0, 13)
_PASSED = 3  # readings passed between two nodes, looked for
_HALVED, _ROUNDS = 6, 2  # gaps halved at a time, and how many times
_WITHIN = 7.0  # nats below the best way of all, or of a child's own: further down nothing counts
_CHUNK = 1000  # states solved at once, to bound memory
_PROTECTS = ("fuse", "link", "relay", "reference5", "module")


@dataclass(frozen=True)
class _Table:
    """One way over its nodes: shares, and of every finding what ``Law.misses`` gives."""

    share: Array
    each: Array
    miss: Array
    peak: Array

    def joined(self, other: _Table) -> _Table:
        """Both together, in the order of their nodes."""
        share = np.concatenate([self.share, other.share])
        order = np.argsort(share, kind="stable")
        pairs = ((self.each, other.each), (self.miss, other.miss), (self.peak, other.peak))
        return _Table(share[order], *(np.concatenate(pair)[order] for pair in pairs))


@dataclass(frozen=True)
class Weighed:
    """One way of one site, with its evidence.

    Parameters
    ----------
    site : Site
    way : Way
    share : ndarray, shape (n,) [-]
        Nodes over its range of sizes.
    each : ndarray, shape (n, q) [nat]
        Log likelihood of every finding at every node.
    log_node : ndarray, shape (n,) [nat]
        Log of the likelihood of all findings at every node, times the width that the node stands for.
    """

    site: Site
    way: Way
    share: Array
    each: Array
    log_node: Array

    @property
    def log_evidence(self) -> float:
        """Log of the likelihood integrated over sizes."""
        return float(np.logaddexp.reduce(self.log_node))

    @property
    def log_weight(self) -> float:
        """Log of prior times evidence."""
        return float(np.log(self.way.prior)) + self.log_evidence

    @property
    def over_nodes(self) -> Array:
        """What each node holds of the way's own probability.

        Returns
        -------
        ndarray, shape (n,) [-]
            Summing to 1.
        """
        return np.asarray(np.exp(self.log_node - self.log_evidence))

    def evidence_of(self, columns: Sequence[int], healthy: Array, complaints: Sequence[str | None]) -> float:
        """Log likelihood of some findings alone, integrated over sizes.

        Parameters
        ----------
        columns : sequence of int
        healthy : ndarray, shape (q,) [nat]
        complaints : sequence of str or None, length q

        Returns
        -------
        float [nat]
        """
        log = _all(self.way, self.each, healthy, complaints, columns)
        return float(np.logaddexp.reduce(node_masses(self.share[None, :], log[None, :])[0]))


def scan(
    law: Law, sites: Sequence[Site], about: Sequence[Sequence[str]], healthy: Array, off: NDArray[np.bool_]
) -> list[Weighed]:
    """Weigh every way of every site.

    Parameters
    ----------
    law : Law
    sites : sequence of Site
    about : sequence of sequence of str, length q
        The nodes that each finding speaks of.
    healthy : ndarray, shape (q,) [nat]
        Log likelihood of every finding on a sound engine.
    off : ndarray of bool, shape (q,)
        Which findings a sound engine would hardly give.

    Returns
    -------
    list of Weighed
        In the order of the sites and their ways.
    """
    graph = supply_of(law.model.engine)
    complaints = [finding.condition.complaint for finding in law.findings]
    failing = [names if is_off else () for names, is_off in zip(about, off, strict=True)]
    jobs = [(site, way) for site in sites for way in site.ways]
    keys = _keys(graph, jobs, {name for names in about for name in names})
    first: dict[Hashable, int] = {}
    for k, key in enumerate(keys):
        if key is not None:
            first.setdefault(key, k)
    chosen = list(first.values())
    suspected = _suspected(graph, failing)
    coarse = [_coarse(*jobs[k], suspected) for k in chosen]
    new = _tabulated(law, [jobs[k][1] for k in chosen], coarse)
    found = dict(zip(chosen, new, strict=True))
    scores: dict[int, list[_Score]] = {}
    for turn in range(1 + _ROUNDS):
        again = _worth_more(jobs, found, scores, healthy, complaints, failing)
        more = [_more(found[k], jobs[k][1], healthy, complaints, turn) for k in again]
        for k, table in zip(again, _tabulated(law, [jobs[k][1] for k in again], more), strict=True):
            found[k] = found[k].joined(table)
    sound = _Table(np.zeros(1), healthy[None, :], np.zeros((1, len(healthy))), healthy[None, :])
    numbers = [-1 if key is None else first[key] for key in keys]
    tables = {number: found.get(number, sound) for number in numbers}
    masses = _masses(jobs, numbers, tables, healthy, complaints)
    return [
        Weighed(site, way, tables[number].share, tables[number].each, masses[number, way.comes_and_goes])
        for (site, way), number in zip(jobs, numbers, strict=True)
    ]


def _masses(
    jobs: Sequence[tuple[Site, Way]], numbers: Sequence[int], tables: Mapping[int, _Table], healthy: Array,
    complaints: Sequence[str | None],
) -> dict[tuple[int, bool], Array]:  # fmt: skip
    """What every node holds, by table and by whether what fails there comes and goes: alike ones worked out once.

    Tables over the same sizes are worked out side by side.
    """
    logs = {
        (number, way.comes_and_goes): (tables[number].share, way)
        for (_, way), number in zip(jobs, numbers, strict=True)
    }
    alike: dict[bytes, list[tuple[int, bool]]] = {}
    for key, (share, _) in logs.items():
        alike.setdefault(share.tobytes(), []).append(key)
    masses: dict[tuple[int, bool], Array] = {}
    for keys in alike.values():
        log = np.stack([_all(logs[key][1], tables[key[0]].each, healthy, complaints) for key in keys])
        share = np.broadcast_to(logs[keys[0]][0], log.shape)
        masses |= zip(keys, node_masses(share, log), strict=True)
    return masses


def _suspected(graph: SupplyGraph, failing: Sequence[Sequence[str]]) -> set[str]:
    """All that a node with something off hangs on, and all that hangs on the same fuse or source as one of them."""
    found = {one for names in failing for name in names for one in (name, *behind(graph, name))}
    near = [name for name in found if graph.has(name) and graph.node(name).kind in ("fuse", "reference5")]
    return found | {below for name in near for below in graph.fed_by(name)}


def _coarse(site: Site, way: Way, suspected: set[str]) -> Array:
    """Where to look first: at three sizes where nothing that is off could follow from it."""
    if not way.has_size:
        return np.zeros(1)
    touched = {*site.nodes, *(end for node in site.nodes for end in _ends(way, node))}
    if site.kind not in ("gallery", "branch") and not suspected & touched:
        return _UNSUSPECTED
    return _COARSE.get(way.name, _USUAL_COARSE)


def _keys(graph: SupplyGraph, jobs: Iterable[tuple[Site, Way]], read: set[str]) -> list[Hashable]:
    """What each way is to these findings: the same key, the same predictions; None: as if nothing were wrong."""
    upstream = {one for name in read for one in behind(graph, name)} | read
    found: list[Hashable] = []
    for k, (site, way) in enumerate(jobs):
        touched = {name for node in site.nodes for name in (node, *_ends(way, node))}
        if site.kind in ("gallery", "branch") or touched & upstream:
            found.append(k)
        elif way.name in ("short", "wet") and len(site.nodes) == 1:
            found.append(_beyond(graph, site.nodes[0], way, upstream))
        else:
            found.append(k if way.name == "short" else None)
    return found


def _ends(way: Way, node: str) -> list[str]:
    """The other node of a short between two."""
    ends = [term.place.partition(":")[2] for term in way.kind.terms if term.place.startswith(f"{node}:")]
    return [end for end in ends if end not in ("", "ground", "supply")]


def _beyond(graph: SupplyGraph, node: str, way: Way, upstream: set[str]) -> Hashable:
    """Where a short away from all that was read joins it, and which fuses and sources stand between."""
    between, here = [], graph.node(node)
    while here.id not in upstream and here.kind != "battery":
        if here.kind in _PROTECTS or here.id == node:
            between.append(here.kind)
        if here.feed is None or not graph.has(here.feed):
            break
        here = graph.node(here.feed)
    return (way.name, way.to, here.id, tuple(between), way.kind.axes)


def _all(
    way: Way, each: Array, healthy: Array, complaints: Sequence[str | None], columns: Sequence[int] | None = None
) -> Array:
    """Log likelihood of the findings together; what comes and goes sleeps or wakes through each episode as a whole."""
    columns = range(len(healthy)) if columns is None else columns
    if not way.comes_and_goes:
        return np.asarray(each[:, list(columns)].sum(axis=1))
    total = np.zeros(len(each))
    for complaint, awake in AWAKE.items():
        own = [j for j in columns if complaints[j] == complaint]
        if own:
            total += np.logaddexp(np.log(awake) + each[:, own].sum(axis=1), np.log1p(-awake) + healthy[own].sum())
    return total


def _hoped(table: _Table, way: Way, healthy: Array, complaints: Sequence[str | None], columns: Sequence[int]) -> Array:
    """Between each two nodes, the log likelihood at best: a reading that is passed on the way is met there."""
    if len(table.share) < 2:
        return _all(way, table.each, healthy, complaints, columns)
    passed = table.miss[:-1] * table.miss[1:] < 0.0
    ends, peaks = np.maximum(table.each[:-1], table.each[1:]), np.maximum(table.peak[:-1], table.peak[1:])
    return _all(way, np.where(passed, peaks, ends), healthy, complaints, columns)


def _more(table: _Table, way: Way, healthy: Array, complaints: Sequence[str | None], turn: int) -> Array:
    """Further nodes: evenly spread at first, then where the integral hangs on most; and where readings are passed."""
    if turn == 0:
        points = [_FINE]
    else:
        log = _all(way, table.each, healthy, complaints)
        points = [worst_gaps(table.share[None], log[None], _HALVED)[0]]
    cell = int(np.argmax(_hoped(table, way, healthy, complaints, range(len(healthy)))))
    if len(table.share) > 1:
        a, b = table.miss[cell], table.miss[cell + 1]
        wide = table.share[cell + 1] - table.share[cell]
        for j in np.flatnonzero(a * b < 0.0)[:_PASSED]:
            at, step = table.share[cell] + wide * a[j] / (a[j] - b[j]), 1.5 * wide / abs(a[j] - b[j])
            points.append(np.clip([at - step, at, at + step], table.share[cell], table.share[cell + 1]))
    return np.setdiff1d(np.concatenate(points), table.share)


@dataclass(frozen=True, slots=True)
class _Score:
    """How good a way is for all findings ("all"), or for what a child has of its own (its name): reached, and hoped."""

    of: str
    reached: float
    hoped: float


def _worth_more(
    jobs: Sequence[tuple[Site, Way]], found: dict[int, _Table], scores: dict[int, list[_Score]], healthy: Array,
    complaints: Sequence[str | None], failing: Sequence[Sequence[str]],
) -> list[int]:  # fmt: skip
    """The ways with a size that may count: near the best of all, or near the best of what a child has of its own.

    Those were looked at more finely the last time that are scored anew; all others stand in ``scores``.
    """
    for k, table in found.items():
        if k not in scores:
            scores[k] = _scored(*jobs[k], table, healthy, complaints, failing)
    best: dict[str, float] = {}
    for one in (one for own in scores.values() for one in own):
        best[one.of] = max(best.get(one.of, -np.inf), one.reached)
    sized = [k for k in scores if jobs[k][1].has_size]
    again = [k for k in sized if any(one.hoped > best[one.of] - _WITHIN for one in scores[k])]
    for k in again:
        del scores[k]
    return again


def _scored(
    site: Site, way: Way, table: _Table, healthy: Array, complaints: Sequence[str | None],
    failing: Sequence[Sequence[str]],
) -> list[_Score]:  # fmt: skip
    own = [j for j, names in enumerate(failing) if names and names[0] == site.id]
    prior, scores = float(np.log(way.prior)), []
    for name, columns in (("all", list(range(len(healthy)))), (site.id, own)):
        if columns:
            reached = prior + float(_all(way, table.each, healthy, complaints, columns).max())
            most = prior + float(_hoped(table, way, healthy, complaints, columns).max())
            scores.append(_Score(name, reached, max(most, reached)))
    return scores


def lay_out(ways: Sequence[Way], shares: Sequence[Array]) -> tuple[State, int]:
    """All states of several ways side by side.

    Parameters
    ----------
    ways : sequence of Way
    shares : sequence of ndarray, shape (n_i,) [-]

    Returns
    -------
    state : State
    rows : int
        Sum of n_i.
    """
    rows = sum(len(share) for share in shares)
    edits: dict[tuple[str, str], Array] = {}
    begin = 0
    for way, share in zip(ways, shares, strict=True):
        changed = HEALTHY.edited(way.kind.changes(way.sizes(share)))
        for key, value in changed.edits.items():
            if key not in edits:
                edits[key] = np.full(rows, HEALTHY.get(*key))
            edits[key][begin : begin + len(share)] = value
        begin += len(share)
    return State(edits), rows


def _tabulated(law: Law, ways: Sequence[Way], shares: Sequence[Array]) -> list[_Table]:
    """Every finding at every node of every way."""
    found: list[_Table] = []
    begin = 0
    while begin < len(ways):
        end, count = begin, 0
        while end < len(ways) and (end == begin or count + len(shares[end]) <= _CHUNK):
            count += len(shares[end])
            end += 1
        state, rows = lay_out(ways[begin:end], shares[begin:end])
        cuts = np.cumsum([len(share) for share in shares[begin:end]])[:-1]
        whole = [np.split(array, cuts) for array in law.misses(state, rows)]
        found += [_Table(*parts) for parts in zip(shares[begin:end], *whole, strict=True)]
        begin = end
    return found
