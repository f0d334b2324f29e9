"""What running cylinders do: work, burning, crank acceleration, pulses, heat of their exhaust."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import state_places
from witnessmark.engine.types import Engine
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.gasengine import usual_breathing
from witnessmark.predict.air import described_of
from witnessmark.predict.airplaces import ducts_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.burning import burning, half_burnt_key, usual_half_burnt
from witnessmark.predict.compression import cylinder_of, no_such_cylinder, unsound_sizes, when
from witnessmark.predict.cylinderair import leak_work
from witnessmark.predict.cylinderstate import Cylinders, cylinders
from witnessmark.predict.cylindertables import parts_of, result, tables_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.running import regime_of
from witnessmark.predict.sealing import PATHS, ways_out
from witnessmark.predict.soundcylinders import open_numbers, sound_cylinder, varying
from witnessmark.predict.stroke import REGIMES
from witnessmark.vocabulary import Condition, Query

__all__ = ["RULES"]

Array = NDArray[np.float64]

_WORK_PER_AIR = AirPath().work_per_air
_HOTTER = {"cranking": 0.9, "idle": 0.91, "raised": 1.0, "open": 1.03}
"""Work by the kernel with combustion over air times ``_WORK_PER_AIR``: the rest in a fired cylinder is hotter."""
_LEAKS_AFTER = 0.85  # of what a leak costs, after the charge is lit: by the gas kernel with combustion
_RUNS = 0.3  # share of cycles below which an engine does not run on; our guess
_INERTIA_KEY, _INERTIA_PER_L, _INERTIA_SHARE = "cylinder:inertia_kgm2", 0.075, 0.3  # flywheel included; our guess
_RISE_KEY, _RISE_K, _RISE_SD_K = "cylinder:runner_rise_k", 170.0, 45.0  # in the first minute; our guess
_FROM_NEIGHBOURS = 0.15
_COLD_C = 20.0
_FLICKER = {"cranking": (1.5, 0.5), "idle": (0.8, 0.3), "raised": (0.5, 0.2), "open": (1.0, 0.5)}  # kPa; our guess
_DAMPED = 0.5  # swing that a gauge at the end of a hose shows, over the true one; our guess
_LABOURS_KPA = 1.5  # swing by the dips of speed of one dead cylinder; our guess
_COLD_PUFF = 0.35  # pulse of an exhaust stroke that did not fire, over one that did; our guess
_CHOKED, _HIGH_SHARE, _HIGH_DEG, _HIGH_K = 0.685, 0.4, 70.0, 550.0  # flow back past a seat while pressure is high


def _runs(batch: Batch, condition: Condition) -> Array:
    """1 where enough cylinders fire, else NaN, shape (n,)."""
    return np.where(burning(batch, condition).share.mean(axis=1) > _RUNS, 1.0, np.nan)


# ---------------------------------------------------------------- work


def _work(batch: Batch, condition: Condition) -> Array:
    """Mean pressure of every cylinder's work over its whole cycle [kPa]."""
    return batch.once(("imep", condition), lambda: _imep_of(batch, condition))


def _imep_of(batch: Batch, condition: Condition) -> Array:
    found, fire = cylinders(batch, condition), burning(batch, condition)
    swept = parts_of(batch.model.engine).sizes.swept_m3
    per_air = 1e-3 * _HOTTER[regime_of(condition)] * _WORK_PER_AIR
    # What leaks before a firing is missing in its charge already.
    kept = leak_work(batch, described_of(batch), found.speed[:, 0]) ** _LEAKS_AFTER
    gross = per_air * fire.fresh_kg / swept * fire.heat * fire.efficiency * fire.share * kept
    return np.asarray(gross + found.plenum * found.read("pumping"))


def _imep(batch: Batch, query: Query) -> Values:
    now = when(query, "idle")
    return _work(batch, now)[:, cylinder_of(query)] * _runs(batch, now)


def _phasing(batch: Batch, query: Query) -> Values:
    """Of the cycles that fire."""
    now = when(query, "idle")
    fire, k = burning(batch, now), cylinder_of(query)
    return np.where(fire.share[:, k] > 0.05, fire.half_deg[:, k], np.nan) * _runs(batch, now)


def _litres(engine: Engine) -> float:
    return 1e3 * parts_of(engine).sizes.swept_m3 * engine.cylinders


def _contribution(batch: Batch, query: Query) -> Values:
    """Over a firing interval: the cylinder's work less the mean of all, over inertia times the interval."""
    now, engine = when(query, "idle"), batch.model.engine
    work = 1e3 * _work(batch, now) * parts_of(engine).sizes.swept_m3
    inertia = np.maximum(np.asarray(batch.number(_INERTIA_KEY, _INERTIA_PER_L * _litres(engine))), 1e-3)
    own = work[:, cylinder_of(query)] - work.mean(axis=1)
    return np.asarray(own / (inertia * 4.0 * np.pi / engine.cylinders) * _runs(batch, now))


def _runner(batch: Batch, query: Query) -> Values:
    """Exhaust runner's outside in the first minute."""
    now, k = when(query, "idle"), cylinder_of(query)
    fire, found = burning(batch, now), cylinders(batch, now)
    fresh = fire.fresh_kg[:, k] / _sound_charge(batch, found, regime_of(now))
    own = fire.share[:, k] * fire.heat[:, k] * fresh * (1.0 + 0.01 * (fire.half_deg[:, k] - usual_half_burnt(now)[0]))
    cold = query.condition.coolant_c if query.condition.coolant_c is not None else _COLD_C
    rise = np.asarray(batch.number(_RISE_KEY, _RISE_K))
    warm = _FROM_NEIGHBOURS + (1.0 - _FROM_NEIGHBOURS) * own
    return np.asarray((min(cold, 40.0) + rise * warm) * _runs(batch, now))


def _sound_charge(batch: Batch, found: Cylinders, regime: str) -> float:
    """Air of one charge of a sound cylinder at the anchor of its tables [kg]."""
    at = REGIMES[regime]
    swept = parts_of(batch.model.engine).sizes.swept_m3
    share = math.exp(float(found.tables.middle[result("fresh")]))
    return share * 1e3 * at.intake.anchor * swept / (287.0 * at.intake_k)


# ---------------------------------------------------------------- pulses


def _gulps(batch: Batch, condition: Condition) -> Array:
    """What every cylinder moves at its intake in one cycle [kg], blow-back past its seat included; (n, cylinders).

    Blow-back: choked flow, from [heywood] appendix C as elsewhere, at a mean pressure over the time it is high.
    """
    found, regime = cylinders(batch, condition), regime_of(condition)
    swept = parts_of(batch.model.engine).sizes.swept_m3
    drawn = np.exp(found.read("gulp")) * 1e3 * found.plenum * swept / (287.0 * REGIMES[regime].intake_k)
    high = 1e3 * _HIGH_SHARE * found.plenum * np.exp(found.read("peak"))
    if regime != "cranking":
        high = high * (1.0 + 1.5 * burning(batch, condition).share)
    area = 1e-6 * np.minimum(ways_out(batch)[:, :, PATHS.index("intake")], 20.0)
    back = area * _CHOKED * high / np.sqrt(287.0 * _HIGH_K) * _HIGH_DEG / (6.0 * found.speed)
    return np.asarray(drawn + back)


def _pulse(batch: Batch, query: Query) -> Values:
    """Percent of the mean: intake where the place is an intake duct, else exhaust."""
    now = when(query, "cranking")
    ducts = ducts_of(batch.model, str(query.place.get("duct")))
    intake = any(duct in state_places(batch.model.engine, "air_duct") for duct in ducts)

    def heights() -> Array:
        if intake:
            height = _gulps(batch, now)
        else:
            height = np.exp(cylinders(batch, now).read("puff"))
            if regime_of(now) != "cranking":
                fire = burning(batch, now)
                height = height * (_COLD_PUFF + (1.0 - _COLD_PUFF) * fire.share * fire.heat)
        return np.asarray(100.0 * height / np.maximum(height.mean(axis=1, keepdims=True), 1e-12))

    found = batch.once(("pulse", intake, query.condition), heights)[:, cylinder_of(query)]
    return found if regime_of(now) == "cranking" else found * _runs(batch, now)


def _flicker(batch: Batch, query: Query) -> Values:
    """Swing of a gauge's needle: the sound engine's own, and what one cylinder draws less or blows back."""
    now, engine = when(query, "idle"), batch.model.engine
    regime = regime_of(now)
    gulps = _gulps(batch, now)
    litres = float(usual_breathing(engine).air.plenum_l.mean or 4.0)
    odd = np.abs(gulps - np.median(gulps, axis=1, keepdims=True)).max(axis=1)
    swing = _DAMPED * 1e-3 * 287.0 * REGIMES[regime].intake_k * odd / (1e-3 * litres)
    if regime != "cranking":
        swing = swing + _LABOURS_KPA * np.ptp(burning(batch, now).share, axis=1)
    usual = np.asarray(batch.number(f"cylinder:flicker_kpa:{regime}", _FLICKER[regime][0]))
    return np.asarray(np.hypot(usual, swing) * (1.0 if regime == "cranking" else _runs(batch, now)))


# ---------------------------------------------------------------- how well it is known

_SPARK = (("coil", "coil_energy"), ("plug", "spark_gap"), ("plug", "breakdown_kv"), ("boot", "breakdown_kv"))


def _fired(query: Query, model: DriveModel, *, all_cylinders: bool = False) -> Iterable[Nuisance]:
    now, engine = when(query, "idle"), model.engine
    numbers = range(1, engine.cylinders + 1) if all_cylinders else (cylinder_of(query) + 1,)
    for k in numbers:
        yield from sound_cylinder(model, k, now, cams=k == numbers[0] or len(engine.bank_cylinders) > 1)
        yield from varying("injector_flow", f"cylinder_{k}")
    for kind, variable in _SPARK:
        yield from varying(variable, state_places(engine, kind)[numbers[0] - 1])
    yield from varying("wheel_slip", CRANK)
    yield Nuisance("sensor_offset", CRANK, *healthy_of("sensor_offset", CRANK))
    yield Nuisance(half_burnt_key(now), "", *usual_half_burnt(now))
    yield from open_numbers(model, now)


def _of_one(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    yield from _fired(query, model)
    if query.quantity == "runner_temperature":
        yield Nuisance(_RISE_KEY, "", _RISE_K, _RISE_SD_K)


def _of_all(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    yield from _fired(query, model, all_cylinders=True)
    if query.quantity == "contribution":
        usual = _INERTIA_PER_L * _litres(model.engine)
        yield Nuisance(_INERTIA_KEY, "", usual, _INERTIA_SHARE * usual)


def _of_needle(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    """The rest moves a sound engine's needle by less than its own swing differs."""
    regime = regime_of(when(query, "idle"))
    yield Nuisance(f"cylinder:flicker_kpa:{regime}", "", *_FLICKER[regime])
    for place in state_places(model.engine, "valve"):
        if place.endswith("intake"):
            yield from varying("valve_leak", place)


def _known(name: str, state: str, absolute: float, share: float) -> Callable[[DriveModel, Query], Tolerance]:
    """The formula's (our guess) and the tables' own, as squares."""

    def tolerance(model: DriveModel, query: Query) -> Tolerance:
        off = float(tables_of(model.engine, regime_of(when(query, state))).error[result(name)])
        return Tolerance(absolute, float(np.hypot(share, off)))

    return tolerance


def _no_such(model: DriveModel, query: Query) -> str | None:
    return unsound_sizes(model)


# Tolerances of the formulas: our guess; the kernel with combustion agrees with imep within 8 %.
RULES: Mapping[str, Rule] = {
    "imep": Rule(_imep, _known("fresh", "idle", 5.0, 0.08), no_such_cylinder, _of_one),
    "burn_phasing": Rule(_phasing, Tolerance(2.0), no_such_cylinder, _of_one),
    "contribution": Rule(_contribution, _known("fresh", "idle", 8.0, 0.08), no_such_cylinder, _of_all),
    "runner_temperature": Rule(_runner, Tolerance(12.0), no_such_cylinder, _of_one),
    "pulse_height": Rule(_pulse, Tolerance(5.0), no_such_cylinder, _of_all),
    "vacuum_flicker": Rule(_flicker, Tolerance(0.3, 0.2), _no_such, _of_needle),
}
