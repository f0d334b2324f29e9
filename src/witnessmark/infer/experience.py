"""What a shop's own proven cases make of the catalogue's guesses: priors, success of repairs, minutes.

A pure function of guesses and outcomes. Each number has a conjugate law, so what was learnt is a count beside a guess
that counts as so many cases itself; it says which cases it comes from. The state *is* the outcomes, and every sum is
taken anew and exactly rounded over them in one order: in whatever order they came, the numbers are the same to the last
bit, and a case taken out leaves no trace.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from scipy.special import betaincinv, gammaincinv, ndtri, stdtrit

from witnessmark.catalogue.faultrows import Catalogue
from witnessmark.catalogue.procedures import Procedures
from witnessmark.errors import InputError, one_of
from witnessmark.infer.outcomes import Outcome

__all__ = ["Experience", "Guesses", "Learnt", "Refused", "Strengths", "guesses_of", "learn"]

_V = TypeVar("_V")
_LOW, _HIGH = 0.05, 0.95  # of the 90 % interval that stands beside every number
_TENTH = float(ndtri(0.9))  # low and high minutes of the catalogue are taken for one in ten and nine in ten; our guess
_NOT_WEIGHED = "not_modelled"  # of the catalogue's other weights the one that is no hypothesis
_PAIR = "two_at_once"
# How many cases of its own each guess counts as; our guess.
_COMPLAINTS, _REPAIRS, _JOBS, _SPREAD_JOBS = 200.0, 10.0, 3.0, 6.0


@dataclass(frozen=True, slots=True)
class Guesses:
    """What the catalogue says.

    Parameters
    ----------
    weights : mapping of str to float [1/1000]
        Prior of each row and of each other hypothesis, per 1,000 complaints.
    success : mapping of str to float [-]
        Chance that a row's repair cures it.
    minutes : mapping of str to tuple of float, shape (3,) [min]
        Low, typical, high of "repair:ROW" and "test:ID".
    """

    weights: Mapping[str, float]
    success: Mapping[str, float]
    minutes: Mapping[str, tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class Strengths:
    """How many cases of its own each guess counts as; our guess.

    Parameters
    ----------
    complaints : float [-]
        Proven cases that all priors together count as: a row's own pseudo-count is its share of them.
    repairs : float [-]
        Repairs that a row's success counts as.
    jobs : float [-]
        Jobs that typical minutes count as.
    spread_jobs : float [-]
        Jobs that the spread between low and high minutes counts as.
    """

    complaints: float = _COMPLAINTS
    repairs: float = _REPAIRS
    jobs: float = _JOBS
    spread_jobs: float = _SPREAD_JOBS


@dataclass(frozen=True, slots=True)
class Learnt:
    """One number with where it comes from.

    Parameters
    ----------
    name : str
    guess : float
        The catalogue's, in the unit of ``value``.
    strength : float [-]
        Cases that the guess counts as: n0.
    count : int
        Times it was counted in proven cases.
    of : float [-]
        Out of how many: cases expected by the catalogue for a prior, repairs for a success, jobs for minutes.
    value, low, high : float
        Mean (of minutes the median), and a 90 % interval: of a prior and a success for the number itself, of minutes
        for the next such job.
    cases : tuple of str
        Ids of the cases, oldest first.
    dates : tuple of str
        First and last of them; empty where there are none.
    """

    name: str
    guess: float
    strength: float
    count: int
    of: float
    value: float
    low: float
    high: float
    cases: tuple[str, ...] = ()
    dates: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Refused:
    """An outcome that teaches nothing, and why."""

    case: str
    reason: str


def guesses_of(faults: Catalogue, tests: Procedures | None = None) -> Guesses:
    """The catalogue's guesses.

    Parameters
    ----------
    faults : Catalogue
    tests : Procedures, optional

    Returns
    -------
    Guesses
        Of rows that share an id the weights are added, success and minutes those of the first.
    """
    weights: dict[str, float] = {}
    success: dict[str, float] = {}
    minutes: dict[str, tuple[float, float, float]] = {}
    for row in faults.rows:
        weights[row.id] = weights.get(row.id, 0.0) + row.prior
        success.setdefault(row.id, row.repair.success)
        minutes.setdefault(f"repair:{row.id}", row.repair.minutes)
    weights |= {name: value for name, value in faults.others.items() if name != _NOT_WEIGHED}
    for test in tests.all if tests is not None else ():
        minutes[f"test:{test.id}"] = (0.5 * test.minutes, test.minutes, 2.0 * test.minutes)
    return Guesses(weights, success, minutes)


@dataclass(frozen=True, slots=True)
class Experience:
    """Guesses and the proven outcomes that move them.

    Parameters
    ----------
    guesses : Guesses
    strengths : Strengths
    outcomes : tuple of Outcome
        Proven ones, by date and case; add with :meth:`added`.
    """

    guesses: Guesses
    strengths: Strengths = field(default_factory=Strengths)
    outcomes: tuple[Outcome, ...] = ()

    def added(self, outcome: Outcome) -> Experience:
        """With one more proven case.

        Parameters
        ----------
        outcome : Outcome

        Returns
        -------
        Experience

        Raises
        ------
        InputError
            If the case is not proven, counts already, or names what the catalogue does not have.
        """
        if any(other.case == outcome.case for other in self.outcomes):
            raise _twice(outcome)
        _check(self.guesses, outcome)
        kept = sorted((*self.outcomes, outcome), key=_order)
        return replace(self, outcomes=tuple(kept))

    def without(self, case: str) -> Experience:
        """With one case taken out: exactly as if it had never been counted.

        Parameters
        ----------
        case : str

        Returns
        -------
        Experience

        Raises
        ------
        InputError
            If it is not among the outcomes.
        """
        if all(outcome.case != case for outcome in self.outcomes):
            raise InputError("it is not among the cases that count", where=f"case {case!r}")
        return replace(self, outcomes=tuple(outcome for outcome in self.outcomes if outcome.case != case))

    def prior(self, name: str) -> Learnt:
        """Prior weight of a row or of another hypothesis, per 1,000 complaints.

        Parameters
        ----------
        name : str

        Returns
        -------
        Learnt

        Raises
        ------
        InputError
            For a name that the catalogue does not have.

        Notes
        -----
        The catalogue's weight times a factor, Gamma distributed about 1 with shape and rate n0, n0 the row's share of
        ``Strengths.complaints``. Causes counted are Poisson about factor times expected, so the factor becomes
        (n0 + count) / (n0 + expected): indirect standardisation, shrunk (Clayton and Kaldor 1987). What was expected is
        the sum over cases of the chance that the catalogue gave before any finding, with the vehicle's age, distance
        and history in it; a shop that sees old vehicles only does not learn that all vehicles are so. Where all
        vehicles are alike it is the Dirichlet law.
        """
        weight = self._known(self.guesses.weights, name, "cause")
        share = weight / math.fsum(self.guesses.weights.values())
        strength = self.strengths.complaints * share
        if strength <= 0.0:  # what the catalogue excludes stays excluded
            return _learnt(name, weight, 0.0, 0, 0.0, (weight, weight, weight), [])
        mine = [one for one in self.outcomes if name in one.causes or (name == _PAIR and len(one.causes) > 1)]
        expected = math.fsum(_expected(one, name, share) for one in self.outcomes)
        shape, rate = strength + len(mine), strength + expected
        low, high = (weight * float(gammaincinv(shape, q)) / rate for q in (_LOW, _HIGH))
        return _learnt(name, weight, strength, len(mine), expected, (weight * shape / rate, low, high), mine)

    def factor(self, name: str) -> float:
        """What a row's prior is to be multiplied by; 1 where nothing was learnt [-].

        Parameters
        ----------
        name : str
        """
        learnt = self.prior(name)
        return learnt.value / learnt.guess if learnt.guess > 0.0 else 1.0

    def success(self, fault: str) -> Learnt:
        """Chance that a row's repair cures it.

        Parameters
        ----------
        fault : str

        Returns
        -------
        Learnt

        Raises
        ------
        InputError
            For a name that the catalogue does not have.

        Notes
        -----
        Beta with the guess as mean. Counted are repairs of what proved to be the cause; a repair of what was not broken
        says nothing about how well it cures.
        """
        guess = self._known(self.guesses.success, fault, "fault")
        mine = [one for one in self.outcomes if fault in one.causes and any(a.fault == fault for a in one.attempts)]
        tried = [attempt.cured for one in mine for attempt in one.attempts if attempt.fault == fault]
        cured, n0 = sum(tried), self.strengths.repairs
        a, b = n0 * guess + cured, n0 * (1.0 - guess) + len(tried) - cured
        if a <= 0.0 or b <= 0.0:  # a guess of 0 or 1 that nothing has contradicted
            low = high = guess
        else:
            low, high = (float(betaincinv(a, b, q)) for q in (_LOW, _HIGH))
        return _learnt(fault, guess, n0, cured, float(len(tried)), (a / (a + b), low, high), mine)

    def minutes(self, what: str) -> Learnt:
        """Minutes of a job or a test: the median, and where nine in ten of the next will lie.

        Parameters
        ----------
        what : str
            "repair:ROW" or "test:ID".

        Returns
        -------
        Learnt

        Raises
        ------
        InputError
            For a name that the catalogue does not have.

        Notes
        -----
        Logarithms are normal with unknown mean and spread, the normal-gamma law; the next one is Student's t. DeGroot
        (1970), section 9.6.
        """
        low, typical, high = self._known(self.guesses.minutes, what, "job")
        mine = [one for one in self.outcomes if any(name == what for name, _ in one.minutes)]
        logs = [math.log(minutes) for one in mine for name, minutes in one.minutes if name == what]
        n, k0, centre = len(logs), self.strengths.jobs, math.log(typical)
        alpha0 = 0.5 * self.strengths.spread_jobs
        beta0 = alpha0 * (math.log(high / low) / (2.0 * _TENTH)) ** 2
        mean = math.fsum(logs) / n if n else centre
        kappa, alpha = k0 + n, alpha0 + 0.5 * n
        middle = (k0 * centre + n * mean) / kappa
        beta = beta0 + 0.5 * math.fsum((x - mean) ** 2 for x in logs) + 0.5 * k0 * n * (mean - centre) ** 2 / kappa
        scale = math.sqrt(beta * (kappa + 1.0) / (alpha * kappa))
        reach = float(stdtrit(2.0 * alpha, _HIGH)) * scale
        found = (math.exp(middle), math.exp(middle - reach), math.exp(middle + reach))
        return _learnt(what, typical, k0, n, float(n), found, mine)

    @staticmethod
    def _known(table: Mapping[str, _V], name: str, kind: str) -> _V:
        if name not in table:
            raise one_of(kind, name, table)
        return table[name]


def _order(outcome: Outcome) -> tuple[str, str, str]:
    return outcome.date, outcome.case, repr(outcome)


def _twice(outcome: Outcome) -> InputError:
    return InputError("it counts already", where=f"case {outcome.case!r}", todo="Take the former outcome out first")


def _check(guesses: Guesses, outcome: Outcome) -> None:
    where = f"case {outcome.case!r}"
    if not outcome.proven:
        raise InputError(
            "it is not proven, so it teaches nothing",
            where=where,
            todo="Measure the same quantities after the repair as before it",
        )
    for name in (*outcome.causes, *(name for name, _ in outcome.chances)):
        if name not in guesses.weights:
            raise one_of("cause", name, guesses.weights, where=where)
    for attempt in outcome.attempts:
        if attempt.fault not in guesses.success:
            raise one_of("fault", attempt.fault, guesses.success, where=where)
    for what, _ in outcome.minutes:
        if what not in guesses.minutes:
            raise one_of("job", what, guesses.minutes, where=where)


def _expected(outcome: Outcome, name: str, share: float) -> float:
    """How often a cause was to be expected in one case."""
    return dict(outcome.chances).get(name, 0.0) if outcome.chances else share


def _learnt(
    name: str,
    guess: float,
    strength: float,
    count: int,
    of: float,
    found: tuple[float, float, float],
    mine: list[Outcome],
) -> Learnt:
    value, low, high = found
    dates = (mine[0].date, mine[-1].date) if mine else ()
    return Learnt(name, guess, strength, count, of, value, low, high, tuple(one.case for one in mine), dates)


def learn(
    guesses: Guesses, outcomes: Iterable[Outcome], strengths: Strengths | None = None
) -> tuple[Experience, tuple[Refused, ...]]:
    """Everything that can be learnt from some outcomes.

    Parameters
    ----------
    guesses : Guesses
    outcomes : iterable of Outcome
        In any order.
    strengths : Strengths, optional

    Returns
    -------
    experience : Experience
    refused : tuple of Refused
        Outcomes that do not count, each with its reason: not proven, counted already, unknown to the catalogue.
    """
    kept: dict[str, Outcome] = {}
    refused = []
    for outcome in sorted(outcomes, key=_order):
        try:
            if outcome.case in kept:
                raise _twice(outcome)
            _check(guesses, outcome)
        except InputError as error:
            refused.append(Refused(outcome.case, str(error)))
        else:
            kept[outcome.case] = outcome
    return Experience(guesses, strengths or Strengths(), tuple(kept.values())), tuple(refused)
