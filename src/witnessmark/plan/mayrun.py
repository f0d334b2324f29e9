"""Whether the engine may be run for a test, or can be at all."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from witnessmark.finding import Finding
from witnessmark.infer.posterior import Posterior
from witnessmark.vocabulary import STATES, Query

__all__ = ["RUNNING", "MayRun", "may_run"]

RUNNING = frozenset(STATES) - {"off", "key_on", "cranking"}
"""States in which the engine runs by itself."""
_IN_DOUBT = 0.2  # of all causes that call for it together: as for the owner's cautions
_DOES_NOT_START = "It does not start: tests with the engine running wait until it does."


@dataclass(frozen=True, slots=True)
class _Danger:
    state: frozenset[str]
    withhold: bool
    starter: bool
    at_least: float
    checks: frozenset[str]
    words: str


@dataclass(frozen=True, slots=True)
class MayRun:
    """What holds of running the engine, as things stand.

    Parameters
    ----------
    waits : str
        Why tests with the engine running wait, a full sentence; empty where they need not.
    checks : frozenset of str
        Quantities that may be read with it running all the same.
    cautions : tuple of str
        What is said of every test that runs it, full sentences.
    starter : bool
        Whether the starter may turn it.
    """

    waits: str = ""
    checks: frozenset[str] = frozenset()
    cautions: tuple[str, ...] = ()
    starter: bool = True

    def allows(self, query: Query) -> bool:
        """Whether a reading may be taken now.

        Parameters
        ----------
        query : Query

        Returns
        -------
        bool
        """
        if query.condition.state == "cranking":
            return self.starter
        return not self.waits or query.condition.state not in RUNNING or query.quantity in self.checks

    def said_of(self, queries: Iterable[Query]) -> tuple[str, ...]:
        """Cautions of a test that reads so.

        Parameters
        ----------
        queries : iterable of Query

        Returns
        -------
        tuple of str
        """
        return self.cautions if any(query.condition.state in RUNNING for query in queries) else ()


def may_run(post: Posterior) -> MayRun:
    """What holds of running the engine, by what was found and is suspected.

    Parameters
    ----------
    post : Posterior

    Returns
    -------
    MayRun

    Notes
    -----
    An engine that was found not to start runs for no test, unless something was read of it running. Where a cause that
    running makes worse holds a fifth of the belief, tests that run it wait for the check that settles it, or carry the
    caution. Where every turn may do harm and nobody has read it running, those that crank it wait too.
    """
    findings = post.worlds[0].findings.all
    has_run = any(finding.condition.state in RUNNING for finding in findings)
    there = [
        danger
        for danger in _dangers()
        if not (danger.starter and has_run) and _share(post, danger.state) >= danger.at_least
    ]
    waiting = [danger for danger in there if danger.withhold]
    starter = not any(danger.starter for danger in waiting)
    if _never_runs(findings):
        why = (_DOES_NOT_START, *(danger.words for danger in waiting if danger.starter))
        return MayRun(waits=" ".join(why), starter=starter)
    return MayRun(
        starter=starter,
        waits=" ".join(danger.words for danger in waiting),
        checks=frozenset(quantity for danger in waiting for quantity in danger.checks),
        cautions=tuple(danger.words for danger in there),
    )


def _never_runs(findings: Iterable[Finding]) -> bool:
    found = list(findings)
    refused = any(f.quantity == "starts" and f.value < 0.5 and f.condition.complaint != "absent" for f in found)
    started = any(f.quantity == "starts" and f.value > 0.5 for f in found)
    return refused and not started and not any(f.condition.state in RUNNING for f in found)


def _share(post: Posterior, state: frozenset[str]) -> float:
    """Belief in causes that edit something of this state, by variable or by variable and place."""
    touching = {
        key
        for key, one in post.instances.items()
        if any({term.variable, f"{term.variable} {term.place}"} & state for kind in one.kinds for term in kind.terms)
    }
    names = (name for name in post.log_mass if not isinstance(name, str))
    return sum(post.probability(name) for name in names if touching.intersection(name))


@cache
def _dangers() -> tuple[_Danger, ...]:
    text = files("witnessmark").joinpath("data/norun.toml").read_text(encoding="utf-8")
    return tuple(
        _Danger(
            frozenset(row["state"]),
            row.get("withhold", False),
            row.get("starter", False),
            row.get("at_least", _IN_DOUBT),
            frozenset(row.get("checks", ())),
            row["words"],
        )
        for row in tomllib.loads(text)["norun"]
    )
