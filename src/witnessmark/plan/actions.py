"""What can be done and what it costs: tests, interventions, repairs, and the covers they lie behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from witnessmark.errors import InputError

__all__ = ["Action", "Cost", "Cover", "Rates", "make_repair", "make_test"]

Array = NDArray[np.float64]
_SUM_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Cost:
    """What an action takes, before any exchange rate.

    Parameters
    ----------
    minutes : float [min]
    teardown : float [-]
        In whatever the shop counts: joints opened, gaskets spoilt.
    money : float [-]
        Parts and material, in the shop's currency.
    """

    minutes: float
    teardown: float = 0.0
    money: float = 0.0

    def __add__(self, other: Cost) -> Cost:
        return Cost(self.minutes + other.minutes, self.teardown + other.teardown, self.money + other.money)


@dataclass(frozen=True, slots=True)
class Rates:
    """Exchange rates that make one price of a cost; the price is in minutes as long as a minute is worth 1.

    Parameters
    ----------
    minute, teardown, money : float [-]
        Price of one of each.
    """

    minute: float = 1.0
    teardown: float = 0.0
    money: float = 0.0

    def price(self, cost: Cost) -> float:
        """One price of a cost.

        Parameters
        ----------
        cost : Cost

        Returns
        -------
        float, shape () [-]
        """
        return self.minute * cost.minutes + self.teardown * cost.teardown + self.money * cost.money


@dataclass(frozen=True, slots=True)
class Cover:
    """Something paid once, however many actions need it: a cover that stays off, or a job that two repairs share.

    Parameters
    ----------
    name : str
    cost : Cost
        Taking it off and putting it back.
    behind : str, optional
        The cover that must be off first.
    """

    name: str
    cost: Cost
    behind: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Action:
    """One test, intervention or repair, done at most once.

    Parameters
    ----------
    name : str
    kind : str
        "test", "intervention" or "repair".
    cost : Cost
        Without covers; of an intervention with undoing it, of a repair with the measurement that proves it.
    outcomes : tuple of str
        Those after which the case goes on; a repair has one, "not cured".
    table : ndarray, shape (outcomes, hypotheses) [-]
        Chance of each outcome under each hypothesis.
    cures : ndarray, shape (hypotheses,) [-]
        Chance that the case ends here, proven. With the table's column it sums to 1.
    covers : tuple of str
        What must be off.
    available : bool
        Whether the shop has the tool.
    """

    name: str
    kind: str
    cost: Cost
    outcomes: tuple[str, ...]
    table: Array
    cures: Array
    covers: tuple[str, ...] = ()
    available: bool = True

    def __post_init__(self) -> None:
        table = np.atleast_2d(np.asarray(self.table, dtype=np.float64)).copy()
        cures = np.asarray(self.cures, dtype=np.float64).copy()
        object.__setattr__(self, "table", table)
        object.__setattr__(self, "cures", cures)
        self._check()
        table.flags.writeable = False
        cures.flags.writeable = False

    def _check(self) -> None:
        if self.kind not in ("test", "intervention", "repair"):
            raise InputError(f"Kind “{self.kind}” is none", expected="test, intervention or repair", where=self.name)
        if self.cures.ndim != 1 or self.table.shape != (len(self.outcomes), len(self.cures)) or not self.outcomes:
            raise InputError(
                f"The table of outcomes has {'×'.join(map(str, self.table.shape))} numbers",
                expected=f"{len(self.outcomes)} outcomes × {self.cures.size} hypotheses, one outcome at least",
                where=self.name,
            )
        both = np.vstack([self.table, self.cures[None, :]])
        if not np.isfinite(both).all() or both.min() < 0.0:
            raise InputError("A chance is negative or no number", expected="0 to 1", where=self.name)
        total = both.sum(axis=0)
        worst = int(np.argmax(np.abs(total - 1.0)))
        if abs(total[worst] - 1.0) > _SUM_TOLERANCE:
            raise InputError(
                f"The chances of the outcomes under hypothesis {worst + 1} sum to {total[worst]:.6g}",
                expected="1",
                where=self.name,
            )


def make_test(
    name: str,
    cost: Cost,
    table: ArrayLike,
    *,
    outcomes: Sequence[str] = (),
    covers: Sequence[str] = (),
    kind: str = "test",
    available: bool = True,
) -> Action:
    """A test or an intervention: outcomes by hypothesis, nothing cured.

    Parameters
    ----------
    name : str
    cost : Cost
    table : array_like, shape (outcomes, hypotheses) [-]
    outcomes : sequence of str
        Their names; numbered where left out.
    covers : sequence of str
    kind : str
        "test" or "intervention".
    available : bool

    Returns
    -------
    Action

    Raises
    ------
    InputError
        If the chances of a hypothesis do not sum to 1.
    """
    chances = np.atleast_2d(np.asarray(table, dtype=np.float64))
    names = tuple(outcomes) or tuple(str(k + 1) for k in range(len(chances)))
    return Action(name, kind, cost, names, chances, np.zeros(chances.shape[1]), tuple(covers), available)


def make_repair(
    name: str,
    cost: Cost,
    cures: ArrayLike,
    *,
    covers: Sequence[str] = (),
    proving: Cost | None = None,
    available: bool = True,
) -> Action:
    """A repair with its proving step: it ends the case, or the complaint is still there.

    Parameters
    ----------
    name : str
    cost : Cost
    cures : array_like, shape (hypotheses,) [-]
        Chance that it cures each hypothesis.
    covers : sequence of str
    proving : Cost, optional
        Of the measurement that shows whether it is cured; added to the cost.
    available : bool

    Returns
    -------
    Action

    Raises
    ------
    InputError
        If a chance is not between 0 and 1.
    """
    chance = np.asarray(cures, dtype=np.float64)
    whole = cost if proving is None else cost + proving
    return Action(name, "repair", whole, ("not cured",), 1.0 - chance[None, :], chance, tuple(covers), available)
