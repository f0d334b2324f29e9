"""A rule: how one quantity follows from state and condition, and how well the nominal is known."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.vocabulary import Query

__all__ = ["Nuisance", "Rule", "Tolerance", "as_described", "nothing"]


@dataclass(frozen=True, slots=True)
class Nuisance:
    """Something healthy engines differ in: a state variable at a place, or an assumed number.

    Parameters
    ----------
    variable : str
        State variable, or the key of a number ("command:b1.intake:idle:None").
    place : str
        Place id; empty for a number; what it is called where all of several places have it in common.
    mean, sd : float
        In the unit of the variable: shape () each. Of what several have in common the mean is 0.
    every : tuple of str
        The places that have it in common; empty where it is one place's own.
    """

    variable: str
    place: str
    mean: float
    sd: float
    every: tuple[str, ...] = field(default=(), compare=False)

    @property
    def is_number(self) -> bool:
        """True for a number of the condition or description rather than of the state."""
        return self.place == ""

    @property
    def places(self) -> tuple[str, ...]:
        """Where it moves its state variable; of a number not to be asked."""
        return self.every or (self.place,)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How well the nominal of a sound engine is known, beyond the healthy spread of its state and its open numbers.

    Parameters
    ----------
    absolute : float, shape ()
        In the quantity's unit.
    share : float [-]
        Of the value predicted; the two add as squares.
    """

    absolute: float = 0.0
    share: float = 0.0


def nothing(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """No nuisance of its own.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    iterable of Nuisance
        Empty.
    """
    return ()


def as_described(model: DriveModel, query: Query) -> str | None:
    """No reason why it could not be predicted.

    Parameters
    ----------
    model : DriveModel
    query : Query

    Returns
    -------
    None
    """
    return None


@dataclass(frozen=True, slots=True)
class Rule:
    """How one quantity is predicted.

    Parameters
    ----------
    read : callable (Batch, Query) -> float or array, shape (n,)
        In the quantity's unit; NaN where no such reading would exist; of yes/no the chance of yes.
    tolerance : Tolerance, or callable (DriveModel, Query) -> Tolerance
    refuses : callable (DriveModel, Query) -> str or None
        Why it cannot be predicted here: a number that is not described, a place this engine has not.
    nuisances : callable (DriveModel, Query) -> iterable of Nuisance
        What healthy engines differ in that moves it, state variables and open numbers alike.
    """

    read: Callable[[Batch, Query], Values]
    tolerance: Tolerance | Callable[[DriveModel, Query], Tolerance] = Tolerance()
    refuses: Callable[[DriveModel, Query], str | None] = as_described
    nuisances: Callable[[DriveModel, Query], Iterable[Nuisance]] = nothing

    def tolerance_of(self, model: DriveModel, query: Query) -> Tolerance:
        """How well the nominal is known for one query.

        Parameters
        ----------
        model : DriveModel
        query : Query

        Returns
        -------
        Tolerance
        """
        return self.tolerance if isinstance(self.tolerance, Tolerance) else self.tolerance(model, query)
