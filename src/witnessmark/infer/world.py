"""One candidate engine with the findings to explain: turns rows into log likelihoods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.codes import codes as known_codes
from witnessmark.catalogue.faults import fault_instances
from witnessmark.engine.candidates import Candidate, naming_odds
from witnessmark.engine.state import HEALTHY, State
from witnessmark.finding import Finding
from witnessmark.infer.components import NO_CHOICE, Component, Rows, assemble
from witnessmark.infer.evidence import Evidence, log_sum
from witnessmark.infer.unlisted import log_unlisted, none_spread
from witnessmark.predict import DriveModel, Nuisance, expect, nuisances, why_not
from witnessmark.predict.codes import code_chance, felt_key, limits_of, monitored_phase, same_sense
from witnessmark.predict.model import Numbers
from witnessmark.vocabulary import Query

__all__ = ["Findings", "World", "healthy_spread", "none_spread", "query_of", "sort_findings"]

Array = NDArray[np.float64]
_NOT_WEIGHED = "this version does not weigh it yet"
_HEALTHY = Component((), (), (), NO_CHOICE, (), 0.0)


@dataclass(frozen=True, slots=True)
class Findings:
    """Findings sorted by how they are weighed.

    Parameters
    ----------
    measured : tuple of Finding
        Continuous ones that ``predict`` knows.
    codes : tuple of Finding
        ``code_state`` findings that ``predict`` knows.
    chances : tuple of Finding
        Other yes/no findings.
    unweighed : tuple of (Finding, reason)
    """

    measured: tuple[Finding, ...]
    codes: tuple[Finding, ...]
    chances: tuple[Finding, ...]
    unweighed: tuple[tuple[Finding, str], ...] = ()

    @property
    def all(self) -> tuple[Finding, ...]:
        """Every weighed finding, in the order that component patterns count them."""
        return (*self.measured, *self.codes, *self.chances)


def query_of(finding: Finding) -> Query:
    """What the finding answers.

    Parameters
    ----------
    finding : Finding

    Returns
    -------
    Query
    """
    return Query(finding.quantity, finding.place, finding.condition)


def sort_findings(model: DriveModel, findings: Sequence[Finding]) -> Findings:
    """Sort findings by how they are weighed on this engine.

    Parameters
    ----------
    model : DriveModel
    findings : sequence of Finding

    Returns
    -------
    Findings
    """
    measured, codes, chances = [], [], []
    unweighed: list[tuple[Finding, str]] = []
    idle = {f.place.get("code") for f in findings if f.quantity == "monitor_ran" and f.value < 0.5}
    for finding in findings:
        if finding.quantity == "monitor_ran":
            continue  # it says what a silent code is worth, nothing else
        if finding.quantity == "code_state":
            if finding.value < 0.5 and finding.place.get("code") in idle:
                unweighed.append((finding, "its monitor has not run"))
                continue
            name = str(finding.place.get("code"))
            if name in known_codes() and not known_codes()[name].weighed:
                unweighed.append((finding, _NOT_WEIGHED))
            elif code_chance(model, name, HEALTHY, {}, 1) is None:
                unweighed.append((finding, "nothing in this version predicts this code"))
            else:
                codes.append(finding)
            continue
        reason = why_not(model, query_of(finding)) if finding.kind.weighed else _NOT_WEIGHED
        if reason is not None:
            unweighed.append((finding, reason))
        elif finding.kind.kind in ("yes_no", "sign"):
            chances.append(finding)
        else:
            measured.append(finding)
    return Findings(tuple(measured), tuple(codes), tuple(chances), tuple(unweighed))


class World:
    """One candidate engine, its findings and their law.

    Parameters
    ----------
    candidate : Candidate
    findings : Findings
    model : DriveModel, optional
        Laid out already.
    """

    def __init__(self, candidate: Candidate, findings: Findings, model: DriveModel | None = None) -> None:
        self.candidate = candidate
        self.model = model or DriveModel.of(candidate.engine)
        self.findings = findings
        self.queries = tuple(query_of(f) for f in findings.measured)
        self.chance_queries = tuple(query_of(f) for f in findings.chances)
        spread, tolerance, self.healthy = healthy_spread(self.model, self.queries)
        self.evidence = Evidence(findings.measured, tolerance, spread)
        self.namings = _namings(self.model)
        self.commands = tuple(n for n in nuisances(self.model, self.queries) if n.is_number)
        self.instances = fault_instances(candidate.engine)
        self.felt = _Felt.of(self) if findings.codes and self.queries else None

    def means(self, batch: Sequence[Rows]) -> tuple[Array, State, Numbers]:
        """Predictions of the measured findings for a batch, sleepers put back to healthy.

        Parameters
        ----------
        batch : sequence of Rows
            n rows in all.

        Returns
        -------
        means : ndarray, shape (n, q)
            In the findings' units.
        state : State
        numbers : mapping of str to ndarray, shape (n,)
        """
        state, numbers, rows = assemble(batch)
        means = expect(self.model, self.queries, state, numbers, rows=rows).mean
        q = len(self.queries)
        start = 0
        for part in batch:
            stop = start + len(part.choice)
            asleep = [i for i in part.component.asleep if i < q]
            if asleep:
                means[start:stop, asleep] = self.healthy[asleep]
            start = stop
        return means, state, numbers

    def evaluate(self, batch: Sequence[Rows]) -> tuple[Array, Array]:
        """Log probability of all findings for every row of a batch, and the predictions.

        Parameters
        ----------
        batch : sequence of Rows
            n rows in all.

        Returns
        -------
        log_density : ndarray, shape (n,) [nat]
        means : ndarray, shape (n, q)
        """
        means, state, numbers = self.means(batch)
        total = self.evidence.log_density(means)
        total = total + self._log_codes(batch, state, numbers, means) + self._log_chances(batch, state, numbers)
        return total, means

    def _log_codes(self, batch: Sequence[Rows], state: State, numbers: Numbers, means: Array) -> Array:
        """Codes share the maker's unknown limit and naming: both integrated over, jointly for all codes."""
        if not self.findings.codes:
            return np.zeros(len(means))
        return log_sum(self._log_by_naming(batch, state, numbers, means))

    def _log_by_naming(self, batch: Sequence[Rows], state: State, numbers: Numbers, means: Array) -> Array:
        """Log odds of each naming plus log probability of all codes under it, shape (n, namings)."""
        felt = self.felt.numbers(means) if self.felt is not None else {}
        told: dict[tuple[object, ...], Array] = {}
        logs = [
            np.log(odds) + self._log_named(model, batch, state, numbers, felt, told) for model, odds in self.namings
        ]
        return np.stack(logs, axis=1)

    def naming_shares(self, batch: Sequence[Rows]) -> Array:
        """Posterior share of each naming of A and B on every row.

        Parameters
        ----------
        batch : sequence of Rows

        Returns
        -------
        ndarray, shape (n, namings) [-]
        """
        means, state, numbers = self.means(batch)
        logs = self._log_by_naming(batch, state, numbers, means)
        return np.asarray(np.exp(logs - log_sum(logs)[:, None]))

    def residuals(self, batch: Sequence[Rows]) -> list[tuple[float, float]]:
        """What each row leaves unexplained of the angles read.

        Parameters
        ----------
        batch : sequence of Rows

        Returns
        -------
        list of (float [deg], float [-])
            The largest residual, and the same in its spread.
        """
        means = self.means(batch)[0]
        angles = [i for i, f in enumerate(self.findings.measured) if f.unit == "deg"]
        if not angles:
            return [(0.0, 0.0)] * len(means)
        covariance = self.evidence.covariance()[np.ix_(angles, angles)]
        left = np.nan_to_num((self.evidence.values - means)[:, angles])
        worst = np.argmax(np.abs(left), axis=1)
        own = left[np.arange(len(left)), worst]
        return [(float(r), float(r / covariance[k, k] ** 0.5)) for r, k in zip(own, worst, strict=True)]

    def _log_named(
        self,
        model: DriveModel,
        batch: Sequence[Rows],
        state: State,
        numbers: Numbers,
        felt: Numbers,
        told: dict[tuple[object, ...], Array],
    ) -> Array:
        """Log probability of all codes under one naming; ``told`` keeps the chances that namings share."""
        rows = sum(len(part.choice) for part in batch)
        _, odds = limits_of(model.engine)
        logs = np.broadcast_to(np.log(odds), (rows, odds.size)).copy()
        for k, finding in enumerate(self.findings.codes):
            name = str(finding.place.get("code"))
            index = len(self.findings.measured) + k
            sense = same_sense(model.engine, name)
            if sense not in told:
                found = code_chance(model, name, state, {**numbers, **felt}, rows)
                assert found is not None
                told[sense] = found
            chance = told[sense]
            if any(index in part.component.asleep for part in batch):
                healthy = code_chance(model, name, HEALTHY, felt, rows)
                assert healthy is not None
                chance = self._asleep(batch, chance.copy(), healthy, index)
            read = chance * (1.0 - finding.sd) + (1.0 - chance) * finding.sd
            logs += np.log(read if finding.value > 0.5 else 1.0 - read)
        return log_sum(logs)

    def _log_chances(self, batch: Sequence[Rows], state: State, numbers: Numbers) -> Array:
        rows = sum(len(part.choice) for part in batch)
        if not self.findings.chances:
            return np.zeros(rows)
        chance = expect(self.model, self.chance_queries, state, numbers, rows=rows).mean
        healthy = expect(self.model, self.chance_queries, HEALTHY).mean[0]
        first = len(self.findings.measured) + len(self.findings.codes)
        for k in range(len(self.chance_queries)):
            chance[:, k] = self._asleep(batch, chance[:, k], healthy[k], first + k)
        error = np.array([f.sd for f in self.findings.chances])
        yes = np.array([f.value > (0.0 if f.kind.kind == "sign" else 0.5) for f in self.findings.chances])
        read = chance * (1.0 - error) + (1.0 - chance) * error
        return np.asarray(np.log(np.where(yes, read, 1.0 - read)).sum(axis=1))

    @staticmethod
    def _asleep(batch: Sequence[Rows], values: Array, healthy: Array | float, index: int) -> Array:
        start = 0
        for part in batch:
            stop = start + len(part.choice)
            if index in part.component.asleep:
                values[start:stop] = np.broadcast_to(healthy, values.shape)[start:stop]
            start = stop
        return values

    def all_asleep(self, component: Component) -> bool:
        """Whether a component slept through every finding.

        Parameters
        ----------
        component : Component

        Returns
        -------
        bool
        """
        return len(component.asleep) == len(self.findings.all) > 0

    @cached_property
    def log_healthy(self) -> float:
        """Log probability of all findings with nothing edited [nat]."""
        rows = Rows(_HEALTHY, np.zeros((1, 0)), np.zeros(1, dtype=np.intp))
        return float(self.evaluate([rows])[0][0])

    def log_none(self) -> float:
        """Log probability of all findings under "none of these".

        See :mod:`witnessmark.infer.unlisted`.

        Returns
        -------
        float, shape () [nat]
        """
        codes = [f.value > 0.5 for f in self.findings.codes]
        odd = []
        if self.findings.chances:
            healthy = expect(self.model, self.chance_queries, HEALTHY).mean[0]
            yes = np.array([f.value > (0.0 if f.kind.kind == "sign" else 0.5) for f in self.findings.chances])
            odd = list(yes != (healthy > 0.5))
        spread = none_spread(self.queries)
        return log_unlisted(self.findings.measured, self.evidence.nominal, spread, self.healthy, codes, odd)


@dataclass(frozen=True, slots=True)
class _Felt:
    """What readings tell of how a sound engine's own differences move each cam, for the codes that see them too.

    Parameters
    ----------
    evidence : Evidence
    cams : tuple of str
    gain : ndarray, shape (cams, q)
        Mean of each cam's own phase for a residual of one.
    spread : ndarray, shape (cams,)
        Its standard deviation before any reading.
    """

    evidence: Evidence
    cams: tuple[str, ...]
    gain: Array
    spread: Array

    @classmethod
    def of(cls, world: World) -> _Felt:
        """First order, like :func:`healthy_spread`."""
        model, moved = world.model, nuisances(world.model, world.queries)
        state, numbers = _one_at_a_time(moved, len(moved) + 1)
        read = expect(model, world.queries, state, numbers, rows=len(moved) + 1).mean
        cams = tuple(cam.id for cam in model.engine.cams)
        phase = np.stack(
            [np.broadcast_to(monitored_phase(model, cam, state, numbers), len(moved) + 1) for cam in cams], axis=1
        )
        own, seen = phase[1:] - phase[0], np.nan_to_num(read[1:] - read[0])
        spread = np.sqrt(np.maximum(np.einsum("nc,nc->c", own, own), 1e-12))
        return cls(world.evidence, cams, own.T @ seen @ world.evidence.precision, spread)

    def numbers(self, means: Array) -> dict[str, Array]:
        """Assumed numbers for predictions of shape (n, q). A reading that looks misread tells nothing."""
        evidence = self.evidence
        residual = np.nan_to_num(evidence.values - means) * evidence.sound(means)
        felt = residual @ self.gain.T
        felt = np.clip(felt, -_FELT_AT_MOST * self.spread, _FELT_AT_MOST * self.spread)
        return {felt_key(cam): felt[:, i] for i, cam in enumerate(self.cams)}


_FELT_AT_MOST = 4.0  # spreads: beyond, the straight line is not to be trusted


def _namings(model: DriveModel) -> tuple[tuple[DriveModel, float], ...]:
    """The engine under each naming of A and B that the description leaves open, with odds."""
    engine = model.engine
    found = []
    for kind, odds in naming_odds(engine):
        named = replace(engine, reporting=replace(engine.reporting, a_is=kind))
        found.append((replace(model, engine=named), odds))
    return tuple(found)


def healthy_spread(model: DriveModel, queries: Sequence[Query]) -> tuple[Array, Array, Array]:
    """How sound engines spread about their prediction.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query, length q

    Returns
    -------
    spread : ndarray, shape (q, q)
        Covariance from the state vector's healthy spread (and from unknown commands).
    tolerance : ndarray, shape (q,)
    mean : ndarray, shape (q,)

    Notes
    -----
    First order: J S J' with J by one-sided differences of one standard deviation.
    """
    moved = nuisances(model, queries)
    n = len(moved) + 1
    state, numbers = _one_at_a_time(moved, n)
    expected = expect(model, queries, state, numbers, rows=n)
    mean = expected.mean[0]
    jacobian = np.nan_to_num(expected.mean[1:] - mean)
    return jacobian.T @ jacobian, expected.tolerance[0], mean


def _one_at_a_time(moved: Sequence[Nuisance], rows: int) -> tuple[State, dict[str, Array]]:
    edits: dict[tuple[str, str], Array] = {}
    numbers: dict[str, Array] = {}
    for i, nuisance in enumerate(moved, start=1):
        column = np.full(rows, nuisance.mean)
        column[i] += nuisance.sd
        if nuisance.is_number:
            numbers[nuisance.variable] = column
        else:
            edits[(nuisance.variable, nuisance.place)] = column
    return State(edits), numbers
