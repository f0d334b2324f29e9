"""What the owner agreed to, as typed and as kept."""

from __future__ import annotations

import pytest

from witnessmark.case.agreed import agreed_terms, parse_agreed
from witnessmark.case.record import read_record
from witnessmark.case.write import Typed, case_text
from witnessmark.errors import InputError


@pytest.mark.parametrize(
    "lines",
    [
        ("minutes=120 used_minutes=35 covers=plug_out per_hour=90",),
        ("minutes = 120", "used_minutes=35,0 covers = plug_out", "per_hour=90"),
    ],
)
def test_what_was_typed_is_what_the_case_keeps(lines: tuple[str, ...]) -> None:
    typed = parse_agreed(lines)
    assert typed.agreed.minutes == 85.0
    assert typed.agreed.covers == {"plug_out"}
    kept = read_record(case_text(Typed(cylinders=4, agreed=lines)))
    assert kept.terms == typed


def test_nothing_may_come_off_is_not_the_same_as_nothing_was_said() -> None:
    assert parse_agreed(["covers=none"]).agreed.covers == frozenset()
    assert parse_agreed([]).agreed.covers is None
    assert read_record(case_text(Typed(cylinders=4, agreed=("covers=none",)))).terms.agreed.covers == frozenset()


def test_tests_that_are_not_to_be_had_stay_with_the_case() -> None:
    lines = ("without=leak_down,smoke",)
    assert parse_agreed(lines).lacks == ("leak_down", "smoke")
    assert read_record(case_text(Typed(cylinders=4, agreed=lines))).terms.lacks == ("leak_down", "smoke")


def test_more_used_than_agreed_leaves_nothing() -> None:
    assert parse_agreed(["minutes=30 used_minutes=50"]).agreed.minutes == 0.0


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("minutes=soon", "minutes=soon"),
        ("minutes=-5", "-5"),
        ("minuts=5", "minuts"),
        ("covers=bonnet", "bonnet"),
        ("minutes=5 120", "120"),
        ("without=leek_down", "Nearest: leak_down"),
    ],
)
def test_what_is_no_agreement_is_refused(line: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        parse_agreed([line])


def test_parts_are_priced_by_repairs_of_the_catalogue() -> None:
    assert agreed_terms({}, parts={"chain_set:primary": 240.0}).parts == {"chain_set:primary": 240.0}
    with pytest.raises(InputError, match="chain_sett"):
        agreed_terms({}, parts={"chain_sett:primary": 240.0})
    with pytest.raises(InputError, match="-1"):
        agreed_terms({}, parts={"chain_set:primary": -1.0})
