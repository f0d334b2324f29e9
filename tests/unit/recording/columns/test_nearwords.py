"""Misspelt words within a run of letters, against the recurrence of Damerau and Levenshtein written out plainly.

The distance is that of optimal string alignment: G. Navarro, A guided tour to approximate string matching, ACM
Computing Surveys 33 (2001), section 2 (from memory).
"""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.recording.columns.nearwords import NearWords

WORDS = ["load", "speed", "coolant", "pressure", "temperature", "lufttemperatur"]
FINDER = NearWords(WORDS, "?")


def distance(a: str, b: str) -> int:
    rows = [[i + j if i * j == 0 else 0 for j in range(len(b) + 1)] for i in range(len(a) + 1)]
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            wrong = a[i - 1] != b[j - 1] and a[i - 1] != "?"
            rows[i][j] = min(rows[i - 1][j] + 1, rows[i][j - 1] + 1, rows[i - 1][j - 1] + wrong)
            if i > 1 and j > 1 and a[i - 2 : i] == b[j - 1] + b[j - 2]:
                rows[i][j] = min(rows[i][j], rows[i - 2][j - 2] + 1)
    return rows[-1][-1]


@st.composite
def misspelt(draw: st.DrawFn) -> str:
    letters = list(draw(st.sampled_from(WORDS)))
    for _ in range(draw(st.integers(1, 2))):
        k = draw(st.integers(0, len(letters) - 1))
        letters[k : k + 1] = draw(st.sampled_from([[], [letters[k]] * 2, ["x"], ["?"], letters[k : k + 2][::-1]]))
        letters = letters or ["x"]
    return "".join(letters) + draw(st.sampled_from(["", "x", "temp"]))


@given(misspelt())
def test_every_place_is_as_far_off_as_the_plain_recurrence_says(token: str) -> None:
    for start, end, word, edits in FINDER.places(token):
        assert edits == distance(token[start:end], word)


@given(misspelt())
def test_no_whole_word_with_one_letter_wrong_is_missed(token: str) -> None:
    found = {word for start, end, word, _ in FINDER.places(token) if (start, end) == (0, len(token))}
    assert found >= {word for word in WORDS if distance(token, word) == 1}


def test_words_as_they_are_spelt() -> None:
    assert FINDER.places("coolnat") == [(0, 7, "coolant", 1)]
    assert (3, 10, "pressure", 1) in FINDER.places("oilpresure")
