"""How a case ended: the one thing a shop learns from. Plain records, and the same as a file can hold them."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from witnessmark.errors import FormatError, InputError

__all__ = ["SCHEMA", "Attempt", "Outcome", "outcomes_from_plain", "outcomes_to_plain"]

SCHEMA = "witnessmark/experience/1"
_LONGEST = 100_000.0  # minutes for one job: a year and more of working days; beyond is a slip of the pen


@dataclass(frozen=True, slots=True)
class Attempt:
    """One repair that was done, and whether it cured what it was done for.

    Parameters
    ----------
    fault : str
        Row of the catalogue whose repair it was.
    cured : bool
    """

    fault: str
    cured: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one case ended.

    Parameters
    ----------
    case : str
        Its id; one case counts once.
    date : str
        Of the proof, or of the last work on it: "2026-03-01".
    proven : bool
        The same quantities measured before and after, and the complaint gone. Only such a case teaches anything.
    causes : tuple of str
        Rows of the catalogue; "none_of_these", "elsewhere" or "nothing_wrong" where it was that.
    chances : tuple of (str, float), [-]
        What the catalogue alone, moved by this vehicle's history, gave each row before any finding: how often that
        cause was to be expected here. Empty: as in any vehicle.
    attempts : tuple of Attempt
        Repairs in the order they were done.
    minutes : tuple of (str, float), [min]
        Really spent: ("repair:chain_worn", 200), ("test:codes_read", 11).

    Raises
    ------
    InputError
        For an id or date that is none, a chance outside 0..1, minutes that cannot be, a proven case without a cause.
    """

    case: str
    date: str
    proven: bool
    causes: tuple[str, ...] = ()
    chances: tuple[tuple[str, float], ...] = ()
    attempts: tuple[Attempt, ...] = ()
    minutes: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        where = f"case {self.case!r}"
        if not self.case.strip():
            raise InputError("an outcome needs the id of its case")
        try:
            datetime.date.fromisoformat(self.date)
        except ValueError:
            raise InputError("that is no date", given=self.date, expected="like 2026-03-01", where=where) from None
        if self.proven and not self.causes:
            raise InputError("it is called proven, but names no cause", where=where)
        if len(set(self.causes)) != len(self.causes):
            raise InputError("it names one cause twice", given=", ".join(self.causes), where=where)
        for name, chance in self.chances:
            if not 0.0 <= chance <= 1.0:
                raise InputError(f"{name} has the chance {chance}", expected="0 to 1", where=where)
        for what, minutes in self.minutes:
            if not 0.0 < minutes <= _LONGEST:
                raise InputError(f"{what} took {minutes} minutes", expected="more than 0", where=where)


def outcomes_to_plain(outcomes: Sequence[Outcome]) -> dict[str, Any]:
    """Outcomes as TOML and JSON can hold them: strings, numbers, lists and tables only.

    Parameters
    ----------
    outcomes : sequence of Outcome

    Returns
    -------
    dict
        ``{"schema": …, "outcome": [{"case": …, …}, …]}``, in order of date and case.
    """
    rows = []
    for one in sorted(outcomes, key=lambda outcome: (outcome.date, outcome.case)):
        row: dict[str, Any] = {"case": one.case, "date": one.date, "proven": one.proven}
        if one.causes:
            row["causes"] = list(one.causes)
        if one.chances:
            row["chances"] = dict(one.chances)
        if one.attempts:
            row["attempts"] = [{"fault": attempt.fault, "cured": attempt.cured} for attempt in one.attempts]
        if one.minutes:
            row["minutes"] = [{"what": what, "minutes": minutes} for what, minutes in one.minutes]
        rows.append(row)
    return {"schema": SCHEMA, "outcome": rows}


def outcomes_from_plain(plain: Mapping[str, Any], where: str = "experience") -> tuple[Outcome, ...]:
    """The inverse of :func:`outcomes_to_plain`.

    Parameters
    ----------
    plain : mapping
        As a TOML or JSON reader gives it.
    where : str
        Name of the file, for what goes wrong.

    Returns
    -------
    tuple of Outcome

    Raises
    ------
    FormatError
        For another schema, or a row that is not as it should be; names file and row.
    """
    if plain.get("schema") != SCHEMA:
        raise FormatError(
            "this is no file of outcomes", given=str(plain.get("schema")), expected=f"schema = {SCHEMA!r}", where=where
        )
    rows = plain.get("outcome", [])
    if not isinstance(rows, list):
        raise FormatError("outcome is no list of tables", where=where)
    return tuple(_outcome(row, f"{where}, outcome {number}") for number, row in enumerate(rows, start=1))


_T = TypeVar("_T")
_KEYS = ("case", "date", "proven", "causes", "chances", "attempts", "minutes")


def _outcome(row: Any, where: str) -> Outcome:
    if not isinstance(row, Mapping) or not set(row) <= set(_KEYS):
        strange = sorted(set(row) - set(_KEYS))[0] if isinstance(row, Mapping) else str(row)
        raise FormatError(f"{strange} is no part of an outcome", expected=", ".join(_KEYS), where=where)
    try:
        return Outcome(
            case=_as(str, row["case"]),
            date=str(row["date"]),
            proven=_as(bool, row["proven"]),
            causes=tuple(_as(str, name) for name in row.get("causes", ())),
            chances=tuple((_as(str, name), _number(chance)) for name, chance in row.get("chances", {}).items()),
            attempts=tuple(Attempt(_as(str, a["fault"]), _as(bool, a["cured"])) for a in row.get("attempts", ())),
            minutes=tuple((_as(str, m["what"]), _number(m["minutes"])) for m in row.get("minutes", ())),
        )
    except KeyError as error:
        raise FormatError(f"{error.args[0]} is missing", where=where) from None
    except (TypeError, AttributeError) as error:
        raise FormatError(f"a value is of the wrong kind ({error})", where=where) from None
    except InputError as error:
        raise error.at(where) from None


def _as(kind: type[_T], value: Any) -> _T:
    if not isinstance(value, kind):
        raise TypeError(f"{value!r} is no {'yes or no' if kind is bool else 'text'}")
    return value


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError(f"{value!r} is no number")
    return float(value)
