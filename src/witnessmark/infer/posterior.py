"""All hypotheses on all candidate engines, weighed: the posterior as a cloud of weighted points."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import FaultInstance
from witnessmark.engine.candidates import Candidate
from witnessmark.engine.types import Engine
from witnessmark.errors import InferenceError
from witnessmark.finding import Finding
from witnessmark.infer.components import Component, Key, awake_patterns, single_components
from witnessmark.infer.doubt import doubting
from witnessmark.infer.foretold import is_cheap
from witnessmark.infer.frames import in_their_frames
from witnessmark.infer.history import History
from witnessmark.infer.integrate import Integrated, as_sound, effective_axes, integrate
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.pairs import pair_components
from witnessmark.infer.priors import Prior, other_priors, prior_of
from witnessmark.infer.settle import candidates_for, is_dear, one_of_each_number_of_banks, worlds_of
from witnessmark.infer.sorting import query_of
from witnessmark.infer.together import common_cause
from witnessmark.infer.unlisted import unlisted_share
from witnessmark.infer.world import World

__all__ = ["OTHERS", "Cloud", "Posterior", "posterior", "weighed"]

Array = NDArray[np.float64]
OTHERS = ("nothing_wrong", "elsewhere", "none_of_these")
_PAIR_WORLDS = 2
_LEAST = 1e-12  # of a prior weight: where none of the findings shows any fault, none unlisted does either
_MOST_LAYOUTS = 3  # of the drive, beyond which readings that take longer are not asked for again


@dataclass(frozen=True, slots=True)
class Cloud:
    """The points of one component on one world, with their log posterior (not normalised).

    Parameters
    ----------
    world : int
    integrated : Integrated
    log_weight : ndarray, shape (n,)
    log_total : float [nat]
        Log of the sum of all points.
    by_choice : ndarray, shape (choices,)
        Log of the sum of the points of every choice.
    """

    world: int
    integrated: Integrated
    log_weight: Array
    log_total: float
    by_choice: Array

    @classmethod
    def of(cls, world: int, integrated: Integrated) -> Cloud:
        """Weigh a component's points with its prior.

        Parameters
        ----------
        world : int
        integrated : Integrated

        Returns
        -------
        Cloud
        """
        log_weight = integrated.log_weight + integrated.component.log_weight
        if len(log_weight) == 1 == len(integrated.component.choices):
            return cls(world, integrated, log_weight, float(log_weight[0]), log_weight)
        top = float(np.max(log_weight))
        share = np.exp(log_weight - top)
        n = len(integrated.component.choices)
        with np.errstate(divide="ignore"):
            by_choice = np.log(np.bincount(integrated.choice, weights=share, minlength=n)) + top
        return cls(world, integrated, log_weight, float(np.log(share.sum())) + top, by_choice)


@dataclass(frozen=True)
class Posterior:
    """Everything weighed.

    Parameters
    ----------
    worlds : tuple of World
    clouds : tuple of Cloud
        Of the fault hypotheses.
    log_mass : mapping of Key or name to float [nat]
        Log of prior x evidence of every hypothesis, summed over worlds.
    log_prior : mapping of Key or name to float [nat]
        Log of the prior of every hypothesis.
    world_mass : ndarray, shape (worlds,)
        Posterior probability of each candidate engine.
    instances : mapping of (fault id, place id) to FaultInstance
    priors : mapping of (fault id, place id) to Prior
    other_log_mass, other_log_prior : mapping of (world, name) to float [nat]
        Of the hypotheses that are no fault, engine by engine.
    unseen : tuple of Cloud
        Of the faults that none of the findings would show: together they are most of "elsewhere".
    beyond : mapping of world to float [nat]
        Log mass of what is left of "elsewhere" without them: causes outside the list of faults and outside the engine.
    told : dict
        What several users of it share, worked out at first need.
    """

    worlds: tuple[World, ...]
    clouds: tuple[Cloud, ...]
    log_mass: dict[Key | str, float]
    log_prior: dict[Key | str, float]
    world_mass: Array
    instances: dict[tuple[str, str], FaultInstance]
    priors: dict[tuple[str, str], Prior]
    other_log_mass: dict[tuple[int, str], float] = field(default_factory=dict)
    other_log_prior: dict[tuple[int, str], float] = field(default_factory=dict)
    unseen: tuple[Cloud, ...] = ()
    beyond: dict[int, float] = field(default_factory=dict)
    told: dict[Hashable, object] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def log_total(self) -> float:
        """Log of the sum over all hypotheses [nat]."""
        return float(log_sum(np.array(list(self.log_mass.values()))))

    @cached_property
    def log_prior_total(self) -> float:
        """Log of the sum of the priors of all hypotheses [nat]."""
        return float(log_sum(np.array(list(self.log_prior.values()))))

    @cached_property
    def clouds_by_key(self) -> dict[Key, list[Cloud]]:
        """The clouds of every fault hypothesis, in their order."""
        found: dict[Key, list[Cloud]] = {}
        for cloud in self.clouds:
            found.setdefault(cloud.integrated.component.key, []).append(cloud)
        return found

    def probability(self, name: Key | str) -> float:
        """Posterior probability of one hypothesis.

        Parameters
        ----------
        name : Key or str

        Returns
        -------
        float, shape () [-]
        """
        return exp(self.log_mass[name] - self.log_total)


def _total(logs: Sequence[float]) -> float:
    """Log of a sum from the logs of its parts, of which there is mostly one."""
    return logs[0] if len(logs) == 1 else float(log_sum(np.array(logs)))


def posterior(engine: Engine, findings: Sequence[Finding], history: History) -> Posterior:
    """Weigh every hypothesis by the findings.

    Parameters
    ----------
    engine : Engine
    findings : sequence of Finding
    history : History

    Returns
    -------
    Posterior

    Raises
    ------
    InferenceError
        If the findings are impossible under everything, which means a defect.
    InputError
        For a place this engine does not have.
    """
    findings = in_their_frames(findings)
    candidates = candidates_for(engine, findings)
    driven = [finding for finding in findings if is_cheap(query_of(finding))]
    if len(candidates) > 1 and any(is_dear(candidates[0].engine, query_of(finding)) for finding in findings):
        candidates = _fewer(candidates, driven, history)
    return _weighed(candidates, findings, history)


def _fewer(candidates: tuple[Candidate, ...], driven: Sequence[Finding], history: History) -> tuple[Candidate, ...]:
    """The candidates that go on to the readings that take longer: those that the drive's own readings leave likely."""
    if driven:
        mass = _weighed(candidates, driven, history).world_mass
        order = np.argsort(-mass)[:_MOST_LAYOUTS]
        return tuple(replace(candidates[k], weight=float(mass[k] / mass[order].sum())) for k in order)
    return one_of_each_number_of_banks(candidates)


def _weighed(candidates: tuple[Candidate, ...], findings: Sequence[Finding], history: History) -> Posterior:
    return weighed(doubting(worlds_of(candidates, findings), history), history)


def weighed(worlds: tuple[World, ...], history: History) -> Posterior:
    """Weigh every hypothesis on engines that are settled, each with its findings.

    Parameters
    ----------
    worlds : tuple of World
        Weights of their candidates sum to 1.
    history : History

    Returns
    -------
    Posterior

    Raises
    ------
    InferenceError
        If the findings are impossible under everything, which means a defect.
    """
    builder = _Builder(worlds, history)
    for index in range(len(worlds)):
        builder.add_singles(index)
    builder.add_pairs()
    return builder.finish()


class _Builder:
    def __init__(self, worlds: tuple[World, ...], history: History) -> None:
        self.worlds = worlds
        self.history = history
        self.others = other_priors(history)
        self.cause = common_cause(history)
        self.clouds: list[Cloud] = []
        self.singles: list[list[Component]] = [[] for _ in worlds]
        self.log_prior: dict[Key | str, list[float]] = {}
        self.other: dict[tuple[int, str], float] = {}
        self.other_prior: dict[tuple[int, str], float] = {}
        self.instances: dict[tuple[str, str], FaultInstance] = {}
        self.priors: dict[tuple[str, str], Prior] = {}
        self.log_pair: list[float] = []
        self.axes: dict[int, list[tuple[int, ...]]] = {}
        self.unseen: list[frozenset[Key]] = []
        self.best = -np.inf  # log of prior x evidence of the likeliest way so far

    def add_singles(self, index: int) -> None:
        world = self.worlds[index]
        found = [(instance, prior_of(instance, self.history)) for instance in world.instances]
        shown, every = _shown(world), world.findings.all
        listed = sum(prior.weight for instance, prior in found if instance.key in shown)
        unseen = sum(prior.weight for instance, prior in found if instance.key not in shown)
        base = float(np.log(world.candidate.weight) - np.log(listed + unseen + sum(self.others.values())))
        # "Two at once" is split by who the two are: both show in these findings, one does, neither.
        rest = self.others["elsewhere"] + unseen
        both = listed**2 / (listed + rest) ** 2
        one = 2.0 * listed * rest / (listed + rest) ** 2
        two = self.others["two_at_once"]
        lift = 1.0 + two * one / listed if listed else 1.0
        log_both = float(np.log(two * both * 2.0 / listed**2)) if listed else -np.inf
        self.log_pair.append(log_both - 2.0 * float(np.log(lift)) - base)
        for instance, prior in found:
            self.instances.setdefault(instance.key, instance)
            self.priors.setdefault(instance.key, prior)
            if instance.key not in shown:
                self._add_unseen(index, instance, base + log(prior.weight))
                continue
            log_prior = base + log(prior.weight * lift)
            self._note((instance.key,), log_prior)
            patterns = awake_patterns(every, instance.row.onset)
            self.singles[index] += single_components(world.model, instance, log_prior, patterns, world.commands)
        self.unseen.append(frozenset((instance.key,) for instance, _ in found if instance.key not in shown))
        self.best = max(self.best, base + log(self.others["elsewhere"] + unseen) + world.log_healthy)
        self._integrate(index, self.singles[index], self._axes_of(index))
        here = unlisted_share(listed, rest) if listed + rest > 0.0 else 0.0
        self._add_others(index, base, two * (1.0 - both - one), here)

    def _add_unseen(self, index: int, instance: FaultInstance, log_prior: float) -> None:
        """A fault that none of the findings would show: as sound as any."""
        world = self.worlds[index]
        self._note((instance.key,), log_prior)
        for way in single_components(world.model, instance, log_prior, [(1.0, ())], world.commands):
            self.clouds.append(Cloud.of(index, as_sound(world, way)))

    def _add_others(self, index: int, base: float, two_elsewhere: float, here: float) -> None:
        world = self.worlds[index]
        log_healthy = world.log_healthy
        weights = dict(self.others)
        weights["elsewhere"] += two_elsewhere + (1.0 - here) * weights["none_of_these"]
        weights["none_of_these"] *= here
        for name in OTHERS:
            log_prior = base + float(np.log(max(weights[name], _LEAST)))
            log_evidence = world.log_none() if name == "none_of_these" else log_healthy
            self.other[(index, name)] = log_prior + log_evidence
            self.other_prior[(index, name)] = log_prior
            self._note(name, log_prior)

    def _axes_of(self, index: int) -> list[tuple[int, ...]]:
        """Which severities matter: the same whatever the computer calls things, so asked once."""
        world = self.worlds[index]
        faults = id(world.instances)
        if faults not in self.axes:
            self.axes[faults] = effective_axes(world, self.singles[index])
        return self.axes[faults]

    def _integrate(
        self, index: int, components: Sequence[Component], axes: Sequence[tuple[int, ...]] | None = None
    ) -> None:
        for integrated in integrate(self.worlds[index], components, axes, best=self.best):
            self.clouds.append(Cloud.of(index, integrated))
            self.best = max(self.best, self.clouds[-1].log_total)

    def _note(self, name: Key | str, log_prior: float) -> None:
        self.log_prior.setdefault(name, []).append(log_prior)

    def add_pairs(self) -> None:
        """Pairs are looked for on the likeliest engines; the others' share is taken as alike."""
        mass = self._world_log_mass(self.clouds)
        order = np.argsort(-mass)[:_PAIR_WORLDS]
        covered = float(np.exp(log_sum(mass[order]) - log_sum(mass)))
        for index in order:
            best = max((c.log_total for c in self.clouds if c.world == index), default=-np.inf)
            best = max(best, *(self.other[(int(index), name)] for name in OTHERS))
            log_pair = self.log_pair[int(index)] - float(np.log(covered))
            pairs = pair_components(self.worlds[index], self.singles[int(index)], best, log_pair, self.cause)
            for component in pairs:
                self._note(component.key, component.log_weight)
            self._integrate(int(index), pairs)

    def _world_log_mass(self, clouds: Sequence[Cloud]) -> Array:
        mass = []
        for index in range(len(self.worlds)):
            logs = [c.log_total for c in clouds if c.world == index]
            logs += [self.other[(index, name)] for name in OTHERS]
            mass.append(float(log_sum(np.array(logs))))
        return np.array(mass)

    def finish(self) -> Posterior:
        seen, unseen, beyond = self._parted()
        gathered: dict[Key | str, list[float]] = {}
        for cloud in seen:
            gathered.setdefault(cloud.integrated.component.key, []).append(cloud.log_total)
        for (_, name), value in self.other.items():
            gathered.setdefault(name, []).append(value)
        log_mass = {name: _total(values) for name, values in gathered.items()}
        worlds = self._world_log_mass(seen)
        if not np.isfinite(log_sum(worlds)):
            raise InferenceError("the findings are impossible under every hypothesis")
        log_prior = {name: _total(values) for name, values in self.log_prior.items()}
        world_mass = np.exp(worlds - log_sum(worlds))
        return Posterior(
            self.worlds,
            tuple(seen),
            log_mass,
            log_prior,
            world_mass,
            self.instances,
            self.priors,
            self.other,
            self.other_prior,
            tuple(unseen),
            beyond,
        )

    def _parted(self) -> tuple[list[Cloud], list[Cloud], dict[int, float]]:
        """Faults that findings show on some engine, and those that none would show, which join "elsewhere"."""
        hidden = frozenset.intersection(*self.unseen)
        seen = [cloud for cloud in self.clouds if cloud.integrated.component.key not in hidden]
        unseen = [cloud for cloud in self.clouds if cloud.integrated.component.key in hidden]
        beyond = {}
        for index in range(len(self.worlds)):
            beyond[index] = self.other[(index, "elsewhere")]
            mine = [cloud.log_total for cloud in unseen if cloud.world == index]
            prior = [c.integrated.component.log_weight for c in unseen if c.world == index]
            self.other[(index, "elsewhere")] = float(log_sum(np.array([beyond[index], *mine])))
            own = self.other_prior[(index, "elsewhere")]
            self.other_prior[(index, "elsewhere")] = float(log_sum(np.array([own, *prior])))
            if prior:
                self._note("elsewhere", float(log_sum(np.array(prior))))
        for key in hidden:
            self.log_prior.pop(key, None)
        return seen, unseen, beyond


def _shown(world: World) -> set[tuple[str, str]]:
    """Faults that any of the findings would show; all of them where nothing was found, for then the prior is all."""
    if not world.findings.all:
        return {instance.key for instance in world.instances}
    owner = [instance.key for instance in world.instances for _ in instance.kinds]
    moved = world.moved([kind for instance in world.instances for kind in instance.kinds])
    return {key for key, moves in zip(owner, moved, strict=True) if moves}
