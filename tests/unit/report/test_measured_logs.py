"""What logs gave to a case: by log and operating state, quiet values in a line, what is missing folded."""

from __future__ import annotations

from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, Provenance
from witnessmark.report.loggedtables import logged_tables
from witnessmark.vocabulary import Condition, Place

FOUR = Engine("a made-up four", 4)
ONE, TWO = Provenance("recording", digest="sha256:one"), Provenance("recording", digest="sha256:two")
NAMES = {"sha256:one": "monday.csv", "sha256:two": "tuesday.csv"}


def found(id: str, quantity: str, value: float, condition: Condition, source: Provenance, **place: str) -> Finding:
    return Finding(quantity, Place.of(**place), value, 0.5, condition=condition, source=source, id=id)


def test_each_log_by_operating_state() -> None:
    findings = [
        found("f1", "map_reported", 33.0, Condition("idle", speed_rpm=780.0), TWO),
        found("f2", "map_reported", 34.0, Condition("idle", speed_rpm=790.0, coolant_c=90.0), ONE),
        found("f3", "map_reported", 101.0, Condition("key_on"), ONE),
        found("f4", "temperature_reported", 90.0, Condition("idle", speed_rpm=801.0), ONE, sensor="ect"),
    ]
    tables = logged_tables(FOUR, findings, NAMES)
    said = [(t.log, t.head.replace("\N{NO-BREAK SPACE}", " "), [row.ids for row in t.rows]) for t in tables]
    assert said == [
        ("tuesday.csv", "Idle, 780 rpm", ["f1"]),
        ("monday.csv", "Key on", ["f3"]),
        ("monday.csv", "Idle, 790 rpm, 90 °C", ["f2", "f4"]),
    ]


def test_that_nothing_happened_is_one_line() -> None:
    quiet = [
        found(f"f{k}", "signal_frozen", 0.0, Condition(), ONE, node=s) for k, s in ((3, "ect"), (4, "iat"), (5, "map"))
    ]
    happened = found("f6", "signal_frozen", 1.0, Condition(), ONE, node="maf")
    (table,) = logged_tables(FOUR, [*quiet, happened], NAMES)
    assert [row.ids for row in table.rows] == ["f6"]
    assert table.quiet == "Nothing happened in three values (f3 to f5)."
    assert table.lines == 2


def test_frozen_values_stand_with_their_code() -> None:
    frozen = [
        found("f1", "engine_speed", 780.0, Condition(speed_rpm=780.0, freeze="P0171"), ONE),
        found("f2", "engine_speed", 900.0, Condition("idle"), ONE),
    ]
    tables = logged_tables(FOUR, frozen, NAMES)
    assert [t.head.replace("\N{NO-BREAK SPACE}", " ") for t in tables] == ["Idle", "780 rpm, frozen with P0171"]
