"""How much spark the computer takes back because it hears a cylinder knock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import healthy_of
from witnessmark.physics.normal import ndtr
from witnessmark.predict.batch import Batch
from witnessmark.predict.mixing import lambda_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.predict.sparks import no_cylinder
from witnessmark.predict.supplies import RUNNING
from witnessmark.vocabulary import Query

__all__ = ["RULES"]

_RETARD_MOST = 12.0  # degrees; common practice, no source
_MARGIN_DEG = {"full_load": 1.0, "acceleration": 3.0, "snap": 3.0, "cruise": 8.0}  # to knock; our guess
_IDLE_MARGIN = 20.0


def _knock(batch: Batch, query: Query) -> Values:
    """Degrees that the computer takes back: what the charge lacks to the limit, as far as the sensor hears it.

    Signs and order: less octane, more compression, an earlier spark and a leaner charge knock (from memory); a degree
    for each RON, six for each unit of compression and fifteen for each unit of λ are our guess.
    """
    state, k = query.condition.state or "idle", query.place.get("cylinder")
    if state not in RUNNING:
        return np.nan
    octane = 95.0 - batch.column("fuel_octane", "fuel") - 15.0 * (batch.column("fuel_ethanol", "fuel") - 0.07)
    squeezed = 10.0 * (1.0 / np.maximum(batch.column("clearance_scale", f"cylinder_{k}"), 0.3) - 1.0)
    lean = np.clip(lambda_of(batch, query.condition)[:, int(k or 1) - 1] - 1.0, 0.0, 0.2)
    oil = 0.02 * np.minimum(batch.column("oil_ingress", f"cylinder_{k}"), 300.0)
    early = batch.column("wheel_slip", CRANK)
    over = octane + 6.0 * squeezed + 15.0 * lean + oil + early - _MARGIN_DEG.get(state, _IDLE_MARGIN)
    needed = np.logaddexp(0.0, np.clip(over, -50.0, 50.0))
    gain = batch.column("sensor_gain", "knock")
    heard = needed * ndtr((gain - 0.4) / 0.12)
    # A sensor that hears too well takes valves and pistons for knock.
    imagined = 6.0 * ndtr((gain - 2.0) / 0.3) * (1.0 if state != "idle" else 0.3)
    return np.asarray(_RETARD_MOST * np.tanh((heard + imagined) / _RETARD_MOST))


def _sound_knock(model: DriveModel, query: Query) -> Iterable[Nuisance]:
    k = query.place.get("cylinder")
    for variable, place in (
        ("fuel_octane", "fuel"),
        ("fuel_ethanol", "fuel"),
        ("clearance_scale", f"cylinder_{k}"),
        ("oil_ingress", f"cylinder_{k}"),
        ("wheel_slip", CRANK),
    ):
        yield Nuisance(variable, place, *healthy_of(variable, place))


# How near the limit an engine is set is the maker's; our guess.
RULES: Mapping[str, Rule] = {
    "knock_retard": Rule(_knock, Tolerance(1.0, 0.4), no_cylinder, _sound_knock),
}
