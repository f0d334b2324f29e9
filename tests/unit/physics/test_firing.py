"""A whole firing from its state: every state variable moves what it must, and nothing it must not."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.firing import FiringState, GasAtSpark, fire
from witnessmark.physics.ignition import Coil, spark_duration, stored_energy

COIL, IDLE, LOAD = Coil(), GasAtSpark(), GasAtSpark(14e5, 650.0)
SOUND = fire(FiringState(), LOAD, COIL)


def test_a_sound_cylinder_fires_at_idle_and_under_load() -> None:
    """5 to 12 kV and 1 to 2.5 ms at idle, never a miss: common practice, no source."""
    idle = fire(FiringState(), IDLE, COIL)
    assert 5.0 < idle.firing_kv < 12.0
    assert 0.001 < idle.spark_seconds < 0.0025
    assert idle.misfire_share < 1e-6
    assert SOUND.misfire_share < 1e-6
    assert SOUND.firing_kv > idle.firing_kv
    assert SOUND.spark_seconds < idle.spark_seconds


@pytest.mark.parametrize(
    ("state", "higher"),
    [
        (FiringState(spark_gap=1.5), True),  # worn: asks for more and burns shorter
        (FiringState(spark_gap=0.6), False),
        (FiringState(boot_ohm=1e9), True),  # open: the spark leaps
        (FiringState(boot_kv=9.0), False),  # leaks: breaks down early
        (FiringState(plug_kv=9.0), False),
    ],
)
def test_which_way_the_firing_voltage_goes(state: FiringState, higher: bool) -> None:
    found = fire(state, LOAD, COIL)
    assert (found.firing_kv > SOUND.firing_kv) is np.True_ if higher else found.firing_kv < SOUND.firing_kv


def test_resistance_in_the_boot_shortens_the_spark_and_asks_for_no_more() -> None:
    found = fire(FiringState(boot_ohm=30e3), LOAD, COIL)
    assert found.firing_kv == pytest.approx(SOUND.firing_kv)
    assert found.spark_seconds < 0.7 * SOUND.spark_seconds
    energy = stored_energy(SOUND.primary_amps, COIL)
    twin = Coil(secondary_ohm=COIL.secondary_ohm + 30e3)
    assert spark_duration(energy, 10.0, COIL, more_ohm=30e3) == pytest.approx(spark_duration(energy, 10.0, twin))


def test_a_leaking_boot_misses_under_load_only() -> None:
    leaking = FiringState(boot_kv=10.0)
    assert fire(leaking, IDLE, COIL).misfire_share < 0.01
    assert fire(leaking, LOAD, COIL).misfire_share > 0.99


def test_a_weak_coil_misses_where_the_demand_is_high_and_looks_the_same_before() -> None:
    weak = fire(FiringState(coil_energy=0.1), LOAD, COIL)
    assert weak.misfire_share > 0.9
    assert weak.spark_seconds == 0.0
    assert weak.firing_kv == weak.available_kv  # a pattern without a burn line
    assert weak.primary_amps == SOUND.primary_amps
    assert fire(FiringState(coil_energy=0.1), IDLE, COIL).misfire_share < 0.05


def test_no_current_no_spark() -> None:
    for found in (
        fire(FiringState(winding=1e9), IDLE, COIL),
        fire(FiringState(), IDLE, COIL, volts=0.0),
        fire(FiringState(), IDLE, COIL, wiring_ohm=1e9),
        fire(FiringState(), IDLE, COIL, dwell=0.0),
    ):
        assert found.primary_amps < 1e-6
        assert found.spark_seconds == 0.0
        assert found.misfire_share == pytest.approx(1.0)


def test_a_fouled_plug_misses_without_asking_for_more() -> None:
    found = fire(FiringState(plug_shunt=np.array([0.01, 20.0])), LOAD, COIL)
    assert found.required_kv.shape == () or np.ptp(found.required_kv) == 0.0
    assert found.misfire_share[0] < 1e-6
    assert found.misfire_share[1] > 0.99


def test_many_states_at_once_are_each_as_alone(rng: np.random.Generator) -> None:
    n = 50
    drawn = {
        "coil_energy": rng.uniform(0.0, 1.2, n),
        "winding": 10.0 ** rng.uniform(0.0, 3.0, n),
        "spark_gap": rng.uniform(0.0, 2.5, n),
        "plug_shunt": 10.0 ** rng.uniform(-2.0, 2.0, n),
        "boot_kv": rng.uniform(1.0, 50.0, n),
        "plug_kv": rng.uniform(1.0, 50.0, n),
        "boot_ohm": 10.0 ** rng.uniform(0.0, 9.0, n),
    }
    found = fire(FiringState(**drawn), LOAD, COIL, volts=rng.uniform(6.0, 15.0, n))
    rng = np.random.default_rng(0)
    for k in range(0, n, 7):
        one = FiringState(**{name: float(values[k]) for name, values in drawn.items()})
        again = fire(one, LOAD, COIL, volts=14.0)
        many = fire(FiringState(**drawn), LOAD, COIL, volts=14.0)
        assert again.firing_kv == pytest.approx(many.firing_kv[k])
        assert again.misfire_share == pytest.approx(many.misfire_share[k])
    assert np.all((found.misfire_share >= 0.0) & (found.misfire_share <= 1.0))
    assert np.all(found.firing_kv <= found.available_kv)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="boot with a resistance below zero"):
        fire(FiringState(boot_ohm=-1.0), IDLE, COIL)
