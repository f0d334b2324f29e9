"""What measuring yields: a finding, or the reason there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from witnessmark.errors import InputError
from witnessmark.estimate import Estimate
from witnessmark.vocabulary import GRADES, Condition, Place, Quantity, quantity

__all__ = ["Baseline", "Doubt", "Finding", "NotMeasured", "Provenance"]


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where a finding comes from.

    Parameters
    ----------
    kind : str
        "recording", "typed", "code" or "simulated".
    digest, trace : str
        Of the recording, and which of its traces.
    from_s, to_s : float, optional
        The stretch of time looked at.
    text : str
        As it was typed, verbatim.
    number : float, optional
        The number as it was typed, in the unit that was typed.
    unit : str
        The unit that was typed; empty where none was.
    """

    kind: str = "typed"
    digest: str = ""
    trace: str = ""
    from_s: float | None = None
    to_s: float | None = None
    text: str = ""
    number: float | None = None
    unit: str = ""

    def as_dict(self) -> dict[str, str | float]:
        """What is known, as JSON wants it."""
        pairs = ((key, getattr(self, key)) for key in self.__slots__)
        return {key: value for key, value in pairs if value not in (None, "")}


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a typed figure is asked back before it is believed.

    A figure that was looked at again and stands is believed; it keeps a doubt where no cause takes it so far, for then
    the instrument is the next to be doubted.

    Parameters
    ----------
    chance : float [-]
        That it was mistyped or misread, judged by this figure alone; the usual chance once it was looked at again.
    usual, usual_sd : float
        What a sound vehicle would show, in the finding's unit.
    low, high : float
        How far any cause of the list would take it.
    slip : str
        "point", "unit", or empty where no slip explains it.
    meant : float, optional
        What the slip would have come from, in the finding's unit.
    places : int
        By how many places the point would have to move to the right.
    unit : str
        The unit that may have been meant.
    """

    chance: float
    usual: float
    usual_sd: float
    low: float
    high: float
    slip: str = ""
    meant: float | None = None
    places: int = 0
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One value of one quantity at one place under one condition.

    Parameters
    ----------
    quantity : str
        A name of the closed list.
    place : Place
    value : float
        In the quantity's unit; yes/no as 1 and 0.
    sd : float
        Standard deviation of the *measurement*, in the same unit; for yes/no the chance of
        a wrong answer. The tolerance of the nominal is not in it.
    condition : Condition
    source : Provenance
    method : str
        How, in words.
    assumptions : tuple of str
        What was taken for granted on the way.
    id : str
        Given by the assessment: "f1", "f2" …
    checked : bool
        Somebody looked at the figure again, and it stands.
    doubt : Doubt, optional
        Given by the reasoner to a typed figure that is more likely a slip than a reading.

    Raises
    ------
    InputError
        For an unknown quantity, a missing or superfluous place key, a value that is no number.
    """

    quantity: str
    place: Place
    value: float
    sd: float
    condition: Condition = field(default_factory=Condition)
    source: Provenance = field(default_factory=Provenance)
    method: str = ""
    assumptions: tuple[str, ...] = ()
    id: str = ""
    checked: bool = False
    doubt: Doubt | None = None

    def __post_init__(self) -> None:
        kind = self.kind
        if not math.isfinite(self.value):
            raise InputError(f"{self.quantity} needs a number, not {self.value}", given=str(self.value))
        if not (math.isfinite(self.sd) and self.sd >= 0.0):
            raise InputError(f"{self.quantity} needs a spread of 0 or more, not {self.sd}", given=str(self.sd))
        if kind.kind == "grade" and self.value not in range(GRADES):
            raise InputError(f"{self.quantity} is graded 0, 1, 2 or 3, not {self.value:g}", given=f"{self.value:g}")
        present = [key for key, _ in self.place.items]
        missing = [key for key in kind.keys if key not in present]
        if missing:
            needed = " ".join(f"{key}=…" for key in missing)
            raise InputError(f"{self.quantity} needs {needed}", expected=f"place keys {', '.join(kind.keys)}")
        extra = [key for key in present if key not in kind.keys and key not in kind.optional]
        if extra:
            allowed = ", ".join((*kind.keys, *kind.optional)) or "none"
            raise InputError(f"{self.quantity} takes no {extra[0]}=", given=extra[0], expected=f"place keys {allowed}")

    @property
    def kind(self) -> Quantity:
        """The line of the closed list."""
        return quantity(self.quantity)

    @property
    def is_asked_back(self) -> bool:
        """Whether nobody has confirmed it yet, and it is more likely a slip than others are."""
        return self.doubt is not None and not self.checked

    @property
    def unit(self) -> str:
        """The unit the value is kept in."""
        return self.kind.unit_at(self.place)

    @property
    def estimate(self) -> Estimate:
        """Value and spread together."""
        return Estimate(self.value, self.sd, self.unit, method=self.method)

    def with_id(self, name: str) -> Finding:
        """The same finding under a name."""
        return replace(self, id=name)

    def __str__(self) -> str:
        where = f" {self.place}" if self.place.items else ""
        return f"{self.quantity}{where} {self.value:.4g} ± {self.sd:.2g} {self.unit}"


@dataclass(frozen=True, slots=True)
class NotMeasured:
    """Why a quantity has no value here, and what would give it one."""

    quantity: str
    place: Place
    reason: str
    settled_by: str


@dataclass(frozen=True, slots=True)
class Baseline:
    """Distribution of good findings of one quantity at one place, for one engine."""

    quantity: str
    place: Place
    condition: Condition
    estimate: Estimate
    n_vehicles: int
