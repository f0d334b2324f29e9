"""Shares of a cylinder, crankcase, exhaust gas, mixture's work, tank vent: against other formulas and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import InputError
from witnessmark.physics.crankcase import crankcase_gauge
from witnessmark.physics.cylindershare import leak_loss, leak_rate, port_share
from witnessmark.physics.exhaustgas import dry_gas
from witnessmark.physics.leanburn import burns_diluted, unfired_share, work_of_mixture, work_of_spark
from witnessmark.physics.mixture import lambda_from_gas
from witnessmark.physics.nozzle import R_AIR, choked_flux, mass_flow
from witnessmark.physics.tankvent import VENT_AREA, pump_in_vapour, tank_depression

# ---------------------------------------------------------------- exhaust gas


@pytest.mark.parametrize("unburnt", [0.0, 0.1, 0.25])
@pytest.mark.parametrize("converted", [0.0, 0.5, 0.97])
def test_the_gas_says_the_lambda_it_came_from(unburnt: float, converted: float) -> None:
    """Brettschneider's balance (1979), another formula than the one that made the gas: neither misfires nor a catalyst
    change what it finds.
    """
    true = np.linspace(0.82, 1.2, 20)
    gas = dry_gas(true, unburnt=unburnt, converted=converted)
    told = lambda_from_gas(
        carbon_monoxide=gas.carbon_monoxide,
        carbon_dioxide=gas.carbon_dioxide,
        oxygen=gas.oxygen,
        hydrocarbons_ppm=1e4 * gas.hydrocarbons,
        hydrogen_to_carbon=1.87,
        oxygen_to_carbon=0.0,
    )
    np.testing.assert_allclose(told, true, rtol=0.005)


def test_gas_of_known_engines() -> None:
    """Common practice, no source: a warm sound car has under 0.3 % CO and above 14.5 % CO2; without a catalyst an
    engine at 0.88 has some 4 % CO, a lean one oxygen; one cylinder of four that does not fire leaves 4 to 7 % of it.
    """
    sound = dry_gas(1.0, converted=0.97)
    assert sound.carbon_monoxide < 0.3
    assert 14.5 < sound.carbon_dioxide < 15.6
    assert 3.0 < dry_gas(0.88).carbon_monoxide < 5.0
    assert 1.0 < dry_gas(1.05).oxygen < 1.6
    assert 4.0 < dry_gas(1.0, unburnt=0.25).oxygen < 7.0


def test_oxygen_at_any_lambda_by_hand() -> None:
    """Lean and whole combustion, by hand, one carbon's worth; what slips through is taken off."""
    lean = dry_gas(1.2, converted=1.0)
    each = 1 + 1.87 / 4
    left = 0.2 * each
    dry = 1.0 + left + 1.2 * each * (1 - 0.2095) / 0.2095
    assert lean.oxygen == pytest.approx(100 * left / dry, rel=0.01)
    assert lean.carbon_dioxide == pytest.approx(100 / dry, rel=0.01)


def test_a_catalyst_needs_both() -> None:
    rich, half = dry_gas(0.9, converted=0.97), dry_gas(0.9)
    assert rich.carbon_monoxide == pytest.approx(half.carbon_monoxide, rel=0.05)
    assert dry_gas(1.01, converted=0.97).hydrocarbons < 0.1 * dry_gas(1.01).hydrocarbons


# ---------------------------------------------------------------- one cylinder's share


def test_port_share_solves_its_own_balance() -> None:
    """What is drawn in proportion to the pressure left is what Bernoulli lets through that drop."""
    area, volume, speed, warm, left = 6e-4, 0.5e-3, 4000.0, 320.0, 0.35
    k = volume * speed / 120 * 3 / (R_AIR * warm)

    def kept(free: float) -> float:
        pressures = np.linspace(0.01, 1.0, 200001)
        drop = (k * pressures * 1e5) ** 2 * R_AIR * warm / (2 * 1e5 * (area * free) ** 2)
        return float(pressures[np.argmin(np.abs(pressures * 1e5 + drop - 1e5))])

    found = port_share(area, volume, speed, left=left, temperature=warm)
    assert found == pytest.approx(kept(left) / kept(1.0), rel=1e-3)


def test_port_share_has_its_ends_and_falls_with_speed() -> None:
    shares = port_share(6e-4, 0.5e-3, np.array([800.0, 2000.0, 6000.0]), left=0.4, temperature=320.0)
    assert np.all(np.diff(shares) < 0.0)
    assert port_share(6e-4, 0.5e-3, 3000.0, left=1.0, temperature=320.0) == 1.0
    assert port_share(6e-4, 0.5e-3, 3000.0, left=0.0, temperature=320.0) < 1e-3


def test_leak_rate_of_a_cylinder_that_is_only_squeezed() -> None:
    """Mean of choked flow over the compression, by the nozzle's own formula and the closed volume of a 10.5 engine."""
    angle = np.linspace(0.5, 179.5, 180)
    share = 0.5 * (1 - np.cos(np.radians(angle)))  # a long rod: within a few percent of one of 143 mm
    squeezed = 10.5 / (1 + 9.5 * share)
    inside, hot = 60e3 * squeezed**1.3, 340 * squeezed**0.3
    compression = np.mean([choked_flux(p, t) for p, t in zip(inside, hot, strict=True)]) * 1e-6 / 4
    found = leak_rate(1e-6, 60e3, compression_ratio=10.5)
    assert found == pytest.approx(compression * (1 + np.sqrt(3.3)), rel=0.1)


def test_leaks_cost_most_when_slow_and_all_where_they_are_large() -> None:
    slow, fast = (leak_loss(3e-6, 0.5e-3, n, compression_ratio=10.5) for n in (250.0, 3000.0))
    assert slow > 5.0 * fast
    assert leak_loss(60e-6, 0.5e-3, 250.0, compression_ratio=10.5) > 0.99
    assert leak_loss(0.0, 0.5e-3, 250.0, compression_ratio=10.5) == 0.0


# ---------------------------------------------------------------- crankcase


def test_crankcase_passes_what_it_gets() -> None:
    """Balance: what the breather passes at the pressure found, by the nozzle's formula, is the surplus."""
    blow_by = np.array([0.0, 0.002, 0.004])
    gauge = crankcase_gauge(blow_by, 40e3, valve=3e-6, breather=50e-6)
    drawn = mass_flow(3e-6, 101325.0, 40e3, 320.0, other_temperature=320.0)
    through = mass_flow(50e-6, 101325.0 + gauge, 101325.0, 298.15, other_temperature=298.15)
    np.testing.assert_allclose(through, blow_by - drawn, rtol=0.03, atol=1e-5)
    assert gauge[0] < 0.0 < gauge[2]


def test_an_open_ventilation_valve_draws_the_crankcase_down() -> None:
    sound, open_ = (crankcase_gauge(0.0003, 35e3, valve=area, breather=60e-6) for area in (2.5e-6, 30e-6))
    assert open_ < -1000.0 < sound < 0.0


# ---------------------------------------------------------------- mixture and dilution


def test_mixture_works_best_a_little_rich_and_not_at_all_beyond_its_limits() -> None:
    """[heywood] §9.5, from memory: most torque near λ 0.9, a tenth less near 1.15."""
    lean = np.linspace(0.3, 2.5, 500)
    work = np.asarray(work_of_mixture(lean))
    assert 0.85 < lean[np.argmax(work)] < 0.95
    assert work_of_mixture(1.15) == pytest.approx(0.89, abs=0.03)
    assert work_of_mixture(np.inf) == 0.0
    assert unfired_share(np.inf) == 1.0
    assert unfired_share(1.0) == 0.0
    assert burns_diluted(0.1) == 1.0
    assert burns_diluted(0.9) == 0.0
    # [heywood] §15.3, from memory: flat about its best, a few percent for 10°.
    assert 0.93 < work_of_spark(-10.0) < 0.97
    assert work_of_spark(5.0) > 0.98


# ---------------------------------------------------------------- tank


def test_a_tank_s_depression_is_the_drop_over_its_vent() -> None:
    """By the nozzle: air of the fuel's volume passes the vent at that depression."""
    flow = 0.002
    lost = tank_depression(flow, restriction=0.8)
    air = mass_flow(0.2 * VENT_AREA, 101325.0, 101325.0 - lost, 298.15, other_temperature=298.15)
    assert air == pytest.approx(flow / 745.0 * 1.18, rel=0.02)
    assert tank_depression(flow, restriction=0.0) < 20.0
    assert tank_depression(flow, restriction=1.0) == 25e3


def test_volatile_or_hot_fuel_starves_a_pump_sooner() -> None:
    lost = np.array([0.0, 20e3])
    winter, summer = (pump_in_vapour(lost, volatility=v, hot=5.0) for v in (90.0, 55.0))
    assert np.all(winter < summer)
    assert summer[0] == 1.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: dry_gas(0.0), "air ratio: 0 given"),
        (lambda: dry_gas(1.0, unburnt=1.5), "unburnt: 1.5 given"),
        (lambda: leak_rate(-1e-6, 35e3, compression_ratio=10.5), "leak area: -1e-06 given"),
        (lambda: port_share(0.0, 1e-3, 800.0, left=1.0, temperature=300.0), "area: 0 given"),
        (lambda: crankcase_gauge(0.0, 35e3, valve=1e-6, breather=0.0), "breather area: 0 given"),
        (lambda: burns_diluted(1.5), "dilution: 1.5 given"),
        (lambda: tank_depression(-1.0, restriction=0.0), "fuel flow: -1 given"),
    ],
)
def test_bad_input_is_one_line_with_the_field(call: object, words: str) -> None:
    with pytest.raises(InputError) as refused:
        call()  # type: ignore[operator]
    assert str(refused.value).startswith(words)
