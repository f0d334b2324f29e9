"""All hypotheses on all candidate engines, weighed: the posterior as a cloud of weighted points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faults import FaultInstance
from witnessmark.engine.candidates import Candidate, candidate_engines
from witnessmark.engine.types import Engine
from witnessmark.errors import InferenceError
from witnessmark.finding import Finding
from witnessmark.infer.components import Component, Key, awake_patterns, single_components
from witnessmark.infer.evidence import log_sum
from witnessmark.infer.history import History
from witnessmark.infer.integrate import Integrated, effective_axes, integrate
from witnessmark.infer.pairs import pair_components
from witnessmark.infer.priors import Prior, other_priors, prior_of
from witnessmark.infer.unlisted import unlisted_share
from witnessmark.infer.world import World, query_of, sort_findings
from witnessmark.predict import DriveModel, misplaced

__all__ = ["OTHERS", "Cloud", "Posterior", "posterior", "prepare"]

Array = NDArray[np.float64]
OTHERS = ("nothing_wrong", "elsewhere", "none_of_these")
_PAIR_WORLDS = 2
_IN_MAKERS_SIGN = ("cam_deviation", "cam_phase_reported", "learnt_reported")


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

    @property
    def log_total(self) -> float:
        """Log of the sum over all hypotheses [nat]."""
        return float(log_sum(np.array(list(self.log_mass.values()))))

    def probability(self, name: Key | str) -> float:
        """Posterior probability of one hypothesis.

        Parameters
        ----------
        name : Key or str

        Returns
        -------
        float, shape () [-]
        """
        return float(np.exp(self.log_mass[name] - self.log_total))


def prepare(engine: Engine, findings: Sequence[Finding]) -> tuple[tuple[Candidate, ...], tuple[DriveModel, ...]]:
    """The candidate engines that findings call for, laid out.

    Parameters
    ----------
    engine : Engine
    findings : sequence of Finding

    Returns
    -------
    tuple of (candidates, models)

    Raises
    ------
    InputError
        For a finding at a place that none of the candidates has.
    """
    seen = set()
    for finding in findings:
        for key, bank_key in (("cam", "bank"), ("other_cam", "other_bank")):
            kind = finding.place.get(key)
            if kind is not None:
                seen.add((int(finding.place.get(bank_key) or finding.place.get("bank") or 1), str(kind)))
    signed = any(finding.quantity in _IN_MAKERS_SIGN for finding in findings)
    candidates = candidate_engines(engine, seen=seen, signed=signed)
    models = tuple(DriveModel.of(candidate.engine) for candidate in candidates)
    asked = [query_of(finding) for finding in findings]
    errors = [next((e for q in asked if (e := misplaced(model, q)) is not None), None) for model in models]
    if errors[0] is not None and all(errors):
        raise errors[0]
    # A finding at a place proves that the engine has it.
    kept = [k for k, error in enumerate(errors) if error is None]
    total = sum(candidates[k].weight for k in kept)
    fitting = tuple(replace(candidates[k], weight=candidates[k].weight / total) for k in kept)
    return fitting, tuple(models[k] for k in kept)


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
    candidates, models = prepare(engine, findings)
    worlds = []
    for candidate, model in zip(candidates, models, strict=True):
        worlds.append(World(candidate, sort_findings(model, findings), model))
    builder = _Builder(tuple(worlds), history)
    for index in range(len(worlds)):
        builder.add_singles(index)
    builder.add_pairs()
    return builder.finish()


class _Builder:
    def __init__(self, worlds: tuple[World, ...], history: History) -> None:
        self.worlds = worlds
        self.history = history
        self.others = other_priors(history)
        self.clouds: list[Cloud] = []
        self.singles: list[list[Component]] = [[] for _ in worlds]
        self.log_prior: dict[Key | str, list[float]] = {}
        self.other: dict[tuple[int, str], float] = {}
        self.other_prior: dict[tuple[int, str], float] = {}
        self.instances: dict[tuple[str, str], FaultInstance] = {}
        self.priors: dict[tuple[str, str], Prior] = {}
        self.log_pair: list[float] = []
        self.axes: dict[int, list[tuple[int, ...]]] = {}

    def add_singles(self, index: int) -> None:
        world = self.worlds[index]
        found = [(instance, prior_of(instance, self.history)) for instance in world.instances]
        modelled = sum(prior.weight for _, prior in found)
        total = modelled + sum(self.others.values())
        base = float(np.log(world.candidate.weight) - np.log(total))
        # "Two at once" is split by who the two are: both of this list, one of it, none of it.
        rest = self.others["elsewhere"]
        both = modelled**2 / (modelled + rest) ** 2
        one = 2.0 * modelled * rest / (modelled + rest) ** 2
        two = self.others["two_at_once"]
        lift = 1.0 + two * one / modelled
        self.log_pair.append(float(np.log(two * both * 2.0 / modelled**2) - 2.0 * np.log(lift) - base))
        for instance, prior in found:
            self.instances.setdefault(instance.key, instance)
            self.priors.setdefault(instance.key, prior)
            log_prior = base + float(np.log(prior.weight * lift))
            self._note((instance.key,), log_prior)
            patterns = awake_patterns(world.findings.all, instance.row.onset)
            self.singles[index] += single_components(world.model, instance, log_prior, patterns, world.commands)
        self._integrate(index, self.singles[index], self._axes_of(index))
        here = unlisted_share(modelled, rest)
        self._add_others(index, base, two * (1.0 - both - one), here)

    def _add_others(self, index: int, base: float, two_elsewhere: float, here: float) -> None:
        world = self.worlds[index]
        log_healthy = world.log_healthy
        weights = dict(self.others)
        weights["elsewhere"] += two_elsewhere + (1.0 - here) * weights["none_of_these"]
        weights["none_of_these"] *= here
        for name in OTHERS:
            log_prior = base + float(np.log(weights[name]))
            log_evidence = world.log_none() if name == "none_of_these" else log_healthy
            self.other[(index, name)] = log_prior + log_evidence
            self.other_prior[(index, name)] = log_prior
            self._note(name, log_prior)

    def _axes_of(self, index: int) -> list[tuple[int, ...]]:
        """Which severities matter: the same for both signs of one drive, so asked once."""
        world = self.worlds[index]
        drive = id(world.candidate.engine.drive)
        if drive not in self.axes:
            self.axes[drive] = effective_axes(world, self.singles[index])
        return self.axes[drive]

    def _integrate(
        self, index: int, components: Sequence[Component], axes: Sequence[tuple[int, ...]] | None = None
    ) -> None:
        for integrated in integrate(self.worlds[index], components, axes):
            self.clouds.append(Cloud.of(index, integrated))

    def _note(self, name: Key | str, log_prior: float) -> None:
        self.log_prior.setdefault(name, []).append(log_prior)

    def add_pairs(self) -> None:
        """Pairs are looked for on the likeliest engines; the others' share is taken as alike."""
        mass = self._world_log_mass()
        order = np.argsort(-mass)[:_PAIR_WORLDS]
        covered = float(np.exp(log_sum(mass[order]) - log_sum(mass)))
        for index in order:
            best = max((c.log_total for c in self.clouds if c.world == index), default=-np.inf)
            best = max(best, *(self.other[(int(index), name)] for name in OTHERS))
            log_pair = self.log_pair[int(index)] - float(np.log(covered))
            pairs = pair_components(self.worlds[index], self.singles[int(index)], best, log_pair)
            for component in pairs:
                self._note(component.key, component.log_weight)
            self._integrate(int(index), pairs)

    def _world_log_mass(self) -> Array:
        mass = []
        for index in range(len(self.worlds)):
            logs = [c.log_total for c in self.clouds if c.world == index]
            logs += [self.other[(index, name)] for name in OTHERS]
            mass.append(float(log_sum(np.array(logs))))
        return np.array(mass)

    def finish(self) -> Posterior:
        gathered: dict[Key | str, list[float]] = {}
        for cloud in self.clouds:
            gathered.setdefault(cloud.integrated.component.key, []).append(cloud.log_total)
        for (_, name), value in self.other.items():
            gathered.setdefault(name, []).append(value)
        log_mass = {name: float(log_sum(np.array(values))) for name, values in gathered.items()}
        worlds = self._world_log_mass()
        if not np.isfinite(log_sum(worlds)):
            raise InferenceError("the findings are impossible under every hypothesis")
        log_prior = {name: float(log_sum(np.array(values))) for name, values in self.log_prior.items()}
        world_mass = np.exp(worlds - log_sum(worlds))
        return Posterior(
            self.worlds,
            tuple(self.clouds),
            log_mass,
            log_prior,
            world_mass,
            self.instances,
            self.priors,
            self.other,
            self.other_prior,
        )
