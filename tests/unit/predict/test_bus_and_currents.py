"""A bus, and what a clamp shows of coils, injectors and the pump.

ISO 11898-2 (from memory): 2 V driven into 60 ohm, 0.9 V still taken for dominant. Currents: Ohm's law and the textbook
ramp by hand; how they go with each fault is common practice, no source.
"""

from __future__ import annotations

import math

import pytest

from tests.unit.predict.drives import model_of
from tests.unit.predict.electrics import at, bare

pytestmark = pytest.mark.filterwarnings("error")
BARE = bare()


def test_a_bus_carries_until_its_level_falls_below_what_receivers_need():
    """2 V/(1 + 60 · 0.005) = 1.5 V still carries; 2 V/(1 + 60 · 0.05) = 0.5 V does not."""
    model = model_of()
    assert at(model, "bus_errors", "idle", node="can") < 0.1
    assert at(model, "bus_errors", "idle", {("shorting", "can"): 0.005}, node="can") < 1.0
    assert at(model, "bus_errors", "idle", {("shorting", "can:supply"): 0.05}, node="can") > 900.0
    assert at(model, "bus_errors", "idle", {("resistance", "can"): 1e9}, node="can") > 900.0
    assert 1.0 < at(model, "bus_errors", "idle", {("dropout_rate", "can"): 60.0}, node="can") < 50.0
    assert at(model, "module_answers", "idle", {("shorting", "can"): 1.0}, module="ecu") < 0.05
    assert at(model, "module_answers", "idle", {("dropout_rate", "can"): 60.0}, module="ecu") > 0.9


def test_a_coils_current_at_the_end_of_its_dwell():
    """The computer dwells for 6.5 A (our guess) and does not know of 0.5 ohm more in the way: i = V/R (1 - exp(-tR/L))
    with t from the sound circuit, 3 mH, 1.5 ohm.
    """
    sound = at(BARE, "coil_current", "idle", actuator="coil_1")
    assert sound == pytest.approx(6.5, rel=0.03)
    volts = 14.1
    dwell = 0.003 / 1.5 * -math.log(1.0 - 6.5 * 1.5 / volts)
    by_hand = volts / 2.05 * (1.0 - math.exp(-dwell * 2.05 / 0.003))
    bad = at(BARE, "coil_current", "idle", {("resistance", "coil_supply"): 0.52}, actuator="coil_1")
    assert bad == pytest.approx(by_hand, rel=0.03)
    for edit in (("winding", "coil_1"), ("resistance", "coil_1"), ("resistance", "coil_supply")):
        assert at(BARE, "coil_current", "idle", {edit: 1e9}, actuator="coil_1") < 0.01
    assert at(BARE, "coil_current", "idle", {("driver_ok", "ecu"): 0.0}, actuator="coil_1") < 0.01
    assert at(BARE, "coil_current", "idle", {("winding", "coil_1"): 1e9}, actuator="coil_2") == pytest.approx(sound)


def test_an_injectors_current_is_volts_over_ohms():
    """14 V/12.2 ohm is 1.15 A in the end; 3 ms into the pulse some 80 to 90 % of it: L/R of 18 mH is 1.5 ms."""
    model = model_of()
    number = {"fuel:direct": 0.0}
    sound = at(model, "injector_current", "idle", numbers=number, actuator="injector_1")
    ohm = at(model, "winding_ohm", "off", actuator="injector_1")
    assert 0.75 * 14.0 / ohm < sound < 14.0 / ohm
    assert (
        at(model, "injector_current", "idle", {("winding", "injector_1"): 2.0}, None, number, actuator="injector_1")
        < sound
    )
    assert (
        at(model, "injector_current", "idle", {("winding", "injector_1"): 1e9}, None, number, actuator="injector_1")
        < 1e-6
    )


def test_a_direct_injectors_peak_is_its_drivers():
    """Some 10 A from a raised supply, from memory; a port injector's hardly 1 A."""
    assert at(model_of("made-up four with turbo"), "injector_current", "idle", actuator="injector_1") > 8.0


def test_a_pumps_current_goes_with_the_pressure_it_works_against():
    sound = at(BARE, "pump_current", "idle", actuator="pump")
    assert 3.0 < sound < 10.0  # common practice, no source
    assert at(BARE, "pump_current", "idle", {("regulator_error", "regulator"): 40.0}, actuator="pump") > sound + 1.0
    assert at(BARE, "pump_current", "idle", {("lift_pump_flow", "pump"): 0.15}, actuator="pump") < sound - 1.0
    assert at(BARE, "pump_current", "idle", {("restriction", "fuel_filter"): 0.98}, actuator="pump") > sound + 1.0
    assert at(BARE, "pump_current", "idle", {("resistance", "pump_supply"): 1e9}, actuator="pump") < 0.01
    assert at(BARE, "pump_current", "off", actuator="pump") == 0.0
    # A contact slows a motor down and leaves its current alone until it stalls: 14 V/(20.5 ohm) is less than it wants.
    assert at(BARE, "pump_current", "idle", {("resistance", "pump_supply"): 0.3}, actuator="pump") == pytest.approx(
        sound
    )
    assert at(BARE, "pump_current", "idle", {("resistance", "pump_supply"): 20.0}, actuator="pump") == pytest.approx(
        0.68, rel=0.05
    )
