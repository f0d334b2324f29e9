"""Catalogue §6, pair 12: a front sensor that reads lean, air let into the exhaust ahead of it, an engine truly lean.

All three trim rich. Outside sources: balance of oxygen in the exhaust, Brettschneider 1979 (handbook §6); that a leak
ahead of the sensor fades with flow is common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.predict.airs import ask, engine, readings
from witnessmark.physics.mixture import lambda_from_gas

FOUR = engine("made-up four")
BIASED = {("sensor_offset", "o2_front_1"): 0.06}
EXHAUST_LEAK = {("leak_area", "exhaust_front_1"): 12.0}
LEAN = {("leak_area", "plenum"): 7.0}


def gas(name: str, state: str = "idle") -> np.ndarray:
    return readings(FOUR, ask("exhaust_gas_share", state, gas=name), BIASED, EXHAUST_LEAK, LEAN)


def test_all_three_trim_rich_at_idle() -> None:
    sound, *found = readings(FOUR, ask("fuel_trim", "idle"), BIASED, EXHAUST_LEAK, LEAN)
    assert min(found) > sound + 4.0


def test_the_gas_tells_a_biased_sensor_from_a_lean_engine() -> None:
    """A sensor led astray makes the engine rich; a lean one leaves oxygen."""
    sound, biased, _, lean = gas("CO")
    assert biased > sound + 0.5
    assert lean < 0.2
    sound, biased, _, lean = gas("O2")
    assert biased < 0.1
    assert lean > sound + 1.0


def test_lambda_out_of_the_gas_says_what_the_rear_sensor_says() -> None:
    """Brettschneider's balance, an independent formula, read back from the predicted gases."""
    shares = {name: gas(name) for name in ("O2", "CO", "CO2", "HC")}
    told = lambda_from_gas(
        carbon_monoxide=shares["CO"],
        carbon_dioxide=shares["CO2"],
        oxygen=shares["O2"],
        hydrocarbons_ppm=1e4 * shares["HC"],
        hydrogen_to_carbon=1.87,
        oxygen_to_carbon=0.0,
    )
    rear = readings(FOUR, ask("lambda_reported", "idle", sensor="o2_rear_1"), BIASED, EXHAUST_LEAK, LEAN)
    np.testing.assert_allclose(told, rear, atol=0.01)
    assert rear[1] == pytest.approx(0.94, abs=0.005)
    assert rear[3] > 1.02


def test_smoke_finds_either_leak_where_it_is() -> None:
    """By Bernoulli at 3 kPa: 71 m/s through seven tenths of the hole, 3 L/min for each square millimetre."""
    for duct, row in (("exhaust_front_1", 2), ("plenum", 3), ("exhaust", 2), ("intake", 3)):
        found = readings(FOUR, ask("leak_smoke", duct=duct), BIASED, EXHAUST_LEAK, LEAN)
        assert found[row] == pytest.approx(3.0 * (12.0 if row == 2 else 7.0), rel=0.01)
        np.testing.assert_allclose(np.delete(found, row), 0.0, atol=1e-9)


def test_air_let_into_the_exhaust_fades_with_flow_and_a_bias_does_not() -> None:
    idle, raised = (readings(FOUR, ask("fuel_trim", state), BIASED, EXHAUST_LEAK) for state in ("idle", "raised"))
    assert raised[1] == pytest.approx(idle[1], abs=0.5)
    assert raised[2] < 0.6 * idle[2]


def test_the_front_sensor_itself_shows_its_target_in_all_three_until_the_stop() -> None:
    found = readings(FOUR, ask("lambda_reported", "idle", sensor="o2_front_1"), BIASED, EXHAUST_LEAK)
    np.testing.assert_allclose(found, 1.0, atol=1e-6)
