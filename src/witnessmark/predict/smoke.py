"""What smoke finds at rest, and what a gauge reads in the crankcase."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import cylinders_of
from witnessmark.physics.crankcase import crankcase_gauge
from witnessmark.physics.cylindershare import leak_rate
from witnessmark.physics.nozzle import HOLE
from witnessmark.predict.air import Settled, blended
from witnessmark.predict.airplaces import ducts_of, sound_air, spread_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

Array = NDArray[np.float64]

_SMOKE_PA, _DENSITY = 3000.0, 1.18


def _smoke(batch: Batch, query: Query) -> Values:
    """Flow out of leaks at 3 kPa, by Bernoulli: the hole's area, 0.7, and √(2 Δp/ρ)."""
    ducts = ducts_of(batch.model, str(query.place.get("duct")))
    area = sum((np.maximum(batch.column("leak_area", duct), 0.0) for duct in ducts), np.zeros(batch.rows))
    return np.asarray(60_000.0 * HOLE * 1e-6 * area * np.sqrt(2.0 * _SMOKE_PA / _DENSITY))


def _refuse_duct(model: DriveModel, query: Query) -> str | None:
    duct = str(query.place.get("duct"))
    if not ducts_of(model, duct):
        return f"this engine has no duct called “{duct}”: intake, exhaust, plenum, runner_1 … are expected"
    return None


def _crankcase(batch: Batch, query: Query) -> Values:
    if query.condition.state in STANDS:
        return np.zeros(batch.rows)
    area = sum((np.maximum(batch.column("ring_leak", name), 0.0) for name in cylinders_of(batch.model.engine)), 0.0)
    shut = np.clip(batch.column("restriction", "pcv"), 0.0, 1.0)
    hose = np.clip((1.0 - batch.column("restriction", "crankcase")) / 0.97, 0.02, 1.0)

    def pick(found: Settled) -> Array:
        point, path = found.point, found.path
        blown = leak_rate(
            1e-6 * np.asarray(area) / found.size, point.plenum_pressure, compression_ratio=path.compression_ratio
        )
        # Cylinders cannot lose more than they draw.
        most = np.maximum(point.air_flow, 1e-9)
        blown = most * -np.expm1(-np.asarray(blown) / most)
        valve = np.maximum(path.pcv_area + HOLE * 1e-6 * batch.column("area_error", "pcv") / found.size, 0.0)
        leaks = HOLE * 1e-6 * np.maximum(batch.column("leak_area", "crankcase"), 0.0) / found.size
        gauge = crankcase_gauge(
            blown,
            point.plenum_pressure,
            valve=valve * (1.0 - shut),
            breather=path.breather_area * hose + leaks,
            ambient=found.ambient,
        )
        return np.asarray(gauge) / 1000.0

    return blended(batch, query.condition, pick)


def _leaks_there(model: DriveModel, query: Query) -> list[Nuisance]:
    return list(spread_of("leak_area", ducts_of(model, str(query.place.get("duct")))))


def _crankcase_nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found = [*spread_of("ring_leak", cylinders_of(model.engine)), *spread_of("area_error", ("pcv",))]
    found += [*spread_of("leak_area", ("crankcase",)), *spread_of("restriction", ("crankcase",))]
    return [*found, *sound_air("drag", "cams", "numbers")(model, query)]


# Tolerances: smoke that the bungs and throttle shafts let out, hoses nobody described; our guess.
RULES: Mapping[str, Rule] = {
    "leak_smoke": Rule(_smoke, Tolerance(1.0, 0.15), _refuse_duct, _leaks_there),
    "crankcase_pressure": Rule(_crankcase, Tolerance(0.05, 0.3), nuisances=_crankcase_nuisances),
}
