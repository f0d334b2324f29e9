"""A shop's own file of identifiers: what it says is used, what it does not say is never guessed."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode.identifiers import STANDARD, Identifiers, read_identifiers
from witnessmark.decode.reading import Reading, Unread
from witnessmark.decode.uds import decode_identified
from witnessmark.errors import FormatError, InputError

# Made up: no vehicle has it.
OWN = """
[[identifier]]
identifier = 0x4711
name = "cam position, intake, bank 1"
bytes = 2
scale = 0.1
offset = -100.0
signed = true
unit = "deg"
role = "cam_actual bank=1 cam=intake"

[[identifier]]
identifier = 0x4711
name = "oil, warmth"
at = 2
unit = "F"
role = "oil_temperature"

[[identifier]]
identifier = 0x4712
name = "counter of something"
length = 3
"""


def own(tmp_path: Path, text: str = OWN) -> Identifiers:
    path = tmp_path / "identifiers.toml"
    path.write_text(text, encoding="utf-8")
    return read_identifiers(path)


def test_rows_become_readings_in_the_parameters_unit(tmp_path: Path) -> None:
    known = own(tmp_path)
    cam, oil = known.read(0x4711, bytes.fromhex("03F2D4"))
    assert isinstance(cam, Reading)
    assert isinstance(oil, Reading)
    assert (cam.value, cam.unit, cam.role) == (pytest.approx(1.0), "deg", "cam_actual bank=1 cam=intake")
    assert (oil.value, oil.unit, oil.role) == (pytest.approx(100.0), "C", "oil_temperature")
    (counter,) = known.read(0x4712, bytes(3))
    assert isinstance(counter, Reading)
    assert (counter.words, counter.role, counter.value) == ("counter of something", None, 0.0)


def test_lengths_cut_an_answer_of_several(tmp_path: Path) -> None:
    known = own(tmp_path)
    assert [known.length_of(n) for n in (0x4711, 0x4712, 0xF190, 0xF40C, 0x9999)] == [3, 3, 17, 2, None]
    found = decode_identified(bytes.fromhex("4711 03F2D4 4712 010203 9999 AA".replace(" ", "")), known=known)
    assert [one.number for one in found if not isinstance(one, Unread)] == [0x4711, 0x4712, 0x9999]


def test_too_short_says_so_and_the_rest_is_read(tmp_path: Path) -> None:
    cam, oil = own(tmp_path).read(0x4711, b"\x03\xf2")
    assert isinstance(cam, Reading)
    assert isinstance(oil, Unread)


def test_nothing_is_shipped() -> None:
    """ISO 14229-1 keeps F180 to F19F for itself; no identifier outside it has a name here."""
    assert all(0xF180 <= number <= 0xF19F for number in STANDARD)
    (left,) = Identifiers().read(0x4711, b"\x01")
    assert isinstance(left, Unread)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "names no identifiers"),
        ("identifier = 3", "“identifier” is no list of rows"),
        ("[[identifiers]]\nidentifier = 1", "Nearest: identifier"),
        ("[[pair]]\nrequest = 0x6A1", "pair 1: response = None"),
        ("[[pair]]\nrequest = 0x6A1\nresponse = 0x6A1", "two different identifiers"),
        ("[[pair]]\nrequest = 0x6A1\nresponse = 0x6A9\naddress = true", "No key is called “address”"),
        ("[[pair]]\nrequest = 0x6A1\nresponse = 0x6A9\naddress_byte = 1", "true or false"),
        ("[[identifier]", "no TOML"),
        ('[[identifier]]\nname = "x"', "identifier 1: identifier = None"),
        ('[[identifier]]\nidentifier = 70000\nname = "x"', "65535"),
        ("[[identifier]]\nidentifier = 1", "has no name"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nbytes = 9', "bytes = 9"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nscale = 0', "factor other than 0"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nscale = "a"', "a number"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nsigned = 1', "true or false"),
        ("[[identifier]]\nidentifier = 1\nname = 7", "quotation marks"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nformula = "__import__"', "No key is called “formula”"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nrole = "engine_sped"', "engine_speed"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nrole = "coolant"\nunit = "kPa"', "pressure"),
        ('[[identifier]]\nidentifier = 1\nname = "x"\nrole = "fuel_type"', "holds words"),
    ],
)
def test_one_clear_line(text: str, line: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        own(tmp_path, text)
    assert line in str(caught.value)
    assert str(caught.value).startswith("identifiers.toml")
    assert "\n" not in str(caught.value)


def test_no_file_and_no_text(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_identifiers(tmp_path / "none.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FormatError):
        read_identifiers(tmp_path / "bytes.toml")


@given(st.integers(0, 0xFFFF), st.binary(max_size=40))
def test_any_bytes_are_read_or_kept(number: int, data: bytes) -> None:
    for one in Identifiers().read(number, data):
        assert isinstance(one, Reading) or one.reason
