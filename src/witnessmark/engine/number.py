"""A number of the description: exact, one of a few, somewhere in a range, or not there at all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.errors import EngineDefinitionError
from witnessmark.source import UNSTATED, Source

__all__ = ["ABSENT", "Number"]


@dataclass(frozen=True, slots=True)
class Number:
    """What is known of one number, and from where.

    Exactly one of three things is known: ``values`` (one is exact, several are candidates
    with ``weights``), a range ``low`` .. ``high``, or nothing. Absence stays absence: nothing
    here fills in a usual value.

    Parameters
    ----------
    values, weights : tuple of float, shape (n,)
        Candidates and their odds (sum 1).
    low, high : float, shape (), optional
        Ends of a range, even odds within.
    source : Source
    """

    values: tuple[float, ...] = ()
    weights: tuple[float, ...] = ()
    low: float | None = None
    high: float | None = None
    source: Source = UNSTATED

    @classmethod
    def exactly(cls, value: float, source: Source = UNSTATED) -> Number:
        """One value.

        Parameters
        ----------
        value : float, shape ()
        source : Source

        Returns
        -------
        Number
        """
        return cls((float(value),), (1.0,), source=source)

    @classmethod
    def between(cls, low: float, high: float, source: Source = UNSTATED) -> Number:
        """A range, even odds within.

        Parameters
        ----------
        low, high : float, shape ()
        source : Source

        Returns
        -------
        Number

        Raises
        ------
        EngineDefinitionError
            If the ends are the wrong way round.
        """
        if not low < high:
            raise EngineDefinitionError(f"a range from {low:g} to {high:g} is empty", expected="the lower end first")
        return cls(low=float(low), high=float(high), source=source)

    @classmethod
    def among(cls, values: Sequence[float], weights: Sequence[float] = (), source: Source = UNSTATED) -> Number:
        """One of a few candidates; even odds unless weights are given.

        Parameters
        ----------
        values, weights : sequence of float, shape (n,)
        source : Source

        Returns
        -------
        Number

        Raises
        ------
        EngineDefinitionError
            For no candidates, or weights that are not positive and one for each.
        """
        if not values:
            raise EngineDefinitionError("a list of candidates is empty", expected="at least one value")
        odds = list(weights) or [1.0] * len(values)
        if len(odds) != len(values) or min(odds) <= 0.0:
            given = f"{len(values)} candidates with {len(odds)} odds"
            raise EngineDefinitionError(given, expected="one positive odd each")
        total = float(sum(odds))
        return cls(tuple(map(float, values)), tuple(w / total for w in odds), source=source)

    @property
    def is_known(self) -> bool:
        """True where anything at all is known."""
        return bool(self.values) or self.low is not None

    @property
    def exact(self) -> float | None:
        """The value if it is exact, else None; shape ()."""
        return self.values[0] if len(self.values) == 1 else None

    @property
    def mean(self) -> float | None:
        """The mean of what is known, or None; shape ()."""
        if self.values:
            return sum(v * w for v, w in zip(self.values, self.weights, strict=True))
        if self.low is not None and self.high is not None:
            return 0.5 * (self.low + self.high)
        return None

    @property
    def sd(self) -> float | None:
        """The standard deviation of what is known (0 if exact), or None; shape ()."""
        mean = self.mean
        if mean is None:
            return None
        if self.values:
            variance = sum(w * (v - mean) ** 2 for v, w in zip(self.values, self.weights, strict=True))
            return math.sqrt(variance)
        assert self.low is not None and self.high is not None
        return (self.high - self.low) / math.sqrt(12.0)

    def __str__(self) -> str:
        if self.exact is not None:
            return f"{self.exact:g}"
        if self.values:
            return " or ".join(f"{v:g}" for v in self.values)
        if self.low is not None:
            return f"{self.low:g}..{self.high:g}"
        return "not known"


ABSENT = Number()
