"""The closed list of what a log can hold."""

import pytest

from witnessmark.errors import InputError
from witnessmark.recording.parameters import Signal, parameters, signal_of

KINDS = {"signal", "count", "state", "time", "text"}


def test_every_row_is_whole() -> None:
    for row in parameters().values():
        assert row.words
        assert row.kind in KINDS
        assert (row.kind == "text") == (row.unit == "text")
        if row.is_number:
            assert row.low is not None
            assert row.high is not None
            assert row.low < row.high


@pytest.mark.parametrize("text", ["engine_speed", "short_trim bank=2", "o2_voltage bank=1 sensor=2", "pedal track=2"])
def test_text_and_back(text: str) -> None:
    assert str(signal_of(text)) == text


def test_words_say_which_one() -> None:
    assert Signal("cam_actual", bank=1, cam="intake").words == "cam position reported, bank 1, cam intake"


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("short_trim", "does not say which one"),
        ("maf bank=1", "has no bank"),
        ("engine_sped", "engine_speed"),
        ("", "No parameter"),
        ("lambda bank=x sensor=1", "whole number"),
        ("lambda bank=0 sensor=1", "1 to 16"),
        ("cam_actual bank=1 cam=left", "cam"),
        ("short_trim one", "key=value"),
        ("short_trim lane=1", "key"),
    ],
)
def test_one_clear_line(text: str, line: str) -> None:
    with pytest.raises(InputError, match=line):
        signal_of(text)
