"""Coil, gap and spark: against integration of the circuits, books' numbers, and what must grow with what."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.ignition import Coil, available_kv, coil_current, dwell_for, spark_duration, stored_energy
from witnessmark.physics.spark import air_breakdown_kv, breakdown_kv, burn_volts, misfire_share, spark_way_kv

ATMOSPHERE = 101325.0
COIL = Coil()


def test_the_energy_of_a_published_example() -> None:
    """6 mH at 12 V through 4 ohm: 3 A, 27 mJ (a textbook's worked example, read)."""
    coil = Coil(ohm=4.0, henry=0.006, limit_amps=100.0)
    amps = coil_current(1.0, 12.0, coil)
    assert amps == pytest.approx(3.0)
    assert stored_energy(amps, coil) == pytest.approx(0.027)


def test_a_low_battery_needs_a_longer_dwell_and_gives_less_in_the_same_one() -> None:
    volts = np.array([14.0, 10.0, 6.0])
    dwell = dwell_for(7.0, volts, COIL)
    assert np.all(np.diff(dwell) > 0.0)
    assert coil_current(dwell, volts, COIL) == pytest.approx(np.full(3, 7.0))
    assert np.all(np.diff(stored_energy(coil_current(0.0025, volts, COIL), COIL)) < 0.0)
    assert dwell_for(7.0, 4.0, COIL) == np.inf


def test_an_open_winding_stores_nothing_and_contact_resistance_costs_energy() -> None:
    assert stored_energy(coil_current(0.003, 14.0, COIL, winding=1e9), COIL) < 1e-12
    sound, corroded = (stored_energy(coil_current(0.003, 12.0, COIL, wiring_ohm=r), COIL) for r in (0.0, 1.0))
    assert corroded < 0.65 * sound


@pytest.mark.parametrize("shunt", [0.0, 0.3, 1.0, 3.0, 4.4721, 10.0, 100.0])
def test_available_voltage_against_integration_of_the_secondary(shunt: float) -> None:
    """Independent: C dv/dt = i - G v, L di/dt = -v from the current that the energy makes; 20,000 exact steps."""
    coil = Coil(clamp_volts=1e9)
    energy = 0.06
    farad, henry = coil.picofarad * 1e-12, coil.henry * coil.turns**2
    step = 2e-8
    a = np.array([[-shunt * 1e-6 / farad, 1.0 / farad], [-1.0 / henry, 0.0]]) * step
    # The matrix exponential by its series: |a| is far below 1.
    once, term = np.eye(2), np.eye(2)
    for k in range(1, 12):
        term = term @ a / k
        once = once + term
    state, highest = np.array([0.0, np.sqrt(2.0 * coil.coupling * energy / henry)]), 0.0
    for _ in range(20_000):
        state = once @ state
        highest = max(highest, state[0])
    assert available_kv(energy, coil, plug_shunt_us=shunt) == pytest.approx(highest / 1000.0, rel=1e-5)


def test_the_driver_clamps_what_a_coil_without_load_gives() -> None:
    assert available_kv(10.0, COIL) == pytest.approx(450.0 * 80.0 / 1000.0)


def test_a_fouled_plug_takes_the_spark_away() -> None:
    """About a megohm spoils a coil's spark: common practice, no source."""
    energy = stored_energy(7.0, Coil(coupling=0.6))
    sound, fouled = available_kv(energy, COIL), available_kv(energy, COIL, plug_shunt_us=2.0)
    assert fouled < 0.7 * sound


@pytest.mark.parametrize("kv", [5.0, 15.0, 30.0])
def test_spark_duration_against_integration(kv: float) -> None:
    """Independent: the secondary current runs down in steps of 20 ns, by the midpoint rule."""
    energy, volts = 0.07, 800.0
    henry = COIL.henry * COIL.turns**2
    left = COIL.coupling * energy - 0.5 * COIL.picofarad * 1e-12 * (1000.0 * kv) ** 2
    amps, time, step = np.sqrt(2.0 * left / henry), 0.0, 2e-7
    while amps > 0.0:
        half = amps - 0.5 * step * (volts + COIL.secondary_ohm * amps) / henry
        amps -= step * (volts + COIL.secondary_ohm * half) / henry
        time += step
    assert spark_duration(energy, kv, COIL, burn_volts=volts) == pytest.approx(time, abs=5e-7)


def test_spark_duration_is_of_the_usual_order_and_shrinks_with_the_demand() -> None:
    """0.8 to 2 ms at idle: common practice, no source."""
    kv = np.array([6.0, 12.0, 24.0])
    found = spark_duration(stored_energy(7.0, COIL), kv, COIL, burn_volts=burn_volts(0.9, 6e5))
    assert np.all((found > 0.0008) & (found < 0.0025))
    assert np.all(np.diff(found) < 0.0)
    assert spark_duration(0.001, 30.0, COIL) == 0.0


# ---------------------------------------------------------------- the gap


def test_air_against_the_breakdown_of_one_centimetre() -> None:
    """30.4 kV at 101.3 kPa (a handbook's abstract, read)."""
    assert air_breakdown_kv(10.0, ATMOSPHERE, 293.0) == pytest.approx(30.4, rel=0.03)


@pytest.mark.parametrize("gap", [0.6, 1.0, 2.0, 5.0])
def test_air_against_the_usual_straight_line(gap: float) -> None:
    """30 p d + 1.35 kV for gaps of the order of a millimetre, p in atmospheres, d in cm (read)."""
    assert air_breakdown_kv(gap, ATMOSPHERE, 293.0) == pytest.approx(3.0 * gap + 1.35, rel=0.08)


def test_air_against_paschens_curve_with_townsends_constants() -> None:
    """V = B p d/(ln(A p d) - ln ln(1 + 1/γ)), A 15, B 365 per cm and Torr, γ 0.01 (read): another formula, 15 %."""
    for gap in (0.5, 0.9, 1.5):
        pd = 760.0 * gap / 10.0
        paschen = 365.0 * pd / (np.log(15.0 * pd) - np.log(np.log(1.0 + 1.0 / 0.01))) / 1000.0
        assert air_breakdown_kv(gap, ATMOSPHERE, 293.0) == pytest.approx(paschen, rel=0.15)


def test_only_density_times_gap_counts() -> None:
    one = air_breakdown_kv(0.5, 8e5, 600.0)
    assert air_breakdown_kv(1.0, 4e5, 600.0) == pytest.approx(one)
    assert air_breakdown_kv(0.5, 4e5, 300.0) == pytest.approx(one)


def test_firing_voltages_are_of_the_usual_order() -> None:
    """5 to 12 kV at idle, 12 to 25 kV under load with a worn gap: common practice, no source."""
    assert 5.0 < breakdown_kv(0.9, 4e5, 580.0) < 12.0
    assert 12.0 < breakdown_kv(1.3, 14e5, 650.0, electrodes=1.0) < 26.0


def test_a_worn_gap_under_load_asks_more_than_a_weak_coil_has() -> None:
    energy = stored_energy(7.0, COIL, coil_energy=np.array([1.0, 0.2]))
    available = available_kv(energy, COIL)
    demand = breakdown_kv(1.5, 14e5, 650.0, electrodes=1.0)
    missed = misfire_share(demand, available, 40.0)
    assert missed[0] < 0.01
    assert missed[1] > 0.9
    assert misfire_share(breakdown_kv(0.7, 4e5, 580.0), available[1], 40.0) < 0.01  # the same coil serves at idle


def test_a_leaking_boot_takes_the_spark_only_when_the_gap_asks_for_more() -> None:
    firing, in_gap = spark_way_kv(np.array([8.0, 16.0, 8.0]), 12.0, np.array([40.0, 40.0, 5.0]))
    assert firing.tolist() == [8.0, 12.0, 5.0]
    assert in_gap.tolist() == [1.0, 0.0, 0.0]
    firing, in_gap = spark_way_kv(10.0, 40.0, 40.0, boot_gap_kv=15.0)
    assert (float(firing), float(in_gap)) == (25.0, 1.0)


def test_misfires_against_drawn_firings(rng: np.random.Generator) -> None:
    demand = rng.normal(15.0, 15.0 * 0.08, 100_000)
    assert misfire_share(15.0, 30.0, 16.0) == pytest.approx(np.mean(demand > 16.0), abs=0.005)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="below zero"):
        available_kv(-1.0, COIL)
    with pytest.raises(EngineDefinitionError, match="below zero"):
        available_kv(1.0, COIL, plug_shunt_us=-1.0)
    with pytest.raises(EngineDefinitionError, match="gap below zero"):
        air_breakdown_kv(-0.1, 1e5, 300.0)
    with pytest.raises(EngineDefinitionError, match="without pressure"):
        air_breakdown_kv(1.0, 0.0, 300.0)
    with pytest.raises(EngineDefinitionError, match="without scatter"):
        misfire_share(1.0, 2.0, 3.0, scatter=0.0)
