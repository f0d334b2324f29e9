"""Numbers, odds and decibans as people read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.report.words import (
    NBSP,
    angle,
    apportion,
    chance,
    deciban_words,
    estimate,
    inside,
    minutes,
    number,
    odds,
    places_for,
    sentence,
)


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


@pytest.mark.parametrize(
    ("value", "sd", "unit", "said"),
    [
        (-11.0, 1.0, "deg", "−11° ± 1"),
        (-11.08, 0.21, "deg", "−11.1° ± 0.2"),
        (10.62, 0.1, "V", "10.6 V ± 0.1"),
        (0.02, 0.3, "deg", "0.0° ± 0.3"),
        (-0.02, 0.3, "deg", "0.0° ± 0.3"),
        (1.0, 0.0, "pin", "1 pin"),
        (14.0, 0.0, "pin", "14 pins"),
        (12345.0, 120.0, "rpm", "12 345 rpm ± 120"),
        (0.123, 0.05, "", "0.12 ± 0.05"),
    ],
)
def test_a_value_is_said_to_the_figure_its_spread_is_worth(value: float, sd: float, unit: str, said: str) -> None:
    assert plain(estimate(value, sd, unit)) == said


@pytest.mark.parametrize(
    ("value", "sd", "said"),
    [(11.1, 0.2, "11.1° ± 0.2° early"), (-4.7, 0.0, "4.7° late"), (0.0, 0.0, "in its place")],
)
def test_angles_say_early_and_late(value: float, sd: float, said: str) -> None:
    assert plain(angle(value, sd)) == said


def test_a_mark_stands_ahead_or_behind() -> None:
    assert plain(angle(-9.0, ahead=True)) == "9° behind"


def test_a_chance_is_never_nothing_and_never_all() -> None:
    assert [plain(chance(p)) for p in (0.0, 0.009, 0.0096, 0.5, 0.985, 0.9951, 1.0)] == [
        "< 1 %",
        "< 1 %",
        "1 %",
        "50 %",
        "98 %",
        "> 99 %",
        "> 99 %",
    ]


# Odds of decibans by their definition: 10 log10 of the ratio (I. J. Good, Probability and the Weighing
# of Evidence, 1950; from memory).
@pytest.mark.parametrize(
    ("ratio", "said"), [(2, "2 to 1"), (6, "6 to 1"), (18, "18 to 1"), (180, "180 to 1"), (1, "about even")]
)
def test_odds_of_decibans(ratio: float, said: str) -> None:
    assert odds(10 * math.log10(ratio)) == said
    assert odds(-10 * math.log10(ratio)) == (said if ratio == 1 else f"1 to {ratio:g}")


# The table of words stands in the design sheet, with its borders at 3, 8 and 15.
@pytest.mark.parametrize(
    ("value", "said"),
    [
        (2.9, "a hint"),
        (-2.9, "a hint"),
        (3.0, "speaks for it"),
        (-7.9, "speaks against it"),
        (8.0, "speaks strongly for it"),
        (-14.9, "speaks strongly against it"),
        (15.1, "all but rules it in"),
        (-19.4, "all but rules it out"),
    ],
)
def test_decibans_in_words(value: float, said: str) -> None:
    assert deciban_words(value) == said


@given(st.lists(st.floats(-60, 60), min_size=1, max_size=12))
def test_printed_parts_add_up_to_the_printed_sum(parts: list[float]) -> None:
    total = math.fsum(parts)
    printed = apportion(parts, total)
    assert round(10 * math.fsum(printed)) == round(10 * total)
    assert all(abs(a - b) <= 0.1 + 1e-9 for a, b in zip(printed, parts, strict=True))


@given(st.floats(-1e6, 1e6), st.floats(1e-4, 1e4))
def test_a_printed_number_lies_within_its_spread(value: float, sd: float) -> None:
    said = number(value, places_for(sd, value)).replace(NBSP, "").replace("−", "-")
    assert abs(float(said) - value) <= 0.53 * sd + 1e-9


def test_words_inside_a_sentence_keep_names_that_begin_with_capitals() -> None:
    assert inside("TDC by pressure.") == "TDC by pressure"
    assert inside("P0016") == "P0016"
    assert inside("Take a trace.") == "take a trace"


def test_a_sentence_ends_once() -> None:
    assert sentence("nothing was recorded") == "Nothing was recorded."
    assert sentence("Nothing was recorded.") == "Nothing was recorded."
    assert sentence("") == ""


def test_minutes_say_their_spread() -> None:
    assert minutes((18.0, 25.0, 40.0)) == "25, likely 18 to 40"
    assert minutes((8.0, 8.0, 8.0)) == "8"
