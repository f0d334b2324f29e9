"""What is found on a standing engine by hand: leak-down, turning it over, its cooling system under pressure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import pairs_of, state_places
from witnessmark.physics.nozzle import signed_flow
from witnessmark.predict.batch import Batch
from witnessmark.predict.compression import cylinder_of, no_such_cylinder
from witnessmark.predict.cylindertables import parts_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sealing import sealing
from witnessmark.predict.soundcylinders import varying
from witnessmark.vocabulary import Query

__all__ = ["LEAK_DOWN_ORIFICE_MM2", "RULES", "leak_down_percent"]

Array = NDArray[np.float64]

LEAK_DOWN_ORIFICE_MM2 = 0.25 * np.pi
"""Of the tester, 1 mm wide; flows as much as its area: ½ mm² behind it then reads 10 %, as data/state.toml says."""

_SUPPLY_KPA, _AMBIENT_KPA, _KELVIN = 700.0, 101.325, 293.0
_TURNING_KEY, _TURNING_PER_L, _TURNING_SHARE = "cylinder:turning_nm", 9.0, 0.25  # plugs out, oil at 20 °C; our guess
_VISCOUS_POWER = 0.3  # of a slowly turned engine's torque: most of it is boundary friction; our guess
_SEEN_MM2, _SEEN_POWER, _SEEN_FALSELY = 0.06, 4.0, 0.01  # gas that a reagent finds; our guess
_CAP_KPA, _SECONDS, _AIR_L, _WATER = 110.0, 600.0, 0.8, 1000.0  # a usual cap; ten minutes; air in the tank; kg/m3
_STANDS_OPEN_KEY, _STANDS_OPEN, _STANDS_OPEN_SD = "cylinder:gasket_open_share", 0.2, 0.1
# Share of a gasket's leak under combustion that is open to water at cap pressure; our guess.
_SHUTS_MM2 = 0.02  # what a sound gasket lets by under combustion, and shuts to water; our guess
_SEEPS_KEY, _SEEPS_KPA, _SEEPS_SD_KPA = "cylinder:coolant_seeps_kpa", 2.0, 1.2  # of a sound system; our guess


def leak_down_percent(leak_mm2: Values) -> Values:
    """What a leak-down tester shows of a leak.

    Parameters
    ----------
    leak_mm2 : float or array, shape (n,) [mm2]
        Effective, all ways together.

    Returns
    -------
    float or array, shape (n,) [%]
        Gauge pressure lost across the orifice, over the supply's.

    Notes
    -----
    Same mass flow through orifice and leak, each a nozzle; follows from the formula of [heywood] appendix C. Bisection
    on a grid of leaks, then straight lines between.
    """
    grid, percent = _leak_down_table()
    found: Values = np.interp(np.log1p(np.maximum(leak_mm2, 0.0) / 0.1), grid, percent)
    return found


@cache
def _leak_down_table() -> tuple[Array, Array]:
    grid = np.linspace(0.0, np.log1p(5_000.0), 800)
    leak, orifice = 0.1e-6 * np.expm1(grid), 1e-6 * LEAK_DOWN_ORIFICE_MM2
    high = 1e3 * (_SUPPLY_KPA + _AMBIENT_KPA)
    low, top = np.full_like(grid, 1e3 * _AMBIENT_KPA), np.full_like(grid, high)
    for _ in range(60):
        middle = 0.5 * (low + top)
        into = np.asarray(signed_flow(orifice, high, middle, _KELVIN, _KELVIN))
        out = np.asarray(signed_flow(leak, middle, 1e3 * _AMBIENT_KPA, _KELVIN, _KELVIN))
        low, top = np.where(into > out, middle, low), np.where(into > out, top, middle)
    return grid, 100.0 * (1.0 - (low - 1e3 * _AMBIENT_KPA) / (1e3 * _SUPPLY_KPA))


def _leakage(batch: Batch, query: Query) -> Values:
    return leak_down_percent(sealing(batch)[:, cylinder_of(query)])


def _sound_leakage(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    k = cylinder_of(query) + 1
    yield from varying("ring_leak", f"cylinder_{k}")
    for place in (f"cylinder_{k}", *pairs_of(model.engine, k)):
        yield from varying("gasket_leak", place)
    for kind in ("intake", "exhaust"):
        yield from varying("valve_leak", f"cylinder_{k}.{kind}")


def _turning_mean(model: DriveModel) -> float:
    return _TURNING_PER_L * 1e3 * parts_of(model.engine).sizes.swept_m3 * model.engine.cylinders


def _turning(batch: Batch, query: Query) -> Values:
    """Plugs out: friction of the engine's own, by its oil, and what its belt drives."""
    own = np.asarray(batch.number(_TURNING_KEY, _turning_mean(batch.model)))
    viscous = np.maximum(batch.get("oil_viscosity", "engine"), 0.05) ** _VISCOUS_POWER
    return np.asarray(np.maximum(own * viscous + np.maximum(batch.get("accessory_drag", "engine"), -5.0), 0.1))


def _sound_turning(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    mean = _turning_mean(model)
    yield Nuisance(_TURNING_KEY, "", mean, _TURNING_SHARE * mean)
    yield from varying("oil_viscosity", "engine")
    yield from varying("accessory_drag", "engine")


def _into_coolant(batch: Batch) -> Array:
    """Of every cylinder [mm2], shape (n, cylinders)."""
    return np.maximum(batch.table("gasket_leak", state_places(batch.model.engine, "cylinder")), 0.0)


def _gas_seen(batch: Batch, query: Query) -> Values:
    """Chance that the reagent turns."""
    leak = np.sqrt(np.square(_into_coolant(batch)).sum(axis=1))
    power = (np.maximum(leak, 1e-9) / _SEEN_MM2) ** _SEEN_POWER
    return np.asarray(_SEEN_FALSELY + (0.98 - _SEEN_FALSELY) * power / (1.0 + power))


def _drop(batch: Batch, query: Query) -> Values:
    """Of the cap's pressure in ten minutes: water through what stands open, from air above it that gives way.

    Bernoulli's law and Boyle's; the area at the pressure it starts from.
    """
    share = np.clip(np.asarray(batch.number(_STANDS_OPEN_KEY, _STANDS_OPEN)), 0.0, 1.0)
    outside = np.maximum(batch.get("coolant_leak", "engine"), 0.0)
    area = 1e-6 * (np.maximum(_into_coolant(batch) - _SHUTS_MM2, 0.0).sum(axis=1) * share + outside)
    lost = area * np.sqrt(2e3 * _CAP_KPA / _WATER) * _SECONDS
    rate = (_CAP_KPA + _AMBIENT_KPA) * lost / (1e-3 * _AIR_L)
    seeps = np.maximum(np.asarray(batch.number(_SEEPS_KEY, _SEEPS_KPA)), 0.0)
    return np.asarray(_CAP_KPA * -np.expm1(-(rate + seeps) / _CAP_KPA))


def _sound_coolant(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    for place in state_places(model.engine, "cylinder"):
        yield from varying("gasket_leak", place)
    if query.quantity == "coolant_drop":
        yield Nuisance(_STANDS_OPEN_KEY, "", _STANDS_OPEN, _STANDS_OPEN_SD)
        yield Nuisance(_SEEPS_KEY, "", _SEEPS_KPA, _SEEPS_SD_KPA)


# Testers differ in their orifice and needle by a few percent of the scale; the rest our guess.
RULES: Mapping[str, Rule] = {
    "cylinder_leakage": Rule(_leakage, Tolerance(1.5, 0.15), no_such_cylinder, _sound_leakage),
    "turning_torque": Rule(_turning, Tolerance(1.0, 0.05), nuisances=_sound_turning),
    "coolant_gas_seen": Rule(_gas_seen, nuisances=_sound_coolant),
    "coolant_drop": Rule(_drop, Tolerance(1.0, 0.1), nuisances=_sound_coolant),
}
