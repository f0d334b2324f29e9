"""Calculated load, the air meter against manifold pressure, and bands under what a log tells."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.airs import ask, bare, engine
from witnessmark.engine.state import State
from witnessmark.physics.filling import calculated_load
from witnessmark.physics.pressureflow import pressure_flow
from witnessmark.predict import expect, nuisances, why_not
from witnessmark.predict.differing import sound_states
from witnessmark.predict.loggedband import logged_bands, told_by_log
from witnessmark.vocabulary import Condition, Place, Query

METER = engine("made-up four", metering="both", boost="none")
DENSITY = engine("made-up four", metering="speed_density", boost="none")


def read(name: str, state: str, edits: dict[tuple[str, str], float] | None = None) -> float:
    rows = {key: np.array([value]) for key, value in (edits or {}).items()}
    return float(expect(METER, [ask(name, state)], State(rows)).mean[0, 0])


@pytest.mark.parametrize("state", ["idle", "raised", "cruise", "full_load"])
def test_a_meter_that_reads_low(state: str) -> None:
    """Gain 0.85: 15 % less than manifold pressure tells, at every flow (HANDBOOK section 6: η and load low)."""
    low = {("sensor_gain", "maf"): 0.85}
    assert read("meter_over_density", state, low) == pytest.approx(0.85 * read("meter_over_density", state), rel=0.01)


def test_unmetered_air_shows_most_at_idle() -> None:
    """A leak behind the meter: its share falls with the flow (HANDBOOK section 6: 46.9 %, 7.8 %, 0.5 %)."""
    leak = {("leak_area", "plenum"): 7.0}
    lost = [
        1.0 - read("meter_over_density", s, leak) / read("meter_over_density", s)
        for s in ("idle", "cruise", "full_load")
    ]
    assert lost[0] > 0.15
    assert lost[0] > 2.0 * lost[1] > 4.0 * abs(lost[2])


def test_the_pressure_sensor_shows_too() -> None:
    high = {("sensor_offset", "map"): 12.0}
    assert read("meter_over_density", "idle", high) < 0.8 * read("meter_over_density", "idle")


def test_a_sound_engine_is_near_one_hundred() -> None:
    """Filling at idle and wide open is about the usual one; at middling speeds the cams' overlap takes some of it."""
    for state in ("idle", "full_load"):
        assert read("meter_over_density", state) == pytest.approx(100.0, abs=12.0)


def test_there_is_no_meter_to_hold_against() -> None:
    assert why_not(DENSITY, ask("meter_over_density", "idle")) == "this engine has no air meter"
    assert why_not(METER, ask("meter_over_density", "key_on")) is not None


def test_load_is_the_standards_formula() -> None:
    """SAE J1979: flow over the most at that speed and in that weather. At 0.78 of filling, and never above 100 %."""
    idle = Query("load_reported", Place(), Condition("idle", speed_rpm=800.0))
    flow = Query("airflow_reported", Place(), Condition("idle", speed_rpm=800.0))
    found = expect(METER, [idle, flow], State({}))
    shown = calculated_load(
        1e-3 * found.mean[0, 1], 0.78, displacement=1e-3 * _swept(), speed_rpm=800.0,
        ambient_pressure=100e3, intake_temperature=293.15,
    )  # fmt: skip
    assert found.mean[0, 0] == pytest.approx(float(shown), rel=0.02)
    assert 60.0 < read("load_reported", "full_load") <= 100.0


def _swept() -> float:
    sizes = METER.engine.breathing.cylinder
    if sizes.displacement_l.mean is not None:
        return sizes.displacement_l.mean
    assert sizes.bore_mm.mean is not None
    assert sizes.stroke_mm.mean is not None
    return METER.engine.cylinders * np.pi / 4.0 * sizes.bore_mm.mean**2 * sizes.stroke_mm.mean * 1e-6


def test_pressure_flow_is_the_handbooks_formula() -> None:
    """HANDBOOK section 6: 0.78, 35 kPa, 1.998 L, 800 rpm, 320 K give 3.959 g/s; here 0.88 less left exhaust is 0.75."""
    found = 1e3 * float(pressure_flow(35e3, 305.0, 800.0, displacement=1.998e-3, ambient_pressure=101_325.0))
    assert found == pytest.approx(3.959 * 0.75 / 0.78, rel=0.02)


# ---------------------------------------------------------------- bands under what a log tells


def idle_band(model: object = METER, **told: object) -> tuple[float, float]:
    query = Query("map_reported", Place(), Condition("idle", speed_rpm=800.0, coolant_c=90.0))
    band = logged_bands(model, [query], told_by_log(**told))[query]  # type: ignore[arg-type]
    return band.mid, band.sd


def test_a_hot_day_runs_compressors() -> None:
    """More of them run on a hot day than on a cold one, so idle takes more air; between, one in two, least is known."""
    cold, mild, hot = (idle_band(outside_c=c) for c in (0.0, 22.0, 40.0))
    assert cold[0] + 2.0 < mild[0] < hot[0] - 2.0
    assert mild[1] > cold[1]


def test_what_is_told_narrows() -> None:
    """An unknown displacement of a bare four, and one that the log tells to 5 %."""
    flow = Query("airflow_reported", Place(), Condition("idle", speed_rpm=800.0))
    wide = logged_bands(bare(4), [flow], told_by_log())[flow]
    told = logged_bands(bare(4), [flow], told_by_log(displacement_l=(1.6, 0.08)))[flow]
    assert told.sd < 0.95 * wide.sd
    assert told.mid < wide.mid
    assert wide.low < wide.mid < wide.high
    assert wide.mid in wide


def test_what_cannot_be_predicted_is_left_out() -> None:
    asked = [ask("meter_over_density", "idle"), ask("map_reported", "idle")]
    assert list(logged_bands(DENSITY, asked)) == asked[1:]
    assert logged_bands(DENSITY, asked[:1]) == {}


def test_bands_hold_sound_engines(rng: np.random.Generator) -> None:
    """Sound engines of the spreads told, drawn all at once: nine in ten lie inside."""
    query = Query("map_reported", Place(), Condition("idle", speed_rpm=800.0, coolant_c=90.0))
    band = logged_bands(METER, [query])[query]
    rows = 300
    told = nuisances(METER, [query])
    drawn = [one.mean + one.sd * rng.standard_normal(rows) for one in told]
    state, numbers = sound_states(told, np.stack(drawn, axis=1))
    seen = expect(METER, [query], state, numbers, rows=rows)
    values = seen.mean[:, 0] + seen.tolerance[:, 0] * rng.standard_normal(rows)
    assert 0.85 < np.mean((values > band.low) & (values < band.high)) < 0.97
