"""What an exhaust-gas tester reads at the tail pipe."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import banks_of
from witnessmark.physics.exhaust import front_leak_air
from witnessmark.physics.exhaustgas import DryGas, dry_gas
from witnessmark.predict.air import Settled, blended
from witnessmark.predict.airplaces import banked, no_bank, of_bank, sound_air, spread_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.misfires import misfiring
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.setting import STANDS
from witnessmark.predict.trims import gas_lambda
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

Array = NDArray[np.float64]

_CONVERSION = 3.5  # a sound warm catalyst converts 1 - e^-3.5, 97 %, of what could react; our guess
_COLD = 0.3  # of that while warming up; our guess
_GASES: Mapping[str, Callable[[DryGas], Values]] = {
    "O2": lambda gas: gas.oxygen,
    "CO": lambda gas: gas.carbon_monoxide,
    "CO2": lambda gas: gas.carbon_dioxide,
    "HC": lambda gas: gas.hydrocarbons,
}
_TOLERANCE = {"O2": (0.25, 0.15), "CO": (0.1, 0.3), "CO2": (0.3, 0.01), "HC": (0.004, 0.5)}
_STANDING = (*STANDS, "cranking", "overrun")


def _share(batch: Batch, query: Query) -> Values:
    pick_gas = _GASES[str(query.place.get("gas"))]
    columns = of_bank(batch.model, query)
    misses = misfiring(batch, query.condition)

    def pick(found: Settled) -> Array:
        gas = dry_gas(
            np.clip(_at_the_tail(batch, found), 0.3, 20.0),
            unburnt=_unburnt(found, misses),
            converted=_converted(batch, query),
        )
        return banked(np.asarray(pick_gas(gas)), columns)

    return blended(batch, query.condition, pick)


def _at_the_tail(batch: Batch, found: Settled) -> Array:
    """λ of the gas at the tail pipe: as at the front sensor, and what leaks behind it let in."""
    air = gas_lambda(found, batch)
    banks = banks_of(batch.model.engine)
    own = np.stack([batch.column("leak_area", f"catalyst_{bank}") for bank in banks], axis=1)
    area = np.maximum(own + batch.column("leak_area", "tail")[:, None] / len(banks), 0.0) / found.size[:, None]
    ambient = found.ambient[:, None]
    inward = front_leak_air(found.path.exhaust, area, found.point.rear_sensor_pressure + ambient, ambient, 298.0)
    each = np.maximum(found.point.air_flow, 1e-6)[:, None] / len(banks)
    return np.asarray(air * (1.0 + np.asarray(inward) / each))


def _unburnt(found: Settled, misses: Array) -> Array:
    """Share of the cycles of each bank that did not fire."""
    # A cylinder without fuel sends air and no fuel: nothing of it is left unburnt.
    fed = np.where(found.point.fuelling.lambda_cylinder > 5.0, 0.0, misses)
    belongs = np.eye(found.path.n_banks)[list(found.path.bank_of)]
    return np.asarray(fed @ belongs / belongs.sum(axis=0))


def _converted(batch: Batch, query: Query) -> Array:
    banks = banks_of(batch.model.engine)
    stored = np.stack([batch.column("oxygen_storage", f"bank_{bank}") for bank in banks], axis=1)
    warm = _COLD if query.condition.state == "warm_up" else 1.0
    return np.asarray(warm * -np.expm1(-_CONVERSION * np.clip(stored, 0.0, 1.5)))


def _refuse(model: DriveModel, query: Query) -> str | None:
    if str(query.place.get("gas")) not in _GASES:
        return f"gas “{query.place.get('gas')}” is not predicted: O2, CO, CO2 or HC is expected"
    if query.condition.state in _STANDING:
        return "nothing burnt leaves an engine that stands, is cranked or gets no fuel"
    return no_bank(model, query)


def _tolerance(model: DriveModel, query: Query) -> Tolerance:
    return Tolerance(*_TOLERANCE[str(query.place.get("gas"))])


def _nuisances(model: DriveModel, query: Query) -> list[Nuisance]:
    found = [*sound_air("oxygen", "numbers")(model, query)]
    for bank in banks_of(model.engine):
        found += spread_of("oxygen_storage", (f"bank_{bank}",))
        found += spread_of("leak_area", (f"catalyst_{bank}", "tail"))
    if query.condition.state in ("full_load", "snap"):
        found += sound_air("pull")(model, query)
    return found


RULES: Mapping[str, Rule] = {"exhaust_gas_share": Rule(_share, _tolerance, _refuse, _nuisances)}
