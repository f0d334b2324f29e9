"""Two faults at once: for every single fault, the second that best absorbs what is left over.

The measured quantities are sums of what each fault does, so a cheap straight-line fit of both
sizes ranks all pairs; the best few are then integrated like any other hypothesis.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.components import Choice, Component, Rows
from witnessmark.infer.together import CommonCause
from witnessmark.infer.world import World

__all__ = ["join", "pair_components"]

Array = NDArray[np.float64]
_HOW_MANY = 14
_CHOICES = 8


def pair_components(
    world: World, singles: Sequence[Component], log_best: float, log_pair: float, cause: CommonCause
) -> list[Component]:
    """The pairs worth integrating on one candidate engine.

    Parameters
    ----------
    world : World
    singles : sequence of Component
    log_best : float [nat]
        Log evidence x prior of the best single component, to prune by.
    log_pair : float [nat]
        Log prior mass of "two at once" relative to the product of the singles' priors.
    cause : CommonCause
        What faults of this vehicle have in common.

    Returns
    -------
    list of Component
        Their log weights sum the two singles' with ``log_pair`` and what the two have in common.
    """
    awake = [c for c in singles if not c.asleep]
    if len(awake) < 2 or len(world.queries) < 2:
        return []
    effect = _Effects(world, awake)
    score = effect.scores()
    prior = np.array([c.log_weight for c in awake])
    shared = _coupling(awake, cause)
    total = score + prior[:, None] + prior[None, :] + log_pair + shared
    upper = np.triu_indices(len(awake), k=1)
    order = np.argsort(-total[upper])
    found: list[Component] = []
    seen: set[tuple[object, int, int]] = set()
    for k in order:
        a, b = int(upper[0][k]), int(upper[1][k])
        if total[a, b] < log_best - 9.0 or len(found) >= _HOW_MANY:
            break
        key = tuple(sorted((awake[a].key[0], awake[b].key[0])))
        if awake[a].key == awake[b].key or _same_thing(awake[a], awake[b]) or (key, a, b) in seen:
            continue
        seen.add((key, a, b))
        found.append(join(awake[a], awake[b], log_pair + float(shared[a, b])))
    return found


def _coupling(components: Sequence[Component], cause: CommonCause) -> Array:
    """Log of how much likelier each two are together than two that have nothing in common, shape (k, k)."""
    relative = cause.relative([component.instances[0].row.factors for component in components])
    return np.asarray(np.log(relative.T @ (cause.chance[:, None] * relative)))


def _same_thing(a: Component, b: Component) -> bool:
    """Two names for one edit at one place are no pair."""
    edits = [{(t.variable, t.place) for kind in c.kinds for t in kind.terms} for c in (a, b)]
    return bool(edits[0] & edits[1])


def join(a: Component, b: Component, log_pair: float) -> Component:
    """Two single components as one pair; its log weight is their sum and ``log_pair``.

    Parameters
    ----------
    a, b : Component
        Two singles, awake throughout.
    log_pair : float [nat]

    Returns
    -------
    Component
    """
    first, second = sorted((a, b), key=lambda c: c.key)
    choices = tuple(
        Choice(x.weight * y.weight, (*x.numbers, *y.numbers), " and ".join(t for t in (x.label, y.label) if t))
        for x in _likeliest(first.choices)
        for y in _likeliest(second.choices)
    )
    total = sum(c.weight for c in choices)
    choices = tuple(Choice(c.weight / total, c.numbers, c.label) for c in choices)
    return Component(
        (*first.key, *second.key),
        (*first.instances, *second.instances),
        (*first.kinds, *second.kinds),
        choices,
        (),
        first.log_weight + second.log_weight + log_pair,
    )


def _likeliest(choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    kept = sorted(choices, key=lambda c: -c.weight)[:_CHOICES]
    total = sum(c.weight for c in kept)
    return tuple(Choice(c.weight / total, c.numbers, c.label) for c in kept)


class _Effects:
    """What each component adds to the healthy prediction: from, to, as a straight line in its size."""

    def __init__(self, world: World, components: Sequence[Component]) -> None:
        batch = [_ends(component) for component in components]
        means = np.nan_to_num(world.means(batch)[0]) - world.healthy
        self.low, self.high = means[0::2], means[1::2]
        scale = np.linalg.cholesky(world.evidence.precision)
        self.start = self.low @ scale
        self.line = (self.high - self.low) @ scale
        self.left = (world.evidence.values - world.healthy) @ scale

    def scores(self) -> Array:
        """Best log likelihood (up to a constant) of every pair, shape (k, k)."""
        g = self.line
        gg = g @ g.T
        own = np.maximum(np.diag(gg), 1e-12)
        gap = self.left - self.start
        # r is what pair (a, b) leaves at its low ends: left - start_a - start_b
        along_a = np.einsum("aq,aq->a", gap, g)[:, None] - (self.start @ g.T).T  # (r . g_a)
        along_b = along_a.T
        det = np.outer(own, own) - gg**2
        safe = det > 1e-9 * np.outer(own, own)
        ta = np.where(safe, (along_a * own[None, :] - along_b * gg) / np.where(safe, det, 1.0), along_a / own[:, None])
        ta = np.clip(ta, 0.0, 1.0)
        tb = np.clip((along_b - ta * gg) / own[None, :], 0.0, 1.0)
        ta = np.clip((along_a - tb * gg) / own[:, None], 0.0, 1.0)
        rr = np.einsum("aq,aq->a", gap, gap)
        base = rr[:, None] - 2.0 * gap @ self.start.T + np.einsum("aq,aq->a", self.start, self.start)[None, :]
        quad = base - 2.0 * ta * along_a - 2.0 * tb * along_b + ta**2 * own[:, None] + tb**2 * own[None, :]
        quad += 2.0 * ta * tb * gg
        occam = 0.5 * np.log1p(own[:, None]) + 0.5 * np.log1p(own[None, :])
        return np.asarray(-0.5 * quad - occam)


def _ends(component: Component) -> Rows:
    """The smallest and the largest effect of a component: severity ends, or the tooth counts' ends."""
    share = np.full((2, len(component.axes)), 0.5)
    share[0, :], share[1, :] = 0.0, 1.0
    last = len(component.choices) - 1
    if last > 0 and "step:" in str(component.choices[0].numbers):
        sizes = [dict(c.numbers)[c.numbers[0][0]] for c in component.choices]
        pick = np.array([int(np.argmin(sizes)), int(np.argmax(sizes))], dtype=np.intp)
    else:
        pick = np.zeros(2, dtype=np.intp)
    return Rows(component, share, pick)
