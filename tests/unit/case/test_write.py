"""A case written from what was typed says the same when it is read."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.case.history import said_history
from witnessmark.case.record import read_record
from witnessmark.case.typed import parse_reading
from witnessmark.case.write import Typed, case_text
from witnessmark.engine.types import Engine

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=40)
LINES = (
    "cam_deviation bank=1 cam=intake −10,8° ±0,5",
    "look part=cam_sensor oily",
    "engine_speed  780 rpm",
)


@given(TEXT, TEXT, TEXT)
def test_whatever_is_written_into_it_comes_back(title: str, complaint: str, vehicle: str) -> None:
    said = tomllib.loads(case_text(Typed(cylinders=4), title=title, complaint=complaint, vehicle=vehicle))
    assert (said["title"], said["complaint"], said["vehicle"]) == (title, complaint, vehicle)


@given(st.lists(TEXT, max_size=4))
def test_lines_stand_as_they_were_typed(lines: list[str]) -> None:
    said = tomllib.loads(case_text(Typed(saw=tuple(lines), did=tuple(lines), cylinders=4)))
    assert said["saw"] == said["did"] == lines


def test_the_record_is_the_same_as_what_was_typed() -> None:
    typed = Typed(
        saw=LINES,
        codes=("p0016",),
        known=("metering=air_meter km=187400",),
        did=("fitted part=cam_sensor cam=intake cured=no",),
        when=("cold load",),
        cylinders=4,
        complaint_seen=True,
    )
    record = read_record(case_text(typed))
    assert [(f.quantity, f.value, f.sd) for f in record.findings[1:]] == [
        (f.quantity, f.value, f.sd) for f in map(parse_reading, LINES)
    ]
    said = said_history(known=typed.known, did=typed.did, when=typed.when, complaint_seen=True)
    assert record.history == said
    assert record.engine.cylinders == 4


def test_an_engine_by_name() -> None:
    record = read_record(case_text(Typed(engine='own "odd" name')), named=lambda name: Engine(name, 4))
    assert record.engine.name == 'own "odd" name'
    assert record.history.complaint_seen is None
