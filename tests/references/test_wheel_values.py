"""Tone wheels against the handbook's check values: the wheel rows of topic 4, and topic 8.

The names' meaning is read in an open firmware's documentation (docs/references.md, [wheel_names]); the rest follows.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from tests.references.check_values import Row, rows_of
from witnessmark.engine.tonewheel import WheelPattern, parse_wheel
from witnessmark.physics import chain


def wheel(row: Row) -> WheelPattern:
    return parse_wheel(row.inputs.split(" at ")[0])


def slots(wheel_name: str) -> WheelPattern:
    """The wheel that a row names by its groups, of which it gives the number only."""
    found = parse_wheel(wheel_name)
    assert sum(found.marks) == 3
    return found


def per_second(row: Row) -> float:
    """Teeth a second from the crank's degrees a second and the wheel's pitch."""
    speed = float(re.search(r"at (\d+) rpm", row.inputs)[1])  # type: ignore[index]
    return 6.0 * speed / wheel(row).pitch_deg


RECOMPUTED: dict[str, Callable[[Row], float]] = {
    "missing-tooth wheel: real teeth": lambda row: wheel(row).n_edges,
    "tooth pitch 360/N": lambda row: wheel(row).pitch_deg,
    "edge-to-edge gap ratio (missing+1)": lambda row: max(wheel(row).gaps_deg) / wheel(row).pitch_deg,
    "teeth on 36-2-2-2 wheel": lambda row: slots("36-2-2-2").n_edges,
    "tooth frequency N n/60": per_second,
    "cam edge reading: cam deg to crank deg": lambda row: 1.0 / chain.CAM_RATIO,
    "one tooth on a 36-tooth cam sprocket": lambda row: float(chain.step_deg(36.0, chain.CAM_RATIO)),
}

ROWS = [
    row
    for topic in ("4 crank speed/edges", "8 general facts")
    for row in rows_of(topic)
    if row.quantity in RECOMPUTED
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_value(row: Row) -> None:
    found = RECOMPUTED[row.quantity](row)
    assert abs(found - row.expected) <= max(row.tolerance, 1e-9), f"{found} for {row.expected}; {row.source}"


def test_every_kind_of_row_is_there() -> None:
    assert {row.quantity for row in ROWS} == set(RECOMPUTED)
    assert len(ROWS) == 22
