"""Tests that can be done on an engine, and the form of codes."""

from __future__ import annotations

import re
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.catalogue.codes import codes, parse_code
from witnessmark.catalogue.procedures import procedures
from witnessmark.engine.library import find_engine, known_engines
from witnessmark.errors import InputError
from witnessmark.predict import DriveModel, misplaced, why_not
from witnessmark.vocabulary import quantities

ENGINES = [known.name for known in known_engines()]
ALL = {procedure.id: procedure for procedure in procedures().all}
each = pytest.mark.parametrize("test", sorted(ALL))


@each
def test_yields_only_quantities_of_the_closed_list(test):
    for row in ALL[test].yields:
        assert row["quantity"] in quantities()


@each
def test_covers_hazards_and_minutes_exist(test):
    procedure = ALL[test]
    assert procedure.minutes > 0.0
    assert procedure.cover is None or procedure.cover in procedures().covers
    assert all(text.endswith(".") and len(text) > 20 for text in procedure.hazards)
    if (
        procedure.cover is not None
    ):  # something comes off a running engine's front or its plugs: never without a caution
        assert procedure.hazards


def test_the_last_word_is_the_makers():
    assert "maker" in procedures().last_hazard
    assert "local rules" in procedures().last_hazard


@pytest.mark.parametrize("engine", ENGINES)
@each
def test_what_it_yields_is_at_places_of_the_engine(test, engine):
    found = find_engine(engine)
    model = DriveModel.of(found)
    for query in ALL[test].queries(found):
        assert misplaced(model, query) is None, query
        if query.quantity != "code_state":
            # Nothing else may stand in the way on a fully described engine than a count that is not described.
            assert why_not(model, query) in (None, "the description does not say how many pins belong there")


@pytest.mark.parametrize(
    ("test", "engine", "applies"),
    [
        ("command_phaser", "made-up four", True),
        ("command_phaser", "made-up six with one cam", False),
        ("swap_oil_valve", "made-up four", True),
        ("swap_oil_valve", "made-up v8 with pushrods", False),  # one phaser has no partner
        ("learnt_read", "made-up six with one cam", False),  # learns nothing
    ],
)
def test_where_a_test_applies(test, engine, applies):
    assert bool(ALL[test].queries(find_engine(engine))) is applies


# ---------------------------------------------------------------- codes: form by SAE J2012 / ISO 15031-6


@pytest.mark.parametrize("text", ["P0016", "p0016", " P0016 ", "P000A", "p000a", "U0100", "B1234", "C3FFF"])
def test_codes_as_the_standard_writes_them(text):
    assert parse_code(text) == text.strip().upper()


@pytest.mark.parametrize("text", ["", "P016", "P00160", "P4016", "X0016", "0016", "P0O16", "P00G6", "P 0016"])
def test_what_is_no_code(text):
    with pytest.raises(InputError) as caught:
        parse_code(text)
    assert "is not a code" in caught.value.message
    assert "\n" not in str(caught.value)


@given(st.text(max_size=7))
def test_any_text_is_a_code_or_refused(text):
    with suppress(InputError):
        assert re.fullmatch(r"[PCBU][0-3][0-9A-F]{3}", parse_code(text))


def test_a_near_miss_names_the_nearest():
    with pytest.raises(InputError) as caught:
        parse_code("P00166")
    assert "P0016" in str(caught.value.todo)


def test_known_codes_are_codes():
    for name, code in codes().items():
        assert parse_code(name) == name == code.id
        if code.of in ("cam", "mixture", "catalyst", "oil_valve", "o2_sensor", "o2_heater"):
            assert code.bank is not None
        if code.of in ("cylinder", "injector", "coil", "knocking"):
            assert code.cylinder is not None
        assert code.words


def test_pairs_of_banks_mean_the_same():
    """Published list: P0016 to P0019 are A and B of bank 1, A and B of bank 2."""
    said = [(codes()[n].bank, codes()[n].side) for n in ("P0016", "P0017", "P0018", "P0019")]
    assert said == [(1, "A"), (1, "B"), (2, "A"), (2, "B")]
