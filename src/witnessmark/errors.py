"""Everything that can go wrong on purpose.

::

    WitnessmarkError
    ├─ InputError(ValueError)
    │  ├─ FormatError            a file that is not what a reader takes
    │  ├─ DamagedRecording       a recording with a hole in its sense
    │  ├─ UnitError              a unit that does not fit its quantity
    │  └─ EngineDefinitionError  a description of an engine that cannot be
    ├─ OutOfScope(ValueError)    a vehicle this product does not cover
    ├─ DecodeError
    ├─ InferenceError
    └─ StoreError

A poor signal is a result (``witnessmark.finding.NotMeasured``), never an exception.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

__all__ = [
    "DamagedRecording",
    "DecodeError",
    "EngineDefinitionError",
    "FormatError",
    "InferenceError",
    "InputError",
    "OutOfScope",
    "StoreError",
    "UnitError",
    "WitnessmarkError",
    "nearest",
    "one_of",
]


class WitnessmarkError(Exception):
    """The root: its text is one clear line that a door may print as it stands."""


class InputError(WitnessmarkError, ValueError):
    """Something given cannot be used.

    Parameters
    ----------
    message : str
        What is wrong, in one line, without the place and the remedy.
    given, expected : str, optional
        What was there and what should have been.
    where : str, optional
        File, channel, row, key.
    todo : str, optional
        What to do next.
    """

    def __init__(
        self,
        message: str,
        *,
        given: str | None = None,
        expected: str | None = None,
        where: str | None = None,
        todo: str | None = None,
    ) -> None:
        self.message, self.given, self.expected, self.where, self.todo = message, given, expected, where, todo
        super().__init__(self._line())

    def _line(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        if not text.endswith((".", "?", "!")):
            text += "."
        for part in (self.expected and f"Expected {self.expected}", self.todo):
            if part:
                text += f" {part}" if part.endswith((".", "?", "!")) else f" {part}."
        return " ".join(text.split())

    def __reduce__(self) -> tuple[object, ...]:
        fields = {"given": self.given, "expected": self.expected, "where": self.where, "todo": self.todo}
        return _rebuild, (type(self), self.message, fields)

    def at(self, where: str) -> InputError:
        """The same error with its place named, for callers that know the file and row."""
        place = f"{where}, {self.where}" if self.where else where
        return type(self)(self.message, given=self.given, expected=self.expected, where=place, todo=self.todo)


def _rebuild(cls: type[InputError], message: str, fields: dict[str, str | None]) -> InputError:
    return cls(message, **fields)


class FormatError(InputError):
    """A file that is not what any reader (or the reader asked for) takes."""


class DamagedRecording(InputError):
    """A recording whose rows contradict each other: time runs back, numbers are missing."""


class UnitError(InputError):
    """A unit that is not known, or does not measure this quantity."""


class EngineDefinitionError(InputError):
    """A description of an engine that cannot be."""


class OutOfScope(WitnessmarkError, ValueError):
    """A vehicle or signal that this product does not cover; said politely, never guessed."""


class DecodeError(WitnessmarkError):
    """Edges or payloads that do not follow the pattern they were said to follow."""


class InferenceError(WitnessmarkError):
    """The reasoner could not weigh the evidence."""


class StoreError(WitnessmarkError):
    """Something could not be kept; what was there before is still there."""


def nearest(word: str, choices: Iterable[str], *, count: int = 1) -> list[str]:
    """The valid words most like a wrong one, best first; empty when nothing comes near.

    Parameters
    ----------
    word : str
        What was written.
    choices : iterable of str
        The valid words.
    count : int
        How many at most.

    Returns
    -------
    list of str
    """
    folded = {choice.lower(): choice for choice in choices}
    found = difflib.get_close_matches(word.lower(), folded, n=count, cutoff=0.5)
    return [folded[name] for name in found]


def one_of(kind: str, word: str, choices: Iterable[str], *, where: str | None = None) -> InputError:
    """The error for a word outside a closed list: names the nearest, else the list itself.

    Parameters
    ----------
    kind : str
        What the word should have been: "quantity", "unit" …
    word : str
        What was written.
    choices : iterable of str
        The valid words.
    where : str, optional
        File, row or argument.

    Returns
    -------
    InputError
        Ready to raise.
    """
    names = list(choices)
    near = nearest(word, names)
    if near:
        hint = f"Nearest: {near[0]}"
    else:
        listed = ", ".join(sorted(names)[:12])
        hint = f"One of: {listed}{' …' if len(names) > 12 else ''}"
    return InputError(f"No {kind} is called “{word}”", given=word, expected=None, where=where, todo=hint)
