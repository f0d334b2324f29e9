"""What a person writes in one line: a first word, ``key=value`` pairs, and the rest; and numbers as they are written.

The same small grammar serves the command line and ``case.toml``. Decimal commas, true minus signs
and ``+-`` for ± are understood; what could be read in two ways is asked back, never guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.errors import InputError

__all__ = ["Said", "WrittenNumber", "as_number", "leading_number", "plain_signs", "split_line", "yes_or_no"]

_SPACES = str.maketrans(dict.fromkeys("\u00a0\u2007\u2009\u202f\t\r\n", " "))
_MINUS = str.maketrans(dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\ufe63\uff0d", "-"))
_PLUS_MINUS = re.compile(r"\+\s*/?\s*-(?=\s*[\d.,])")
_AROUND_EQUALS = re.compile(r"\s*=\s*")
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?(?![\d.,])")
_COULD_BE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_YES_NO = {
    "yes": True,
    "no": False,
    "set": True,
    "not_set": False,
    "1": True,
    "0": False,
}


@dataclass(frozen=True, slots=True)
class Said:
    """One line, taken apart.

    Parameters
    ----------
    head : str
        The first word, in lower case; empty where the line begins with a pair.
    pairs : tuple of (str, str)
        Keys in lower case, values as written.
    rest : str
        All other words in their order, signs made plain.
    text : str
        The line as it was written.
    """

    head: str
    pairs: tuple[tuple[str, str], ...]
    rest: str
    text: str


@dataclass(frozen=True, slots=True)
class WrittenNumber:
    """A number, and how finely it was written.

    Parameters
    ----------
    value : float
    resolution : float
        One unit of the last digit written.
    """

    value: float
    resolution: float


def split_line(text: str, *, with_head: bool = True) -> Said:
    """Take a line apart into its first word, its ``key=value`` pairs and the rest.

    Parameters
    ----------
    text : str
    with_head : bool
        Whether a first word without "=" is the line's head.

    Returns
    -------
    Said

    Raises
    ------
    InputError
        For an empty line, a key without a value, or a key that stands twice.

    Examples
    --------
    >>> split_line("cam_deviation bank=1 cam = intake −11 +- 1").rest
    '-11 ± 1'
    """
    plain = _AROUND_EQUALS.sub("=", plain_signs(text).strip())
    if not plain:
        raise InputError("Nothing is written here", given=text)
    head, rest = "", []
    pairs: dict[str, str] = {}
    for position, word in enumerate(plain.split()):
        key, equals, value = word.partition("=")
        if not equals:
            if position == 0 and with_head and word[0].isalpha():
                head = word.lower().replace("-", "_")
            else:
                rest.append(word)
            continue
        key = key.lower()
        if not key or not value:
            raise InputError(f"“{word}” is half a pair", given=word, expected="key=value, as in cam=intake")
        if key in pairs:
            raise InputError(f"{key}= stands twice: {pairs[key]} and {value}", given=word)
        pairs[key] = value
    return Said(head, tuple(pairs.items()), " ".join(rest), text)


def plain_signs(text: str) -> str:
    """The line with plain minus signs and spaces, and ± for ``+-`` and ``+/-``."""
    return _PLUS_MINUS.sub("±", text.translate(_SPACES).translate(_MINUS))


def leading_number(text: str) -> tuple[WrittenNumber, str] | None:
    """The number a text begins with, and what stands behind it; None where it begins with none.

    Parameters
    ----------
    text : str
        With plain signs.

    Raises
    ------
    InputError
        For a number that could be read in two ways, or is none on a second look.

    Examples
    --------
    >>> leading_number("-10,8 deg")
    (WrittenNumber(value=-10.8, resolution=0.1), 'deg')
    """
    found = _NUMBER.match(text)
    if found is None:
        odd = re.match(r"[+-]?[\d.,]+", text)
        if odd and any(c.isdigit() for c in odd[0]):
            raise InputError(f"“{odd[0]}” is not a number", given=odd[0], expected="digits with one point or comma")
        return None
    word = found[0]
    if _COULD_BE_THOUSANDS.fullmatch(word):
        whole, dotted = word.replace(",", ""), word.replace(",", ".")
        raise InputError(f"“{word}” could be {whole} or {dotted}", given=word, todo=f"Write {whole}, or {dotted}")
    plain = word.replace(",", ".")
    value = float(plain)
    if not math.isfinite(value):
        raise InputError(f"“{word}” is too large a number", given=word)
    return WrittenNumber(value, _last_digit(plain)), text[found.end() :].strip()


def as_number(key: str, text: str) -> float:
    """The number behind a key, without a unit.

    Parameters
    ----------
    key, text : str

    Raises
    ------
    InputError
        If it is no number, or something stands behind it.
    """
    found = leading_number(plain_signs(text))
    if found is None or found[1]:
        raise InputError(f"{key}={text} is not a number", given=text, todo=f"Write the number alone, as in {key}=90")
    return found[0].value


def yes_or_no(key: str, text: str) -> bool:
    """The answer behind a key.

    Parameters
    ----------
    key, text : str

    Raises
    ------
    InputError
        If it is neither yes nor no.
    """
    answer = _YES_NO.get(text.lower())
    if answer is None:
        raise InputError(f"{key}={text}: yes or no?", given=text, todo=f"Leave {key}= out if nobody knows")
    return answer


def _last_digit(plain: str) -> float:
    mantissa, _, power = plain.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(f"1e{int(power or 0) - decimals}")
