"""Vehicle identification numbers: taken apart; a check digit warns and never rejects."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode.vin import check_digit, decode_vin, model_years
from witnessmark.errors import DecodeError

ALPHABET = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
EXAMPLE = "1M8GDM9AXKP042788"  # a widely published worked example (handbook §7)


def test_taken_apart() -> None:
    vin = decode_vin(" 1m8gdm9axkp042788 ")
    assert (vin.number, vin.wmi, vin.vds, vin.vis) == (EXAMPLE, "1M8", "GDM9AX", "KP042788")
    assert (vin.region, vin.years, vin.warnings) == ("North America", (1989,), ())


@given(st.text(ALPHABET, min_size=17, max_size=17))
def test_any_number_of_the_right_signs_is_taken(number: str) -> None:
    vin = decode_vin(number)
    fits = check_digit(number) == number[8]
    assert any("check digit" in w for w in vin.warnings) != fits
    assert bool(vin.years) != any("model year" in w for w in vin.warnings)
    assert number not in repr(vin)


@given(st.text(ALPHABET, min_size=17, max_size=17), st.integers(0, 16), st.sampled_from(ALPHABET))
def test_a_misread_sign_warns(number: str, at: int, sign: str) -> None:
    """Values of handbook §7; all weights but the digit's own differ from 0 modulo 11, so another value shows."""
    values = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", map(int, "12345678123457923456789"), strict=True))
    values |= {str(n): n for n in range(10)}
    right = number[:8] + check_digit(number) + number[9:]
    wrong = right[:at] + sign + right[at + 1 :]
    differs = sign != right[8] if at == 8 else values[sign] != values[right[at]]
    assert any("check digit" in w for w in decode_vin(wrong).warnings) == differs


@pytest.mark.parametrize("sign", "IOQioq?Ä\0")
def test_signs_that_no_number_has(sign: str) -> None:
    with pytest.raises(DecodeError) as caught:
        decode_vin(EXAMPLE[:5] + sign + EXAMPLE[6:])
    assert EXAMPLE[9:] not in str(caught.value)
    assert "\n" not in str(caught.value)


def test_other_lengths() -> None:
    for text in ("", EXAMPLE[:-1], EXAMPLE + "1"):
        with pytest.raises(DecodeError, match="17 were expected"):
            decode_vin(text)


def test_every_year_once() -> None:
    """30 signs, from 1980 (49 CFR 565.15); a letter in position 7 means 2010 and later."""
    signs = "ABCDEFGHJKLMNPRSTVWXY123456789"
    assert [model_years(sign, "1") for sign in signs] == [(year,) for year in range(1980, 2010)]
    assert [model_years(sign, "K") for sign in signs] == [(year,) for year in range(2010, 2040)]
    assert all(model_years(sign, "1") == () for sign in "IOQUZ0")


REGIONS = {"AH": "Africa", "JR": "Asia", "SWZ": "Europe", "15": "North America", "67": "Oceania", "89": "South America"}


@pytest.mark.parametrize(("signs", "region"), [*REGIONS.items(), ("0", "not given to a region")])
def test_regions(signs: str, region: str) -> None:
    """ISO 3780, from memory."""
    assert {decode_vin(sign + EXAMPLE[1:]).region for sign in signs} == {region}
