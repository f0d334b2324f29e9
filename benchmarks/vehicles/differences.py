"""How sound engines differ, in numbers drawn from the standard normal law, and the states that faults make of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from witnessmark.catalogue.faults import Kind
from witnessmark.engine.state import State, state_variables
from witnessmark.predict.differing import sound_states
from witnessmark.predict.rule import Nuisance

__all__ = ["OUTSIDE", "Differences", "Way"]

Array = NDArray[np.float64]
Way = tuple[tuple[Kind, Array], ...]  # kinds of faults that are there and awake, each with its sizes, shape (axes,)

OUTSIDE = "outside"
_CLIP = 2.5  # spreads beyond which a number of a sound engine does not go
_CHOICES = (
    "air:speed_density", "air:boost", "air:at_idle", "air:held_share", "fuel:follows_plenum", "fuel:direct",
    "electric:series_starter",
)  # fmt: skip


@dataclass(frozen=True)
class Differences:
    """What healthy engines differ in, as far as some readings tell.

    Every one is a standard normal number of the vehicle: bounded ones are clipped, choices (is it piped to the
    plenum?) are cut at their odds.

    Parameters
    ----------
    moved : tuple of Nuisance, length d
    """

    moved: tuple[Nuisance, ...]

    @cached_property
    def mean(self) -> Array:
        """Usual values, shape (d,), each in its own unit."""
        return np.array([one.mean for one in self.moved])

    @cached_property
    def sd(self) -> Array:
        """Spreads, shape (d,), each in its own unit."""
        return np.array([one.sd for one in self.moved])

    @cached_property
    def choices(self) -> NDArray[np.bool_]:
        """Which of them are yes or no, shape (d,)."""
        return np.array([one.variable in _CHOICES for one in self.moved], dtype=bool)

    @cached_property
    def _limits(self) -> tuple[Array, Array]:
        known = state_variables()
        return (
            np.array([-np.inf if one.is_number or one.every else known[one.variable].low for one in self.moved]),
            np.array([np.inf if one.is_number or one.every else known[one.variable].high for one in self.moved]),
        )

    def values(self, u: Array, *, blended: bool = False) -> Array:
        """In their own units, shape (n, d), of standard normal numbers.

        Parameters
        ----------
        u : ndarray, shape (n, d)
        blended : bool
            True takes choices at their odds, as a prediction does that does not know.
        """
        found = self.mean + self.sd * np.clip(u, -_CLIP, _CLIP)
        # A spread larger than its mean belongs to what cannot be negative.
        positive = np.array([one.is_number and one.mean > 0.0 and one.sd > 0.2 * one.mean for one in self.moved])
        found = np.where(positive.astype(bool), np.maximum(found, 0.0), found)
        cut = ndtri(np.clip(1.0 - self.mean, 1e-6, 1.0 - 1e-6))
        found = np.where(self.choices, (u > cut).astype(float), found)
        found = np.clip(found, *self._limits)
        if blended:
            found[:, self.choices] = (self.mean + self.sd * u)[:, self.choices].clip(0.0, 1.0)
        return np.asarray(found)

    def state(self, values: Array, ways: Sequence[Way]) -> tuple[State, dict[str, Array]]:
        """Engines that differ so and are broken so.

        Parameters
        ----------
        values : ndarray, shape (n, d)
        ways : sequence of Way, length n

        Returns
        -------
        State
            n side by side.
        dict of str to ndarray, shape (n,)
            Numbers of the description, by their keys.
        """
        sound, numbers = sound_states(self.moved, values)
        edits = {key: np.array(value) for key, value in sound.edits.items()}
        for row, way in enumerate(ways):
            for kind, sizes in way:
                _break(edits, kind, sizes, row, len(ways))
        return State(edits), numbers


def _break(edits: dict[tuple[str, str], Array], kind: Kind, sizes: Array, row: int, rows: int) -> None:
    """Put one fault into one of the states."""
    known = state_variables()
    for term in kind.terms:
        key = (term.variable, term.place)
        column = edits.get(key)
        if column is None:
            column = edits[key] = np.full(rows, float(known[term.variable].healthy))
        amount = term.amount if term.axis is None else term.amount * sizes[term.axis]
        before = column[row]
        after = {"add": before + amount, "multiply": before * amount, "set": amount}[term.op]
        if kind.way == OUTSIDE:  # whatever it is, it stays possible
            after = min(max(after, known[term.variable].low), known[term.variable].high)
        column[row] = after
