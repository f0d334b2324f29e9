"""One line: seconds, a colon, the number of a parameter and its bytes, all bytes as two hexadecimal digits."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["Answer", "is_like_an_answer", "read_line"]

_LINE = re.compile(rb"\s*(\d{1,9}(?:\.\d{1,9})?)\s*:\s*([0-9A-Fa-f]+)\s*[,;]?\s*")
_BEGINNING = re.compile(rb"\s*\d{1,9}(?:\.\d{1,9})?\s*:\s*[0-9A-Fa-f]*\s*[,;]?\s*")
_MOST_BYTES = 64  # the longest answer of the standard has 41; beyond is no answer


@dataclass(frozen=True, slots=True)
class Answer:
    """What one line holds.

    Parameters
    ----------
    time_s : float [s]
    parameter : int
    data : bytes
        At least one.
    digits : int
        How many decimals its time is printed with.
    """

    time_s: float
    parameter: int
    data: bytes
    digits: int = 0


def read_line(line: bytes) -> Answer | None:
    """The answer in a line; None where it holds none, or a part of one only."""
    found = _LINE.fullmatch(line)
    if found is None:
        return None
    digits = found[2]
    if len(digits) % 2 or not 4 <= len(digits) <= 2 * (_MOST_BYTES + 1):
        return None
    answer = bytes.fromhex(digits.decode("ascii"))
    return Answer(float(found[1]), answer[0], answer[1:], len(found[1].partition(b".")[2]))


def is_like_an_answer(line: bytes) -> bool:
    """Whether a line begins as answers do, whole or cut."""
    return _BEGINNING.fullmatch(line) is not None
