"""Freeze frames as findings (SAE J1979, service 02: the values of service 01 at the moment a code was set)."""

from __future__ import annotations

from witnessmark.measure.frozen import frozen_findings
from witnessmark.recording.parameters import Signal

FRAME = [
    (Signal("engine_speed"), 780.0),
    (Signal("coolant"), 88.0),
    (Signal("short_trim", bank=1), 12.5),
    (Signal("long_trim", bank=1), 9.4),
    (Signal("long_trim", bank=2), 3.0),
    (Signal("map"), 34.0),
    (Signal("vehicle_speed"), 0.0),
]


def test_a_frame_in_quantities():
    found = frozen_findings("P0171", FRAME, text="42 0C 00 0C 30")
    told = {(f.quantity, *(value for _, value in f.place.items)): f.value for f in found}
    assert told == {
        ("engine_speed",): 780.0,
        ("temperature_reported", "ect"): 88.0,
        ("map_reported",): 34.0,
        ("fuel_trim", 1): 21.9,
        ("learnt_reported", 2, "fuel_trim"): 3.0,
    }
    for finding in found:
        # What is warm by its own reading is no circumstance of that reading.
        warm = None if finding.quantity == "temperature_reported" else 88
        assert (finding.condition.freeze, finding.condition.speed_rpm, finding.condition.coolant_c) == (
            "P0171",
            780,
            warm,
        )
        assert finding.condition.state == "idle"
        assert finding.sd > 0.0
        assert finding.source.text == "42 0C 00 0C 30"


def test_an_empty_frame_has_no_finding():
    assert frozen_findings("P0171", []) == ()
