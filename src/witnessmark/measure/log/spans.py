"""Stretches of time, and which operating state the engine was in during each."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.errors import one_of
from witnessmark.vocabulary import STATES

__all__ = ["StateSpan"]


@dataclass(frozen=True, slots=True)
class StateSpan:
    """The engine stood in one operating state from one time to another.

    Parameters
    ----------
    state : str
        One of :data:`witnessmark.vocabulary.STATES`.
    from_s, to_s : float [s]
    steady : bool
        Speed and load hold still, so that means say something.
    warm : bool, optional
        Whether the engine was warm; None where nothing tells.
    """

    state: str
    from_s: float
    to_s: float
    steady: bool = False
    warm: bool | None = None

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise one_of("state", self.state, STATES)

    @property
    def seconds(self) -> float:
        """How long it lasted [s]."""
        return self.to_s - self.from_s
