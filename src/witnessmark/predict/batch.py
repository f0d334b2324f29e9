"""What a batch of predictions has in common: model, states, assumed numbers, and what was worked out once for all."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import State
from witnessmark.predict.model import DriveModel, Numbers, Values

__all__ = ["Batch"]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Batch:
    """n states of one engine, and what rules have worked out for them so far.

    Parameters
    ----------
    model : DriveModel
    state : State
        n states side by side.
    numbers : mapping of str to float or array, shape (n,)
        Numbers of the description or condition assumed for this batch.
    rows : int
        n.
    kept : dict
        Results that several quantities share, by key.
    """

    model: DriveModel
    state: State
    numbers: Numbers
    rows: int
    kept: dict[Hashable, object] = field(default_factory=dict)

    def get(self, variable: str, place: str) -> Values:
        """A state variable at a place, healthy where nothing edits it.

        Parameters
        ----------
        variable, place : str

        Returns
        -------
        float or array, shape (n,)
            In the variable's unit.
        """
        return self.state.get(variable, place)

    def column(self, variable: str, place: str) -> NDArray[np.float64]:
        """The same as an array of n values.

        Parameters
        ----------
        variable, place : str

        Returns
        -------
        ndarray, shape (n,)
        """
        return _laid_out(np.asarray(self.state.get(variable, place), dtype=np.float64), self.rows)

    def table(self, variable: str, places: tuple[str, ...]) -> NDArray[np.float64]:
        """A state variable at several places.

        Parameters
        ----------
        variable : str
        places : tuple of str, length m

        Returns
        -------
        ndarray, shape (n, m)
        """
        return np.stack([self.column(variable, place) for place in places], axis=1)

    def number(self, key: str, usual: float) -> Values:
        """A number of the description or condition: as assumed for this batch, else the usual one.

        Parameters
        ----------
        key : str
        usual : float
            In the number's unit, shape ().

        Returns
        -------
        float or array, shape (n,)
        """
        return self.numbers.get(key, usual)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """A result that several quantities share, worked out at first need.

        Parameters
        ----------
        key : hashable
        make : callable

        Returns
        -------
        whatever ``make`` gives
        """
        if key not in self.kept:
            self.kept[key] = make()
        return cast(T, self.kept[key])


def _laid_out(values: NDArray[np.float64], rows: int) -> NDArray[np.float64]:
    """As ``np.broadcast_to``, which takes five times as long for a few rows, and is asked a hundred thousand times."""
    if values.shape == (rows,):
        return values
    if values.ndim:
        return np.broadcast_to(values, (rows,))
    same: NDArray[np.float64] = np.ndarray((rows,), np.float64, buffer=values, strides=(0,))
    same.flags.writeable = False  # all places are one
    return same
