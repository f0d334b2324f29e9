"""How the fuelling of an operating point settles: rail pressure, trims, λ of banks and cylinders."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics._breathing import Breathing
from witnessmark.physics._flows import Flows
from witnessmark.physics._root import falling_root
from witnessmark.physics.exhaust import front_leak_air
from witnessmark.physics.fuelling import Fuelling
from witnessmark.physics.fuelsupply import supply_pressure
from witnessmark.physics.injector import dead_time, injector_scale
from witnessmark.physics.mixture import trim_within
from witnessmark.physics.stoichiometry import ethanol_blend

__all__ = ["settled_fuelling"]

Array = NDArray[np.float64]

_NOTHING = 1e-12


@dataclass(frozen=True, slots=True)
class _Burning:
    """All that the fuel side takes from the air side; kg/s, (n, cylinders) or (n, banks)."""

    air: Array  # by cylinder
    vapour: Array  # fuel that comes with the air, by cylinder
    asked: Array  # fuel before trim, by cylinder
    sensed: Array  # air that the front sensor sees, by bank
    late: Array  # fuel lost to dead time that the computer does not know of, by cylinder, at the drop it assumes
    assumed_drop: Array
    needed_air: Array  # stoichiometric ratio of the fuel in the tank
    banks: Array  # (cylinders, banks): which belongs where


def settled_fuelling(breath: Breathing, found: Flows, speed: Array, believed: Array, map_shown: Array) -> Fuelling:
    """Fuel for the air that the computer believes in; the rail gives way to what is taken out of it."""
    burning = _burning(breath, found, speed, believed, map_shown)
    highest = 2.0 * breath.path.supply.set_pressure * np.ones(breath.n)

    def over(rail: Array) -> Array:
        taken = _taken(breath, burning, rail, found)
        flow = np.sum(taken[0], axis=1)
        return np.asarray(_supplied(breath, flow)) - rail

    rail = np.asarray(falling_root(lambda p: over(np.asarray(p)), np.full(breath.n, 1.0), highest))
    fuel, trim, wanted = _taken(breath, burning, rail, found)
    burnt = np.maximum(fuel + burning.vapour, _NOTHING)
    of_bank = np.maximum(burnt @ burning.banks, _NOTHING) * burning.needed_air[:, None]
    return Fuelling(
        trim=trim,
        trim_wanted=wanted,
        lambda_bank=burning.air @ burning.banks / of_bank,
        lambda_reported=burning.sensed / of_bank + breath.s["sensor_offset_o2_front"],
        lambda_cylinder=burning.air / (burnt * burning.needed_air[:, None]),
        rail_pressure=rail,
        fuel_flow=fuel.sum(axis=1),
    )


def _burning(breath: Breathing, found: Flows, speed: Array, believed: Array, map_shown: Array) -> _Burning:
    path, d, s = breath.path, breath.d, breath.s
    banks = np.eye(path.n_banks)[list(path.bank_of)]
    filled = np.maximum(s["filling"], _NOTHING)
    of_bank = (found.cylinders / np.maximum(found.cylinders.sum(axis=1), _NOTHING)[:, None]) @ banks.T
    each = of_bank * filled / ((filled @ banks) @ banks.T)
    kept = path.runner_share * found.runner_vapour
    vapour = kept + (found.vapour + (found.runner_vapour - kept).sum(axis=1))[:, None] * each
    air = _air_by_cylinder(path.runner_share, found, each)
    leak = front_leak_air(
        path.exhaust,
        s["leak_area_exhaust_front"],
        found.levels.front_sensor,
        d["ambient_pressure"][:, None],
        d["ambient_temperature"][:, None],
    )
    ratio = float(ethanol_blend(path.assumed_ethanol)) * d["lambda_wanted"]
    volts, known = d["injector_volts"], d["computer_volts"]
    lost = np.minimum(np.asarray(dead_time(volts)) - dead_time(known), 1.0) * speed / 120.0
    above = 0.0 if path.supply.follows_plenum else d["ambient_pressure"] - map_shown
    return _Burning(
        air=air,
        vapour=vapour,
        asked=np.broadcast_to((believed / path.n_cylinders / ratio)[:, None], air.shape),
        sensed=air @ banks + np.asarray(leak),
        late=np.broadcast_to((path.injector_flow * lost)[:, None], air.shape),
        assumed_drop=np.maximum(path.supply.set_pressure + above, 1000.0) * np.ones(breath.n),
        needed_air=np.asarray(ethanol_blend(s["fuel_ethanol"])),
        banks=banks,
    )


def _air_by_cylinder(kept: float, found: Flows, each: Array) -> Array:
    """Air of each cylinder: as it fills, but for the share of a runner's leak that its own cylinder keeps."""
    own = kept * np.maximum(found.runner - found.runner_vapour, 0.0)
    total = own.sum(axis=1)
    own = own * np.minimum(1.0, 0.9 * found.air / np.maximum(total, _NOTHING))[:, None]
    air: Array = np.maximum((found.air - own.sum(axis=1))[:, None] * each + own, _NOTHING)
    return air


def _taken(breath: Breathing, burning: _Burning, rail: Array, found: Flows) -> tuple[Array, Array, Array]:
    """Fuel of each cylinder's injector at a rail pressure, and the trims that go with it."""
    path, s, d = breath.path, breath.s, breath.d
    above = 0.0 if path.supply.follows_plenum else d["ambient_pressure"] - found.plenum
    drop = np.maximum(rail + above, 0.0)
    given = s["injector_flow"] * np.asarray(injector_scale(drop, burning.assumed_drop))[:, None]
    rated = np.asarray(injector_scale(burning.assumed_drop, path.supply.set_pressure))[:, None]
    late, asked = burning.late * rated * given, burning.asked * given
    dripping = 1e-6 * s["injector_leak"]
    target = np.maximum(d["lambda_wanted"][:, None] - s["sensor_offset_o2_front"], 0.1)
    needed = burning.sensed / (burning.needed_air[:, None] * target)
    other = (dripping + burning.vapour - late) @ burning.banks
    wanted = 100.0 * ((needed - other) / np.maximum(asked @ burning.banks, _NOTHING) - 1.0)
    closed = np.asarray(trim_within(wanted, path.trim_limit))
    trim = np.where(d["closed_loop"][:, None] > 0.0, closed, d["held_trim"][:, None])
    fuel = np.maximum(asked * (1.0 + (trim @ burning.banks.T) / 100.0) - late, 0.0) + dripping
    return fuel, trim, wanted


def _supplied(breath: Breathing, flow: Array) -> Array:
    s = breath.s
    pressure = supply_pressure(
        breath.path.supply,
        flow,
        pump=np.maximum(s["lift_pump_flow"], 1e-3),
        filter_restriction=np.minimum(s["restriction_fuel_filter"], 0.999),
        regulator_error=s["regulator_error"],
    )
    return np.asarray(pressure)
