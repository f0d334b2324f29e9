"""A small car for the forty logs: it idles, pulls away, cruises, coasts, warms up, and says what is logged.

Invented throughout; rules of thumb (common practice, no source) are enough, for these logs are for naming columns, not
for finding faults. It imports nothing of the package, so that nothing under test shapes the exam.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["DRIVES", "Car", "simulate"]

Values = NDArray[np.float64]

# (seconds, speed aimed at in km/h), one after the other; the first is where it begins.
DRIVES: dict[str, tuple[tuple[float, float], ...]] = {
    "idle": ((200.0, 0.0),),
    "town": ((6.0, 0.0), (9.0, 32.0), (9.0, 50.0), (6.0, 48.0), (8.0, 0.0), (7.0, 0.0), (10.0, 45.0), (10.0, 15.0)) * 4,
    "road": ((5.0, 0.0), (10.0, 50.0), (10.0, 85.0), (15.0, 90.0), (12.0, 55.0), (10.0, 80.0), (12.0, 0.0)) * 4,
    "brisk": ((4.0, 0.0), (9.0, 98.0), (6.0, 60.0), (8.0, 112.0), (14.0, 0.0), (4.0, 0.0)) * 5,
    "motorway": ((10.0, 95.0), (10.0, 122.0), (25.0, 128.0), (10.0, 100.0), (15.0, 130.0), (12.0, 85.0)) * 4,
}
STEP_S = 0.1


@dataclass(frozen=True)
class Car:
    """What a log's car is and how it is driven.

    Parameters
    ----------
    drive : str
        Of :data:`DRIVES`.
    litres, cylinders : float, int
        Displacement and cylinders.
    boost : bool
        With a turbocharger.
    start_c, outside_c, baro_kpa : float
        Coolant as the log begins, and the day.
    began_s : float
        Run time as the log begins.
    idle_rpm, lean_percent : float
        Idle aimed at when warm; what the trims have to add in all.
    """

    drive: str = "town"
    litres: float = 1.8
    cylinders: int = 4
    boost: bool = False
    start_c: float = 84.0
    outside_c: float = 17.0
    baro_kpa: float = 100.0
    began_s: float = 412.0
    idle_rpm: float = 760.0
    lean_percent: float = 2.0


def simulate(car: Car, seconds: float, seed: int) -> dict[str, Values]:
    """Every parameter over time.

    Parameters
    ----------
    car : Car
    seconds : float
    seed : int

    Returns
    -------
    dict of str to array
        By the text of the parameter, in its own unit, one value each 0.1 s; "time" among them.
    """
    rng = np.random.default_rng(seed)
    n = int(seconds / STEP_S) + 2
    time = np.arange(n) * STEP_S
    speed = _speeds(car.drive, time, rng)
    found = {"time": time, "vehicle_speed": speed, "run_time": car.began_s + time}
    _motion(found, car, rng)
    _air(found, car, rng)
    _heat(found, car, rng)
    _mixture(found, car, rng)
    _cams(found, rng)
    _rest(found, car, rng)
    _fuel_beside(found)
    _beside(found, car)
    return found


def _lag(target: Values, tau_s: float, start: float | None = None) -> Values:
    out = np.empty_like(target)
    level = float(target[0]) if start is None else start
    for i, value in enumerate(target):
        level += (value - level) * min(1.0, STEP_S / tau_s)
        out[i] = level
    return out


def _wander(n: int, size: float, tau_s: float, rng: np.random.Generator) -> Values:
    keep = np.exp(-STEP_S / tau_s)
    steps = rng.standard_normal(n) * size * np.sqrt(1.0 - keep**2)
    out = np.empty(n)
    level = rng.standard_normal() * size
    for i, step in enumerate(steps):
        level = keep * level + step
        out[i] = level
    return out


def _speeds(drive: str, time: Values, rng: np.random.Generator) -> Values:
    legs = DRIVES[drive]
    ends = np.cumsum([seconds for seconds, _ in legs])
    aims = [aim for _, aim in legs]
    knots_t = np.concatenate([[0.0], ends])
    knots_v = np.concatenate([[aims[0]], aims])
    speed = np.interp(time, knots_t, knots_v)
    speed = _lag(speed, 1.2)
    speed += np.where(speed > 3.0, _wander(time.size, 0.6, 4.0, rng), 0.0)
    return np.where(speed < 1.0, 0.0, speed)


def _motion(found: dict[str, Values], car: Car, rng: np.random.Generator) -> None:
    speed = found["vehicle_speed"]
    n = speed.size
    gear = np.digitize(speed, [2.0, 17.0, 34.0, 56.0, 78.0]).astype(float)
    per_kmh = np.array([0.0, 118.0, 68.0, 46.0, 35.0, 27.5])[gear.astype(int)]
    cold = np.clip((60.0 - car.start_c) / 60.0, 0.0, 1.0) * np.exp(-found["time"] / 60.0)
    target = car.idle_rpm + 450.0 * cold
    idle = target + _wander(n, 9.0, 1.0, rng)
    rpm = np.maximum(_lag(per_kmh * speed, 0.35), idle)
    accel = np.gradient(_lag(speed, 0.5), STEP_S) / 3.6
    force = 1350.0 * accel + 160.0 + 0.42 * (speed / 3.6) ** 2
    power = np.where(speed > 0.0, force * speed / 3.6, 0.0) / 1000.0
    torque = power * 9549.0 / rpm / (70.0 * car.litres) * 70.0
    full = 92.0 * car.litres * (1.7 if car.boost else 1.0)
    found["engine_speed"], found["idle_target"], found["gear"] = rpm, np.round(target / 10.0) * 10.0, gear
    share = np.clip(100.0 * torque * car.litres / full, -14.0, 100.0)
    found["torque_demand"] = np.where(speed > 0.0, share, 6.0 + 4.0 * cold)
    found["torque_actual"] = np.clip(_lag(found["torque_demand"], 0.3) + _wander(n, 0.6, 0.4, rng), -15.0, 100.0)
    found["torque_reference"] = np.full(n, np.round(full))


def _air(found: dict[str, Values], car: Car, rng: np.random.Generator) -> None:
    rpm, n = found["engine_speed"], found["engine_speed"].size
    torque = found["torque_actual"]
    fill = np.clip(0.24 + 0.0074 * torque, 0.17, 1.0)
    idling = (found["vehicle_speed"] == 0.0) | (torque < 8.0)
    fill = np.where(idling & (torque > 0.0), 0.30 + 0.012 * torque * 0.5, fill)
    top = car.baro_kpa * (1.65 if car.boost else 0.985)
    blown = 1.0 + (0.675 * np.clip((fill - 0.4) / 0.5, 0.0, 1.0) if car.boost else 0.0)
    wanted = np.clip(fill * blown * 0.985 * car.baro_kpa, 20.0, top)
    pressure = _lag(wanted, 0.25) + _wander(n, 0.5, 0.3, rng)
    found["barometer"] = np.full(n, car.baro_kpa)
    found["map"] = pressure
    found["boost_target"] = np.maximum(car.baro_kpa, _lag(wanted, 0.1) + 2.0)
    efficiency = 0.74 + 0.14 * np.clip(rpm / 4000.0, 0.0, 1.0)
    density = pressure * 1000.0 / 287.0 / (273.0 + car.outside_c + 14.0)
    found["maf"] = efficiency * density * car.litres * rpm / 120.0 * (1.0 + 0.012 * rng.standard_normal(n))
    rated = 1.184 * car.litres * rpm / 120.0
    found["absolute_load"] = 100.0 * found["maf"] / rated
    peak = 0.88 * rated * top / car.baro_kpa
    found["load"] = np.clip(100.0 * found["maf"] / peak, 0.0, 100.0)
    opening = np.clip(100.0 * found["maf"] / (42.0 * car.litres), 0.4, 84.0) ** 0.85
    found["throttle_command"] = np.clip(opening + 2.0, 0.0, 100.0)
    found["throttle_relative"] = np.clip(_lag(opening, 0.15), 0.0, 90.0)
    found["throttle"] = 12.5 + 0.86 * found["throttle_relative"]
    found["throttle track=1"] = found["throttle"]
    found["throttle track=2"] = found["throttle"] + 31.0
    foot = np.where(found["vehicle_speed"] == 0.0, 0.0, np.clip(torque - 4.0, 0.0, 90.0))
    found["pedal"] = _lag(foot * 0.75, 0.2)
    found["pedal track=1"] = 15.7 + 0.7 * found["pedal"]
    found["pedal track=2"] = 7.8 + 0.35 * found["pedal"]
    found["idle_air"] = 24.0 + 0.08 * torque + _wander(n, 0.6, 3.0, rng)
    found["egr_command"] = np.where((torque > 15.0) & (torque < 60.0), 6.0 + 0.2 * torque, 0.0)
    found["egr_error"] = np.where(found["egr_command"] > 0.0, _wander(n, 3.0, 1.0, rng), 0.0)
    found["purge_command"] = np.clip(_lag(np.where(torque > 8.0, 0.55 * torque, 0.0), 3.0), 0.0, 80.0)
    found["evap_pressure"] = -180.0 - 2.5 * found["purge_command"] + _wander(n, 40.0, 6.0, rng)


def _heat(found: dict[str, Values], car: Car, rng: np.random.Generator) -> None:
    n, flow = found["time"].size, found["maf"]
    coolant = np.empty(n)
    level = car.start_c
    for i in range(n):
        open_share = np.clip((level - 86.0) / 8.0, 0.0, 1.0)
        level += STEP_S * (0.085 + 0.012 * flow[i] - open_share * (0.16 + 0.014 * flow[i]))
        coolant[i] = level
    found["coolant"] = coolant
    found["oil_temperature"] = _lag(coolant + 6.0, 160.0, start=min(car.start_c + 3.0, car.start_c * 0.9 + 4.0))
    found["outside_air"] = np.full(n, car.outside_c) + _wander(n, 0.2, 60.0, rng)
    warmed = car.outside_c + 4.0 + 0.2 * max(car.start_c - car.outside_c, 0.0)
    found["intake_air"] = _lag(warmed + 5.0 - 0.09 * found["vehicle_speed"], 40.0, start=warmed)
    hot = car.start_c > 60.0
    found["catalyst_temperature bank=1 sensor=1"] = _lag(395.0 + 5.5 * flow, 20.0, start=None if hot else 60.0)
    found["catalyst_temperature bank=1 sensor=2"] = _lag(330.0 + 4.5 * flow, 35.0, start=None if hot else 35.0)
    found["catalyst_temperature bank=2 sensor=1"] = _lag(388.0 + 5.4 * flow, 20.0, start=None if hot else 58.0)
    found["exhaust_temperature"] = _lag(360.0 + 9.0 * flow, 4.0, start=None if hot else 90.0)
    found["exhaust_temperature bank=1 sensor=1"] = found["exhaust_temperature"]
    found["exhaust_temperature bank=1 sensor=2"] = _lag(300.0 + 7.0 * flow, 9.0, start=None if hot else 60.0)
    thick = np.clip(1.6 - 0.007 * found["oil_temperature"], 0.8, 1.6)
    found["oil_pressure"] = np.clip(thick * (55.0 + 0.115 * found["engine_speed"]), 60.0, 520.0)


def _mixture(found: dict[str, Values], car: Car, rng: np.random.Generator) -> None:
    n = found["time"].size
    overrun = (found["torque_actual"] < -2.0) & (found["engine_speed"] > 1300.0)
    is_open = (found["coolant"] < 28.0) | overrun
    found["_open"] = is_open.astype(float)
    for bank, phase in ((1, 0.0), (2, 2.1)):
        swing = np.sin(2.0 * np.pi * 0.55 * found["time"] + phase + 0.4 * _wander(n, 1.0, 3.0, rng))
        lean = car.lean_percent * (0.45 if bank == 1 else 0.6)
        trim = lean + 1.7 * swing + _wander(n, 0.9, 5.0, rng)
        found[f"short_trim bank={bank}"] = np.where(is_open, 0.0, trim)
        learnt = car.lean_percent * (0.8 if bank == 1 else 0.5) - 0.35 + np.where(found["maf"] > 12.0, -0.8, 0.0)
        found[f"long_trim bank={bank}"] = np.round(_lag(learnt, 2.0) / 0.78125) * 0.78125
        rich = 1.0 / (1.0 + np.exp(-4.0 * np.sin(2.0 * np.pi * 0.8 * found["time"] + phase)))
        found[f"o2_voltage bank={bank} sensor=1"] = np.where(overrun, 0.03, 0.09 + 0.74 * rich) + _noise(n, 0.01, rng)
        after = np.clip(0.66 + _wander(n, 0.05, 6.0, rng), 0.1, 0.85)
        found[f"o2_voltage bank={bank} sensor=2"] = np.where(_lag(overrun.astype(float), 1.0) > 0.5, 0.06, after)
        found[f"sensor_trim bank={bank} sensor=1"] = found[f"short_trim bank={bank}"] + _noise(n, 0.2, rng)
        found[f"sensor_trim bank={bank} sensor=2"] = np.full(n, 99.2)
        ratio = np.where(overrun, 1.99, 1.0 + 0.012 * swing + _noise(n, 0.004, rng))
        found[f"lambda bank={bank} sensor=1"] = ratio
        found[f"lambda bank={bank} sensor=2"] = np.where(overrun, 1.95, 1.0 + _wander(n, 0.004, 4.0, rng))
        current = np.where(overrun, 1.9, 2.1 * (ratio - 1.0))
        found[f"o2_current bank={bank} sensor=1"] = current
    found["lambda_command"] = np.where(found["torque_actual"] > 75.0, 0.9, np.where(overrun, 1.99, 1.0))
    fuel = np.where(overrun, 0.0, found["maf"] / 14.7)
    found["fuel_rate"] = fuel * 3600.0 / 745.0
    per_shot = fuel * 120.0 / np.maximum(found["engine_speed"], 300.0) / car.cylinders
    found["injection_time"] = np.where(overrun, 0.0, 0.85 + per_shot * 1000.0 / 2.6)
    found["injection_time bank=1"] = found["injection_time"]
    found["injection_time bank=2"] = np.where(overrun, 0.0, found["injection_time"] * 1.012)
    found["fuel_pressure"] = 352.0 + _wander(n, 4.0, 1.0, rng)
    found["rail_target"] = np.clip(4200.0 + 110.0 * np.clip(found["torque_actual"], 0.0, 100.0), 4000.0, 14500.0)
    found["rail_pressure"] = _lag(found["rail_target"], 0.2) + _noise(n, 60.0, rng)
    found["fuel_level"] = 61.0 + _wander(n, 1.1, 5.0, rng)
    found["ethanol"] = np.full(n, 9.8)


def _noise(n: int, size: float, rng: np.random.Generator) -> Values:
    return size * rng.standard_normal(n)


def _cams(found: dict[str, Values], rng: np.random.Generator) -> None:
    n, torque, rpm = found["time"].size, found["torque_actual"], found["engine_speed"]
    moving = np.clip((rpm - 1000.0) / 1500.0, 0.0, 1.0) * np.clip(torque / 40.0, 0.0, 1.0)
    for bank in (1, 2):
        for cam, reach, learnt in (("intake", 32.0, 2.4), ("exhaust", -18.0, -1.2), ("single", 24.0, 1.5)):
            where = f"bank={bank} cam={cam}"
            target = reach * _lag(moving, 0.5)
            actual = _lag(target, 0.25) + _noise(n, 0.25, rng)
            found[f"cam_target {where}"], found[f"cam_actual {where}"] = target, actual
            found[f"cam_deviation {where}"] = actual - target
            found[f"cam_learnt {where}"] = np.full(n, learnt + 0.3 * bank)
            found[f"cam_duty {where}"] = np.clip(
                48.0 + 0.9 * np.abs(target) ** 0.5 * 2.0 + _noise(n, 1.2, rng), 5.0, 95.0
            )
        for letter, cam in (("A", "intake"), ("B", "exhaust")):
            for kind in ("target", "actual", "deviation", "learnt", "duty"):
                found[f"cam_{kind} bank={bank} cam={letter}"] = found[f"cam_{kind} bank={bank} cam={cam}"]


def _rest(found: dict[str, Values], car: Car, rng: np.random.Generator) -> None:
    n, time = found["time"].size, found["time"]
    cruise = 12.0 + 0.010 * (found["engine_speed"] - car.idle_rpm) - 0.12 * np.clip(found["torque_actual"], 0.0, 100.0)
    found["timing"] = np.clip(cruise + _wander(n, 1.3, 0.5, rng), -4.0, 46.0)
    knock = np.where(found["torque_actual"] > 55.0, 1.5 * np.abs(rng.standard_normal(n)), 0.0)
    found["knock_retard"] = _lag(knock, 0.4)
    for cylinder in range(1, car.cylinders + 1):
        found[f"knock_retard cylinder={cylinder}"] = found["knock_retard"] * (0.8 + 0.1 * cylinder)
        chance = rng.random(n) < (0.03 if cylinder == 3 else 0.004)
        found[f"misfire_count cylinder={cylinder}"] = np.cumsum(chance).astype(float)
    found["misfire_count"] = sum(
        (found[f"misfire_count cylinder={c}"] for c in range(1, car.cylinders + 1)), np.zeros(n)
    )
    found["volts"] = 14.15 + _wander(n, 0.05, 2.0, rng)
    found["battery_current"] = 4.0 + _wander(n, 2.5, 8.0, rng)
    found["odometer"] = 128_417.0 + np.cumsum(found["vehicle_speed"]) * STEP_S / 3600.0
    found["distance_cleared"] = 1204.0 + np.floor(np.cumsum(found["vehicle_speed"]) * STEP_S / 3600.0)
    found["distance_lamp"] = np.zeros(n)
    found["time_lamp"] = np.zeros(n)
    found["time_cleared"] = 3318.0 + np.floor(time / 60.0)
    found["warm_ups"] = np.full(n, 41.0)
    found["_distance_trip"] = np.cumsum(found["vehicle_speed"]) * STEP_S / 3600.0


# What only the second exam shows. It draws no random numbers, so that the logs of the first stay as they are.
def _fuel_beside(found: dict[str, Values]) -> None:
    time, baro = found["time"], found["barometer"]
    found["pedal_relative"] = np.clip(1.25 * found["pedal"], 0.0, 100.0)
    for bank in (1, 2):
        found[f"rear_short_trim bank={bank}"] = 0.6 * np.sin(0.3 * time + bank)
        found[f"rear_long_trim bank={bank}"] = np.full(time.size, 0.4 * bank)
    found["evap_absolute"] = baro + found["evap_pressure"] / 1000.0
    found["rail_absolute"] = found["rail_pressure"] + baro
    found["rail_over_manifold"] = found["fuel_pressure"] + baro - found["map"]
    found["rail_effort"] = 22.0 + found["rail_target"] / 500.0


def _beside(found: dict[str, Values], car: Car) -> None:
    time, speed, rpm = found["time"], found["vehicle_speed"], found["engine_speed"]
    driven = np.cumsum(speed) * STEP_S / 3600.0
    accel = np.gradient(_lag(speed, 0.5), STEP_S) / 3.6
    found["_latitude"], found["_longitude"] = 46.81 + 0.007 * driven, 9.14 - 0.004 * driven
    found["_altitude"] = 412.0 + 6.0 * np.sin(driven * 4.0)
    found["_gps_speed"] = _lag(speed, 0.8)
    found["_wheel_left"], found["_wheel_right"] = speed * 1.004, speed * 0.997
    found["_steering"] = np.where(speed > 0.0, 35.0 * np.sin(0.21 * time), 0.0)
    found["_brake"] = np.clip(-600.0 * accel, 0.0, 6000.0)
    found["_forward_g"] = accel / 9.81
    found["_cabin"] = 22.5 + 0.4 * np.sin(time / 40.0)
    found["_gearbox_oil"] = 0.8 * found["oil_temperature"] + 6.0
    found["_refrigerant"] = 1100.0 + 150.0 * np.sin(time / 9.0)
    found["_tyre"] = np.full(time.size, 230.0)
    found["_fan"] = np.where(found["coolant"] > 88.0, 35.0, 0.0)
    found["_per_100km"] = np.clip(100.0 * found["fuel_rate"] / np.maximum(speed, 3.0), 0.0, 60.0)
    found["_air_per_stroke"] = found["maf"] * 120_000.0 / rpm / car.cylinders
    found["_throttle_volts"] = 0.3 + 0.042 * found["throttle"]
