"""Scores a proposal for the columns of one log against the right answers. No mapping is in here, and none is imported.

The rules, column by column:

- A column is **right** if the signal is the true one (or one of ``signals_also``) and the unit is the true one, whether
  it was asked about or not. With a question the proposal's signal is its first candidate, and that is what counts.
- The unit is that of the numbers as they stand in the file. No unit (None) means the parameter's own. Spellings do not
  matter (°C, degC, C; 1/min, rpm; hPa, mbar). A wrong unit makes a column wrong. It is not looked at for text and for
  "nothing".
- Where ``ask`` is true a careful person could not know. Asked: right if the first candidate is one of ``candidates``;
  the unit may be the true one, the one the file claims, or the parameter's own, for the question is about it. Not
  asked: right only if signal and unit are the true ones, and never where ``must_ask`` is true (a number that no plain
  unit describes, such as vacuum in a column called pressure).
- **wrong_without_question**: a parameter (or a unit) was given, it is not right, and nobody was asked. A parameter
  given to a column that is nothing of the engine is such a one.
- **missed**: no parameter was given (None or "nothing"), nobody was asked, and the column holds one. It is not right.
- **wrong_with_question**: asked, and the first candidate (or its unit) is not right.
- Where the truth is "nothing", None and "nothing" are both right.

These four add up to the columns. **asked** counts all questions, right or wrong, those that were due too: asking about
everything maps everything and fails the share of questions; calling everything "nothing" asks nothing and misses all.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from witnessmark.recording.parameters import signal_of

__all__ = ["Answer", "LogAnswers", "Proposal", "Score", "canonical_unit", "read_answers", "score"]

_SPELLINGS = {
    "c": ("°c", "degc", "celsius"),
    "f": ("°f", "degf", "fahrenheit"),
    "deg": ("°", "degree", "degrees"),
    "rpm": ("1/min", "r/min", "u/min", "tr/min", "min-1", "min⁻¹", "r.p.m."),
    "mbar": ("hpa",),
    "km/h": ("kph", "kmh"),
    "mph": ("mi/h", "mile/h"),
    "%": ("percent", "pct"),
    "n m": ("nm", "n·m"),
    "hh:mm:ss": ("h:m:s", "h:min:s"),
    "": ("1", "-", "lambda", "λ", "count", "none"),
}
_CANONICAL = {spelling: name for name, spellings in _SPELLINGS.items() for spelling in spellings}


@dataclass(frozen=True)
class Proposal:
    """What a mapping says of one column: signal's text or None, unit or None, and whether it asks."""

    signal: str | None = None
    unit: str | None = None
    asked: bool = False


@dataclass(frozen=True)
class Answer:
    """The truth about one column; the keys of ``[[file.column]]``."""

    index: int
    heading: str
    signal: str
    unit: str = ""
    signals_also: tuple[str, ...] = ()
    units_also: tuple[str, ...] = ()
    ask: bool = False
    candidates: tuple[str, ...] = ()
    must_ask: bool = False
    claims: str | None = None
    why: str = ""


@dataclass(frozen=True)
class LogAnswers:
    """The truth about one file; the keys of ``[[file]]``. ``time`` and ``order`` are a column's index or "none"."""

    path: Path
    name: str
    language: str
    encoding: str
    delimiter: str
    decimal: str
    header_line: int
    rows: int
    truncated: bool
    time: int | str
    order: int | str
    trouble: tuple[str, ...]
    columns: tuple[Answer, ...]


@dataclass(frozen=True)
class Score:
    """Counts, which can be added up; the module says what each means. ``asked_due``: asked where ``ask`` is true."""

    columns: int = 0
    right: int = 0
    wrong_without_question: int = 0
    wrong_with_question: int = 0
    missed: int = 0
    asked: int = 0
    asked_due: int = 0
    wrong: tuple[str, ...] = ()

    def __add__(self, other: Score) -> Score:
        return Score(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    @property
    def share_right(self) -> float:
        """Columns mapped rightly, of all."""
        return self.right / self.columns

    @property
    def share_asked(self) -> float:
        """Columns asked about, of all."""
        return self.asked / self.columns


def read_answers(folder: Path) -> dict[str, LogAnswers]:
    """The answers of a folder by the name of the log.

    Parameters
    ----------
    folder : Path
        With ``answers.toml`` beside its logs.

    Returns
    -------
    dict of str to LogAnswers
    """
    found = {}
    for row in tomllib.loads((folder / "answers.toml").read_text(encoding="utf-8"))["file"]:
        columns = tuple(Answer(**_tuples(column)) for column in row.pop("column"))
        found[row["name"]] = LogAnswers(path=folder / row["name"], columns=columns, **_tuples(row))
    return found


def score(log: LogAnswers, proposals: Mapping[int, Proposal]) -> Score:
    """What a proposal for one log is worth.

    Parameters
    ----------
    log : LogAnswers
    proposals : mapping of int to Proposal
        By the column's index, from 0 at the left; a column that is not in it counts as ``Proposal()``.

    Returns
    -------
    Score
        ``wrong`` names each column that is not right, with what was said and what is true.

    Raises
    ------
    ValueError
        For an index that the log has not; a text that names no signal raises what `signal_of` raises.
    """
    beyond = sorted(set(proposals) - set(range(len(log.columns))))
    if beyond:
        raise ValueError(f"{log.name} has {len(log.columns)} columns, and no column {beyond[0]}")
    total = Score()
    for answer in log.columns:
        total += _column(log.name, answer, proposals.get(answer.index, Proposal()))
    return total


def canonical_unit(unit: str) -> str:
    """One spelling for the spellings of a unit.

    Parameters
    ----------
    unit : str

    Returns
    -------
    str
        In lower case.
    """
    folded = unit.strip().lower()
    return _CANONICAL.get(folded, folded)


def _column(name: str, answer: Answer, proposal: Proposal) -> Score:
    said = None if proposal.signal is None else str(signal_of(proposal.signal))
    is_right = _is_right(answer, said, proposal)
    kept_out = said in (None, "nothing")
    words = f"{name} column {answer.index} “{answer.heading}”: said {said} [{proposal.unit}]"
    words += f", true {answer.signal} [{answer.unit}]"
    return Score(
        columns=1,
        right=int(is_right),
        wrong_without_question=int(not is_right and not proposal.asked and not kept_out),
        wrong_with_question=int(not is_right and proposal.asked),
        missed=int(not is_right and not proposal.asked and kept_out),
        asked=int(proposal.asked),
        asked_due=int(proposal.asked and answer.ask),
        wrong=() if is_right else (words,),
    )


def _is_right(answer: Answer, said: str | None, proposal: Proposal) -> bool:
    said = said or "nothing"
    is_open = answer.ask and proposal.asked
    if answer.must_ask and not proposal.asked:
        return False
    signals = {answer.signal, *answer.signals_also, *(answer.candidates if is_open else ())}
    if said not in signals:
        return False
    own = signal_of(said).parameter.unit
    if own == "text":
        return True
    units = {answer.unit, *answer.units_also}
    if is_open:
        units |= {own, answer.claims or answer.unit}
    given = own if proposal.unit is None else proposal.unit
    return canonical_unit(given) in {canonical_unit(unit) for unit in units}


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}
