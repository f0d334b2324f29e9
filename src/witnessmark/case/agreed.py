"""What the owner agreed to, as people type it, and what of it is left: the terms a plan has to keep."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from witnessmark.case.words import as_number, split_line
from witnessmark.catalogue.faultrows import check_repair_job
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.errors import InputError, one_of
from witnessmark.plan.agreement import Agreed
from witnessmark.plan.terms import Terms

__all__ = ["LISTS", "agreed_terms", "listed", "parse_agreed"]

_NUMBERS = ("minutes", "used_minutes", "money", "used_money", "per_hour")
LISTS = ("covers", "without")
"""Keys whose values are words parted by commas."""
_KEYS = (*_NUMBERS, *LISTS)


def parse_agreed(lines: Iterable[str]) -> Terms:
    """Terms from typed lines.

    Parameters
    ----------
    lines : iterable of str
        ``key=value`` pairs: ``minutes=120 used_minutes=35 covers=plug_out``. ``covers=none``: nothing may come off.
        ``without=leak_down,smoke``: tests that were tried and are not to be had on this vehicle.

    Returns
    -------
    Terms

    Raises
    ------
    InputError
        For an unknown key, cover or test, what is no number, or a key said twice.

    Examples
    --------
    >>> parse_agreed(["minutes=120 used_minutes=35"]).agreed.minutes
    85.0
    """
    numbers: dict[str, float] = {}
    lists: dict[str, list[str]] = {}
    for line in lines:
        said = split_line(line, with_head=False)
        if said.rest:
            raise InputError(f"“{said.rest.split()[0]}” is no agreement", given=line, expected="as in minutes=120")
        for key, value in said.pairs:
            if key not in _KEYS:
                raise one_of("agreement", key, _KEYS)
            if key in numbers or key in lists:
                raise InputError(f"{key}= stands twice", given=line)
            if key in LISTS:
                lists[key] = listed(value)
            else:
                numbers[key] = as_number(key, value)
    return agreed_terms(numbers, covers=lists.get("covers"), without=lists.get("without", ()))


def listed(value: str) -> list[str]:
    """Words parted by commas; ``none`` is no word.

    Parameters
    ----------
    value : str
    """
    return [word for word in value.lower().split(",") if word and word != "none"]


def agreed_terms(
    numbers: Mapping[str, float],
    *,
    covers: Iterable[str] | None = None,
    parts: Mapping[str, float] | None = None,
    without: Iterable[str] = (),
) -> Terms:
    """Terms from what was agreed to and what of it is used up.

    Parameters
    ----------
    numbers : mapping of str to float
        ``minutes`` and ``money`` agreed to in all, ``used_minutes`` and ``used_money`` of it, ``per_hour`` of labour.
    covers : iterable of str, optional
        What may come off; left out: anything.
    parts : mapping of str to float, optional
        What the parts of repairs cost, by the repairs' names.
    without : iterable of str
        Tests that are not to be had on this vehicle.

    Returns
    -------
    Terms

    Raises
    ------
    InputError
        For a negative number, an unknown cover, test or repair.
    """
    for key, value in numbers.items():
        if value < 0.0:
            raise InputError(f"{key} is {value:g}", given=f"{value:g}", expected="0 or more")
    known = all_procedures().covers
    for name in covers or ():
        if name not in known:
            raise one_of("cover", name, known)
    tests = [test.id for test in all_procedures().all]
    for name in without:
        if name not in tests:
            raise one_of("test", name, tests)
    _check_parts(parts or {})
    allowed = None if covers is None else frozenset(covers)
    agreed = Agreed(_left(numbers, "minutes"), _left(numbers, "money"), allowed)
    rate = numbers.get("per_hour") or None
    return Terms(agreed, lacks=tuple(without), per_hour=rate, parts=dict(parts or {}))


def _left(numbers: Mapping[str, float], key: str) -> float | None:
    if key not in numbers:
        return None
    return max(numbers[key] - numbers.get(f"used_{key}", 0.0), 0.0)


def _check_parts(parts: Mapping[str, float]) -> None:
    for name, price in parts.items():
        for one in name.split("+"):
            check_repair_job(one.partition(":")[0])
        if price < 0.0:
            raise InputError(f"The parts of {name} cost {price:g}", expected="0 or more")
