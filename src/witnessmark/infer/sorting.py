"""Findings sorted by how they are weighed on one engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.finding import Finding
from witnessmark.infer.foretold import Foretold
from witnessmark.infer.ruled import ruled
from witnessmark.predict.graded import is_graded
from witnessmark.vocabulary import Query

__all__ = ["Findings", "query_of", "sort_findings"]


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
    graded : tuple of Finding
        Looks, smells, noises and whatever else is graded.
    unweighed : tuple of (Finding, reason)
    """

    measured: tuple[Finding, ...]
    codes: tuple[Finding, ...]
    chances: tuple[Finding, ...]
    graded: tuple[Finding, ...] = ()
    unweighed: tuple[tuple[Finding, str], ...] = ()

    @property
    def all(self) -> tuple[Finding, ...]:
        """Every weighed finding, in the order that component patterns count them."""
        return (*self.measured, *self.codes, *self.chances, *self.graded)


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


def sort_findings(foretold: Foretold, findings: Sequence[Finding]) -> Findings:
    """Sort findings by how they are weighed on this engine.

    Parameters
    ----------
    foretold : Foretold
        The engine's predictions.
    findings : sequence of Finding

    Returns
    -------
    Findings
    """
    measured, codes, chances, graded = [], [], [], []
    unweighed: list[tuple[Finding, str]] = []
    idle = {f.place.get("code") for f in findings if f.quantity == "monitor_ran" and f.value < 0.5}
    plain = [f for f in findings if f.quantity not in ("monitor_ran", "code_state")]
    rules = ruled(foretold.model, [query_of(f) for f in plain])
    refusals = {id(f): one.refusal for f, one in zip(plain, rules, strict=True)}
    for finding in findings:
        if finding.quantity == "monitor_ran":
            continue  # it says what a silent code is worth, nothing else
        if finding.quantity == "code_state":
            if finding.value < 0.5 and finding.place.get("code") in idle:
                unweighed.append((finding, "its monitor has not run"))
            elif not foretold.tells_code(str(finding.place.get("code"))):
                unweighed.append((finding, "nothing in this version predicts this code"))
            else:
                codes.append(finding)
            continue
        reason = refusals[id(finding)]
        if reason is not None:
            unweighed.append((finding, reason))
        elif is_graded(query_of(finding)):
            graded.append(finding)
        elif finding.kind.kind in ("yes_no", "sign"):
            chances.append(finding)
        else:
            measured.append(finding)
    return Findings(tuple(measured), tuple(codes), tuple(chances), tuple(graded), tuple(unweighed))
