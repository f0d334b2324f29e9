"""Proposals for whole logs of an invented engine: names, units, relations, questions. All data is made here."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.errors import InputError
from witnessmark.recording.columns import Answer, answer_of, propose
from witnessmark.recording.columns.relations import rank_correlation
from witnessmark.recording.logtable import log_recording, log_table
from witnessmark.recording.parameters import Signal

ROWS = 120
_T = np.arange(ROWS) * 0.5
_RPM = np.where(_T < 20, 760.0, 1500.0 + 900.0 * np.sin(_T / 7.0)) + 9.0 * np.sin(_T * 3.0)
_MAP = np.where(_T < 20, 33.0, 55.0 + 22.0 * np.sin(_T / 5.0)) + np.sin(_T * 2.0)
_MAF = 1.7 * _RPM / 120.0 * _MAP / (0.28705 * 305.0)
ENGINE = {
    "time": _T,
    "engine_speed": _RPM,
    "map": _MAP,
    "maf": _MAF,
    "load": 0.85 * _MAP,
    "throttle": 14.0 + 0.3 * _MAP,
    "coolant": np.floor(84.0 + _T / 12.0),
    "short_trim": 2.5 * np.sin(_T * 1.7),
    "volts": 14.1 + 0.05 * np.sin(_T),
    "vehicle_speed": np.where(_T < 20, 0.0, _RPM * 0.027),
}


def table(**headings):
    """A log with these columns: heading, and what of the engine stands in it (a name or numbers)."""
    names = [heading for heading, _ in headings.values()]
    columns = [ENGINE[what] if isinstance(what, str) else np.asarray(what) for _, what in headings.values()]
    rows = [";".join(f"{value:.4g}" for value in row) for row in zip(*columns, strict=True)]
    return log_table(("\n".join([";".join(names), *rows]) + "\n").encode(), "shop.csv")


PLAIN = {
    "a": ("Time [s]", "time"),
    "b": ("Engine speed [rpm]", "engine_speed"),
    "c": ("Manifold pressure [kPa]", "map"),
    "d": ("Air flow [g/s]", "maf"),
    "e": ("Engine load [%]", "load"),
    "f": ("Throttle position [%]", "throttle"),
    "g": ("Coolant temperature [°C]", "coolant"),
    "h": ("Short term fuel trim bank 1 [%]", "short_trim"),
    "i": ("Battery voltage [V]", "volts"),
    "j": ("Vehicle speed [km/h]", "vehicle_speed"),
}
EXPECTED = [
    "time",
    "engine_speed",
    "map",
    "maf",
    "load",
    "throttle",
    "coolant",
    "short_trim bank=1",
    "volts",
    "vehicle_speed",
]


def said(proposal):
    return [str(column.signal) for column in proposal.columns]


def test_plain_headings():
    proposal = propose(table(**PLAIN))
    assert said(proposal) == EXPECTED
    assert not proposal.questions
    assert all(column.probability > 0.9 for column in proposal.columns)


def test_headings_that_say_little_are_read_from_numbers():
    proposal = propose(table(**PLAIN | {"c": ("P", "map"), "b": ("N", "engine_speed")}))
    assert said(proposal)[1:3] == ["engine_speed", "map"]


def test_unknown_words_are_nothing_or_asked_about():
    proposal = propose(table(**PLAIN | {"k": ("Qwrtz", np.sin(_T * 5.0) * 7.0)}))
    column = proposal.columns[-1]
    assert column.signal == Signal("nothing") or column.question is not None


@pytest.mark.parametrize(
    ("key", "heading", "values", "written"),
    [
        ("g", "Coolant temperature", ENGINE["coolant"] * 1.8 + 32.0, "F"),
        ("c", "Manifold pressure", ENGINE["map"] * 10.0, "mbar"),
        ("j", "Vehicle speed [mph]", ENGINE["vehicle_speed"] / 1.609344, "mph"),
        ("d", "Air flow [kg/h]", ENGINE["maf"] * 3.6, "kg/h"),
    ],
)
def test_units_said_or_found(key, heading, values, written):
    proposal = propose(table(**PLAIN | {key: (heading, values)}))
    column = proposal.columns["abcdefghij".index(key)]
    assert str(column.signal) == EXPECTED["abcdefghij".index(key)]
    assert column.reading.written == written
    assert column.question is None


@pytest.mark.parametrize(
    ("key", "heading", "values", "about"),
    [
        ("c", "Manifold pressure [kPa]", ENGINE["map"] - 100.0, "do not fit"),
        ("c", "Manifold pressure [kPa]", 100.0 - ENGINE["map"], "falls as load grows"),
        ("d", "Air flow [kg/h]", ENGINE["maf"], "litres"),
        ("i", "Battery voltage [mV]", ENGINE["volts"], "do not fit"),
        ("e", "Engine load [%]", ENGINE["load"] * 2.2, "load"),
        ("f", "Ignition timing [%]", np.rint((ENGINE["load"] / 4.0 + 64.0) * 2.0) / 2.55, "do not fit"),
    ],
)
def test_lies_are_asked_about(key, heading, values, about):
    proposal = propose(table(**PLAIN | {key: (heading, values)}))
    question = proposal.columns["abcdefghij".index(key)].question
    assert question is not None
    assert about in question.reason
    assert question.changes


def test_a_byte_shown_as_a_share_of_255_is_scaled_back():
    # 57.6 % of 255 is byte 147, which is 9.5 degrees (SAE J1979: A/2 - 64).
    advance = np.rint((ENGINE["load"] / 4.0 + 64.0) * 2.0) / 2.0 - 64.0
    proposal = propose(table(**PLAIN | {"f": ("Ignition timing [%]", np.round((advance + 64.0) * 2.0 / 2.55, 1))}))
    column = proposal.columns[5]
    assert column.signal == Signal("timing")
    assert 57.6 * column.reading.factor + column.reading.shift == pytest.approx(9.5, abs=0.1)


def test_one_signal_is_not_given_twice():
    proposal = propose(table(**PLAIN | {"k": ("Engine speed sensor", ENGINE["engine_speed"] * 0.97 + 11.0)}))
    sure = [str(c.signal) for c in proposal.columns if c.question is None and c.signal.id != "nothing"]
    assert len(sure) == len(set(sure))


def test_the_same_heading_twice_may_be_the_same():
    proposal = propose(table(**PLAIN | {"k": ("Vehicle speed [km/h]", "vehicle_speed")}))
    assert said(proposal)[-1] == "vehicle_speed"


def test_an_empty_column_is_never_asked_about():
    proposal = propose(log_table(b"Time [s];RPM;Flurbel\n0;800;\n1;810;\n2;790;\n", "a.csv"))
    assert proposal.columns[2].empty
    assert proposal.columns[2].question is None


def test_answers_stand_over_everything():
    log = table(**PLAIN | {"c": ("Manifold pressure [kPa]", 100.0 - ENGINE["map"])})
    proposal = propose(log, answers={2: answer_of("map unit=kPa scale=-1 offset=100")})
    assert not proposal.questions
    recording = log_recording(log, proposal.uses)
    assert recording.with_role("map")[0].values == pytest.approx(ENGINE["map"], abs=0.01)


def test_answers_that_make_no_sense():
    with pytest.raises(InputError, match="column 99"):
        propose(table(**PLAIN), answers={99: answer_of("map")})
    with pytest.raises(InputError, match="number"):
        answer_of("map scale=two")
    with pytest.raises(InputError):
        answer_of("map unit=C")
    with pytest.raises(InputError, match="other than 0"):
        Answer(Signal("map"), scale=0.0)


def test_an_answer_is_its_text():
    answer = Answer(Signal("short_trim", bank=2), unit="%", scale=2.0, offset=-1.0)
    assert answer_of(str(answer)) == answer


@given(st.sampled_from(sorted(PLAIN)), st.integers(0, 200), st.sampled_from(["drop", "double", "swap", "wrong"]))
@settings(max_examples=25)
def test_a_misspelt_heading_maps_the_same_or_asks(key, where, how):
    heading, what = PLAIN[key]
    name, unit = heading.split(" [")
    letters = [i for i in range(1, len(name) - 1) if name[i].isalpha() and name[i + 1].isalpha()]
    i = letters[where % len(letters)]
    spoilt = {
        "drop": name[:i] + name[i + 1 :],
        "double": name[:i] + name[i] + name[i:],
        "swap": name[:i] + name[i + 1] + name[i] + name[i + 2 :],
        "wrong": name[:i] + "x" + name[i + 1 :],
    }[how]
    k = "abcdefghij".index(key)
    column = propose(table(**PLAIN | {key: (f"{spoilt} [{unit}", what)})).columns[k]
    assert str(column.signal) == EXPECTED[k] or column.question is not None


def test_rank_correlation():
    # Ranks of (1, 2, 3, ...) against their squares are the same, and reversed ones are opposite, by definition.
    rising = np.arange(50.0)
    assert rank_correlation(rising, rising**2) == pytest.approx(1.0)
    assert rank_correlation(rising, -(rising**3)) == pytest.approx(-1.0)
    assert rank_correlation(rising, np.ones(50)) is None
    assert rank_correlation(rising[:10], rising[:10]) is None
