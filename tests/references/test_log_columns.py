"""The columns of ten logs of two real cars (open data, see ../shared/data/README.md), one remembered mapping a car.

What each column is stands here as the README and the headings say it, read by a person.
"""

from __future__ import annotations

import pytest

from witnessmark.app.logcolumns import mapped_log

SPEED_DENSITY = """
run_time / engine_speed / vehicle_speed / throttle / load / coolant / long_trim bank=1 / short_trim bank=1 / map
fuel_level / throttle track=2 / pedal track=1 / pedal track=2 / throttle_command / lambda_command / barometer
throttle_relative / intake_air / timing / catalyst_temperature bank=1 sensor=1 / catalyst_temperature bank=1 sensor=2
volts / purge_command / time_lamp / time_cleared / distance_lamp / warm_ups
"""
AIR_METER = """
barometer / coolant / fuel_level / load / outside_air / engine_speed / map / maf / long_trim bank=1 / nothing
long_trim bank=2 / fuel_type / intake_air / fuel_pressure / vehicle_speed / short_trim bank=2 / short_trim bank=1
run_time / throttle / code_count / code_list / timing / lambda_command
"""


def _signals(text: str) -> list[str]:
    return [signal.strip() for line in text.strip().splitlines() for signal in line.split("/")]


@pytest.fixture
def shop(monkeypatch, tmp_path):
    monkeypatch.setenv("WITNESSMARK_HOME", str(tmp_path / "shop"))


@pytest.mark.recordings
def test_the_car_without_air_meter(recordings, shop):
    for name in ("campus", "drive", "idle", "live"):
        mapped = mapped_log(recordings / "scan" / f"{name}.csv")
        assert [str(column.signal) for column in mapped.proposal.columns] == _signals(SPEED_DENSITY)
        assert not mapped.questions
        assert len({trace.role for trace in mapped.recording}) == 27


@pytest.mark.recordings
def test_the_car_with_air_meter(recordings, shop):
    scan = recordings / "scan"
    first = mapped_log(scan / "airmeter_a.csv")
    # Timing shows the byte as a share of 255, the equivalence ratio 1.00 as "1,00%": both are noticed and asked about.
    assert [column.heading for column in first.questions] == ["TIMING_ADVANCE", "EQUIV_RATIO"]
    assert [str(column.signal) for column in first.proposal.columns][:21] == _signals(AIR_METER)[:21]
    timing = first.questions[0].reading
    assert 57.6 * timing.factor + timing.shift == pytest.approx(9.5, abs=0.1)
    answers = {"TIMING_ADVANCE": "timing unit=deg scale=1.275 offset=-64", "EQUIV_RATIO": "lambda_command"}
    assert not mapped_log(scan / "airmeter_a.csv", answers).questions
    for letter in "bcdef":
        mapped = mapped_log(scan / f"airmeter_{letter}.csv")
        assert not mapped.questions
        assert [str(column.signal) for column in mapped.proposal.columns] == _signals(AIR_METER)
        assert 0.0 < float(abs(mapped.recording.with_role("timing")[0].values).max()) < 60.0


@pytest.mark.recordings
def test_every_log_of_that_car_shows_its_two_wrong_units_by_itself(recordings, shop):
    for letter in "bcdef":
        mapped = mapped_log(recordings / "scan" / f"airmeter_{letter}.csv", remember=False)
        assert {"TIMING_ADVANCE", "EQUIV_RATIO"} <= {column.heading for column in mapped.questions}
