"""Temperatures in a log: after a stand, while warming, warm. Engines are invented, by physics.warmup."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.measure.log.invented import log_of_series, warmed_case
from witnessmark.engine.file import engine_from_toml
from witnessmark.measure.log.firingheat import heating_of
from witnessmark.measure.log.heat import heat
from witnessmark.measure.log.measured import LogPart
from witnessmark.measure.log.pressures import pressures
from witnessmark.measure.log.series import Log, Series
from witnessmark.measure.log.spans import StateSpan
from witnessmark.measure.log.warming import rise_of
from witnessmark.measure.log.warmup import WarmUp, plateau_of, reaching
from witnessmark.physics.warmup import CoolingSystem, Thermostat, warm_up
from witnessmark.recording.parameters import Signal

STATES = (StateSpan("key_on", 0.0, 5.0, warm=False), StateSpan("cranking", 5.0, 6.0), StateSpan("idle", 6.0, 1500.0))


def series(id: str, times: np.ndarray, values: object, step: float = 0.0) -> Series:
    shown = np.broadcast_to(np.asarray(values, dtype=float), times.shape)
    return Series(Signal(id), times, np.round(shown / step) * step if step else np.array(shown), step)


def warming_log(opens_c: float = 90.0, mass: float = 1.0, *, start_c: float = 15.0, gain: float = 1.0) -> Log:
    """A raised idle for 25 minutes with 40 kPa: heat as the log's own air says, an engine of some mass."""
    times = np.arange(0.0, 1500.0, 1.0)
    runs = times >= 6.0
    base = (
        series("engine_speed", times, np.where(runs, 1800.0, 0.0)),
        series("map", times, np.where(runs, 40.0, 100.0), 1.0),
        series("barometer", times, 100.0, 1.0),
        series("intake_air", times, start_c, 1.0),
    )
    heating = heating_of(log_of_series(*base), 6.0, 1500.0)
    assert heating is not None
    own = CoolingSystem(50e3 * mass, 15e3 * mass)
    went = warm_up(2.0 * float(heating.watts.mean()), own, Thermostat(opens_c), ambient_c=start_c, seconds=1494.0)
    coolant = np.interp(times - 6.0, went.seconds, went.coolant_c[:, 0])
    return log_of_series(*base, series("coolant", times, start_c + gain * (coolant - start_c), 1.0))


def value(part: LogPart, quantity: str, **place: str) -> float:
    return next(f.value for f in part.findings if f.quantity == quantity and place.items() <= f.place.as_dict().items())


# ---------------------------------------------------------------- intervals


def test_rise_and_time_are_held_in_nine_of_ten(rng: np.random.Generator) -> None:
    rises, times = [], []
    for _ in range(24):
        case = warmed_case(rng)
        found = WarmUp(0.0, 1199.0, float(case.coolant.values[0]), 0.0)
        rise = rise_of(case.coolant, case.heating, found, found.from_c)
        if rise is not None:
            rises.append(abs(rise.ratio - case.ratio) < 1.645 * rise.sd)
        at = reaching(case.coolant, 0.0, 1199.0)
        if at is not None and np.isfinite(case.reaches_s):
            times.append(abs(at[0] - case.reaches_s) < 1.645 * at[1])
    assert len(rises) > 18
    assert np.mean(rises) > 0.74
    assert np.mean(times) > 0.74


# ---------------------------------------------------------------- warming up


def test_a_sound_engine_warms_as_its_heat_says() -> None:
    part = heat(warming_log(), STATES)
    assert value(part, "warming_rate") == pytest.approx(1.0, abs=0.08)
    assert 2.0 < value(part, "warm_up_time") < 15.0
    assert value(part, "temperature_reported", sensor="ect") in (
        pytest.approx(15.0, abs=1.0),
        pytest.approx(93.0, abs=4.0),
    )
    assert not part.events


def test_twice_the_mass_or_half_the_reading_is_half_the_rate() -> None:
    assert value(heat(warming_log(mass=2.0), STATES), "warming_rate") == pytest.approx(0.5, abs=0.06)
    half = heat(warming_log(gain=0.5), STATES)
    assert value(half, "warming_rate") == pytest.approx(0.5, abs=0.06)
    assert value(half, "warm_up_time") == 60.0  # never, as in the prediction
    rest = [f for f in half.findings if f.quantity == "temperature_reported" and f.condition.state == "idle"]
    assert min(f.value for f in rest if f.place.get("sensor") == "ect") < 60.0


def test_a_thermostat_stuck_open_rests_low() -> None:
    part = heat(warming_log(opens_c=45.0), STATES)
    rest = next(f for f in part.findings if f.place.get("sensor") == "ect" and f.condition.state == "idle")
    assert 45.0 < rest.value < 70.0
    assert rest.condition.coolant_c is None
    assert value(part, "warm_up_time") == 60.0
    assert value(part, "warming_rate") < 0.7


def test_a_log_that_starts_warm_is_not_measured() -> None:
    times = np.arange(0.0, 600.0, 1.0)
    log = log_of_series(series("coolant", times, 88.0, 1.0), series("engine_speed", times, 800.0))
    part = heat(log, [StateSpan("idle", 0.0, 600.0, warm=True)])
    reasons = {m.quantity: m.reason for m in part.not_measured}
    assert "starts warm" in reasons["warm_up_time"]
    assert "starts warm" in reasons["warming_rate"]
    assert "no stretch with the key on" in reasons["temperature_reported"]
    assert value(part, "temperature_reported", sensor="ect") == 88.0


def test_a_log_that_begins_late_says_how_late() -> None:
    whole = warming_log()
    cut = [one.inside(100.0, 1500.0) for one in whole]
    run_time = series("run_time", cut[0].times_s, cut[0].times_s - 6.0, 1.0)
    part = heat(log_of_series(*cut, run_time), [StateSpan("idle", 100.0, 1500.0, warm=False)])
    assert "94 s after the start" in next(m.reason for m in part.not_measured if m.quantity == "warm_up_time")
    assert value(part, "warming_rate") == pytest.approx(1.0, abs=0.2)


def test_a_log_that_ends_early_says_at_least() -> None:
    cut = log_of_series(*(one.inside(0.0, 200.0) for one in warming_log()))
    part = heat(cut, [*STATES[:2], StateSpan("idle", 6.0, 200.0)])
    assert "not before" in next(m.reason for m in part.not_measured if m.quantity == "warm_up_time")


def test_air_by_load_and_by_flow_says_the_same_heat() -> None:
    """1.5 g/s/L from any of the three; SAE J1979's absolute load counts air of 1.184 g/L (from memory)."""
    times = np.arange(0.0, 100.0, 1.0)
    speed = series("engine_speed", times, 1500.0)
    described = engine_from_toml("cylinders = 4\n[cylinder]\ndisplacement_l = 2.0\n")
    load = 1.5 / 1.184 / (1500.0 / 120.0) * 100.0
    by_load = heating_of(log_of_series(speed, series("absolute_load", times, load)), 0.0, 99.0)
    by_flow = heating_of(log_of_series(speed, series("maf", times, 3.0)), 0.0, 99.0, described)
    unsized = heating_of(log_of_series(speed, series("maf", times, 3.0)), 0.0, 99.0)
    assert by_load is not None
    assert by_flow is not None
    assert unsized is not None
    assert by_load.watts == pytest.approx(by_flow.watts, rel=0.01)
    assert unsized.share_sd > 3.0 * by_flow.share_sd
    assert heating_of(log_of_series(speed), 0.0, 99.0) is None


def test_a_plateau_is_none_while_it_rises() -> None:
    times = np.arange(0.0, 600.0, 1.0)
    assert plateau_of(series("coolant", times, 20.0 + times / 10.0, 1.0), (0.0, 600.0)) is None
    held = plateau_of(series("coolant", times, np.minimum(20.0 + times / 4.0, 90.0), 1.0), (0.0, 600.0))
    assert held is not None
    assert 240.0 < held[0] < 290.0


# ---------------------------------------------------------------- after a stand


def soaked(**celsius: float) -> LogPart:
    times = np.arange(0.0, 10.0, 0.5)
    return heat(
        log_of_series(*(series(id, times, value, 1.0) for id, value in celsius.items())),
        [StateSpan("key_on", 0.0, 10.0, warm=False)],
    )


def test_after_a_night_all_agree() -> None:
    part = soaked(coolant=12, intake_air=13, outside_air=11, oil_temperature=12)
    assert {f.place.get("sensor") for f in part.findings} == {"ect", "iat", "outside_air", "oil"}
    assert all(f.condition.state == "key_on" and f.condition.coolant_c is None for f in part.findings)
    assert "agree within 2 K" in part.notes[0]
    assert not part.events


def test_the_odd_one_out_is_named() -> None:
    part = soaked(coolant=12, intake_air=38, outside_air=11)
    assert [event.signals for event in part.events] == [("intake_air",)]
    assert "stands apart" in part.events[0].words


def test_two_that_differ_do_not_say_which() -> None:
    part = soaked(coolant=12, intake_air=38)
    assert not part.events
    assert "one of them reads wrongly" in part.notes[0]
    assert "still warm" in soaked(coolant=85, intake_air=30).notes[0]


# ---------------------------------------------------------------- pressures


def test_pressures_by_state_and_a_rail_off_its_target(rng: np.random.Generator) -> None:
    times = np.arange(0.0, 60.0, 0.5)
    rail = series("rail_pressure", times, 4000.0 + rng.normal(0.0, 40.0, times.size), 10.0)
    spans = [StateSpan("idle", 0.0, 60.0, steady=True, warm=True)]
    others = [
        series(i, times, v) for i, v in (("oil_pressure", 150.0), ("fuel_pressure", 400.0), ("rail_effort", 14.0))
    ]
    for wanted, notes in ((4000.0, 0), (5000.0, 1)):
        target = series("rail_target", times + 0.2, wanted, 10.0)
        part = pressures(log_of_series(rail, target, *others), spans)
        found = {f.quantity: f.value for f in part.findings}
        assert found == pytest.approx(
            {"rail_reported": 4000.0, "oil_pressure": 150.0, "fuel_pressure": 400.0, "rail_effort": 14.0}, rel=0.01
        )
        assert len(part.notes) == notes
