"""Values of one moment: typed from a screen, or frozen with a code."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.finding import Provenance
from witnessmark.measure.log.moment import is_moment, moment_condition, moment_findings, moment_values
from witnessmark.measure.log.series import log_of
from witnessmark.recording.parameters import Signal
from witnessmark.recording.types import ExplicitTime, Recording, Trace
from witnessmark.vocabulary import Condition, quantity

PAGE = {
    Signal("engine_speed"): 790.0,
    Signal("vehicle_speed"): 0.0,
    Signal("coolant"): 91.0,
    Signal("map"): 34.0,
    Signal("short_trim", bank=1): 4.7,
    Signal("long_trim", bank=1): 7.8,
    Signal("throttle"): 15.0,
}


def test_a_page_of_numbers_is_a_log_of_one_row() -> None:
    traces = [
        Trace(str(s), k, np.array([v]), ExplicitTime(np.array([0.0])), role=str(s))
        for k, (s, v) in enumerate(PAGE.items())
    ]
    log = log_of(Recording(tuple(traces), "sha256:0", "typed.csv", "parameter_csv"))
    assert is_moment(log)
    assert moment_values(log) == PAGE


def test_what_a_page_is_evidence_of() -> None:
    found = {f.quantity: f for f in moment_findings(PAGE, moment_condition(PAGE), Provenance())}
    assert found["fuel_trim"].value == pytest.approx(12.5)
    assert found["map_reported"].sd == quantity("map_reported").default_sd(34.0)
    assert found["map_reported"].condition == Condition("idle", 790.0, 91.0)
    assert found["temperature_reported"].condition.coolant_c is None
    assert set(found) == {"engine_speed", "map_reported", "fuel_trim", "temperature_reported"}


@pytest.mark.parametrize(
    ("speed", "road", "coolant", "state"),
    [
        (0.0, 0.0, 20.0, "key_on"),
        (210.0, 0.0, 20.0, "cranking"),
        (1050.0, 0.0, 20.0, "warm_up"),
        (750.0, 0.0, 88.0, "idle"),
        (2500.0, 0.0, 88.0, None),
        (2200.0, 80.0, 88.0, None),
    ],
)
def test_states_that_one_row_can_tell(speed: float, road: float, coolant: float, state: str | None) -> None:
    row = {Signal("engine_speed"): speed, Signal("vehicle_speed"): road, Signal("coolant"): coolant}
    assert moment_condition(row).state == state


def test_what_somebody_said_stands() -> None:
    said = moment_condition(PAGE, Condition(state="raised", complaint="present"))
    assert (said.state, said.complaint, said.speed_rpm) == ("raised", "present", 790.0)
