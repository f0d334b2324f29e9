"""The small grammar: words, pairs and numbers as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.case.words import as_number, leading_number, plain_signs, split_line, yes_or_no
from witnessmark.errors import InputError


@pytest.mark.parametrize(
    ("text", "value", "resolution"),
    [
        ("-11", -11.0, 1.0),
        ("+12", 12.0, 1.0),
        ("-10.8", -10.8, 0.1),
        ("-10,8", -10.8, 0.1),
        ("0,125", 0.125, 0.001),
        (".5", 0.5, 0.1),
        ("12.", 12.0, 1.0),
        ("1e3", 1000.0, 1000.0),
        ("2.50e-2", 0.025, 0.0001),
        ("1.200", 1.2, 0.001),
    ],
)
def test_numbers_as_people_write_them(text: str, value: float, resolution: float) -> None:
    found = leading_number(text)
    assert found is not None
    number, rest = found
    assert number.value == pytest.approx(value)
    assert number.resolution == pytest.approx(resolution)
    assert rest == ""


@pytest.mark.parametrize("text", ["−11", "–11", "‒11", "‐11", "-11"])
def test_every_minus_sign_is_a_minus(text: str) -> None:
    assert as_number("x", text) == -11.0


@pytest.mark.parametrize("text", ["-11+-1", "-11 +/- 1", "-11 ±1", "-11+ -1", "−11 +- 1"])
def test_every_plus_minus_is_one(text: str) -> None:
    left, sign, right = plain_signs(text).partition("±")
    assert (left.strip(), sign, right.strip()) == ("-11", "±", "1")


@pytest.mark.parametrize(("text", "said"), [("1,200", "1200 or 1.200"), ("-11,125", "-11125 or -11.125")])
def test_what_could_be_two_numbers_is_asked_back(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        leading_number(text)


@pytest.mark.parametrize("text", ["1.2.3", "1,234.5", "12,345,678", "1e999"])
def test_what_is_no_number_on_a_second_look_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="number"):
        leading_number(text)


@pytest.mark.parametrize("text", ["", "deg", "-", "nan", "inf", "+"])
def test_words_are_no_numbers(text: str) -> None:
    assert leading_number(text) is None


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_float_comes_back(value: float) -> None:
    found = leading_number(repr(value))
    assert found is not None
    assert found[0].value == value


def test_a_line_is_taken_apart() -> None:
    said = split_line("Cam-Deviation  bank=1 CAM = intake\u00a0−10,8° ±0,5")
    assert said.head == "cam_deviation"
    assert said.pairs == (("bank", "1"), ("cam", "intake"))
    assert said.rest == "-10,8° ±0,5"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("  ", "Nothing is written here"),
        ("x cam=", "“cam=” is half a pair"),
        ("x =intake", "x=intake"),
        ("x cam=intake cam=exhaust", "cam= stands twice: intake and exhaust"),
    ],
)
def test_lines_that_cannot_be_taken_apart(line: str, said: str) -> None:
    if said == "x=intake":  # a space before the equals sign is forgiven
        assert split_line(line).pairs == (("x", "intake"),)
        return
    with pytest.raises(InputError, match=said):
        split_line(line)


def test_answers() -> None:
    assert yes_or_no("cured", "Yes") is True
    assert yes_or_no("cured", "not_set") is False
    with pytest.raises(InputError, match=r"cured=perhaps: yes or no\?"):
        yes_or_no("cured", "perhaps")


@given(st.text(max_size=60))
def test_no_line_ends_the_program(text: str) -> None:
    try:
        said = split_line(text)
    except InputError as error:
        refusal = str(error)
    else:
        refusal = ""
        assert said.text == text
    assert "\n" not in refusal
