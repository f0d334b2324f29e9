"""What the owner has agreed to, and how a case ends where that is used up."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.plan.actions import Cost

__all__ = ["Agreed", "Asking"]


@dataclass(frozen=True, slots=True)
class Agreed:
    """What the owner has agreed to and has not been used up yet; None: no limit was set.

    Parameters
    ----------
    minutes : float, optional [min]
    money : float, optional [-]
    covers : frozenset of str, optional
        Covers that may be taken off, besides those already off.
    """

    minutes: float | None = None
    money: float | None = None
    covers: frozenset[str] | None = None

    @property
    def is_limited(self) -> bool:
        """Whether any limit was set."""
        return any(limit is not None for limit in (self.minutes, self.money, self.covers))

    def less(self, cost: Cost) -> Agreed:
        """What is left of it after something was spent.

        Parameters
        ----------
        cost : Cost

        Returns
        -------
        Agreed
        """
        minutes = None if self.minutes is None else max(self.minutes - cost.minutes, 0.0)
        money = None if self.money is None else max(self.money - cost.money, 0.0)
        return Agreed(minutes, money, self.covers)


@dataclass(frozen=True, slots=True)
class Asking:
    """How a case inside an agreement ends where the agreement does: the owner is asked, and nothing limits it then.

    Parameters
    ----------
    price : float [-]
        Of asking.
    now : float [-]
        Expected price of the case if the owner is asked before anything else is done, the asking included; infinite
        where nobody worked it out.
    """

    price: float
    now: float
