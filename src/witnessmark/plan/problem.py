"""The decision to be made, free of engines: hypotheses, actions and covers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from witnessmark.errors import InputError, one_of
from witnessmark.plan.actions import Action, Cost, Cover, Rates
from witnessmark.plan.agreement import Agreed, Asking
from witnessmark.plan.decision import ESCALATE

__all__ = ["DecisionProblem"]

Array = NDArray[np.float64]
_SUM_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class DecisionProblem:
    """A case as a pure decision: exactly one hypothesis is true, each action is done at most once.

    Parameters
    ----------
    hypotheses : tuple of str
        Causes, with the unlisted one and "nothing wrong" among them.
    chance : ndarray, shape (hypotheses,) [-]
        Sums to 1.
    actions : tuple of Action
        Those not done yet.
    escalation : ndarray, shape (hypotheses,) [-]
        Price of what ends the case when nothing listed does, if that hypothesis is true; always at hand.
    covers : tuple of Cover
    open_covers : frozenset of str
        Already off.
    rates : Rates
    agreed : Agreed
    asking : Asking, optional
        Left out: what was agreed to is never more, and beyond it there is escalation alone.

    Raises
    ------
    InputError
        Where chances do not sum to 1, a price is negative, a name stands twice or is not known, covers lie behind
        each other in a ring, or a hypothesis has no end: no repair cures it and escalation has no finite price.
    """

    hypotheses: tuple[str, ...]
    chance: Array
    actions: tuple[Action, ...]
    escalation: Array
    covers: tuple[Cover, ...] = ()
    open_covers: frozenset[str] = frozenset()
    rates: Rates = field(default_factory=Rates)
    agreed: Agreed = field(default_factory=Agreed)
    asking: Asking | None = None

    def __post_init__(self) -> None:
        count = len(self.hypotheses)
        chance = np.asarray(self.chance, dtype=np.float64).copy()
        escalation = _spread_out(self.escalation, count)
        object.__setattr__(self, "chance", chance)
        object.__setattr__(self, "escalation", escalation)
        self._check_chances()
        self._check_names()
        self._check_prices()
        self.cover_chain(self.open_covers)
        for action in self.actions:
            self.cover_chain(action.covers)
        chance /= chance.sum()
        chance.flags.writeable = False
        escalation.flags.writeable = False

    @property
    def uncured(self) -> tuple[str, ...]:
        """Hypotheses that no repair at hand cures: they end in escalation, and that is worth saying."""
        cured = np.zeros(len(self.hypotheses))
        for action in self.actions:
            if action.available:
                cured = np.maximum(cured, action.cures)
        return tuple(name for name, most in zip(self.hypotheses, cured, strict=True) if most <= 0.0)

    def cover_chain(self, names: Iterable[str]) -> tuple[Cover, ...]:
        """Covers with all those in front of them.

        Parameters
        ----------
        names : iterable of str

        Returns
        -------
        tuple of Cover
            Outermost first, each once.

        Raises
        ------
        InputError
            If a cover is not known, or lies behind itself.
        """
        known = {cover.name: cover for cover in self.covers}
        found: dict[str, Cover] = {}
        for name in names:
            chain: list[Cover] = []
            at: str | None = name
            while at is not None:
                if at not in known:
                    raise one_of("cover", at, known)
                if any(cover.name == at for cover in chain):
                    ring = " behind ".join([*(cover.name for cover in chain), at])
                    raise InputError(
                        f"Covers lie behind each other in a ring: {ring}",
                        given=ring,
                        todo="Say which comes off first",
                    )
                chain.append(known[at])
                at = known[at].behind
            found.update({cover.name: cover for cover in reversed(chain)})
        return tuple(found.values())

    def to_open(self, action: Action) -> tuple[Cover, ...]:
        """Covers still to be taken off before an action.

        Parameters
        ----------
        action : Action

        Returns
        -------
        tuple of Cover
        """
        return tuple(cover for cover in self.cover_chain(action.covers) if cover.name not in self._off())

    def cost_now(self, action: Action) -> Cost:
        """What an action costs as things stand, covers included.

        Parameters
        ----------
        action : Action

        Returns
        -------
        Cost
        """
        return sum((cover.cost for cover in self.to_open(action)), action.cost)

    def action(self, name: str) -> Action:
        """An action by its name.

        Parameters
        ----------
        name : str

        Returns
        -------
        Action

        Raises
        ------
        InputError
            If there is none.
        """
        for action in self.actions:
            if action.name == name:
                return action
        raise one_of("action", name, [action.name for action in self.actions])

    def after(self, name: str, outcome: int | str) -> DecisionProblem:
        """The problem that is left when an action was done and came out so.

        Parameters
        ----------
        name : str
        outcome : int or str
            One of the action's outcomes.

        Returns
        -------
        DecisionProblem
            Chances by Bayes' rule; the action gone, its covers off, its cost taken from what was agreed.

        Raises
        ------
        InputError
            If the outcome is impossible under every hypothesis.
        """
        action = self.action(name)
        index = action.outcomes.index(outcome) if isinstance(outcome, str) else outcome
        joint = self.chance * action.table[index]
        if joint.sum() <= 0.0:
            raise InputError(
                f"“{action.outcomes[index]}” cannot be under any hypothesis", where=name, todo="Check the reading"
            )
        return replace(
            self,
            chance=joint / joint.sum(),
            actions=tuple(other for other in self.actions if other is not action),
            open_covers=self._off() | {cover.name for cover in self.to_open(action)},
            agreed=self.agreed.less(self.cost_now(action)),
            # What asking at once would cost was worked out before this was known.
            asking=None if self.asking is None else replace(self.asking, now=np.inf),
        )

    def _off(self) -> frozenset[str]:
        """A cover that is off has those in front of it off too."""
        return frozenset(cover.name for cover in self.cover_chain(self.open_covers))

    def _check_chances(self) -> None:
        count = len(self.hypotheses)
        if not count:
            raise InputError("There is no hypothesis", expected="one at least")
        if self.chance.shape != (count,) or not np.isfinite(self.chance).all() or self.chance.min() < 0.0:
            raise InputError("The chances of the hypotheses are not numbers from 0 to 1, one for each", where="chance")
        if abs(self.chance.sum() - 1.0) > _SUM_TOLERANCE:
            raise InputError(
                f"The chances of the hypotheses sum to {self.chance.sum():.6g}", expected="1", where="chance"
            )
        for action in self.actions:
            if action.cures.shape != (count,):
                raise InputError(f"Chances for {action.cures.size} hypotheses", expected=f"{count}", where=action.name)

    def _check_names(self) -> None:
        for kind, names in (
            ("hypothesis", self.hypotheses),
            ("action", [action.name for action in self.actions]),
            ("cover", [cover.name for cover in self.covers]),
        ):
            twice = _twice(names)
            if twice is not None:
                raise InputError(f"The {kind} “{twice}” stands twice", todo="Give each its own name")
        if any(action.name == ESCALATE for action in self.actions):
            raise InputError(f"An action is called “{ESCALATE}”", todo="That word ends a case: give it another name")
        for cover in self.covers:
            self.cover_chain([cover.name])
        for name in self.agreed.covers or ():
            self.cover_chain([name])

    def _check_prices(self) -> None:
        priced = [(a.name, a.cost) for a in self.actions] + [(c.name, c.cost) for c in self.covers]
        for name, cost in priced:
            for word in ("minutes", "teardown", "money"):
                value = getattr(cost, word)
                if not np.isfinite(value) or value < 0.0:
                    raise InputError(f"{word} is {value:g}", expected="0 or more", where=name)
        for word in ("minute", "teardown", "money"):
            if not getattr(self.rates, word) >= 0.0:
                raise InputError(f"A rate is {getattr(self.rates, word):g}", expected="0 or more", where=word)
        for word in ("minutes", "money"):
            limit = getattr(self.agreed, word)
            if limit is not None and not limit >= 0.0:
                raise InputError(f"{limit:g} {word} were agreed to", expected="0 or more", where="agreed")
        for name, price in zip(self.hypotheses, self.escalation, strict=True):
            if not np.isfinite(price) or price < 0.0:
                raise InputError(
                    f"Escalation has the price {price:g}",
                    expected="a number, 0 or more: what ends the case when nothing listed does",
                    where=name,
                )


def _twice(names: Sequence[str]) -> str | None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            return name
        seen.add(name)
    return None


def _spread_out(escalation: ArrayLike, count: int) -> Array:
    prices = np.asarray(escalation, dtype=np.float64)
    if prices.ndim > 1 or (prices.ndim == 1 and prices.shape != (count,)):
        raise InputError(f"Escalation has {prices.size} prices", expected=f"one, or one for each of {count} hypotheses")
    return np.broadcast_to(prices, (count,)).copy()
