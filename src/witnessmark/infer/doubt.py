"""Which typed figures are asked back: those more likely a slip than a reading, each judged by itself.

What a figure might be without a slip is foretold before any finding: a sound vehicle, every cause of the list at all
its sizes with its prior, and something unlisted. Against that stand the slips of :mod:`witnessmark.infer.slip`. A
figure in doubt is weighed as one that may have been anything, so that it invents no fault; once somebody has looked
again (``checked``) it is weighed like any other. Where it then lies beyond all causes it favours none of them for lying
a little nearer: the instrument is doubted before a fault is invented.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.finding import Doubt, Finding
from witnessmark.infer.components import SOUND, Rows, single_components
from witnessmark.infer.evidence import INSTRUMENT_BIAS, OUTLIER, SCALE_ODDS, SCALES
from witnessmark.infer.history import History
from witnessmark.infer.priors import other_priors, prior_of
from witnessmark.infer.slip import ANYTHING, MISTYPED, Slip, slips_of
from witnessmark.infer.sorting import Findings
from witnessmark.infer.world import World

__all__ = ["ASKED_FROM", "doubting", "doubts_of"]

Array = NDArray[np.float64]

ASKED_FROM = 0.2
"""Chance of a slip from which on a figure is asked back; our guess. To look again takes a minute and a wrong path an
hour, but who is asked in vain more than four times in five stops reading the question."""
_SURE = 0.99  # of a slip: nobody is surer of another's slip than that
_SIZES = np.array([0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98])  # shares along each size, for what a cause may show
_WORLDS = 3  # the likeliest engines stand for all
_NEAR = 3.0  # spreads beyond what causes show within which a slip still leads somewhere
_DECADES = 4.0  # over which a figure may have come from anywhere


@dataclass(frozen=True, slots=True)
class _Foreseen:
    """What one reading may be on one engine, before any finding: a mixture over rows, on the scale of its reading."""

    world: World
    j: int
    weight: Array  # (n,)
    mean: Array  # (n,)
    extra: Array  # (n,) variance beyond that of sound engines and instrument

    def density(self, value: float, sd: float) -> float:
        """Probability density of a figure on its own scale."""
        own = self.world.warp.some(np.arange(len(self.world.queries)) == self.j)
        at, slope = float(own.there(np.array([value]))[0]), float(own.slope(np.array([value]))[0])
        instrument = (sd * slope) ** 2
        nominal = float(self.world.evidence.nominal[self.j, self.j]) + INSTRUMENT_BIAS**2 * instrument
        variance = nominal + SCALES[:, None] ** 2 * instrument + self.extra
        law = np.exp(-0.5 * (at - self.mean) ** 2 / variance) / np.sqrt(2.0 * np.pi * variance)
        return float(slope * SCALE_ODDS @ (law @ self.weight))


def doubting(worlds: tuple[World, ...], history: History) -> tuple[World, ...]:
    """The same engines with their findings, odd figures among them held in doubt.

    Parameters
    ----------
    worlds : tuple of World
    history : History

    Returns
    -------
    tuple of World
        The very same where no figure is odd.
    """
    doubts = doubts_of(worlds, history)
    if not doubts:
        return worlds
    return tuple(World(world.candidate, _held(world.findings, doubts), world.foretold) for world in worlds)


def _held(findings: Findings, doubts: Mapping[Finding, Doubt]) -> Findings:
    return replace(findings, measured=tuple(replace(f, doubt=doubts.get(f)) for f in findings.measured))


def doubts_of(worlds: Sequence[World], history: History) -> dict[Finding, Doubt]:
    """Odd figures among the typed ones.

    Parameters
    ----------
    worlds : sequence of World
    history : History

    Returns
    -------
    dict of Finding to Doubt
    """
    asked = {f for world in worlds for f in world.findings.measured if _may_be_asked(f)}
    if not asked:
        return {}
    likeliest = sorted(worlds, key=lambda world: -world.candidate.weight)[:_WORLDS]
    foreseen: dict[Finding, list[_Foreseen]] = {}
    for world in likeliest:
        for finding, one in _foreseen(world, history, asked).items():
            foreseen.setdefault(finding, []).append(one)
    found = {finding: _doubt(finding, some) for finding, some in foreseen.items()}
    return {finding: doubt for finding, doubt in found.items() if doubt is not None}


def _may_be_asked(finding: Finding) -> bool:
    """Codes and what instruments recorded are no figures that a hand wrote; words, counts and nought have no point.

    Nought is also what a dead part reads.
    """
    return finding.source.kind == "typed" and finding.kind.kind == "number" and finding.value != 0.0


def _foreseen(world: World, history: History, asked: Collection[Finding]) -> dict[Finding, _Foreseen]:
    rows: list[Rows] = [SOUND]
    others = other_priors(history)
    weight = [others["nothing_wrong"] + others["elsewhere"]]
    for instance in world.instances:
        prior = prior_of(instance, history).weight
        for way in single_components(world.model, instance, 0.0, [(1.0, ())], world.commands):
            share = _SIZES[:, None] * np.ones((len(_SIZES), len(way.axes))) if way.axes else np.full((1, 0), 0.5)
            rows.append(Rows(way, share, np.full(len(share), len(way.choices) // 2, dtype=np.intp)))
            weight += [prior * float(np.exp(way.log_weight)) / len(share)] * len(share)
    means = world.means(rows)[0]
    # Something unlisted moves it as far as listed causes do.
    means = np.concatenate([means, means[:1]])
    weight.append(others["none_of_these"])
    found = {}
    for j, finding in enumerate(world.findings.measured):
        if finding in asked:
            there = ~np.isnan(means[:, j])
            part = np.array(weight)[there]
            extra = np.zeros(len(means))
            extra[-1] = world.broad[j] ** 2
            found[finding] = _Foreseen(world, j, part / part.sum(), means[there, j], extra[there])
    return found


def _doubt(finding: Finding, foreseen: Sequence[_Foreseen]) -> Doubt | None:
    """The doubt about one figure; None where it is more likely a reading."""
    shares = np.array([one.world.candidate.weight for one in foreseen])
    shares = shares / shares.sum()

    def density(value: float, stretch: float) -> float:
        sd = finding.sd * (stretch if finding.kind.relative else 1.0)
        return float(shares @ [one.density(value, sd) for one in foreseen])

    reading = (1.0 - MISTYPED) * density(finding.value, 1.0)
    each = [(slip.share * slip.stretch * density(slip.meant, slip.stretch), slip) for slip in slips_of(finding)]
    anywhere = ANYTHING / (max(abs(finding.value), finding.sd, 1e-9) * _DECADES * float(np.log(10.0)))
    slipped = MISTYPED * (anywhere + sum(one for one, _ in each))
    chance = slipped / max(slipped + reading, 1e-300)
    if not chance >= ASKED_FROM:
        return None
    doubt = _told(foreseen[int(np.argmax(shares))], min(float(chance), _SURE))
    if not finding.checked:
        return _with_slip(doubt, [one for one in each if one[0] > 0.0])
    beyond = not doubt.low <= finding.value <= doubt.high
    return replace(doubt, chance=OUTLIER["typed"]) if beyond else None


def _told(foreseen: _Foreseen, chance: float) -> Doubt:
    world, j = foreseen.world, foreseen.j
    own = world.warp.some(np.arange(len(world.queries)) == j)
    usual = float(own.back(world.healthy[j : j + 1])[0])
    usual_sd = float(np.sqrt(world.evidence.covariance()[j, j]) / own.slope(np.array([usual]))[0])
    ends = own.back(np.array([[foreseen.mean.min()], [foreseen.mean.max()]]))[:, 0]
    return Doubt(chance, usual, usual_sd, float(ends[0]), float(ends[1]))


def _with_slip(doubt: Doubt, slips: Sequence[tuple[float, Slip]]) -> Doubt:
    """The likeliest slip among those that lead to what something would show; none where none does."""
    low, high = doubt.low - _NEAR * doubt.usual_sd, doubt.high + _NEAR * doubt.usual_sd
    fits = [one for one in slips if low <= one[1].meant <= high]
    if not fits:
        return doubt
    slip = max(fits, key=lambda one: one[0])[1]
    return replace(doubt, slip=slip.kind, meant=slip.meant, places=slip.places, unit=slip.unit)
