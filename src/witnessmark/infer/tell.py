"""What single findings tell: what a hypothesis expects of each, and how probable each is under it by itself.

The sums that decide are those of the posterior, in which findings share biases and noise. These are for saying which
finding speaks for or against what, with the numbers beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.belief import Tell
from witnessmark.infer.components import SOUND, Key, Rows
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.posterior import Posterior
from witnessmark.infer.summary import clouds_of
from witnessmark.infer.world import World

__all__ = ["SPEAKS", "ruled_out", "tells_of"]

Array = NDArray[np.float64]
_POINTS = 12  # heaviest points that stand for a cloud
_HEAVY = 1e-3  # share of a hypothesis below which a cloud is not looked at
_MOST_RULED_OUT = 3
_AGAINST = float(np.log(10.0))  # nats against the leader from which on a cause counts as spoken against
SPEAKS = float(np.log(2.0))
"""Nats from which on a single finding speaks for or against."""
_LOOKED_AT = 24  # so many of the commonest are looked at
_LEFT = 0.02  # and it is no likelier than this


def ruled_out(post: Posterior, order: Sequence[Key | str]) -> tuple[Key, ...]:
    """Common causes that the findings speak against, though one of them by itself would suggest it; commonest first.

    Parameters
    ----------
    post : Posterior
    order : sequence of hypotheses
        By falling probability.

    Returns
    -------
    tuple of Key
        Single faults, of different kinds.
    """
    sound = {tell.finding: tell.log_density for tell in _tells(post, "nothing_wrong", "")}
    best = {tell.finding: tell.log_density for tell in _tells(post, order[0], "")}
    found: list[Key] = []
    for name in _spoken_against(post, order):
        tells = _tells(post, name, "")
        # Engines that it may be do not all have the same readings: only what both weighed is compared.
        suggested = any(tell.log_density - sound.get(tell.finding, np.inf) >= SPEAKS for tell in tells)
        refused = any(best.get(tell.finding, -np.inf) - tell.log_density >= SPEAKS for tell in tells)
        if suggested and refused:
            found.append(name)
        if len(found) == _MOST_RULED_OUT:
            break
    return tuple(found)


def _spoken_against(post: Posterior, order: Sequence[Key | str]) -> list[Key]:
    """The commonest single faults that are no likelier than so much now, one of each kind."""
    leader = post.log_mass[order[0]] - post.log_prior[order[0]]
    found: dict[str, Key] = {}
    singles = [name for name in order[1:] if not isinstance(name, str) and len(name) == 1]
    for name in sorted(singles, key=lambda one: -post.log_prior[one]):
        against = leader - (post.log_mass[name] - post.log_prior[name])
        if against >= _AGAINST and post.probability(name) <= _LEFT and name[0][0] != _fault_of(order[0]):
            found.setdefault(name[0][0], name)
    return list(found.values())[:_LOOKED_AT]


def _fault_of(name: Key | str) -> str:
    return "" if isinstance(name, str) else name[0][0]


def tells_of(post: Posterior, names: Sequence[Key | str], ids: dict[Key | str, str]) -> tuple[Tell, ...]:
    """Every weighed finding under some hypotheses.

    Parameters
    ----------
    post : Posterior
    names : sequence of hypotheses
    ids : mapping
        Their names in the answer.

    Returns
    -------
    tuple of Tell
        Hypothesis by hypothesis, findings in the order they are weighed.
    """
    return tuple(tell for name in dict.fromkeys(names) for tell in _tells(post, name, ids[name]))


def _tells(post: Posterior, name: Key | str, label: str) -> list[Tell]:
    gathered: dict[str, list[tuple[float, float, float, float]]] = {}
    for world, rows, weight in _points(post, name):
        for finding, mean, spread, density in _each(world, rows, weight, broad=name == "none_of_these"):
            gathered.setdefault(finding, []).append((float(weight.sum()), mean, spread, density))
    found = []
    for finding, parts in gathered.items():
        found.append(_joined(finding, label, np.array(parts)))
    return found


def _joined(finding: str, label: str, parts: Array) -> Tell:
    """One finding over all clouds of a hypothesis: columns of weight, mean, variance and log density."""
    weight, mean, variance, density = parts.T
    weight = weight / weight.sum()
    middle = float(weight @ mean)
    is_chance = not variance.any()
    spread = 0.0 if is_chance else float(np.sqrt(weight @ (variance + (mean - middle) ** 2)))
    return Tell(finding, label, middle, spread, float(log_sum(np.log(weight) + density)), is_chance)


def _points(post: Posterior, name: Key | str) -> list[tuple[World, Rows, Array]]:
    """Where a hypothesis may be: engine, rows and their weights."""
    if isinstance(name, str):
        return [(post.worlds[int(np.argmax(post.world_mass))], SOUND, np.ones(1))]
    clouds = clouds_of(post, name)
    total = float(log_sum(np.array([cloud.log_total for cloud in clouds])))
    found = []
    for cloud in clouds:
        if cloud.log_total - total < np.log(_HEAVY):
            continue
        best = np.argsort(-cloud.log_weight)[:_POINTS]
        rows = Rows(cloud.integrated.component, cloud.integrated.share[best], cloud.integrated.choice[best])
        share = np.exp(cloud.log_weight[best] - cloud.log_weight[best[0]])
        found.append((post.worlds[cloud.world], rows, share / share.sum() * float(np.exp(cloud.log_total - total))))
    return found


def _each(world: World, rows: Rows, weight: Array, *, broad: bool) -> list[tuple[str, float, float, float]]:
    """Of each finding its name, mean, variance and log density over the points of one cloud."""
    means, codes, chances, graded = world.each([rows])
    share = weight / weight.sum()
    log_share = np.log(np.maximum(share, 1e-300))[:, None]
    found = []
    if world.findings.measured:
        density = log_sum(log_share + world.evidence.log_alone(means), axis=0)
        variance = np.diag(world.evidence.covariance()) + (world.broad**2 if broad else 0.0)
        own = world.warp.back(means)
        slope = np.stack([world.warp.slope(row) for row in own])
        middle = share @ own
        spread = share @ (variance / slope**2 + (own - middle) ** 2)
        names = [finding.id for finding in world.findings.measured]
        found += list(zip(names, map(float, middle), map(float, spread), map(float, density), strict=True))
    sorts = (world.findings.codes, codes), (world.findings.chances, chances), (world.findings.graded, graded)
    made_up = world.made_up
    for findings, chance in sorts:
        for k, finding in enumerate(findings):
            mean = float(share @ chance[:, k])
            by_grade = findings is world.findings.graded
            wrong = made_up[k] if findings is world.findings.codes else finding.sd
            seen = mean if by_grade else _seen(mean, finding.sd, wrong, yes=_is_yes(finding.value))
            found.append((finding.id, seen, 0.0, float(np.log(max(seen, 1e-6)))))
    return found


def _is_yes(value: float) -> bool:
    return value > 0.5  # a sign is -1 or 1, yes and no are 1 and 0


def _seen(chance: float, overlooked: float, made_up: float, *, yes: bool) -> float:
    """Chance of an answer that is wrong now and then."""
    said = chance * (1.0 - overlooked) + (1.0 - chance) * made_up
    return said if yes else 1.0 - said
