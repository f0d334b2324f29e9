"""What the planner says: the next action, what it and every other would cost in the end, and how sure that is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from witnessmark.errors import one_of

__all__ = ["ESCALATE", "Decision", "Valued", "ranked"]

ESCALATE = "escalate"
"""Name of the step that ends a case when nothing listed does."""


@dataclass(frozen=True, slots=True)
class Valued:
    """A first action with what the case would cost in the end.

    Parameters
    ----------
    action : str
    price : float [-]
        Expected price of doing it first and going on as found best; it can be had.
    cannot_beat : float [-]
        No plan that begins with it can expect less.
    """

    action: str
    price: float
    cannot_beat: float


@dataclass(frozen=True, slots=True)
class Decision:
    """The next action.

    Parameters
    ----------
    action : str
        Or ``ESCALATE``.
    price : float [-]
        Expected price to a proven fix; a plan that costs no more was found.
    values : tuple of Valued
        Every action that can be taken first, the best first, escalation among them; where hypotheses were taken
        together, without the unlikeliest repairs.
    cannot_beat : float [-]
        No plan can expect less, by all that was looked at.
    known_cause : float [-]
        Chance times the cheapest proven fix of each cause, were it known: no plan can expect less either.
    steps : int
        So many actions ahead everything was looked at that could still change the choice.
    deepest : int
        The furthest that anything was looked at.
    left_out : float [-]
        What a full look so many steps ahead (two at least) can save at most beyond ``price``.
    merged : float [-]
        Chance of the unlikely hypotheses that were taken together as one.
    situations : int
        How many were worked out.
    seconds : float [s]
    exact : bool
        Whether this is the best plan, and not only the best found.
    """

    action: str
    price: float
    values: tuple[Valued, ...]
    cannot_beat: float
    known_cause: float
    steps: int
    deepest: int
    left_out: float
    merged: float
    situations: int
    seconds: float
    exact: bool
    then: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def gap(self) -> float:
        """Share of its price by which the plan can be away from the best possible, at most."""
        return 1.0 - self.cannot_beat / self.price if self.price > 0.0 else 0.0

    def instead(self, action: str) -> Valued:
        """The technician's own choice, priced.

        Parameters
        ----------
        action : str

        Returns
        -------
        Valued

        Raises
        ------
        InputError
            If it is none of those; ``plan.search.price_instead`` prices any action.
        """
        for value in self.values:
            if value.action == action:
                return value
        raise one_of("action that was looked at", action, [value.action for value in self.values])


def ranked(values: Sequence[Valued]) -> tuple[Valued, ...]:
    """The cheapest first; among equals whatever comes first in the problem, escalation last.

    Parameters
    ----------
    values : sequence of Valued

    Returns
    -------
    tuple of Valued
    """
    return tuple(sorted(values, key=lambda value: value.price))
