"""How probable each finding of a supply graph is under many states side by side: numbers, yes or no, silent codes.

Findings are taken one by one: what the readings of one instrument have in common widens each of them and does not move
them together, which is what asking for a shared cause needs and no more (docs/reasoning.md, "shared causes").
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import HEALTHY, State
from witnessmark.finding import Finding
from witnessmark.infer.evidence import INSTRUMENT_BIAS, OUTLIER
from witnessmark.predict.abreast import foresee
from witnessmark.predict.asking import answer
from witnessmark.predict.batch import Batch
from witnessmark.predict.codes import code_chance, limits_of
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rules import rule_of
from witnessmark.predict.run import expect, why_not
from witnessmark.predict.supplies import solve_together, solved_ways
from witnessmark.vocabulary import Query

__all__ = ["AWAKE", "Law", "LeftOut", "law_of"]

Array = NDArray[np.float64]

AWAKE = {"present": 0.95, None: 0.6, "absent": 0.1}
"""Chance that what comes and goes was there, by whether the complaint was; as for all faults (docs/reasoning.md)."""

_NOISE_SCALE = 1.2  # instruments are a little worse than they say: the mean of the scales in infer.evidence
_WIDE = 6.0  # spreads about which a reading that went wrong lies, at the least
_RATE, _WIDE_RATE = "1/min", 4.0  # and how wide one that went wrong lies, as a logarithm
_LEAST = 1e-9
_OFF = 2.5  # spreads from which a reading is off


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A finding that is not weighed, and why."""

    finding: Finding
    reason: str


@dataclass(frozen=True)
class Law:
    """The findings that are weighed, on one engine.

    Parameters
    ----------
    model : DriveModel
    findings : tuple of Finding, length q
    queries : tuple of Query, length q
    codes : tuple of str, length q
        The code that a finding speaks of; empty for readings.
    healthy_sd : ndarray, shape (q,)
        What sound engines differ in; 0 for yes or no.
    """

    model: DriveModel
    findings: tuple[Finding, ...]
    queries: tuple[Query, ...]
    codes: tuple[str, ...]
    healthy_sd: Array

    def expected(self, state: State, rows: int) -> tuple[Array, Array]:
        """What every finding should read: of yes or no its chance.

        Parameters
        ----------
        state : State
            n states side by side.
        rows : int
            n.

        Returns
        -------
        mean : ndarray, shape (n, q)
        tolerance : ndarray, shape (n, q)
            Standard deviation of the nominal; 0 for yes or no.
        """
        batch = Batch(self.model, state, {}, rows)
        solve_together(batch, self._ways)
        return self._read(batch)

    def _read(self, batch: Batch) -> tuple[Array, Array]:
        state, rows, odds = batch.state, batch.rows, limits_of(self.model.engine)[1]
        mean, tolerance = np.empty((rows, len(self.findings))), np.zeros((rows, len(self.findings)))
        for j, (query, code) in enumerate(zip(self.queries, self.codes, strict=True)):
            if code:
                chance = code_chance(self.model, code, state, {}, rows, batch=batch)
                assert chance is not None
                mean[:, j] = chance @ odds
            elif query.condition.during is None:  # one batch for all: the supplies are solved once
                read, rule = answer(batch, query), rule_of(query.quantity)
                assert read is not None
                assert rule is not None
                nominal = rule.tolerance_of(self.model, query)
                mean[:, j] = read
                tolerance[:, j] = np.hypot(nominal.absolute, nominal.share * np.abs(np.nan_to_num(read)))
            else:
                found = expect(self.model, [query], state, rows=rows)
                mean[:, j], tolerance[:, j] = found.mean[:, 0], found.tolerance[:, 0]
        return mean, tolerance

    @cached_property
    def sound(self) -> tuple[Array, Array]:
        """Of a sound engine the same as :meth:`expected`, worked out once.

        Returns
        -------
        mean, tolerance : ndarray, shape (1, q)
        """
        return self._read(self._sound_batch)

    @cached_property
    def _sound_batch(self) -> Batch:
        return Batch(self.model, HEALTHY, {}, 1)

    @cached_property
    def _ways(self) -> tuple[str, ...]:
        """Ways of running that these findings ask of the supplies: what a sound engine's readings asked for."""
        assert self.sound is not None
        return solved_ways(self._sound_batch)

    @cached_property
    def log_sound(self) -> Array:
        """Log probability (density) of every finding on a sound engine.

        Returns
        -------
        ndarray, shape (q,)
        """
        mean, tolerance = self.sound
        return np.array([self.weigh(j, mean[:, j], tolerance[:, j])[0] for j in range(len(self.findings))])

    def log_likelihood(self, state: State, rows: int) -> Array:
        """Log probability (density) of every finding under every state.

        Parameters
        ----------
        state : State
            n states side by side.
        rows : int
            n.

        Returns
        -------
        ndarray, shape (n, q)
        """
        mean, tolerance = self.expected(state, rows)
        return (
            np.stack([self.weigh(j, mean[:, j], tolerance[:, j]) for j in range(len(self.findings))], axis=1)
            if self.findings
            else np.zeros((rows, 0))
        )

    def weigh(self, j: int, mean: Array, tolerance: Array) -> Array:
        """Log probability (density) of one finding.

        Parameters
        ----------
        j : int
        mean, tolerance : ndarray, shape (n,)

        Returns
        -------
        ndarray, shape (n,)
        """
        finding = self.findings[j]
        if finding.kind.kind == "yes_no":
            wrong = min(max(finding.sd, _LEAST), 0.5)
            yes = np.clip(np.nan_to_num(mean), 0.0, 1.0) * (1.0 - 2.0 * wrong) + wrong
            return np.asarray(np.log(yes if finding.value > 0.5 else 1.0 - yes))
        if finding.unit == _RATE:
            return self._rate(finding, np.nan_to_num(mean), tolerance)
        sd = self.spread(j, tolerance)
        wide = np.maximum(_WIDE * sd, 0.5 * abs(finding.value) + _WIDE * finding.sd)
        off = np.where(np.isnan(mean), np.inf, finding.value - np.nan_to_num(mean))
        outlier = OUTLIER.get(finding.source.kind, 0.01)
        near = math.log1p(-outlier) - 0.5 * (off / sd) ** 2 - np.log(sd)
        far = math.log(max(outlier, 1e-4)) - 0.5 * np.minimum(np.abs(off) / wide, 3.0) ** 2 - np.log(wide)
        return np.asarray(np.logaddexp(near, far) - 0.5 * math.log(2.0 * math.pi))

    def _rate(self, finding: Finding, mean: Array, tolerance: Array) -> Array:
        """How often something happens: told as a ratio, for none at all is far from a few however wide a rate is known.

        In ln(x + c), c twice the reading's own spread, so that below it zero and a little are the same.
        """
        own = max(finding.sd, _LEAST) * math.hypot(_NOISE_SCALE, INSTRUMENT_BIAS)
        least = 2.0 * own
        off = math.log(max(finding.value, 0.0) + least) - np.log(np.maximum(mean, 0.0) + least)
        sd = np.hypot(own / (max(finding.value, 0.0) + least), tolerance / (np.maximum(mean, 0.0) + least))
        outlier = OUTLIER.get(finding.source.kind, 0.01)
        near = math.log1p(-outlier) - 0.5 * (off / sd) ** 2 - np.log(sd)
        far = math.log(max(outlier, 1e-4)) - 0.5 * (off / _WIDE_RATE) ** 2 - math.log(_WIDE_RATE)
        return np.asarray(np.logaddexp(near, far) - 0.5 * math.log(2.0 * math.pi))

    def misses(self, state: State, rows: int) -> tuple[Array, Array, Array]:
        """The same, with how far each reading is off, for whoever looks for the size that fits.

        Parameters
        ----------
        state : State
            n states side by side.
        rows : int
            n.

        Returns
        -------
        each : ndarray, shape (n, q) [nat]
            As :meth:`log_likelihood`.
        miss : ndarray, shape (n, q) [-]
            Prediction less reading, in spreads; 0 of yes or no, and where there would be no reading.
        peak : ndarray, shape (n, q) [nat]
            What ``each`` would be without the miss.
        """
        mean, tolerance = self.expected(state, rows)
        each, miss, peak = np.empty_like(mean), np.zeros_like(mean), np.empty_like(mean)
        for j, finding in enumerate(self.findings):
            each[:, j] = self.weigh(j, mean[:, j], tolerance[:, j])
            peak[:, j] = each[:, j]
            if finding.kind.kind != "yes_no":
                own = np.nan_to_num((mean[:, j] - finding.value) / self.spread(j, tolerance[:, j]))
                miss[:, j] = own
                peak[:, j] = np.where(
                    own == 0.0, each[:, j], self.weigh(j, np.full(rows, finding.value), tolerance[:, j])
                )
        return each, miss, peak

    def is_off(self) -> NDArray[np.bool_]:
        """Which findings a sound engine would hardly give: yes or no against the odds, a reading beyond its spread.

        Returns
        -------
        ndarray of bool, shape (q,)
        """
        mean, tolerance = self.sound
        found = np.zeros(len(self.findings), dtype=bool)
        for j, finding in enumerate(self.findings):
            if finding.kind.kind == "yes_no":
                found[j] = (finding.value > 0.5) != (mean[0, j] > 0.5)
            else:
                off = abs(finding.value - mean[0, j]) / self.spread(j, tolerance[:, j])[0]
                found[j] = bool(np.isnan(off) or off > _OFF)
        return found

    def spread(self, j: int, tolerance: Array) -> Array:
        """Standard deviation of one reading about its prediction.

        Parameters
        ----------
        j : int
        tolerance : ndarray, shape (n,)

        Returns
        -------
        ndarray, shape (n,)
        """
        own = max(self.findings[j].sd, _LEAST) * math.hypot(_NOISE_SCALE, INSTRUMENT_BIAS)
        return np.asarray(np.sqrt(own**2 + self.healthy_sd[j] ** 2 + np.asarray(tolerance) ** 2))


def law_of(model: DriveModel, findings: Sequence[Finding]) -> tuple[Law, tuple[LeftOut, ...]]:
    """The law of findings on an engine, and what of them nothing here predicts.

    Parameters
    ----------
    model : DriveModel
    findings : sequence of Finding
        A code that is not set weighs nothing where a finding says that its monitor has not run.

    Returns
    -------
    law : Law
    left_out : tuple of LeftOut
    """
    idle = {f.place.get("code") for f in findings if f.quantity == "monitor_ran" and f.value < 0.5}
    sound = Batch(model, HEALTHY, {}, 1)
    kept: list[tuple[Finding, Query, str]] = []
    left: list[LeftOut] = []
    for finding in findings:
        if finding.quantity == "monitor_ran":
            continue
        query, code = Query(finding.quantity, finding.place, finding.condition), str(finding.place.get("code") or "")
        reason = _why_left_out(finding, query, code, idle, sound)
        if reason is None:
            kept.append((finding, query, code if finding.quantity == "code_state" else ""))
        else:
            left.append(LeftOut(finding, reason))
    numbers = [query for finding, query, code in kept if not code and finding.kind.kind != "yes_no"]
    spread = {query: one.spread for query, one in foresee(model, numbers)[0].items()} if numbers else {}
    sd = np.array([spread.get(query, 0.0) for _, query, _ in kept])
    kinds = tuple(f for f, _, _ in kept), tuple(q for _, q, _ in kept), tuple(code for _, _, code in kept)
    return Law(model, *kinds, np.nan_to_num(sd)), tuple(left)


def _why_left_out(finding: Finding, query: Query, code: str, idle: set[str | int | None], sound: Batch) -> str | None:
    if finding.kind.kind == "sign":
        return "a word, which no supply graph predicts"
    if finding.quantity != "code_state":
        return why_not(sound.model, query)
    if finding.value < 0.5 and code in idle:
        return "its monitor has not run: that it is silent says nothing"
    if code_chance(sound.model, code, HEALTHY, {}, 1, batch=sound) is None:
        return "nothing here predicts this code on this engine"
    return None
