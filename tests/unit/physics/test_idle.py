"""Warm idle in closed form, the friction under it, and where the numbers that are taken as usual come from."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.errors import InputError
from witnessmark.physics.burn import Burn
from witnessmark.physics.filling import calculated_load, filling_factor, speed_density_flow
from witnessmark.physics.friction import friction_pressure, power_pressure
from witnessmark.physics.gas import with_petrol
from witnessmark.physics.gaspath import Cylinder, GasPath, Link, Reservoir, Volume
from witnessmark.physics.idle import IdleEngine, idle_point
from witnessmark.physics.idleband import CONSUMERS, displacement_told, idle_band, usual_idle_engines
from witnessmark.physics.lift import Lobe
from witnessmark.physics.slidercrank import CylinderGeometry
from witnessmark.physics.usual import USUAL, Usual
from witnessmark.physics.valveflow import Valves

TWO_LITRES = Usual(2e-3, 0.0, "m3", "said")

# ---------------------------------------------------------------- friction


def sum_of_parts(rpm: float, pressure_ratio: float, *, rollers: bool) -> float:
    """Rubbing and auxiliaries of a two-litre four with 16 valves, part by part [kPa].

    K. Patton, R. Nitschke, J. Heywood, SAE 890836: coefficients from memory, lengths in mm.
    """
    bore = stroke = 86.0
    n, valves, compression, piston = 4, 16, 10.5, 2 * stroke * rpm / 60_000

    def bearings(diameter: float, length: float, count: int) -> float:
        return 3.03e-4 * rpm * diameter**3 * length * count / (bore**2 * stroke * n)

    crank = 1.22e5 * 55.0 / (bore**2 * stroke * n) + bearings(55.0, 22.0, 5) + 1.35e-10 * 55.0**2 * rpm**2 * 5 / n
    rings = 294.0 * piston / bore + 4.06e4 * (1 + 1000 / rpm) / bore**2 + bearings(48.0, 21.0, 4)
    gas = 6.89 * pressure_ratio * (0.088 * compression + 0.182 * compression ** (1.33 - 0.0238 * piston))
    contact = 0.005 * rpm if rollers else 133.0 * (1 + 1000 / rpm)
    cam = 4.12 + 244.0 * rpm * 5 / (bore**2 * stroke * n) + contact * valves / (stroke * n)
    cam += 0.5 * 9.0**1.5 * rpm**0.5 * valves / (bore * stroke * n) + 10.7 * (1 + 1000 / rpm) * 9.0 * valves / (
        stroke * n
    )
    return crank + rings + gas + cam + 6.23 + 5.22e-3 * rpm - 1.79e-7 * rpm**2


@pytest.mark.parametrize("rpm", [700.0, 1000.0, 2000.0, 3000.0])
def test_friction_lies_between_two_published_forms(rpm: float) -> None:
    """Above the sum over parts with rollers less a fifth, below what whole engines of 1975 took to be motored.

    The latter is 0.97 + 0.15 n + 0.05 n² bar, n in 1,000 rpm ([heywood] eq. 13.6, from memory), its pumping included.
    """
    ours = float(friction_pressure(rpm, 2e-3)) / 1000
    motored = 97.0 + 15.0 * rpm / 1000 + 5.0 * (rpm / 1000) ** 2
    assert 0.8 * sum_of_parts(rpm, 0.33, rollers=True) < ours < motored


def test_friction_at_idle_is_that_of_the_sum_over_parts_within_its_spread() -> None:
    low, high = (sum_of_parts(800.0, 0.33, rollers=kind) for kind in (True, False))
    ours = float(friction_pressure(800.0, 2e-3)) / 1000
    assert low * 0.88 < ours < high * 1.12
    assert (high - low) / (high + low) < 2 * USUAL["friction"].sd


def test_power_is_pressure_times_what_is_swept() -> None:
    assert float(power_pressure(1000.0, 1200.0, 2e-3)) * 2e-3 * 10 == pytest.approx(1000.0)


# ---------------------------------------------------------------- the balance


def test_air_and_pressures_balance() -> None:
    """Recomputed from the pressure found, by the public formulas of the parts."""
    engine = IdleEngine(1.6e-3, 3, accessory_watts=900.0, compression_ratio=11.0, charge_warming=12.0)
    found = idle_point(engine, 720.0, ambient_pressure=95e3, intake_temperature=310.0)
    left = filling_factor(95.3e3 / found.manifold_pressure, 11.0)
    drawn = speed_density_flow(
        engine.filling * left, found.manifold_pressure, 322.0, displacement=1.6e-3, speed_rpm=720.0
    )
    assert found.air_flow == pytest.approx(drawn, rel=1e-12)
    friction = 1.6e-3 * 6 * (friction_pressure(720.0, 1.6e-3, 3) + 95.3e3 - found.manifold_pressure)
    assert engine.work_per_air * found.air_flow == pytest.approx(friction + 900.0, rel=1e-12)


def test_more_on_the_belt_wants_more_air_and_the_small_engine_feels_it_more() -> None:
    rise = []
    for litres in (1.2e-3, 3.0e-3):
        bare, loaded = (idle_point(IdleEngine(litres, accessory_watts=w), 800.0) for w in (500.0, 2000.0))
        assert loaded.air_flow > bare.air_flow
        assert loaded.load > bare.load
        rise.append(loaded.manifold_pressure / bare.manifold_pressure)
    assert rise[0] > rise[1] > 1.0


def test_calculated_load_is_full_where_the_most_flows() -> None:
    """By its definition: at standard pressure and 25 °C."""
    most = 0.78 * 1.184 * 2e-3 * 800 / 120
    assert calculated_load(most, 0.78, displacement=2e-3, speed_rpm=800.0) == pytest.approx(100.0)


@pytest.mark.parametrize("consumers", CONSUMERS)
def test_a_band_holds_nine_healthy_engines_of_ten(consumers: str) -> None:
    band = idle_band(usual_idle_engines(TWO_LITRES, np.random.default_rng(1), consumers=consumers), 800.0)
    others = idle_point(usual_idle_engines(TWO_LITRES, np.random.default_rng(2), consumers=consumers), 800.0)
    for name in ("manifold_pressure", "air_flow", "load"):
        shown = np.asarray(getattr(others, name))
        held = getattr(band, name)
        assert np.mean((shown >= held.low) & (shown <= held.high)) == pytest.approx(0.9, abs=0.02)
        assert 0.05 < held.half_width < 0.35


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="consumers"):
        usual_idle_engines(TWO_LITRES, np.random.default_rng(1), consumers="heater")
    with pytest.raises(InputError, match="engine speed"):
        idle_point(IdleEngine(2e-3), 0.0)
    with pytest.raises(InputError, match="compression ratio"):
        idle_point(IdleEngine(2e-3, compression_ratio=1.0), 800.0)


def test_displacement_is_told_within_its_spread(rng: np.random.Generator) -> None:
    """Nine of ten engines, each with a filling and a warming of its own, and rows read one after the other."""
    hit = 0
    filling, warming = USUAL["idle_filling"], USUAL["charge_warming"]
    for _ in range(300):
        pressure, speed = rng.uniform(50e3, 95e3, 200), rng.uniform(1000.0, 3000.0, 200)
        left = filling_factor(101.6e3 / pressure, float(rng.uniform(9.0, 12.0)))
        flow = speed_density_flow(
            (filling.value + filling.sd * rng.standard_normal()) * left, pressure,
            305.0 + warming.value + warming.sd * rng.standard_normal(), displacement=2e-3, speed_rpm=speed,
        )  # fmt: skip
        told = displacement_told(flow * rng.normal(1.0, 0.2, 200), pressure, np.full(200, 305.0), speed)
        hit += abs(told.value - 2e-3) < 1.645 * told.sd
    assert hit / 300 == pytest.approx(0.9, abs=0.05)


# ---------------------------------------------------------------- usual numbers that our own cycle gave


def cycle(half_burnt: float, pressure: float) -> tuple[float, float]:
    """Gross work over the heat of the fuel, and filling at equal pressures, of one cylinder at 800 rpm."""
    engine, angles = CylinderGeometry(0.086, 0.086, 0.143, 10.5), np.arange(0.0, 720.0, 0.25)
    inlet = np.asarray(Valves(33.0, 2).area_m2(Lobe(350.0, 590.0, 9.5).at(angles)))
    outlet = np.asarray(Valves(28.0, 2).area_m2(Lobe(130.0, 370.0, 9.5).at(angles)))
    burn = Burn(half_burnt - Burn(0.0, 70.0).half_deg, 70.0)
    path = GasPath(
        [Cylinder("one", engine, wall_k=400.0, burn=burn)],
        [Volume("runner", 0.3e-3), Volume("manifold", 1e-3)],
        [Reservoir("in", pressure, 315.0), Reservoir("out", 101.3e3, 700.0, 1.0), Reservoir("case", 101e3, 340.0)],
        [Link("in", "runner", 9e-4), Link("runner", "one", inlet), Link("one", "manifold", outlet),
         Link("manifold", "out", 2e-4), Link("one", "case", 0.4e-6)],
        fresh=with_petrol(),
    )  # fmt: skip
    run = path.settle(800.0 * np.pi / 30.0)
    turned = np.argsort(run.angle_deg % 720.0)
    angle, gas = (run.angle_deg % 720.0)[turned], run.pressure_pa[turned, 0]
    volume = np.asarray(engine.volume_m3(angle))
    gross = float(np.sum((gas * np.gradient(volume))[(angle >= 540.0) | (angle <= 180.0)]))
    air = float(run.passed_kg[-1, 0]) * 14.6 / 15.6
    full = pressure * engine.swept_m3 / (287.05 * 315.0)
    return gross / (air / 14.6 * 43.4e6), air / full / float(filling_factor(101.6e3 / pressure, 10.5))


def test_work_and_filling_taken_as_usual_are_what_the_cycle_gives() -> None:
    best, filling = cycle(10.0, 33e3)
    assert 0.9 * best == pytest.approx(USUAL["work_per_air"].value * 14.6 / 43.4e6, rel=0.06)
    shares = [cycle(half, 33e3)[0] / best for half in (25.0, 35.0)]
    assert shares == pytest.approx([0.94, 0.84], abs=0.02)
    fillings = [filling, cycle(10.0, 95e3)[1]]
    assert np.mean(fillings) == pytest.approx(USUAL["idle_filling"].value, abs=USUAL["idle_filling"].sd)
