"""What is remembered of a log's columns: kept, found again, denied by numbers, read from a file that was edited."""

from __future__ import annotations

import tomllib

import pytest
import tomlkit

from tests.unit.recording.columns.test_propose import ENGINE, PLAIN, table
from witnessmark.errors import FormatError, InputError
from witnessmark.recording.columns import (
    answer_of,
    fingerprint,
    mappings_from_tables,
    mappings_to_tables,
    propose,
    with_mapping,
)

VACUUM = PLAIN | {"c": ("Manifold pressure [kPa]", 100.0 - ENGINE["map"])}
ANSWER = {2: answer_of("map unit=kPa scale=-1 offset=100")}


def remembered(columns=VACUUM, answers=ANSWER):
    log = table(**columns)
    return with_mapping((), log, propose(log, answers=answers))


def test_a_remembered_answer_is_not_asked_again():
    proposal = propose(table(**VACUUM), remembered())
    assert not proposal.questions
    assert proposal.columns[2].told == "remembered"
    assert proposal.columns[2].reading.factor == -1.0


def test_what_is_asked_about_is_not_remembered():
    log = table(**VACUUM)
    (mapping,) = with_mapping((), log, propose(log))
    assert "map" not in {column.signal.id for column in mapping.columns}


def test_the_order_of_columns_does_not_matter():
    turned = dict(reversed(VACUUM.items()))
    assert fingerprint(table(**turned)) == fingerprint(table(**VACUUM))
    assert not propose(table(**turned), remembered()).questions


def test_a_header_that_gained_and_lost_columns_takes_what_it_shares():
    more = {key: value for key, value in VACUUM.items() if key != "i"} | {
        "k": ("Oil temperature [°C]", ENGINE["coolant"])
    }
    proposal = propose(table(**more), remembered())
    assert [c.told for c in proposal.columns].count("remembered") == len(VACUUM) - 1
    assert not proposal.questions


def test_a_strange_log_takes_nothing():
    log = table(a=("Time [s]", "time"), b=("Speed [km/h]", "vehicle_speed"), c=("Fuel level [%]", "throttle"))
    assert not any(column.told for column in propose(log, remembered()).columns)


def test_numbers_that_deny_the_memory_are_asked_about():
    changed = VACUUM | {"g": ("Coolant temperature [°C]", ENGINE["coolant"] * 1.8 + 132.0)}
    proposal = propose(table(**changed), remembered())
    assert [column.index for column in proposal.questions] == [6]
    assert "remembered" in proposal.questions[0].question.reason


def test_through_the_file_and_back():
    mappings = remembered()
    text = tomlkit.dumps(mappings_to_tables(mappings))
    assert mappings_from_tables(tomllib.loads(text), "columns.toml") == mappings


def test_an_older_mapping_of_the_same_header_is_replaced_and_its_answers_kept():
    mappings = remembered()
    log = table(**VACUUM)
    again = with_mapping(mappings, log, propose(log, mappings))
    assert again == mappings


@pytest.mark.parametrize(
    ("text", "about"),
    [
        ("schema = 9", "schema 1"),
        ("schema = 1\nlog = 3", "log"),
        ('schema = 1\n[[log]]\nfingerprint = "a"', "first_seen"),
        (
            'schema = 1\n[[log]]\nfingerprint = "a"\nfirst_seen = "b"\ndelimiter = ";"\ndecimal = "."\n[[log.column]]\n'
            'heading = "h"\nsignal = "engine_sped"\nwritten = ""\nunit = ""',
            "engine_speed",
        ),
        (
            'schema = 1\n[[log]]\nfingerprint = "a"\nfirst_seen = "b"\ndelimiter = ";"\ndecimal = "."\n[[log.column]]\n'
            'heading = "h"\nsignal = "map"\nwritten = ""\nunit = "C"',
            "log 1, column 1",
        ),
        (
            'schema = 1\n[[log]]\nfingerprint = "a"\nfirst_seen = "b"\ndelimiter = ";"\ndecimal = "."\n[[log.column]]\n'
            'heading = "h"\nsignal = "map"\nwritten = ""\nunit = "kPa"\nscale = "x"',
            "scale",
        ),
    ],
)
def test_an_edited_file_that_makes_no_sense_is_one_clear_line(text, about):
    with pytest.raises((FormatError, InputError), match=about):
        mappings_from_tables(tomllib.loads(text), "columns.toml")


def test_no_file():
    assert mappings_from_tables({}, "columns.toml") == ()
