"""Pair 14: it cranks and does not start: inhibited, a dead module, no crank signal, no fuel pump.

CATALOGUE §6, pair 14 (ours); which reading says which is common practice, no source. Fuel pressure itself belongs
to the air and fuel predictions; here the pump's current stands for it.
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


def test_an_unfed_module_does_not_answer_either_but_says_so_in_its_supply():
    """Silent and unfed look the same from the link; a meter at its fuse parts them."""
    unfed = {("resistance", "fuse_ecu"): 1e9}
    assert at(FOUR, "module_answers", "key_on", unfed, module="ecu") < 0.05
    assert abs(at(FOUR, "branch_drop", "key_on", unfed, node="fuse_ecu")) > 10.0
    assert abs(at(FOUR, "branch_drop", "key_on", CASES["module"], node="fuse_ecu")) < 0.1
