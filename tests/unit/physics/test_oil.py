"""Oil: viscosity against a published example and the makers' usual grades, pressure against the sum of flows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.oil import Oil, OilCircuit, diluted, dynamic_viscosity, kinematic_viscosity, oil_pressure

OIL, CIRCUIT = Oil(), OilCircuit()


def test_viscosity_of_a_published_example() -> None:
    """32 mm²/s at 40 °C and 5.4 at 100 °C give 8.5 at 80 °C: a worked example of ASTM D341, read (273 K at 0 °C)."""
    assert kinematic_viscosity(80.0, Oil(32.0, 5.4)) == pytest.approx(8.5, abs=0.05)


def test_both_given_points_are_kept() -> None:
    assert kinematic_viscosity(np.array([40.0, 100.0]), OIL) == pytest.approx([70.0, 12.0])


@given(st.floats(20.0, 300.0), st.floats(0.05, 0.5))
def test_walthers_line_is_straight(at_40: float, share: float) -> None:
    """Independent: the middle of two points on log log against log T lies on the chord."""
    oil = Oil(at_40, max(2.0, share * at_40))
    if oil.at_100 >= oil.at_40:
        return
    kelvin = np.array([300.0, np.sqrt(300.0 * 400.0), 400.0])
    y = np.log10(np.log10(kinematic_viscosity(kelvin - 273.15, oil) + 0.7))
    assert y[1] == pytest.approx(0.5 * (y[0] + y[2]), abs=1e-9)


def test_dilution_thins_and_ends_at_both_liquids() -> None:
    share = np.linspace(0.0, 1.0, 21)
    found = diluted(15.0, share)
    assert found[0] == pytest.approx(15.0)
    assert found[-1] == pytest.approx(0.5)
    assert np.all(np.diff(found) < 0.0)
    # 5 % of petrol takes a grade or so: a quarter to a third of the viscosity, common practice, no source.
    assert 0.65 < diluted(15.0, 0.05) / 15.0 < 0.8


def test_a_wrong_or_diluted_oil_scales() -> None:
    right = dynamic_viscosity(90.0, OIL)
    assert dynamic_viscosity(90.0, OIL, oil_viscosity=0.5) == pytest.approx(0.5 * right)
    assert dynamic_viscosity(90.0, OIL, oil_fuel=0.1) < 0.65 * right
    assert 0.010 < right < 0.015


@given(st.floats(0.0, 7000.0), st.floats(0.003, 2.0), st.floats(0.0, 1.3), st.floats(0.7, 2.0))
def test_what_the_pump_gives_leaves_somewhere(rpm: float, mu: float, supply: float, gap: float) -> None:
    """Flow through bearings, pump slip and relief valve adds up to the pump's."""
    p = float(oil_pressure(rpm, mu, CIRCUIT, oil_supply=supply, clearance=gap))
    through = p * (CIRCUIT.leak * gap**3 + CIRCUIT.pump_slip) / mu
    relieved = CIRCUIT.relief_slope * max(p - CIRCUIT.relief_pa, 0.0)
    assert through + relieved == pytest.approx(rpm / 60.0 * 13e-6 * supply, rel=1e-9, abs=1e-15)


def test_pressure_is_of_the_usual_order() -> None:
    """100 to 200 kPa at hot idle, 350 to 500 at 3000 rpm or cold: common practice, no source."""
    hot, cold = dynamic_viscosity(100.0, OIL), dynamic_viscosity(0.0, OIL)
    assert 100e3 < oil_pressure(800.0, hot, CIRCUIT) < 200e3
    assert 350e3 < oil_pressure(3000.0, hot, CIRCUIT) < 500e3
    assert 350e3 < oil_pressure(1100.0, cold, CIRCUIT) < 500e3


def test_wear_starvation_and_thin_oil_show_at_hot_idle_and_hide_behind_the_relief_valve() -> None:
    hot = dynamic_viscosity(100.0, OIL)
    whole = oil_pressure(800.0, hot, CIRCUIT)
    for bad in (
        oil_pressure(800.0, hot, CIRCUIT, clearance=1.3),
        oil_pressure(800.0, hot, CIRCUIT, oil_supply=0.5),
        oil_pressure(800.0, 0.5 * hot, CIRCUIT),
    ):
        assert bad < 0.62 * whole
    cold = dynamic_viscosity(0.0, OIL)
    assert oil_pressure(1100.0, cold, CIRCUIT, clearance=1.3) > 0.95 * oil_pressure(1100.0, cold, CIRCUIT)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(EngineDefinitionError, match="an oil of 10 mm²/s at 40 °C and 12"):
        kinematic_viscosity(80.0, Oil(10.0, 12.0))
    with pytest.raises(EngineDefinitionError, match="2 or more"):
        kinematic_viscosity(80.0, Oil(10.0, 1.5))
    with pytest.raises(EngineDefinitionError, match="no share"):
        diluted(10.0, 1.1)
    for mu, gap, supply in ((0.0, 1.0, 1.0), (0.01, 0.0, 1.0), (0.01, 1.0, -1.0)):
        with pytest.raises(EngineDefinitionError, match="oil circuit"):
            oil_pressure(800.0, mu, CIRCUIT, clearance=gap, oil_supply=supply)
