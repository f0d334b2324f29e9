"""Why: decibans for each block of findings, the fit of the leader, and the verdict in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Finding
from witnessmark.infer.belief import Block, Fit, Group, Hypothesis, Verdict, Weight
from witnessmark.infer.cleared import CLEARED_BELOW, NOTHING_CLEARED, Cleared, told_together
from witnessmark.infer.components import Component, Key, Rows, awake_patterns, single_components
from witnessmark.infer.integrate import integrate
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.pairs import join
from witnessmark.infer.posterior import OTHERS, Posterior
from witnessmark.infer.sorting import sort_findings
from witnessmark.infer.summary import clouds_of, history_factor, history_words, percent
from witnessmark.infer.warp import PLAIN
from witnessmark.infer.world import World

__all__ = ["blocks_of", "fit_of", "inseparable_from_leader", "verdict_of", "weights_of"]

_DECIBAN = 10.0 / np.log(10.0)
_RIVALS = 6
_TOP_WORLDS = 4
CAUSE_AT = 0.90  # of one repair, to call it the cause; the shop may set it
_SAID_PLACES = ("cam", "wheel", "mesh", "mark", "chain", "part")
_PARTED_DECIBANS = 1.0  # blocks of findings below this do not part two causes
_STRANGE = 3.5  # spreads at which the leader fails its predictive check


def blocks_of(findings: Sequence[Finding]) -> list[tuple[str, list[int]]]:
    """Findings that belong together: one instrument, one condition; codes as one.

    Parameters
    ----------
    findings : sequence of Finding

    Returns
    -------
    list of (words, indices)
        In the order they are weighed: the order they came in.
    """
    found: dict[tuple[str, ...], list[int]] = {}
    for i, finding in enumerate(findings):
        if finding.quantity == "code_state":
            key: tuple[str, ...] = ("codes",)
        else:
            c = finding.condition
            key = (finding.kind.instrument, finding.source.digest, str(c.state), str(c.phaser), str(c.complaint))
        found.setdefault(key, []).append(i)
    return [(_block_words([findings[i] for i in members]), members) for members in found.values()]


def _block_words(findings: Sequence[Finding]) -> str:
    first = findings[0]
    if first.quantity == "code_state":
        codes = " and ".join(str(f.place.get("code")) for f in findings if f.value > 0.5)
        silent = " and ".join(str(f.place.get("code")) for f in findings if f.value <= 0.5)
        return "; ".join(t for t in (codes and f"{codes} set", silent and f"{silent} not set") if t)
    said: dict[str, list[str]] = {}
    for f in findings:
        unit = "°" if f.unit == "deg" else f" {f.unit}"
        where = " ".join(str(value) for key, value in f.place.items if key in _SAID_PLACES)
        value = f"{f.value:+.1f}{unit}" if f.unit == "deg" else f"{f.value:.3g}{unit}"
        said.setdefault(f.quantity.replace("_", " "), []).append(f"{where} {value}".replace("-", "−").strip())
    parts = [f"{name}: {', '.join(values)}" for name, values in said.items()]
    return "; ".join(parts[:3]) + (" …" if len(parts) > 3 else "")


def weights_of(
    post: Posterior, findings: Sequence[Finding], order: Sequence[Key | str], ids: dict[Key | str, str]
) -> tuple[Weight, ...]:
    """The leader against its nearest rivals, block by block.

    Parameters
    ----------
    post : Posterior
    findings : sequence of Finding
        As weighed.
    order : sequence of hypotheses
        By falling probability.
    ids : mapping
        Their names in the answer.

    Returns
    -------
    tuple of Weight
        Prior, history and blocks sum to the posterior log-odds exactly: each block is the change
        that its findings make after those before it. Blocks are worked out on the likeliest
        engines; what the rest of them change goes to the heaviest block.
    """
    if len(order) < 2:
        return ()
    names = list(order[: _RIVALS + 1])
    blocks = blocks_of(findings)
    prefixes = _prefix_evidence(post, findings, names, blocks)
    leader = names[0]
    return tuple(_weight(post, leader, rival, blocks, prefixes, findings, ids) for rival in names[1:])


def _weight(
    post: Posterior,
    leader: Key | str,
    rival: Key | str,
    blocks: Sequence[tuple[str, list[int]]],
    prefixes: dict[Key | str, list[float]],
    findings: Sequence[Finding],
    ids: dict[Key | str, str],
) -> Weight:
    total = float(_DECIBAN * (post.log_mass[leader] - post.log_mass[rival]))
    prior = float(_DECIBAN) * (post.log_prior[leader] - post.log_prior[rival])
    moved = float(_DECIBAN) * float(np.log(history_factor(post, leader) / history_factor(post, rival)))
    parts = []
    for k, (words, members) in enumerate(blocks):
        step = (prefixes[leader][k + 1] - prefixes[leader][k]) - (prefixes[rival][k + 1] - prefixes[rival][k])
        parts.append(Block(tuple(findings[i].id for i in members), float(_DECIBAN * step), words))
    if parts:
        left = total - prior - sum(part.decibans for part in parts)
        heavy = max(range(len(parts)), key=lambda i: abs(parts[i].decibans))
        old = parts[heavy]
        parts[heavy] = Block(old.findings, old.decibans + left, old.words)
    if abs(moved) > 1e-9:
        parts.insert(0, Block((), moved, history_words(post, leader, rival)))
    return Weight(ids[leader], ids[rival], prior - moved, tuple(parts), total)


def _prefix_evidence(
    post: Posterior, findings: Sequence[Finding], names: Sequence[Key | str], blocks: Sequence[tuple[str, list[int]]]
) -> dict[Key | str, list[float]]:
    """Log evidence of some hypotheses after each block, on the likeliest engines."""
    worlds = np.argsort(-post.world_mass)[:_TOP_WORLDS]
    result: dict[Key | str, list[float]] = {name: [0.0] for name in names}
    seen: list[int] = []
    for _, members in blocks[:-1]:
        seen += members
        part = [findings[i] for i in sorted(seen)]
        logs: dict[Key | str, list[float]] = {name: [] for name in names}
        priors: dict[Key | str, list[float]] = {name: [] for name in names}
        for index in worlds:
            old = post.worlds[int(index)]
            world = World(old.candidate, sort_findings(old.foretold, part), old.foretold)
            for name, (log_prior, value) in _evidence_on(post, world, names).items():
                logs[name].append(log_prior + value)
                priors[name].append(log_prior)
        for name in names:
            both = log_sum(np.array(logs[name])), log_sum(np.array(priors[name]))
            result[name].append(float(both[0] - both[1]) if logs[name] else -50.0)
    if blocks:
        for name in names:
            result[name].append(_full_evidence(post, name, worlds))
    return result


def _full_evidence(post: Posterior, name: Key | str, worlds: NDArray[np.intp]) -> float:
    """Log evidence of all findings on some engines: what the posterior already holds."""
    if isinstance(name, str):
        logs = [post.other_log_mass[(int(w), name)] for w in worlds]
        priors = [post.other_log_prior[(int(w), name)] for w in worlds]
    else:
        mine = [cloud for cloud in clouds_of(post, name) if cloud.world in set(map(int, worlds))]
        logs = [cloud.log_total for cloud in mine]
        priors = [cloud.integrated.component.log_weight for cloud in mine]
    if not logs:
        return -50.0
    return float(log_sum(np.array(logs)) - log_sum(np.array(priors)))


def _evidence_on(post: Posterior, world: World, names: Sequence[Key | str]) -> dict[Key | str, tuple[float, float]]:
    """(log prior, log evidence) of each hypothesis that this engine knows."""
    base = float(np.log(world.candidate.weight))
    found: dict[Key | str, tuple[float, float]] = {}
    components: list[Component] = []
    for name in names:
        if isinstance(name, str):
            found[name] = (base, world.log_none() if name == "none_of_these" else world.log_healthy)
        else:
            components += _components(post, world, name, base)
    for integrated in integrate(world, components):
        key = integrated.component.key
        value = float(log_sum(integrated.log_weight)) + integrated.component.log_weight
        prior = integrated.component.log_weight
        if key in found:
            old_prior, old = found[key]
            joint = float(log_sum(np.array([old_prior + old, value])))
            prior = float(log_sum(np.array([old_prior, prior])))
            found[key] = (prior, joint - prior)
        else:
            found[key] = (prior, value - prior)
    return found


def _components(post: Posterior, world: World, name: Key, base: float) -> list[Component]:
    known = {instance.key: instance for instance in world.instances}
    if any(part not in known for part in name):
        return []
    parts: list[list[Component]] = []
    for part in name:
        instance = known[part]
        patterns = awake_patterns(world.findings.all, instance.row.onset)
        share = float(np.log(max(instance.share, 1e-12)))
        parts.append(
            single_components(world.model, instance, (base if not parts else 0.0) + share, patterns, world.commands)
        )
    if len(parts) == 1:
        return parts[0]
    return [join(a, b, 0.0) for a in parts[0] if not a.asleep for b in parts[1] if not b.asleep][:24]


def fit_of(post: Posterior, name: Key | str) -> tuple[Fit, ...]:
    """Every weighed finding against what a hypothesis expects of it, posterior mean and spread.

    Parameters
    ----------
    post : Posterior
    name : hypothesis

    Returns
    -------
    tuple of Fit
        In the order of the findings.
    """
    sums: dict[str, list[tuple[float, float, float]]] = {}
    if isinstance(name, str):
        best = int(np.argmax(post.world_mass))
        world = post.worlds[best]
        broad = world.broad if name == "none_of_these" else np.zeros(len(world.queries))
        own = np.sqrt(np.diag(world.evidence.covariance()) + broad**2) if world.queries else broad
        for finding, mean, sd in zip(world.findings.measured, world.healthy, own, strict=True):
            sums[finding.id] = [(1.0, float(mean), float(sd) ** 2)]
        findings = {f.id: f for f in world.findings.measured}
        return _fits(sums, findings, world)
    total = float(log_sum(np.array([cloud.log_total for cloud in clouds_of(post, name)])))
    findings = {}
    for cloud in clouds_of(post, name):
        weight = np.exp(cloud.log_weight - total)
        keep = np.flatnonzero(weight > 1e-6)
        if not len(keep):
            continue
        world = post.worlds[cloud.world]
        rows = Rows(cloud.integrated.component, cloud.integrated.share[keep], cloud.integrated.choice[keep])
        means = np.nan_to_num(world.means([rows])[0])
        variance = np.diag(world.evidence.covariance()) if world.queries else np.zeros(0)
        for j, finding in enumerate(world.findings.measured):
            findings[finding.id] = finding
            parts = sums.setdefault(finding.id, [])
            w = weight[keep]
            mean = float(w @ means[:, j] / w.sum())
            spread = float(w @ (means[:, j] - mean) ** 2 / w.sum())
            parts.append((float(w.sum()), mean, spread + float(variance[j])))
    return _fits(sums, findings, post.worlds[int(np.argmax(post.world_mass))])


def _fits(
    sums: dict[str, list[tuple[float, float, float]]], findings: dict[str, Finding], world: World
) -> tuple[Fit, ...]:
    """Fits on the scales that readings are weighed on, told on their own."""
    places = [finding.id for finding in world.findings.measured]
    found = []
    for name, parts in sums.items():
        w = np.array([p[0] for p in parts])
        m = np.array([p[1] for p in parts])
        v = np.array([p[2] for p in parts])
        mean = float(w @ m / w.sum())
        sd = float(np.sqrt((w @ (v + (m - mean) ** 2)) / w.sum()))
        # What the likeliest engine does not weigh was weighed on its own scale elsewhere.
        own = world.warp.some(np.array([place == name for place in places], dtype=bool)) if name in places else PLAIN
        z = float(own.there(np.array([findings[name].value]))[0] - mean) / sd
        told = float(own.back(np.array([mean]))[0])
        found.append(Fit(name, told, sd / float(own.slope(np.array([told]))[0]), z))
    return tuple(sorted(found, key=lambda f: int(f.finding[1:]) if f.finding[1:].isdigit() else 0))


def inseparable_from_leader(weights: Sequence[Weight], groups: Sequence[Group]) -> tuple[str, ...]:
    """The leader and those rivals that nothing found parts from it, where another repair cures them.

    Parameters
    ----------
    weights : sequence of Weight
        The leader against its rivals.
    groups : sequence of Group

    Returns
    -------
    tuple of str
        Hypothesis ids, the leader first; empty where every rival is parted from it, or cured by the same repair.
    """
    job = {name: group.id for group in groups for name in group.hypotheses}
    found = [
        weight.rival
        for weight in weights
        if weight.rival not in OTHERS
        and job.get(weight.rival) != job.get(weight.leader)
        and all(abs(block.decibans) < _PARTED_DECIBANS for block in weight.blocks if block.findings)
    ]
    return (weights[0].leader, *found) if found and weights[0].leader not in OTHERS else ()


def verdict_of(
    hypotheses: Sequence[Hypothesis],
    groups: Sequence[Group],
    fit: Sequence[Fit],
    apart: Sequence[str],
    complaint_seen: bool | None,
    cleared: Cleared = NOTHING_CLEARED,
) -> Verdict:
    """cause, cleared or cannot_tell, with the reason in a sentence.

    Parameters
    ----------
    hypotheses : sequence of Hypothesis
    groups : sequence of Group
        By falling probability.
    fit : sequence of Fit
        Of the leader.
    apart : sequence of str
        Ids that nothing found parts from the leader.
    complaint_seen : bool, optional
    cleared : Cleared
        Systems that findings clear.

    Returns
    -------
    Verdict
    """
    chance = {h.id: h.probability for h in hypotheses}
    none = chance["none_of_these"]
    strange = [f for f in fit if abs(f.z) > _STRANGE]
    lead = groups[0] if groups else None
    if lead and lead.probability >= CAUSE_AT and none < 0.1:
        if not strange:
            return Verdict("cause", lead.id, (), f"One repair explains everything found, {percent(lead.probability)}.")
        worst = max(strange, key=lambda f: abs(f.z))
        reason = (
            f"{percent(lead.probability)} for one repair, but it does not explain {worst.finding}, "
            f"{abs(worst.z):.1f} spreads off. Take that reading again first."
        )
        return Verdict("cannot_tell", lead.id, (), reason)
    if cleared.systems and (lead is None or lead.probability < CLEARED_BELOW) and none < CLEARED_BELOW and not strange:
        seen = "" if complaint_seen else " The complaint itself was not seen here."
        sound = told_together(cleared.systems)
        left = f"All faults there together: {percent(cleared.after)}, before any reading {percent(cleared.before)}."
        return Verdict("cleared", None, cleared.systems, f"{sound} sound; look elsewhere. {left}{seen}")
    return Verdict(
        "cannot_tell", lead.id if lead and lead.probability > none else None, (), _undecided(groups, hypotheses, apart)
    )


def _undecided(groups: Sequence[Group], hypotheses: Sequence[Hypothesis], apart: Sequence[str]) -> str:
    """Why nobody can tell yet, in a sentence or two."""
    chance = {h.id: h.probability for h in hypotheses}
    if chance["none_of_these"] > 0.5:
        return f"Nothing on the list explains these findings: none of these, {percent(chance['none_of_these'])}."
    if chance["elsewhere"] + chance["nothing_wrong"] > 0.5:
        return "Nothing speaks clearly against anything that was looked at, and too little was looked at to clear it."
    told = [f"{group.cause}, {percent(group.probability)}" for group in groups[:2] if group.probability > 0.02]
    if not told:
        return "No listed repair stands out."
    first = told[0][0].upper() + told[0][1:]
    both = f"{first}{'; then ' + told[1] if len(told) > 1 else ''}. One repair should hold {percent(CAUSE_AT)}."
    words = [h.words for h in hypotheses if h.id in apart[:3]]
    if len(words) < 2:
        return both
    return f"{both} Nothing found so far parts these: {'; '.join(w[0].lower() + w[1:] for w in words)}."
