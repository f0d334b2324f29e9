"""What several codes, drop-outs, volts and silent modules share: every node of the supply graph, ranked.

Each site (node, connector, harness, zone) is asked how well *one* edit there predicts all that was found *and* the
silence of the other children whose monitors ran; sizes are integrated out, priors are the catalogue's by kind of node.
The rivals: several separate faults, each at a child of its own, and nothing wrong along these supplies at all. The
prediction is the forward model's (``predict.expect``, ``predict.codes``); there is no table of symptoms.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.supply import DUCTS
from witnessmark.engine.supply_usual import supply_of
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding
from witnessmark.infer.sharedchildren import Child, children_of, nodes_of
from witnessmark.infer.sharedlaw import Law, LeftOut, law_of
from witnessmark.infer.sharedscan import Weighed, scan
from witnessmark.infer.sharedsites import Site, Way, sites_of
from witnessmark.infer.shareduntold import untold
from witnessmark.predict.model import DriveModel
from witnessmark.predict.wires import behind
from witnessmark.vocabulary import Condition, Place

__all__ = ["NOTHING", "SEVERAL", "Ranked", "RankedWay", "SharedBelief", "Weight", "Worked", "shared_cause"]

Array = NDArray[np.float64]

SEVERAL = 0.05
"""Odds that a further fault of its own stands beside a first one; our guess."""

NOTHING = 0.5
"""Weight of "nothing wrong along these supplies" beside one fault somewhere on them; our guess."""

_SPEAKS = 3.0  # decibans from which a finding speaks for or against
_DB = 10.0 / np.log(10.0)
_TELLS = (0.05, 0.5, 0.95)  # of a size: where its range begins, its middle, where it ends
_COMPUTER = "ecu"
_LOOKED_AT = 3  # sites at the top by which it is judged what cannot be told
_ALIKE = 1.0  # decibans by which no finding may part two sites that count as not told apart


@dataclass(frozen=True, slots=True)
class RankedWay:
    """One way in which a site may have failed.

    Parameters
    ----------
    way : Way
    probability : float [-]
        Of all.
    size, low, high : float or None
        Middle and 5 % to 95 % of its first size, in its variable's unit; None for a way without sizes.
    """

    way: Way
    probability: float
    size: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Weight:
    """What one finding says of a site against a sound engine.

    Parameters
    ----------
    finding : Finding
    decibans : float [dB]
        Positive: it is likelier with this fault.
    nodes : tuple of str
        The nodes it speaks of.
    """

    finding: Finding
    decibans: float
    nodes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ranked:
    """One site with its probability.

    Parameters
    ----------
    site : Site
    probability : float [-]
    ways : tuple of RankedWay
        The likeliest first.
    weights : tuple of Weight
        Of every finding weighed, in their order.
    explains : tuple of Weight
        What is off, and follows from a fault here.
    unexplained : tuple of Weight
        What is off, and does not.
    silent : tuple of Weight
        What is well though it should not be, were this the cause.
    alike : tuple of str
        Ids of other sites that no finding at hand parts from it by more than a deciban.
    """

    site: Site
    probability: float
    ways: tuple[RankedWay, ...]
    weights: tuple[Weight, ...]
    explains: tuple[Weight, ...]
    unexplained: tuple[Weight, ...]
    silent: tuple[Weight, ...]
    alike: tuple[str, ...]

    @property
    def is_shared(self) -> bool:
        """Whether what it explains was read at two nodes or more: a part that explains its own codes shares nothing."""
        return len({weight.nodes[0] for weight in self.explains if weight.nodes}) > 1


@dataclass(frozen=True, slots=True)
class Worked:
    """What a ranking was worked out from, and further readings are predicted from; no part of what is kept of it.

    Parameters
    ----------
    law : Law
    weighed : mapping of str to tuple of Weighed
        By site: its ways over their sizes.
    """

    law: Law
    weighed: Mapping[str, tuple[Weighed, ...]]


@dataclass(frozen=True, slots=True)
class SharedBelief:
    """What the findings say of an engine's supplies, grounds, references, buses and ducts.

    Parameters
    ----------
    ranked : tuple of Ranked
        Every site, the likeliest first.
    several : float [-]
        Probability of two separate faults or more, each at a child of its own.
    separate : tuple of str
        The nodes that would then have one, the surest first.
    nothing : float [-]
        Probability that nothing is wrong along these supplies.
    children : mapping of str to Child
        By node.
    left_out : tuple of LeftOut
        Findings that were not weighed.
    untold : tuple of str
        What this description cannot tell, in whole sentences.
    worked : Worked, optional
        None of one that was kept.
    """

    ranked: tuple[Ranked, ...]
    several: float
    separate: tuple[str, ...]
    nothing: float
    children: Mapping[str, Child]
    left_out: tuple[LeftOut, ...]
    untold: tuple[str, ...]
    worked: Worked | None = None

    def plain(self, most: int) -> SharedBelief:
        """The same as data that can be kept: without what it was worked out from, and without the least likely sites.

        Parameters
        ----------
        most : int
            Sites that stay; those that nothing parts from one of them stay too.

        Returns
        -------
        SharedBelief
        """
        first = self.ranked[:most]
        named = {name for one in first[:1] for name in one.alike} | {one.site.id for one in first}
        return replace(self, ranked=tuple(one for one in self.ranked if one.site.id in named), worked=None)


def shared_cause(engine: Engine, findings: Sequence[Finding], *, model: DriveModel | None = None) -> SharedBelief:
    """Rank every node and every shared connector, harness and zone by how well one edit there predicts the findings.

    Parameters
    ----------
    engine : Engine
        Its supply graph, else the usual one of so many cylinders.
    findings : sequence of Finding
        Codes set and not set, monitors that have not run, drops, drop-outs, modules that answer or not …; whatever
        the forward model predicts on this engine is weighed, the rest is named.
    model : DriveModel, optional
        Of this engine, where it is laid out already.

    Returns
    -------
    SharedBelief

    Notes
    -----
    docs/reasoning.md, "shared causes". P(site) ∝ Σ ways prior · ∫ P(findings | size) d share.
    """
    law, left_out = law_of(model or _laid_out(engine), [*findings, *_implied(engine, findings)])
    sites = sites_of(engine)
    healthy = law.log_sound
    about = [nodes_of(engine, finding) for finding in law.findings]
    touched = [nodes_of(engine, finding, every=True) for finding in law.findings]
    off = law.is_off()
    weighed = scan(law, sites, touched, healthy, off)
    by_site: dict[str, list[Weighed]] = {}
    for one in weighed:
        by_site.setdefault(one.site.id, []).append(one)
    log_site = np.array([np.logaddexp.reduce([one.log_weight for one in by_site[site.id]]) for site in sites])
    log_several, separate = _several(law, by_site, about, healthy)
    log_nothing = float(np.log(NOTHING) + healthy.sum())
    total = np.logaddexp.reduce([*log_site, log_several, log_nothing])
    ratios = _ratios(weighed, healthy)
    ranked = [
        _ranked(site, by_site[site.id], float(log - total), law, about, ratios, off)
        for site, log in zip(sites, log_site, strict=True)
    ]
    ranked = _with_alike(sorted(ranked, key=lambda one: -one.probability))
    of_ducts = any(one.site.kind in DUCTS for one in ranked[:_LOOKED_AT])
    return SharedBelief(
        tuple(ranked), float(np.exp(log_several - total)), separate, float(np.exp(log_nothing - total)),
        children_of(engine, findings), left_out, untold(supply_of(engine), left_out, of_ducts=of_ducts),
        Worked(law, {name: tuple(own) for name, own in by_site.items()}),
    )  # fmt: skip


def _implied(engine: Engine, findings: Sequence[Finding]) -> list[Finding]:
    """Whoever read codes out of the engine's computer had an answer from it."""
    graph = supply_of(engine)
    read = any(f.quantity == "code_state" and str(f.place.get("code")).startswith("P") for f in findings)
    asked = any(f.quantity == "module_answers" and f.place.get("module") == _COMPUTER for f in findings)
    if not read or asked or not graph.has(_COMPUTER):
        return []
    how = "codes were read from it"
    return [Finding("module_answers", Place.of(module=_COMPUTER), 1.0, 0.01, Condition("key_on"), method=how)]


def _laid_out(engine: Engine) -> DriveModel:
    """The engine with its drive, the likeliest where none is described: codes of its position sensors ask for one."""
    return DriveModel.of(engine if engine.drive is not None else candidate_engines(engine)[0].engine)


def _several(
    law: Law, by_site: Mapping[str, Sequence[Weighed]], about: Sequence[Sequence[str]], healthy: Array
) -> tuple[float, tuple[str, ...]]:
    """Log weight of two separate faults or more, each seen by its own child's findings alone.

    Each sits at its child, or at what feeds no other child that anything was read of. The sum over all sets S of two or
    more of odds^(|S| - 1) times the product of what each has of its own.
    """
    own: dict[str, float] = {}
    graph, complaints = supply_of(law.model.engine), [finding.condition.complaint for finding in law.findings]
    read = list(dict.fromkeys(names[0] for names in about if names))
    hangs = {name: {name, *behind(graph, name)} for name in read}
    for name in read:
        columns = [j for j, names in enumerate(about) if names == (name,)]
        private = hangs[name].difference(*(hangs[other] for other in read if other != name))
        ways = [one for site in {name, *private} for one in by_site.get(site, ())]
        if columns and ways:
            log = np.logaddexp.reduce(
                [np.log(one.way.prior) + one.evidence_of(columns, healthy, complaints) for one in ways]
            )
            own[name] = float(log - healthy[columns].sum())
    gain = np.array(list(own.values()))
    if len(gain) < 2:
        return -np.inf, ()
    # ln(Π(1 + ρ g) - 1 - ρ Σ g) - ln ρ, with the sum over sets of two or more built up so that nothing cancels.
    sets = np.array([0.0, -np.inf, -np.inf])  # logs of the sums over sets of none, of one, of two or more
    for g in gain + np.log(SEVERAL):
        more = np.logaddexp(sets[2], np.logaddexp(sets[2], sets[1]) + g)
        sets = np.array([0.0, np.logaddexp(sets[1], g), more])
    likely = [name for name, g in sorted(own.items(), key=lambda one: -one[1]) if g + np.log(SEVERAL) > 0.0]
    return float(sets[2] - np.log(SEVERAL) + healthy.sum()), tuple(likely)


def _ratios(weighed: Sequence[Weighed], healthy: Array) -> Mapping[int, Array]:
    """How much likelier each way makes every finding, by the id of what it holds at its nodes, which ways share."""
    found: dict[int, Array] = {}
    for one in weighed:
        if id(one.log_node) not in found:
            found[id(one.log_node)] = one.over_nodes @ np.exp(np.minimum(one.each - healthy, 500.0))
    return found


def _ranked(
    site: Site, own: Sequence[Weighed], log: float, law: Law, about: Sequence[Sequence[str]],
    ratios: Mapping[int, Array], off: NDArray[np.bool_],
) -> Ranked:  # fmt: skip
    logs = np.array([one.log_weight for one in own])
    share = np.exp(logs - np.logaddexp.reduce(logs))
    ratio = np.zeros(len(law.findings))
    for weight, one in zip(share, own, strict=True):
        ratio += weight * ratios[id(one.log_node)]
    decibans = _DB * np.log(np.maximum(ratio, 1e-30))
    weights = tuple(
        Weight(f, float(db), tuple(names)) for f, db, names in zip(law.findings, decibans, about, strict=True)
    )
    explains = tuple(w for w, is_off in zip(weights, off, strict=True) if is_off and w.decibans >= _SPEAKS)
    unexplained = tuple(w for w, is_off in zip(weights, off, strict=True) if is_off and w.decibans < _SPEAKS)
    silent = tuple(w for w, is_off in zip(weights, off, strict=True) if not is_off and w.decibans <= -_SPEAKS)
    ways = sorted(
        (_way(one, float(np.exp(log) * part)) for one, part in zip(own, share, strict=True)),
        key=lambda way: -way.probability,
    )
    return Ranked(site, float(np.exp(log)), tuple(ways), weights, explains, unexplained, silent, ())


def _way(one: Weighed, probability: float) -> RankedWay:
    if not one.way.has_size:
        return RankedWay(one.way, probability, None, None, None)
    at = one.share[[0, 0, 0]] if len(one.share) == 1 else np.interp(_TELLS, np.cumsum(one.over_nodes), one.share)
    low, middle, high = at
    sizes = one.way.sizes(np.array([low, middle, high]))[:, 0]
    return RankedWay(one.way, probability, float(sizes[1]), float(sizes[0]), float(sizes[2]))


def _with_alike(ranked: Sequence[Ranked]) -> list[Ranked]:
    """Each with those that no finding at hand parts from it: the same weight of every finding, to a deciban."""
    table = np.array([[weight.decibans for weight in one.weights] for one in ranked]).reshape(len(ranked), -1)
    found = []
    for one, row in zip(ranked, table, strict=True):
        same = np.all(np.abs(table - row) <= _ALIKE, axis=1)
        alike = tuple(
            other.site.id for other, is_same in zip(ranked, same, strict=True) if is_same and other is not one
        )
        found.append(replace(one, alike=alike))
    return found
