"""Scalings of the simulated log against worked examples of the standard's current data (handbook, check values §7)."""

from __future__ import annotations

import re

import numpy as np
import pytest

from tests.references.check_values import check_values
from witnessmark.simulate.pids import PIDS

_KNOWN = {f"{pid.number:02X}": pid for pid in PIDS.values()}
_AMPERES = "34"  # its row is about the current in the second word; λ stands in the first, as in 24


def _rows() -> list[tuple[str, str, float, float, str]]:
    found = []
    for row in check_values():
        at = re.match(r"PID \$([0-9A-F]{2})", row.quantity)
        if at and at[1] in _KNOWN and at[1] != _AMPERES:
            found.append((at[1], row.inputs, float(row.expected), row.tolerance, row.source))
    return found


ROWS = _rows()


def test_most_of_the_logs_values_have_an_example() -> None:
    assert len({number for number, *_ in ROWS}) >= 16


@pytest.mark.parametrize(("number", "answer", "expected", "tolerance", "source"), ROWS, ids=lambda v: str(v)[:24])
def test_bytes_and_value_belong_together(
    number: str, answer: str, expected: float, tolerance: float, source: str
) -> None:
    assert source
    pid = _KNOWN[number]
    count = int("".join(answer.split()[2 : 2 + pid.bytes]), 16)
    assert pid.factor * count + pid.offset == pytest.approx(expected, abs=max(tolerance, 1e-9))
    assert pid.counts(np.array([expected]))[0] == count


def test_lambda_is_the_first_word_over_32768() -> None:
    """Handbook §7: w/32768 for 24 to 2B and 34 to 3B."""
    assert PIDS["lambda_1"].factor * 0x8000 == pytest.approx(1.0)
