"""What a computer's air values say of one another: calculated load, and the air meter against manifold pressure."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.filling import calculated_load
from witnessmark.physics.pressureflow import PRESSURE_FLOW_SPREAD, pressure_flow
from witnessmark.physics.usual import USUAL
from witnessmark.predict.air import LOADED, Settled, blended, described_of, settled
from witnessmark.predict.airdescribed import described
from witnessmark.predict.airplaces import sound_air, spread_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS, ambient_c
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

Array = NDArray[np.float64]

# What a computer's table takes for the most air at a speed: published for idle speed, more where the engine fills best.
_PEAK_RPM = (800.0, 2500.0)
_PEAK_FILLING = (USUAL["idle_peak_filling"].value, 0.88)  # the second from memory


def _load(batch: Batch, query: Query) -> Values:
    """Flow believed over the most at that speed and in that weather, as the standard has it; never above 100."""
    intake = _intake_k(batch)

    def pick(found: Settled) -> Array:
        peak = np.interp(found.point.speed_rpm, _PEAK_RPM, _PEAK_FILLING)
        shown = calculated_load(
            found.point.airflow_reported, peak, displacement=found.path.displacement,
            speed_rpm=found.point.speed_rpm, ambient_pressure=found.ambient, intake_temperature=intake,
        )  # fmt: skip
        return np.asarray(np.minimum(np.asarray(shown), 100.0))

    return blended(batch, query.condition, pick)


def _meter(batch: Batch, query: Query) -> Values:
    """The meter's reading over what the pressure sensor's tells: who takes both, has both.

    The flow is reckoned for the described displacement, so a larger engine than described reads more.
    """
    boosted = query.condition.state in LOADED and bool(described_of(batch).boosted)
    found = settled(batch, query.condition, "air_meter", boosted=boosted)
    point = found.point
    told = pressure_flow(
        point.map_reported, _intake_k(batch), np.maximum(point.speed_rpm, 1.0),
        displacement=found.path.displacement, ambient_pressure=found.ambient,
    )  # fmt: skip
    share = 100.0 * point.airflow_reported * found.size / np.maximum(np.asarray(told), 1e-9)
    return np.where(found.runs > 0.5, share, np.nan)


def _intake_k(batch: Batch) -> Array:
    """Intake air as the computer reads it."""
    return np.asarray(273.15 + np.asarray(ambient_c(batch)) + batch.column("sensor_offset", "iat"))


def _refuse_standing(model: DriveModel, query: Query) -> str | None:
    return "there is no such reading while the engine stands" if query.condition.state in STANDS else None


def _refuse_meter(model: DriveModel, query: Query) -> str | None:
    if described(model.engine).metering == "speed_density":
        return "this engine has no air meter"
    if query.condition.state in ("overrun", "cranking"):
        return "at so little air the two are not held against each other"
    return _refuse_standing(model, query)


def _both_sensors(model: DriveModel, query: Query) -> list[Nuisance]:
    """Whatever metering the computer goes by, this ratio leans on the pressure sensor too."""
    own = [*spread_of("sensor_gain", ("map",)), *spread_of("sensor_offset", ("map", "iat"))]
    beside = [one for one in sound_air(*_SOUND)(model, query) if (one.variable, one.place) not in _PAIRS]
    return [*own, *beside]


_PAIRS = {("sensor_gain", "map"), ("sensor_offset", "map"), ("sensor_offset", "iat")}
_SOUND = ("meter", "leaks", "valves", "inlet", "exhaust", "drag", "cams", "rings", "numbers")
_PEAK = USUAL["idle_peak_filling"].sd / USUAL["idle_peak_filling"].value

# Tolerances: of a load, what computers differ in by their tables; of the meter, what engines differ in by filling and
# by how far the charge is warmed.
RULES: Mapping[str, Rule] = {
    "load_reported": Rule(_load, Tolerance(1.5, float(np.hypot(_PEAK, 0.06))), _refuse_standing, sound_air(*_SOUND)),
    "meter_over_density": Rule(_meter, Tolerance(2.0, PRESSURE_FLOW_SPREAD), _refuse_meter, _both_sensors),
}
