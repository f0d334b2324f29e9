"""Catalogue §6, pair 5: a leak behind the meter, a purge valve stuck open, recirculation stuck open, a dirty meter, a
weak pump. What parts them is trim over flow, load, fuel pressure and what happens when the suspect is shut.

Outside source of the directions: the table of signatures in the handbook §6 (numbers computed, logic common practice).
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.airs import ask, engine, readings

METER, PRESSURE = engine("made-up four"), engine("made-up four", metering="speed_density")
LEAK = {("leak_area", "plenum"): 2.0}
PURGE_AIR = {("area_error", "purge"): 3.0, ("inflow_fuel", "purge"): 0.0}
PURGE_RICH = {("area_error", "purge"): 3.0, ("inflow_fuel", "purge"): 0.3}
RECIRCULATED = {("area_error", "egr"): 8.0}
DIRTY = {("sensor_gain", "maf"): 0.85}
WEAK = {("lift_pump_flow", "pump"): 0.2}
BY_FLOW = ("idle", "raised", "cruise")


def trims(model: object, *edits: dict) -> np.ndarray:
    """One row a state of the engine's running, one column a set of edits, sound first."""
    return np.array([readings(model, ask("fuel_trim", state), *edits) for state in BY_FLOW])  # type: ignore[arg-type]


def test_by_a_meter_a_leak_s_trim_falls_with_flow_and_a_dirty_meter_s_stays() -> None:
    table = trims(METER, LEAK, DIRTY)
    leak, dirty = table[:, 1] - table[:, 0], table[:, 2] - table[:, 0]
    assert leak[0] > 2.0 * leak[1] > 3.0 * leak[2] > 0.0
    # Handbook §6: × 0.85 reads +17.6 % at every flow.
    np.testing.assert_allclose(dirty, 17.6, atol=0.2)


def test_only_a_dirty_meter_shows_too_little_load() -> None:
    sound, *found = readings(METER, ask("absolute_load", "full_load"), LEAK, PURGE_RICH, DIRTY, WEAK)
    low = np.array(found) / sound
    assert low[2] == pytest.approx(0.85, abs=0.01)
    assert np.all(np.delete(low, 2) > 0.98)


def test_by_pressure_a_leak_moves_idle_air_alone() -> None:
    """Handbook §6: trims about 0; what leaks in, the idle control takes back."""
    table = trims(PRESSURE, LEAK)
    np.testing.assert_allclose(table[:, 1], table[:, 0], atol=0.1)
    sound, leaking = readings(PRESSURE, ask("idle_air_demand", "idle"), LEAK)
    assert leaking < sound - 2.0


def test_purge_makes_lean_by_its_air_and_rich_by_its_fuel() -> None:
    idle = trims(METER, PURGE_AIR, PURGE_RICH)[0]
    assert idle[1] > idle[0] + 5.0
    assert idle[2] < idle[0] - 5.0
    assert trims(PRESSURE, PURGE_RICH)[0, 1] < -5.0


def test_recirculated_exhaust_does_not_move_a_metered_trim_but_takes_vacuum() -> None:
    table = trims(METER, RECIRCULATED)
    np.testing.assert_allclose(table[:, 1], table[:, 0], atol=0.1)
    sound, open_ = readings(METER, ask("manifold_vacuum", "idle"), RECIRCULATED)
    assert open_ < sound - 2.0


def test_a_weak_pump_shows_as_flow_grows_and_on_the_gauge() -> None:
    table = trims(METER, {("lift_pump_flow", "pump"): 0.12})
    weak = table[:, 1] - table[:, 0]
    assert weak[2] > weak[1] + 1.0
    assert weak[1] >= weak[0] - 0.1
    sound, low, *others = readings(METER, ask("fuel_pressure", "full_load", rail="rail"), WEAK, LEAK, DIRTY)
    assert low < 0.7 * sound
    np.testing.assert_allclose(others, sound, rtol=0.01)


def test_lean_at_full_load_only_where_fuel_or_the_meter_fails() -> None:
    query = ask("lambda_reported", "full_load", sensor="o2_front_1")
    sound, leak, dirty, weak = readings(METER, query, LEAK, DIRTY, WEAK)
    assert abs(leak - sound) < 0.02
    assert dirty > sound + 0.04
    assert weak > dirty


def test_shutting_the_suspect_takes_its_trim_away_and_no_other_s() -> None:
    """Pinching the purge hose, or the branch that leaks, brings the trim back; the other hose leaves it."""
    branch = {("leak_area", "branch"): 2.0}
    for during, cured, left in (
        ("pinch_hose:purge", PURGE_AIR, branch),
        ("pinch_hose:branch", branch, PURGE_AIR),
    ):
        sound, was_cured, was_left = readings(METER, ask("fuel_trim", "idle", during=during), cured, left)
        assert was_cured == pytest.approx(sound, abs=0.2)
        assert was_left > sound + 5.0


def test_commanding_a_purge_valve_tells_one_that_is_stuck_shut() -> None:
    stuck = {("area_error", "purge"): -15.0}
    query = ask("fuel_trim", "idle", during="command_valve:purge")
    sound, dead = readings(METER, query, stuck)
    before, shut = readings(METER, ask("fuel_trim", "idle"), stuck)
    assert abs(sound - before) > 2.0
    assert dead == pytest.approx(shut, abs=0.2)


def test_fuel_gas_finds_the_leak_it_is_held_to() -> None:
    """The trim falls while gas is held to the leak, by what a torch gives, and nowhere else: common practice."""
    elsewhere = {("leak_area", "branch"): 2.0}
    fed, before = (
        readings(METER, ask("fuel_trim", "idle", during=during), LEAK, elsewhere)
        for during in ("feed_fuel_gas:plenum", None)
    )
    assert before[1] - 25.0 < fed[1] < before[1] - 5.0
    assert fed[0] == pytest.approx(before[0], abs=1.0)
    assert fed[2] == pytest.approx(before[2], abs=1.0)


def test_a_trim_at_its_stop_means_at_least() -> None:
    """Common practice, no source: ±25 %; beyond it the mixture gives way, not the trim."""
    big = {("leak_area", "plenum"): 7.0}
    assert readings(METER, ask("fuel_trim", "idle"), big)[1] == 25.0
    assert readings(METER, ask("lambda_reported", "idle", sensor="o2_front_1"), big)[1] > 1.05
