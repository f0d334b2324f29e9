"""What a column may be, what is asked about it, and what a person answers: plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.errors import InputError, UnitError
from witnessmark.recording.columns.readings import Reading
from witnessmark.recording.logtable import ColumnUse
from witnessmark.recording.parameters import Signal, signal_of
from witnessmark.units import conversion, unit_spelt

__all__ = ["Answer", "Candidate", "ColumnProposal", "Proposal", "Question", "answer_of", "reading_of"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """What a column may be.

    Parameters
    ----------
    signal : Signal
        ``nothing`` for what is nothing of the engine.
    reading : Reading
        Unit and scale of its numbers.
    probability : float [-]
    """

    signal: Signal
    reading: Reading
    probability: float

    @property
    def words(self) -> str:
        """For a person: "manifold pressure, absolute [mbar]"."""
        unit = self.reading.written
        return f"{self.signal.words} [{unit}]" if unit and self.signal.parameter.unit != "text" else self.signal.words


@dataclass(frozen=True, slots=True)
class Question:
    """What a person should say about a column.

    Parameters
    ----------
    reason : str
        Why it is asked, in one sentence.
    changes : str
        What the answer changes.
    """

    reason: str
    changes: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What a person says about a column.

    Parameters
    ----------
    signal : Signal
    unit : str, optional
        In which number × scale + offset stands; None: as the file states, else the parameter's own.
    scale, offset : float

    Raises
    ------
    InputError
        For a scale that is 0.
    UnitError
        For a unit that is unknown, or measures something else than the parameter does.
    """

    signal: Signal
    unit: str | None = None
    scale: float = 1.0
    offset: float = 0.0

    def __post_init__(self) -> None:
        if not self.scale or self.scale != self.scale or abs(self.scale) == float("inf"):
            raise InputError("the scale of a column must be a number other than 0", given=f"{self.scale}")
        own = self.signal.parameter.unit
        if self.unit and own not in ("", "text"):
            conversion(unit_spelt(self.unit) or self.unit, own)

    def __str__(self) -> str:
        beside = [f"unit={self.unit}"] if self.unit else []
        if (self.scale, self.offset) != (1.0, 0.0):
            beside += [f"scale={self.scale!r}", f"offset={self.offset!r}"]
        return " ".join((str(self.signal), *beside))


def answer_of(text: str) -> Answer:
    """An answer from its text.

    Parameters
    ----------
    text : str
        "coolant unit=F", "timing unit=deg scale=1.275 offset=-64", "nothing".

    Returns
    -------
    Answer

    Raises
    ------
    InputError
        For a signal that is none, or a number that is none.
    UnitError
        As :class:`Answer`.

    Examples
    --------
    >>> answer_of("coolant unit=F").unit
    'F'
    """
    given: dict[str, str] = {}
    rest = []
    for word in text.split():
        key, mark, value = word.partition("=")
        if mark and key in ("unit", "scale", "offset"):
            given[key] = value
        else:
            rest.append(word)
    numbers = {}
    for key in ("scale", "offset"):
        if key in given:
            try:
                numbers[key] = float(given[key])
            except ValueError:
                raise InputError(f"“{key}={given[key]}” in “{text}”", expected=f"a number for {key}") from None
    return Answer(signal_of(" ".join(rest)), given.get("unit"), **numbers)


@dataclass(frozen=True, slots=True)
class ColumnProposal:
    """What one column is taken for.

    Parameters
    ----------
    index : int
        Of the column in the file.
    heading : str
    candidates : tuple of Candidate
        The likeliest first; never empty.
    question : Question, optional
    told : "", "answer" or "remembered"
        Who said it: "" for the program.
    empty : bool
        It holds no value.
    """

    index: int
    heading: str
    candidates: tuple[Candidate, ...]
    question: Question | None = None
    told: str = ""
    empty: bool = False

    @property
    def signal(self) -> Signal:
        """The likeliest."""
        return self.candidates[0].signal

    @property
    def reading(self) -> Reading:
        """How its numbers are read."""
        return self.candidates[0].reading

    @property
    def probability(self) -> float:
        """Of the likeliest."""
        return self.candidates[0].probability

    @property
    def use(self) -> ColumnUse | None:
        """What the table of the log makes a trace of; None while it is asked about, and for nothing of the engine."""
        if self.question is not None or self.signal.id == "nothing":
            return None
        reading = self.reading
        return ColumnUse(str(self.signal), reading.unit or None, reading.scale, reading.offset)


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the columns of a log are.

    Parameters
    ----------
    columns : tuple of ColumnProposal
        In the file's order.
    """

    columns: tuple[ColumnProposal, ...]

    @property
    def questions(self) -> tuple[ColumnProposal, ...]:
        """Columns to be asked about."""
        return tuple(column for column in self.columns if column.question is not None)

    @property
    def uses(self) -> Mapping[int, ColumnUse]:
        """What is used without another word, by the column's index."""
        return {column.index: column.use for column in self.columns if column.use is not None}


def reading_of(answer: Answer, stated: str | None) -> Reading:
    """How an answer reads the numbers.

    Parameters
    ----------
    answer : Answer
    stated : str or None
        The unit that the file states.

    Returns
    -------
    Reading
    """
    own = answer.signal.parameter.unit
    if own in ("", "text"):
        return Reading(stated or "", own, answer.scale, answer.offset, answer.scale, answer.offset, 0.0)
    name = answer.unit
    if name is None:
        name = own if (answer.scale, answer.offset) != (1.0, 0.0) else (stated or own)
    try:
        factor, shift = conversion(unit_spelt(name) or name, own)
    except UnitError:
        if answer.unit is not None:
            raise
        name, factor, shift = own, 1.0, 0.0
    written = name if (answer.scale, answer.offset) == (1.0, 0.0) else (stated or "")
    return Reading(
        written, name, answer.scale, answer.offset, answer.scale * factor, answer.offset * factor + shift, 0.0
    )
