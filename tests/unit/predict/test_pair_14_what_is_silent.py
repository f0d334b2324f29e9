"""Pair 14: it cranks and does not start: inhibited, a dead module, no crank signal, no fuel pump.

CATALOGUE §6, pair 14 (ours); which reading says which is common practice, no source. Beside the readings it names stand
the sensor's own amplitude and the pump's current.
"""

from __future__ import annotations

import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import at

FOUR = model_of()
CASES = {
    "sound": {},
    "inhibited": {("inhibit", "ecu"): 1.0},
    "module": {("module_silent", "ecu"): 1.0},
    "crank": {("sensor_gain", "crank"): 0.0},
    "fuel": {("resistance", "fuse_pump"): 1e9},
}


def row(name):
    edits = CASES[name]
    return (
        at(FOUR, "start_permitted", "key_on", edits, module="ecu") > 0.5,
        at(FOUR, "module_answers", "key_on", edits, module="ecu") > 0.5,
        at(FOUR, "signal_amplitude", "cranking", edits, position="crank") > 0.2,
        at(FOUR, "pump_current", "cranking", edits, actuator="pump") > 1.0,
    )


@pytest.mark.parametrize(
    ("name", "permitted_answers_signal_pump"),
    [
        ("sound", (True, True, True, True)),
        ("inhibited", (False, True, True, True)),
        ("module", (True, False, True, True)),
        ("crank", (True, True, False, True)),
        ("fuel", (True, True, True, False)),
    ],
)
def test_each_cause_takes_one_answer_away(name, permitted_answers_signal_pump):
    assert row(name) == permitted_answers_signal_pump


def test_the_readings_that_the_catalogue_names():
    """start_permitted, module_answers, engine_speed, fuel_pressure: each cause takes its own of them away."""
    found = {}
    for name, edits in CASES.items():
        found[name] = (
            at(FOUR, "start_permitted", "key_on", edits, module="ecu") > 0.5,
            at(FOUR, "module_answers", "key_on", edits, module="ecu") > 0.5,
            at(FOUR, "engine_speed", "cranking", edits) > 100.0,
            at(FOUR, "fuel_pressure", "key_on", edits, rail="rail") > 100.0,
        )
    assert len(set(found.values())) == len(CASES)
    assert found["sound"] == (True, True, True, True)
    assert found["inhibited"] == (False, True, True, True)
    assert found["crank"] == (True, True, False, True)
    assert found["fuel"] == (True, True, True, False)
    assert all(at(FOUR, "starts", "cranking", edits) < 0.1 for name, edits in CASES.items() if name != "sound")


def test_an_unfed_module_does_not_answer_either_but_says_so_in_its_supply():
    """Silent and unfed look the same from the link; a meter at its fuse parts them."""
    unfed = {("resistance", "fuse_ecu"): 1e9}
    assert at(FOUR, "module_answers", "key_on", unfed, module="ecu") < 0.05
    assert abs(at(FOUR, "branch_drop", "key_on", unfed, node="fuse_ecu")) > 10.0
    assert abs(at(FOUR, "branch_drop", "key_on", CASES["module"], node="fuse_ecu")) < 0.1
