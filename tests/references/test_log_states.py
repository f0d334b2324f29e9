"""Operating states and warm idle of ten real logs of two cars, against what the README beside them tells.

Nobody labelled the states; what is checked here follows from the columns themselves and from that README.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.references.scanlogs import FIRST, SECOND, columns, scan_log, unedited
from witnessmark.finding import Finding
from witnessmark.measure.log.measured import LogMeasurement
from witnessmark.measure.log.series import log_of
from witnessmark.measure.log.states import find_states

pytestmark = pytest.mark.recordings


def told(measured: LogMeasurement, quantity: str, state: str) -> Finding:
    (found,) = (f for f in measured.findings if f.quantity == quantity and f.condition.state == state)
    return found


@pytest.mark.parametrize("name", FIRST)
def test_key_on_and_cranking_at_the_beginning(recordings: Path, name: str) -> None:
    """About 101 kPa at rest; then the voltage dips to about 10 V, or the crank turns at 245 rpm (drive)."""
    log = log_of(scan_log(recordings, name))
    first, second, *rest = find_states(log).spans
    assert (first.state, second.state) == ("key_on", "cranking")
    assert first.to_s <= second.from_s < 10.0
    assert not {"key_on", "cranking"} & {span.state for span in rest}
    pressure, speed, volts = log.get("map"), log.get("engine_speed"), log.get("volts")
    assert pressure is not None
    assert speed is not None
    assert volts is not None
    assert abs(pressure.inside(first.from_s, first.to_s).values.mean() - 101.0) < 0.5
    low = volts.inside(second.from_s, second.to_s).values.min()
    assert low < 10.7 or speed.inside(second.from_s, second.to_s).values.max() < 300.0


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_idle_stands_and_driving_does_not(recordings: Path, name: str) -> None:
    log = log_of(scan_log(recordings, name))
    road = log.get("vehicle_speed")
    assert road is not None
    for span in find_states(log).spans:
        values = road.inside(span.from_s, span.to_s).values
        if span.state in ("idle", "warm_up", "key_on", "cranking"):
            assert (values <= 1.0).all(), span
        if span.state in ("cruise", "acceleration"):
            assert np.mean(values >= 1.0) > 0.8, span


def test_a_log_of_idle_is_idle(recordings: Path) -> None:
    """Ten minutes standing from 28 °C on: cold idle, then idle, nearly all of it."""
    values, log = columns(recordings / "scan" / "idle.csv"), log_of(scan_log(recordings, "idle"))
    spans = find_states(log).spans
    low, high = log.span_s
    at_idle = sum(span.seconds for span in spans if span.state in ("idle", "warm_up"))
    assert (values["vehicle_speed"] == 0).all()
    assert at_idle > 0.9 * (high - low)
    assert max(s.to_s for s in spans if s.state == "warm_up") < min(s.from_s for s in spans if s.state == "idle") + 5.0


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_how_much_of_the_standing_is_called_idle(recordings: Path, name: str) -> None:
    """Standing, running, pedal where it rests, or the plate within what idle control opens: most of it is idle."""
    values = columns(recordings / "scan" / f"{name}.csv")
    rests = values.get("pedal", values["throttle"])
    still = (values["vehicle_speed"] == 0) & (values["engine_speed"] > 500)
    still &= rests <= np.nanpercentile(rests, 1) + (1.5 if "pedal" in values else 6.0)
    log = log_of(scan_log(recordings, name))
    called = np.zeros(still.size, dtype=bool)
    for span in find_states(log).spans:
        if span.state in ("idle", "warm_up"):
            called |= (values["time"] >= span.from_s) & (values["time"] <= span.to_s)
    share = np.mean(called[still])
    print(f"{name}: {share:.0%} of {still.sum()} rows")
    assert share > 0.3  # stops shorter than the engine takes to settle are left out
    if still.sum() > 100:
        assert share > 0.55


@pytest.mark.parametrize("name", SECOND)
def test_warm_idle_of_the_car_with_a_meter(recordings: Path, name: str) -> None:
    """798 to 801 rpm, 32 to 36 kPa (c: 43), 4.1 to 4.7 g/s (c: 5.3), trim 0 to 0.8 %: medians; these are means."""
    measured = unedited(recordings, name)
    speed, pressure, flow, trim = (
        told(measured, quantity, "idle")
        for quantity in ("engine_speed", "map_reported", "airflow_reported", "fuel_trim")
    )
    print(name, speed, pressure, flow, trim)
    low, high = (43.0, 43.0) if name.endswith("c") else (32.0, 36.0)
    least, most = (5.3, 5.3) if name.endswith("c") else (4.1, 4.7)
    assert 795.0 <= speed.value <= 804.0
    assert 0.95 * low <= pressure.value <= 1.06 * high
    assert 0.95 * least <= flow.value <= 1.06 * most
    assert -1.5 <= trim.value <= 1.5


@pytest.mark.parametrize("name", FIRST)
def test_warm_idle_of_the_car_without_one(recordings: Path, name: str) -> None:
    """Warm-idle medians differ by file, 26 to 39 kPa."""
    pressure = told(unedited(recordings, name), "map_reported", "idle")
    assert 26.0 <= pressure.value <= 41.0


@pytest.mark.parametrize("name", FIRST + SECOND)
def test_a_sound_log_raises_no_alarm(recordings: Path, name: str) -> None:
    measured = unedited(recordings, name)
    assert [event for event in measured.events if event.kind == "implausible"] == []
    assert not any("stop" in note for note in measured.notes)
