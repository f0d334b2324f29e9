"""Which readings a fault moves, and how lines that read alike are put together (own invariances)."""

from __future__ import annotations

import math

import pytest

from witnessmark.engine.library import find_engine
from witnessmark.report.predictedrows import Shown, is_changed, is_moved, lines_of, mark_of
from witnessmark.vocabulary import Condition, Place, quantity

FOUR = find_engine("made-up four")
IDLE, RAISED = Condition(state="idle", coolant_c=90.0), Condition(state="raised", coolant_c=90.0)


def shown(
    faulty: float | None, sound: float = 10.0, sd: float = 1.0, cylinder: int = 1, condition: Condition = IDLE,
    name: str = "firing_voltage",
) -> Shown:  # fmt: skip
    unit = quantity(name).unit
    place = Place.of(cylinder=cylinder) if "cylinder" in quantity(name).keys else Place()
    return Shown("t", "Test", name, place, condition, unit, sound, sd, faulty)


@pytest.mark.parametrize(
    ("row", "moved", "mark"),
    [
        (shown(10.5), False, ""),
        (shown(11.5), True, ""),
        (shown(7.5), True, "<<"),
        (shown(None), False, ""),
        (shown(math.nan), True, "<<"),  # no such reading any more
        (shown(10.0, sound=math.nan), True, "<<"),  # one that a sound engine has not
        (shown(math.nan, sound=math.nan), False, ""),
        (shown(10.0, sd=0.0), False, ""),
        (shown(10.1, sd=0.0), True, "<<"),
        (shown(0.001, sound=10.0, sd=8.0), True, "<<"),  # a share of itself: by its ratio
        (shown(5.6, sound=0.02, sd=0.3), True, "<<"),  # a share of next to nothing: by its difference
        (shown(0.15, sound=0.02, sd=0.0, name="stalls"), True, ""),
        (shown(0.6, sound=0.02, sd=0.0, name="stalls"), True, "<<"),
        (shown(0.05, sound=0.02, sd=0.0, name="stalls"), False, ""),
    ],
)
def test_what_is_moved(row: Shown, moved: bool, mark: str) -> None:
    assert is_moved(row) is moved
    assert mark_of(row) == mark


def test_cylinders_that_read_alike_share_a_line() -> None:
    rows = [shown(10.0, cylinder=k) for k in (1, 2, 4)] + [shown(20.0, cylinder=3)]
    names = [line[0] for line in lines_of(FOUR, rows, faulty=True)]
    assert [name.replace("\N{NO-BREAK SPACE}", " ") for name in names] == [
        "Firing voltage, cylinders 1, 2 and 4 (idle, 90 °C)",
        "Firing voltage, cylinder 3 (idle, 90 °C)",
    ]


def test_states_that_read_alike_share_a_line_only_where_all_cylinders_do() -> None:
    alike = [shown(10.0, cylinder=k, condition=when) for when in (IDLE, RAISED) for k in (1, 2, 3, 4)]
    (line,) = lines_of(FOUR, alike, faulty=True)
    assert "every cylinder (idle and raised idle, 90" in line[0]
    apart = [*alike[:4], *alike[4:6]]
    names = [line[0] for line in lines_of(FOUR, apart, faulty=True)]
    assert ["every cylinder" in name for name in names] == [True, False]
    assert "cylinders 1 and 2 (raised idle" in names[1]


@pytest.mark.parametrize(
    ("before", "meanwhile", "changed"),
    [
        ((1.0, 450.0), (1.0, 450.0), False),  # the part exchanged was not it
        ((1.0, 450.0), (1.0, 1.0), True),  # the misfire went along
        ((67.0, 57.0), (60.0, 50.0), False),  # it does to the faulty engine what it does to a sound one
        ((67.0, 57.0), (60.0, 57.0), True),
        ((5.0, math.nan), (5.0, 5.0), True),
        ((math.nan, math.nan), (math.nan, math.nan), False),
    ],
)
def test_what_comes_of_a_change(before: tuple[float, float], meanwhile: tuple[float, float], changed: bool) -> None:
    """What a swap, a pinch or a bridge tells is the difference it makes (common practice, no source)."""
    twin, one = (shown(faulty, sound) for sound, faulty in (before, meanwhile))
    assert is_changed(one, twin) is changed


def test_what_is_changed_meanwhile_shares_a_line_where_it_changes_nothing() -> None:
    conditions = [Condition(state="key_on", during=f"unplug_in_turn:{part}") for part in ("map", "pedal", "crank")]
    rows = [
        Shown("t", "Test", "reference_volts", Place.of(node="ref_a"), when, "V", 5.0, 0.03, volts)
        for when, volts in zip(conditions, (0.1, 5.0, 0.1), strict=True)
    ]
    lines = lines_of(FOUR, rows, faulty=True)
    assert [line[0] for line in lines] == [
        "5 V supply A (key on, map or crank unplugged)",
        "5 V supply A (key on, pedal unplugged)",
    ]


def test_a_large_spread_is_taken_off_whole() -> None:
    (line,) = lines_of(
        FOUR, [Shown("t", "T", "insulation_ohm", Place.of(node="map"), Condition(), "ohm", 1e7, 8062258.0, 1.0)],
        faulty=True,
    )  # fmt: skip
    assert line[2].replace("\N{NO-BREAK SPACE}", " ") == "1 Ω"


def test_nothing_is_lost_in_putting_together() -> None:
    rows = [shown(float(k % 2), cylinder=k) for k in (1, 2, 3, 4)]
    assert len(lines_of(FOUR, rows, faulty=True)) == 2
