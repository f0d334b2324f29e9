"""Trouble codes as people type them: either case, with or without a failure type byte."""

from __future__ import annotations

import re

from witnessmark.catalogue.codes import nearest_code
from witnessmark.errors import InputError
from witnessmark.finding import Finding, Provenance
from witnessmark.vocabulary import Place, quantity

__all__ = ["parse_code", "parse_code_reading"]

_CODE = re.compile(r"([PCBU][0-3][0-9A-F]{3})(?:[-:][0-9A-F]{2})?")  # with or without a failure type byte


def parse_code(text: str) -> str:
    """A trouble code as the standard writes it (SAE J2012 / ISO 15031-6), from what was typed.

    Parameters
    ----------
    text : str
        Either case; a failure type byte behind it (P0016-00) is understood and left off.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is no code: says what is missing, and the nearest one.

    Examples
    --------
    >>> parse_code("p0016")
    'P0016'
    """
    code = text.strip().upper()
    found = _CODE.fullmatch(code)
    if found:
        return found[1]
    near = nearest_code(code)
    raise InputError(
        f"“{text.strip()}” is not a code: {_what_is_wrong(code)}",
        given=text,
        expected="a letter and four digits, as in P0016",
        todo=f"Nearest: {near}" if near else None,
    )


def parse_code_reading(text: str) -> Finding:
    """The finding "this code is set".

    Parameters
    ----------
    text : str
        The code.

    Raises
    ------
    InputError
        If it is no code.
    """
    code = parse_code(text)
    kind = quantity("code_state")
    source = Provenance(kind="code", text=text.strip())
    return Finding(kind.name, Place.of(code=code), 1.0, kind.sd, source=source, method="read from the computer")


def _what_is_wrong(code: str) -> str:
    if not code:
        return "nothing is written"
    if code[0] not in "PCBU":
        return "it begins with P, C, B or U"
    if len(code) < 5:
        missing = 5 - len(code)
        return "one digit is missing" if missing == 1 else f"{missing} digits are missing"
    if "O" in code[1:]:
        return "it has the letter O where a nought belongs"
    if len(code) > 5:
        more = len(code) - 5
        return "it has one digit too many" if more == 1 else f"it has {more} digits too many"
    if code[1] not in "0123":
        return "its second place is 0, 1, 2 or 3"
    return "its last three places are 0 to 9 or A to F"
