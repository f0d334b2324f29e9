"""How graded observations are said on the page."""

from __future__ import annotations

import pytest

from witnessmark.case.typed import parse_reading
from witnessmark.engine.library import find_engine
from witnessmark.report.naming import quantity_words, reading, value_words
from witnessmark.vocabulary import Place


@pytest.mark.parametrize(
    ("line", "head", "value"),
    [
        ("look plug=3 sooty 2", "Plug of cylinder 3, sooty", "plainly"),
        ("look plug=3 oily 0", "Plug of cylinder 3, oily", "no"),
        ("look plug=3 clean", "Plug of cylinder 3, clean", "yes"),
        ("smell at=exhaust burnt oil 1", "Smell of burnt oil, exhaust", "slightly"),
        ("noise at=front_cover rattle 3", "Rattle, front cover", "grossly"),
    ],
)
def test_a_grade_in_words(line: str, head: str, value: str) -> None:
    found = parse_reading(line)
    assert quantity_words(find_engine("made-up four"), found.quantity, found.place) == head
    assert value_words(found) == value


def test_what_is_foreseen_lies_between_the_grades() -> None:
    assert "1.2" in reading("look", 1.2, 0.5, Place.of(plug="3", word="oily"))
