"""Every spelling of a number, and every way to spell it wrong."""

from __future__ import annotations

import math

import pytest

from witnessmark.engine import written
from witnessmark.engine.number import Number
from witnessmark.engine.written import INHERITED, parse_number, parse_source
from witnessmark.errors import EngineDefinitionError
from witnessmark.source import Source


@pytest.mark.parametrize(
    ("text", "number"),
    [
        (20, Number.exactly(20, INHERITED)),
        (20.0, Number.exactly(20, INHERITED)),
        ({"value": 20}, Number.exactly(20, INHERITED)),
        ({"value": 20, "source": "counted"}, Number.exactly(20, Source("counted"))),
        (
            {"value": 20, "source": "counted", "note": "cover off"},
            Number.exactly(20, Source("counted", "cover off")),
        ),
        ({"between": [18, 24]}, Number.between(18, 24, INHERITED)),
        ({"among": [20, 21]}, Number.among([20, 21], (), INHERITED)),
        ({"among": [20, 21], "odds": [3, 1]}, Number.among([20, 21], [3, 1], INHERITED)),
        ({"among": [20]}, Number.exactly(20, INHERITED)),
    ],
)
def test_spellings(text: object, number: Number) -> None:
    assert parse_number(written.TEETH, text) == number


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("counted", Source("counted")),
        ("Counted", Source("counted")),
        ("maker's data, sheet 4", Source("maker", "maker's data, sheet 4")),
        ("measured with a rule", Source("measured", "measured with a rule")),
        ("guess: by its look", Source("guess", "by its look")),
        ("invented for the demonstration", Source("invented", "invented for the demonstration")),
        ("the previous owner", Source("stated", "the previous owner")),
        ("unstated", Source("unstated")),
        ("", INHERITED),
    ],
)
def test_sources(text: str, source: Source) -> None:
    assert parse_source(text) == source


def test_a_note_alone_is_a_source() -> None:
    assert parse_source(None, "asked the shop") == Source("stated", "asked the shop")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("20", "'20' is not a number. Expected a tooth count, 6 to 400, whole"),
        (True, "true is not a number"),
        (None, "None is not a number"),
        ([20], r"\[20\] is not a number"),
        (-20, "-20 cannot be. Expected a tooth count"),
        (5, "5 cannot be"),
        (20.5, "20.5 is not a whole number"),
        (math.nan, "nan cannot be"),
        (math.inf, "inf cannot be"),
        ({}, "the table says no number. Expected one of value, between, among"),
        ({"value": 20, "between": [18, 24]}, "says value and between"),
        ({"vlaue": 20}, "No key is called “vlaue”. Nearest: value"),
        ({"between": [24, 18]}, "from 24 to 18 is upside down or empty. Expected the lower end first"),
        ({"between": [24, 24]}, "upside down or empty"),
        ({"between": [18]}, "between holds 1 numbers. Expected the lower and the upper end"),
        ({"between": 18}, "18 is not a list"),
        ({"between": [18, "24"]}, "'24' is not a number"),
        ({"among": []}, "a list of candidates is empty"),
        ({"among": [20, 21], "odds": [1]}, "2 candidates with 1 odds"),
        ({"among": [20, 21], "odds": [1, 0]}, "odds = .*a number above 0 for each"),
        ({"among": [20, 21], "odds": [1, math.inf]}, "odds = "),
        ({"among": [20, 21], "odds": "even"}, "odds = 'even'"),
        ({"value": 20, "odds": [1]}, "odds belong to among, not to value"),
        ({"value": 20, "source": 7}, "source = 7 is not text"),
        ({"value": 20, "note": ["a"]}, "note = .* is not text"),
    ],
)
def test_wrong_spellings_are_told_apart(given: object, says: str) -> None:
    with pytest.raises(EngineDefinitionError, match=says):
        parse_number(written.TEETH, given)


def test_signs_are_said_in_words_or_as_one() -> None:
    assert parse_number(written.SIGN, "advanced").exact == 1.0
    assert parse_number(written.SIGN, "Retarded").exact == -1.0
    assert parse_number(written.SIGN, {"among": ["advanced", "retarded"], "odds": [3, 1]}).values == (1.0, -1.0)
    for wrong in ("early", 0, 0.5):
        with pytest.raises(EngineDefinitionError, match=r"where \+ means advanced"):
            parse_number(written.SIGN, wrong)


def test_a_long_value_is_cut_in_messages() -> None:
    with pytest.raises(EngineDefinitionError) as caught:
        parse_number(written.TEETH, "x" * 500)
    assert len(str(caught.value)) < 200
