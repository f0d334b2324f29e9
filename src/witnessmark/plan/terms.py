"""What the owner and the shop allow: agreements, covers that are off, tools, rates, and the time to think."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from witnessmark.plan.actions import Cost, Rates
from witnessmark.plan.agreement import Agreed

__all__ = ["SITUATIONS", "Effort", "Terms"]

SITUATIONS = 2_500
"""What the planner looks at where nobody asks it to think longer; a look two steps ahead is finished in any case.

Measured in benchmarks/results/plan_time.md. Counted and not timed, so that the same case has the same
plan on a busy machine and a quiet one.
"""
_STOP_SECONDS = 5.0  # where a machine is so slow that counting alone would keep a person waiting


@dataclass(frozen=True, slots=True)
class Effort:
    """How long a search may go on.

    Parameters
    ----------
    seconds : float [s]
    situations : int, optional
        None: as many as the time allows.
    """

    seconds: float
    situations: int | None

    def part(self, share: float) -> Effort:
        """A share of it.

        Parameters
        ----------
        share : float [-]

        Returns
        -------
        Effort
        """
        return Effort(self.seconds * share, None if self.situations is None else int(self.situations * share))


@dataclass(frozen=True, slots=True)
class Terms:
    """The terms a plan has to keep.

    Parameters
    ----------
    agreed : Agreed
        What is left of what the owner agreed to.
    covers_open : tuple of str
        Covers that are off already.
    lacks : tuple of str
        Tools that the shop does not have, in the words of the catalogue or a part of them; or ids of tests.
    per_hour : float, optional
        Price of an hour of labour, in the shop's currency. Without it money is parts alone.
    parts : mapping of str to float
        What the parts of a repair cost, by its name in the answer.
    think_seconds : float, optional [s]
        How long to think; None: so many situations as are always looked at.
    instead : str
        The technician's own choice, to be priced beside the plan: a test's or a repair's name; empty: none.
    """

    agreed: Agreed = field(default_factory=Agreed)
    covers_open: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    per_hour: float | None = None
    parts: Mapping[str, float] = field(default_factory=dict)
    think_seconds: float | None = None
    instead: str = ""

    @property
    def effort(self) -> Effort:
        """How long the planner may search."""
        if self.think_seconds is None:
            return Effort(_STOP_SECONDS, SITUATIONS)
        return Effort(self.think_seconds, None)

    @property
    def rates(self) -> Rates:
        """Price in minutes: parts as the minutes of labour that they would pay for, where that rate is known."""
        return Rates() if not self.per_hour else Rates(minute=0.0, money=60.0 / self.per_hour)

    def with_jobs(self, jobs: Iterable[str]) -> Agreed:
        """What was agreed to, with things paid once that no owner is asked about: jobs that several repairs share.

        Parameters
        ----------
        jobs : iterable of str
            Their names as covers.

        Returns
        -------
        Agreed
        """
        covers = self.agreed.covers
        return self.agreed if covers is None else replace(self.agreed, covers=covers | set(jobs))

    def cost(self, minutes: float, parts: float = 0.0) -> Cost:
        """What so many minutes and such parts cost.

        Parameters
        ----------
        minutes : float [min]
        parts : float [-]

        Returns
        -------
        Cost
        """
        return Cost(minutes, money=parts + minutes * (self.per_hour or 0.0) / 60.0)

    def has(self, test: str, tool: str) -> bool:
        """Whether the shop has what a test needs.

        Parameters
        ----------
        test, tool : str
            Its id, and what it needs in words.

        Returns
        -------
        bool
        """
        return not any(one == test or one.lower() in tool.lower() for one in self.lacks)
