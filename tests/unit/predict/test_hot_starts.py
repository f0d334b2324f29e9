"""Starts that hang on the warmth of the engine: too much fuel hot, too little cold, vapour in the rail.

Hot, with speed and pressure there, it is nearly always too much fuel; that a start takes about three times as much at
20 °C and six times at -20 °C: common practice, no source. Vapour pressure by Clausius and Clapeyron.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.unit.predict.starting_cases import asked, read
from witnessmark.predict.startmixture import start_need
from witnessmark.vocabulary import Condition

pytestmark = pytest.mark.filterwarnings("error")


def start(edits=None, celsius=92.0):
    return read(asked("starts", Condition("cranking", coolant_c=celsius)), edits)


@pytest.mark.parametrize("celsius", [-20.0, 15.0, 60.0, 92.0])
def test_a_sound_engine_starts_at_any_warmth(celsius):
    assert start(celsius=celsius) > 0.9


def test_what_a_start_needs_grows_with_cold():
    assert start_need(95.0) == pytest.approx(1.0)
    assert start_need(20.0) == pytest.approx(3.0, rel=0.15)
    assert start_need(-20.0) == pytest.approx(6.0, rel=0.15)


def test_a_coolant_sensor_that_reads_wrong_floods_hot_or_starves_cold():
    cold, hot = {("sensor_offset", "ect"): -60.0}, {("sensor_offset", "ect"): 60.0}
    assert start(cold) < 0.3 < 0.9 < start(hot)  # a warm engine needs no more than a warm one gets
    assert start(hot, celsius=0.0) < 0.3
    assert start({("sensor_offset", "ect"): -1e9}) < 0.05
    assert start({("sensor_offset", "ect"): -8.0}) > 0.9


@pytest.mark.parametrize("edit", [("injector_leak", "cylinder_1", 3.0), ("rail_bleed", "rail", 200.0)])
def test_what_drips_and_bleeds_down_spoils_the_hot_start_only(edit):
    variable, place, size = edit
    assert start({(variable, place): size}) < 0.5
    assert start({(variable, place): size}, celsius=15.0) > 0.9


def test_an_open_purge_valve_floods_with_a_full_canister():
    open_, full = ("area_error", "purge"), ("inflow_fuel", "purge")
    assert start({open_: 12.0, full: 0.6}) < 0.2
    assert start({open_: 12.0}) > 0.5
    assert start({full: 0.6}) > 0.9  # a valve that is shut holds it back


def test_fuel_boils_in_a_rail_that_has_lost_its_pressure():
    """By hand: 65 kPa e^(0.035 (92 - 20 - 37.8)) is 215 kPa, 115 above the air; a rail that bleeds 20 kPa a minute from
    300 has 133 left after ten, one that bleeds 40 has 33.
    """
    assert 65.0 * math.exp(0.035 * (92.0 - 20.0 - 37.8)) == pytest.approx(215.0, abs=1.0)
    slow, fast = (start({("rail_bleed", "rail"): bleed}) for bleed in (20.0, 40.0))
    assert slow > 0.7 > 0.5 > fast
    assert np.isfinite(start({("rail_bleed", "rail"): 600.0}))
