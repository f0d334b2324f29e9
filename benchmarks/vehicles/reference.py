"""The reference posterior of simulated vehicles: the generator's own law turned round. Imports nothing of ``infer``.

First every fault at every place is weighed on a fine net of sizes, with the healthy differences, biases and tolerances
of this engine integrated in closed form along straight lines about the sound engine. Then what is left standing is
taken up again. A few vehicles drawn with the fault tell how steep the lines are with it and how far they bend; the
healthy differences that the readings ask for are put into ``predict``, and the lines start from what it really shows
there; at last vehicles are drawn from what each hypothesis then leaves open, predicted in full, and averaged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.vehicles.again import take_up
from benchmarks.vehicles.bank import Bank, make_bank
from benchmarks.vehicles.frame import Frame, log_sum
from benchmarks.vehicles.generate import Key, Vehicle
from benchmarks.vehicles.hypotheses import hypotheses
from benchmarks.vehicles.law import Law
from benchmarks.vehicles.shown import Open, Shown, Weighed, reduced

__all__ = ["Bank", "Posterior", "make_bank", "posteriors"]

Array = NDArray[np.float64]

_KEPT, _MOST = 3e-3, 16  # what is awake is taken up again: share of the whole, and how many
_UNSEEN_DOUBT = 1.0  # nats, of what was weighed along straight lines only
_MOST_DOUBT, _MOST_MOVED = 3.0, 3.0  # nats, of what was not taken up
_NEAR, _NEAR_REST = 4.0, 20.0  # nats that a reading, and all that is no number, costs a vehicle at most
_STRAINED, _NOT_FOUND = 15.0, 0.3  # nats beyond it that halve a first look; doubt for each nat beyond it at last
_TIMES = 200  # over which doubts are averaged
_LOOKS = 3  # what was taken up may leave others likelier: those in their turn


@dataclass
class Posterior:
    """What the reference says of one vehicle.

    Parameters
    ----------
    held : mapping of str to float
        Probability of every repair that it is needed, pairs that hold it counted; of "nothing_wrong", "elsewhere" and
        "none_of_these".
    needed : frozenset of str
        Which of these are true: faults that none of the findings would show are left out, and are "elsewhere" where
        there is no other.
    mass : mapping of key to float
        Of every hypothesis; sums to 1.
    moved : float
        Half the sum of all differences that taking up again made.
    again : float
        Share of the mass that was taken up again.
    """

    held: dict[str, float]
    needed: frozenset[str]
    mass: dict[Key, float]
    moved: float = 0.0
    again: float = 0.0


def posteriors(banks: Sequence[Bank], vehicles: Sequence[Vehicle], law: Law, seed: int = 1) -> list[Posterior]:
    """The posterior of every vehicle of a batch; what is taken up again of all of them is predicted in one call.

    Parameters
    ----------
    banks : sequence of Bank
        One for each variant.
    vehicles : sequence of Vehicle
    law : Law
    seed : int
        Of the vehicles drawn; every hypothesis of a vehicle takes the same numbers.
    """
    weighed = [_on_variants(banks, vehicle, law) for vehicle in vehicles]
    opened = [[one for own in mine for one in own.opened] for mine in weighed]
    before = [_masses(mine, _shares(mine)) for mine in opened]
    for _ in range(_LOOKS):
        todo = [shown for mine in opened for shown in _worth_it(mine)]
        for bank in banks:
            take_up(bank, [shown for shown in todo if shown.frame.bank is bank], seed)
    return [
        _posterior(vehicle, own[0], mine, old)
        for vehicle, own, mine, old in zip(vehicles, weighed, opened, before, strict=True)
    ]


def _on_variants(banks: Sequence[Bank], vehicle: Vehicle, law: Law) -> list[Weighed]:
    """Hypotheses on every variant that it may be by what could be read; first on the one that it is."""
    true = banks[vehicle.variant]
    found = []
    for bank in (true, *(bank for bank in banks if bank is not true)):
        seen = vehicle.seen_on(true.variant, bank.variant)
        if seen is not None:
            found.append(hypotheses(Frame.of(bank, seen, law)))
    return found


def _posterior(vehicle: Vehicle, weighed: Weighed, mine: list[Open], old: dict[Key, float]) -> Posterior:
    share = _in_doubt(mine)
    mass = _masses(mine, share)
    again = sum(float(own) for one, own in zip(mine, share, strict=True) if one.shown.done)
    moved = 0.5 * sum(abs(mass[key] - old[key]) for key in mass)
    variants = {id(one.shown.frame.bank): one.shown.frame.bank.variant for one in mine}.values()
    repairs = {one.key: ":".join(one.repair_key) for variant in variants for one in variant.instances}
    held: dict[str, float] = {}
    for one, own in zip(mine, share, strict=True):
        for name, part in _names(one, repairs).items():
            held[name] = held.get(name, 0.0) + float(own) * part
    truth = reduced(vehicle.truth, weighed.unseen)
    needed = frozenset([truth] if isinstance(truth, str) else [repairs[part] for part in truth])
    return Posterior(held, needed, mass, moved, again)


def _names(one: Open, repairs: dict[tuple[str, str], str]) -> dict[str, float]:
    """What a hypothesis asks for, and in which share of it."""
    if one.members is None:
        return {one.key: 1.0} if isinstance(one.key, str) else {repairs[part]: 1.0 for part in one.key}
    found: dict[str, float] = {}
    for part, share in one.members.items():
        found[repairs[part]] = min(found.get(repairs[part], 0.0) + share, 1.0)
    return found


def _logs(mine: list[Open]) -> Array:
    """Log mass: what was not taken up is put right by what taking up did to the others."""
    off, _ = _put_right(mine)
    return np.array([one.log_prior + one.shown.log_like + (0.0 if one.shown.done else off) for one in mine])


def _put_right(mine: list[Open]) -> tuple[float, float]:
    """By how much taking up moved what was taken up, and the spread of that, by first shares [nat]."""
    known = [one for one in mine if one.shown.done]
    if not known:
        return 0.0, 0.0
    first = np.array([one.log_prior + one.shown.first for one in known])
    share = np.exp(first - log_sum(first))
    moved = np.array([one.shown.log_like - one.shown.first for one in known])
    off = float(np.clip(share @ moved, -_MOST_MOVED, _MOST_MOVED))
    return off, float(min(np.sqrt(share @ (moved - off) ** 2), _MOST_DOUBT))


def _shares(mine: list[Open]) -> Array:
    logs = _logs(mine)
    return np.asarray(np.exp(logs - log_sum(logs)))


def _strain(mine: list[Open]) -> float:
    """How little a first look is worth: 1, and more where nothing comes near the readings along straight lines."""
    return 1.0 + _beyond(mine, max(one.shown.first for one in mine)) / _STRAINED


def _beyond(mine: list[Open], best: float) -> float:
    """By how much the best is worse than any vehicle's own readings would be [nat]."""
    return max(-best - _NEAR * mine[0].shown.frame.read.size - _NEAR_REST, 0.0)


def _in_doubt(mine: list[Open]) -> Array:
    """Shares, over what the sums themselves leave open: each state's likelihood off by its own doubt."""
    states = list({id(one.shown): one.shown for one in mine}.values())
    place = {id(shown): k for k, shown in enumerate(states)}
    unseen = float(np.linalg.norm([_UNSEEN_DOUBT, _put_right(mine)[1], _strain(mine) - 1.0]))
    # Where nothing found comes near the readings, what was found tells little.
    lost = _NOT_FOUND * _beyond(mine, max(one.shown.log_like for one in mine))
    doubt = np.array([np.hypot(shown.doubt if shown.done else unseen, lost) for shown in states])
    off = np.random.default_rng(1).standard_normal((_TIMES, len(states))) * doubt
    logs = _logs(mine) + off[:, [place[id(one.shown)] for one in mine]]
    return np.asarray(np.exp(logs - log_sum(logs)[:, None]).mean(axis=0))


def _masses(mine: list[Open], shares: Array) -> dict[Key, float]:
    mass: dict[Key, float] = {}
    for one, share in zip(mine, shares, strict=True):
        mass[one.key] = mass.get(one.key, 0.0) + float(share)
    return mass


def _worth_it(mine: list[Open]) -> list[Shown]:
    """What is awake in the likeliest hypotheses, each once, and not taken up yet."""
    by_shown: dict[int, float] = {}
    logs = _logs(mine) / _strain(mine)
    for one, share in zip(mine, np.exp(logs - log_sum(logs)), strict=True):
        if one.members is None:
            by_shown[id(one.shown)] = by_shown.get(id(one.shown), 0.0) + float(share)
    known = {id(one.shown): one.shown for one in mine}
    best = sorted(by_shown, key=lambda name: -by_shown[name])[:_MOST]
    return [known[name] for name in best if by_shown[name] > _KEPT and not known[name].done]
