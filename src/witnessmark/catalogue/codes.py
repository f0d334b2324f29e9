"""What trouble codes speak about: system, place and kind, never a cause.

Facts in ``data/codes.toml``. A code is written as SAE J2012 / ISO 15031-6 write it: a letter,
a digit 0..3, three hexadecimal digits.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from witnessmark.errors import InputError, nearest

__all__ = ["Code", "codes", "parse_code"]

_FORM = re.compile(r"[PCBU][0-3][0-9A-F]{3}")


@dataclass(frozen=True, slots=True)
class Code:
    """One code whose meaning is known here.

    Parameters
    ----------
    id, kind, of, words : str
    bank : int, optional
    side : str, optional
        "A" or "B"; which cam that is belongs to the engine description.
    cylinder : int, optional
    weighed : bool
        False: what it speaks about is predicted; this version does not weigh it yet.
    """

    id: str
    kind: str
    of: str
    words: str
    bank: int | None = None
    side: str | None = None
    cylinder: int | None = None
    weighed: bool = True


@cache
def codes() -> Mapping[str, Code]:
    """All codes known here, by id.

    Returns
    -------
    mapping of str to Code
    """
    text = files("witnessmark").joinpath("data/codes.toml").read_text(encoding="utf-8")
    return {row["id"]: Code(**row) for row in tomllib.loads(text)["code"]}


def parse_code(text: str) -> str:
    """A code as the standard writes it, from what was typed.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Upper case. It need not be one whose meaning is known here.

    Raises
    ------
    InputError
        If it is not a letter, a digit 0..3 and three hexadecimal digits.

    Examples
    --------
    >>> parse_code("p0016")
    'P0016'
    """
    code = text.strip().upper()
    if _FORM.fullmatch(code):
        return code
    near = nearest(code, codes())
    hint = f"Nearest: {near[0]}" if near else None
    raise InputError(
        f"“{text}” is not a code",
        given=text,
        expected="a letter, a digit 0 to 3 and three more, as in P0016",
        todo=hint,
    )
