"""Air of logs of our own making: levels by state, the meter against pressure, pressures that cannot be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.measure.log.drives import log_from
from witnessmark.engine.file import engine_from_toml
from witnessmark.measure.log.air import air
from witnessmark.measure.log.airpressure import air_pressures
from witnessmark.measure.log.meter import displacement_in, meter_against_pressure
from witnessmark.measure.log.series import Log
from witnessmark.measure.log.spans import StateSpan
from witnessmark.physics.pressureflow import pressure_flow

TWO_LITRES = engine_from_toml('cylinders = 4\n[cylinder]\ndisplacement_l = 2.0\n[air]\nboost = "none"\n')
SPANS = (
    StateSpan("key_on", 0.0, 5.0, True),
    StateSpan("idle", 10.0, 60.0, True, True),
    StateSpan("cruise", 70.0, 150.0, True, True),
    StateSpan("full_load", 155.0, 165.0, True, True),
)
TIMES = np.arange(0.0, 170.0, 0.5)


def drive(rng: np.random.Generator, *, meter: float = 1.0, offset_kpa: float = 0.0, litres: float = 2.0) -> Log:
    """A sound engine of usual filling: standing, 800 rpm, 2,000 rpm, 4,000 rpm wide open. Its own flow by physics."""
    states = np.searchsorted([7.0, 65.0, 152.0], TIMES)
    speed = np.array([0.0, 800.0, 2000.0, 2900.0])[states] + (states > 0) * 5.0 * rng.standard_normal(TIMES.size)
    pressure = np.array([100.0, 33.0, 60.0, 96.0])[states] + (states > 0) * 0.5 * rng.standard_normal(TIMES.size)
    flow = np.zeros(TIMES.size)
    runs = states > 0
    flow[runs] = 1e3 * np.asarray(
        pressure_flow(
            1e3 * pressure[runs], 303.15, speed[runs], displacement=1e-3 * litres, ambient_pressure=100e3
        )
    )  # fmt: skip
    return log_from({
        "engine_speed": (TIMES, speed),
        "map": (TIMES, np.round(pressure + offset_kpa)),
        "maf": (TIMES, meter * flow),
        "intake_air": (TIMES[::6], np.full(TIMES[::6].size, 30.0)),
        "barometer": (TIMES[::20], np.full(TIMES[::20].size, 100.0)),
        "coolant": (TIMES, np.full(TIMES.size, 90.0)),
        "load": (TIMES, np.array([0.0, 33.0, 55.0, 96.0])[states]),
        "idle_air": (TIMES, np.array([0.0, 24.0, 0.0, 0.0])[states]),
    })  # fmt: skip


def test_levels_by_state(rng: np.random.Generator) -> None:
    found = {(f.quantity, f.condition.state): f for f in air(drive(rng), SPANS).findings}
    assert found["map_reported", "key_on"].value == pytest.approx(100.0)
    assert found["map_reported", "idle"].value == pytest.approx(33.0, abs=0.3)
    assert found["engine_speed", "idle"].value == pytest.approx(800.0, abs=3.0)
    assert found["idle_air_demand", "idle"].value == pytest.approx(24.0)
    assert found["load_reported", "full_load"].value == pytest.approx(96.0)
    assert found["ambient_pressure", None].value == pytest.approx(100.0)
    assert ("engine_speed", "cruise") not in found
    assert ("idle_air_demand", "cruise") not in found
    one = found["map_reported", "idle"]
    assert (one.source.trace, one.source.from_s, one.source.to_s) == ("col map", 10.0, 60.0)
    assert one.source.digest == "sha256:invented"
    assert one.condition.speed_rpm == pytest.approx(800.0, abs=3.0)
    assert one.condition.coolant_c == 90.0


@pytest.mark.parametrize("gain", [1.0, 0.85])
def test_the_meter_against_pressure(rng: np.random.Generator, gain: float) -> None:
    """A meter that reads 15 % low is 15 % below what manifold pressure tells, at every flow (HANDBOOK section 6)."""
    found = meter_against_pressure(drive(rng, meter=gain), SPANS, TWO_LITRES).findings
    assert [f.condition.state for f in found] == ["idle", "cruise", "full_load"]
    for one in found:
        assert one.value == pytest.approx(100.0 * gain, abs=max(1.645 * one.sd, 1.0))
        assert one.source.trace == "col maf, col map, col engine_speed, col intake_air"


def test_a_pressure_sensor_off_shows_most_at_idle(rng: np.random.Generator) -> None:
    idle, cruise, wide = meter_against_pressure(drive(rng, offset_kpa=12.0), SPANS, TWO_LITRES).findings
    assert idle.value < 72.0 < cruise.value < wide.value < 92.0


def test_the_displacement_is_told_where_nobody_described_it(rng: np.random.Generator) -> None:
    log = drive(rng, litres=1.6)
    told = displacement_in(log, SPANS)
    assert told is not None
    assert told.value == pytest.approx(1.6e-3, rel=0.01)
    part = meter_against_pressure(log, SPANS)
    assert part.findings == ()
    assert part.not_measured[0].settled_by == "the displacement, as on the badge"
    assert "1.60 L" in part.notes[0] or "1.59 L" in part.notes[0] or "1.61 L" in part.notes[0]


def test_without_a_meter_there_is_nothing_to_compare(rng: np.random.Generator) -> None:
    log = drive(rng)
    series = {signal: one for signal, one in log.series.items() if signal.id != "maf"}
    part = meter_against_pressure(replace(log, series=series), SPANS, TWO_LITRES)
    assert part.findings == ()
    assert part.not_measured == ()
    assert displacement_in(replace(log, series=series), SPANS) is None


def test_pressure_with_the_engine_off(rng: np.random.Generator) -> None:
    """Key on, engine off: within 2 to 3 kPa of the barometer (common practice, HANDBOOK section 6)."""
    assert air_pressures(drive(rng), SPANS).events == ()
    (event,) = air_pressures(drive(rng, offset_kpa=12.0), SPANS).events
    assert event.kind == "implausible"
    assert event.signals == ("map", "barometer")
    assert (event.from_s, event.to_s) == (0.0, 5.0)
    assert "112.0 kPa" in event.words
    assert "12.0 kPa more" in event.words
    assert air_pressures(drive(rng, offset_kpa=2.0), SPANS).events == ()


def test_an_engine_without_a_charger_stays_below_the_air_outside(rng: np.random.Generator) -> None:
    log = drive(rng, offset_kpa=12.0)
    running = tuple(span for span in SPANS if span.state != "key_on")
    unsaid = air_pressures(log, running)  # a charger does the same: a note, no alarm
    assert unsaid.events == ()
    assert any("has a charger, or the sensor reads too much" in note for note in unsaid.notes)
    assert not any("charger" in note for note in air_pressures(drive(rng), running).notes)
    (event,) = air_pressures(log, running, TWO_LITRES).events
    assert "without a charger" in event.words


@pytest.mark.parametrize(("kpa", "fine"), [(101.0, True), (84.0, True), (60.0, True), (45.0, False), (112.0, False)])
def test_what_a_barometer_can_read(kpa: float, fine: bool) -> None:
    """ISO 2533: 101.3 kPa at the sea, 79.5 at 2,000 m, 70.1 at 3,000 m; no road lies much above 4,500."""
    times = np.arange(0.0, 20.0)
    part = air_pressures(log_from({"barometer": (times, np.full(20, kpa))}), ())
    assert (part.events == ()) == fine


def test_full_load_is_told_in_numbers(rng: np.random.Generator) -> None:
    (note,) = air_pressures(drive(rng), SPANS).notes
    assert note.startswith("at full load manifold pressure reads 96")
    assert "96 % of the 100 kPa outside" in note
