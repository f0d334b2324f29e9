"""What looks, smells and noises have in common: a sign is a magnitude of the state, and how people grade it.

A table of signs, by kind of place and word, becomes the rule of a quantity.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.state import healthy_of
from witnessmark.predict.air import blended
from witnessmark.predict.batch import Batch
from witnessmark.predict.grading import Scale, chances_of, mean_grade, worst
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Condition, Query, quantity

__all__ = ["Observed", "Sign", "beyond", "differing", "shown_by"]

_Array = NDArray[np.float64]
_Spot = tuple[str, str]

# The words that say of all others at a place that they are not so; grade 0 of such a word is all that may be typed.
_NOT_SO: Mapping[str, tuple[str, ...] | None] = {"clean": None, "none": None, "dry": ("wet", "oily")}
_HALF = Tolerance(0.5)  # by which people differ in a grade; our guess, as of runs_rough in data/quantities.toml


@dataclass(frozen=True, slots=True)
class Sign:
    """One thing to be seen, smelt or heard at one kind of place.

    Parameters
    ----------
    amount : callable (Batch, str, Condition) -> float or array, shape (n,)
        Its magnitude at a place of the state, in the unit of the scale's thresholds.
    scale : Scale
    moved : callable (DriveModel, str, Condition) -> iterable of Nuisance
        What sound engines differ in that moves it.
    states : tuple of str
        Operating states in which it can be observed; empty for any.
    """

    amount: Callable[[Batch, str, Condition], Values]
    scale: Scale
    moved: Callable[[DriveModel, str, Condition], Iterable[Nuisance]] = lambda model, place, condition: ()
    states: tuple[str, ...] = ()


def differing(*variables: str, at: str | None = None) -> Callable[[DriveModel, str, Condition], Iterator[Nuisance]]:
    """What sound engines differ in at the place itself, or at another one.

    Parameters
    ----------
    *variables : str
        Of the state.
    at : str, optional

    Returns
    -------
    callable (DriveModel, str, Condition) -> iterator of Nuisance
    """

    def told(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
        for name in variables:
            mean, sd = healthy_of(name, at or place)
            if sd > 0.0:
                yield Nuisance(name, at or place, mean, sd)

    return told


def beyond(variable: str, per: float = 1.0, *, at: str | None = None) -> Callable[[Batch, str, Condition], Values]:
    """A state variable beyond its healthy mean, as a magnitude.

    Parameters
    ----------
    variable : str
    per : float, shape ()
        One unit of the magnitude in the variable's unit; negative where less than healthy is what shows.
    at : str, optional
        Its place, where that is not the place observed.

    Returns
    -------
    callable (Batch, str, Condition) -> array, shape (n,)
    """

    def amount(batch: Batch, place: str, condition: Condition) -> Values:
        where = at or place
        return np.maximum((batch.column(variable, where) - healthy_of(variable, where)[0]) / per, 0.0)

    return amount


def shown_by(
    variable: str,
    levels: tuple[float, float, float],
    *,
    less: bool = False,
    at: str | None = None,
    blur: float = 0.35,
    seen: float = 0.97,
    states: tuple[str, ...] = (),
) -> Sign:
    """The sign of one state variable, as far as it is beyond its healthy mean.

    Parameters
    ----------
    variable : str
    levels : tuple of float, shape (3,)
        Of the variable beyond healthy, in its unit, at which half the people say grade 1, 2, 3.
    less : bool
        Whether less than healthy is what shows, rather than more.
    at : str, optional
        The variable's place, where that is not the place observed.
    blur, seen : float [-]
        As of :class:`~witnessmark.predict.grading.Scale`.
    states : tuple of str

    Returns
    -------
    Sign
    """
    amount = beyond(variable, -1.0 if less else 1.0, at=at)
    return Sign(amount, Scale(levels, blur, seen), differing(variable, at=at), states)


@dataclass(frozen=True, slots=True)
class Observed:
    """Everything that is observed of one quantity.

    Parameters
    ----------
    name : str
        The quantity.
    where : callable (DriveModel, Query) -> (str, str) or str
        Kind of place and place id of the state; a sentence where this engine has no such place.
    signs : mapping of (str, str) to Sign
        By kind of place and word.
    unseen : mapping of (str, str) to str
        Why a word is not predicted at a kind of place; kind "" for all.
    """

    name: str
    where: Callable[[DriveModel, Query], _Spot | str]
    signs: Mapping[_Spot, Sign]
    unseen: Mapping[_Spot, str]

    def rule(self) -> Rule:
        """The rule of the quantity: the grade to be expected.

        Returns
        -------
        Rule
        """
        return Rule(lambda batch, query: mean_grade(self.chances(batch, query)), _HALF, self.refuses, self.nuisances)

    def words_at(self, kind: str, condition: Condition) -> tuple[str, ...]:
        """Words that are predicted at a kind of place under a condition.

        Parameters
        ----------
        kind : str
        condition : Condition

        Returns
        -------
        tuple of str
        """
        return tuple(
            word
            for (place, word), sign in self.signs.items()
            if place == kind and (not sign.states or (condition.state or "idle") in sign.states)
        )

    def chances(self, batch: Batch, query: Query) -> _Array:
        """Chance of every grade.

        Parameters
        ----------
        batch : Batch
        query : Query
            One that is not refused.

        Returns
        -------
        array, shape (n, 4) [-]
        """
        return batch.once(("grades", query), lambda: self._chances(batch, query))

    def _chances(self, batch: Batch, query: Query) -> _Array:
        place = self._place(batch.model, query)
        there, found = _running(batch, query.condition), []
        for sign in self._signs(batch.model, query):
            amount = np.asarray(sign.amount(batch, place, query.condition), dtype=np.float64)
            found.append(chances_of(amount * there, sign.scale))
        return found[0] if len(found) == 1 else worst(found)

    def refuses(self, model: DriveModel, query: Query) -> str | None:
        """Why a word cannot be predicted at a place, or None.

        Parameters
        ----------
        model : DriveModel
        query : Query

        Returns
        -------
        str or None
        """
        spot, word = self.where(model, query), str(query.place.get("word"))
        if isinstance(spot, str):
            return spot
        kind = spot[0]
        if word in self._here(kind, query):
            return None
        known = quantity(self.name).words
        if word not in known:
            return f"“{word}” is no word for {self.name}: {', '.join(known)}"
        sign = self.signs.get((kind, word))
        if sign is not None:
            return f"{_plain(word)} at the {_plain(kind)} shows in state {' or '.join(sign.states)}"
        reason = self.unseen.get((kind, word)) or self.unseen.get(("", word)) or self.unseen.get((kind, ""))
        return reason or f"no variable of the state says whether the {_plain(kind)} is {_plain(word)}"

    def nuisances(self, model: DriveModel, query: Query) -> Iterator[Nuisance]:
        """What sound engines differ in that moves an observation.

        Parameters
        ----------
        model : DriveModel
        query : Query

        Yields
        ------
        Nuisance
        """
        place = self._place(model, query)
        for sign in self._signs(model, query):
            yield from sign.moved(model, place, query.condition)

    def _here(self, kind: str, query: Query) -> tuple[str, ...]:
        """Words that may be asked for, those that deny others included."""
        words = self.words_at(kind, query.condition)
        deny = tuple(no for no in _NOT_SO if no in quantity(self.name).words and _denied(no, words))
        return (*words, *deny)

    def _signs(self, model: DriveModel, query: Query) -> list[Sign]:
        spot, word = self.where(model, query), str(query.place.get("word"))
        assert not isinstance(spot, str)
        words = self.words_at(spot[0], query.condition)
        return [self.signs[spot[0], one] for one in (_denied(word, words) if word in _NOT_SO else (word,))]

    def _place(self, model: DriveModel, query: Query) -> str:
        spot = self.where(model, query)
        assert not isinstance(spot, str)
        return spot[1]


def _running(batch: Batch, condition: Condition) -> _Array:
    """1, and not a number where an engine is asked for that does not keep running: nothing is seen or heard of it."""
    if condition.state not in RUNNING:
        return np.ones(batch.rows)
    return batch.once(("runs", condition), lambda: blended(batch, condition, lambda found: np.ones_like(found.runs)))


def _denied(word: str, words: tuple[str, ...]) -> tuple[str, ...]:
    only = _NOT_SO[word]
    return tuple(one for one in words if only is None or one in only)


def _plain(word: str) -> str:
    return word.replace("_", " ")
