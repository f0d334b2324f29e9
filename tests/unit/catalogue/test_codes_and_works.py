"""Codes as the standard writes them (SAE J2012 / ISO 15031-6: a letter, a digit 0 to 3, three hexadecimal digits)."""

from __future__ import annotations

import pytest

from witnessmark.catalogue.codes import codes, parse_code
from witnessmark.catalogue.works import job, jobs
from witnessmark.errors import InputError


@pytest.mark.parametrize(
    ("typed", "code"), [("P0016", "P0016"), (" p0017 ", "P0017"), ("u0100", "U0100"), ("p000a", "P000A")]
)
def test_codes_as_typed(typed, code):
    assert parse_code(typed) == code


@pytest.mark.parametrize("typed", ["P016", "P00166", "X0016", "P4016", "16", ""])
def test_no_codes(typed):
    with pytest.raises(InputError) as error:
        parse_code(typed)
    assert "\n" not in str(error.value)


def test_the_nearest_code_is_named():
    with pytest.raises(InputError, match=r"P001[0-9A-F]"):
        parse_code("P016")


def test_correlation_codes_speak_of_one_cam_each():
    """P0016 to P0019: crank against cam A and B of banks 1 and 2 (read in a public list of the standard's codes)."""
    said = {
        name: (codes()[name].bank, codes()[name].side, codes()[name].kind)
        for name in ("P0016", "P0017", "P0018", "P0019")
    }
    assert said == {
        "P0016": (1, "A", "correlation"),
        "P0017": (1, "B", "correlation"),
        "P0018": (2, "A", "correlation"),
        "P0019": (2, "B", "correlation"),
    }


def test_every_code_is_one_of_the_standard():
    for name in codes():
        assert parse_code(name) == name


def test_work_near_the_crank_and_at_the_cams():
    assert "crank_front" in job("crank_seal").near
    assert "cam_end" not in job("crank_seal").near
    assert {"crank_front", "cam_end", "chain"} <= job("timing_chain").near
    assert job("spark_plugs").near == {"plugs"}


def test_an_unknown_part_names_the_nearest():
    with pytest.raises(InputError, match="crank_seal"):
        job("crank_seel")
    assert all(one.words for one in jobs().values())
