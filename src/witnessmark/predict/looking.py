"""What a feeler gauge reads: gaps of plugs and of position sensors."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from witnessmark.engine.state import healthy_of
from witnessmark.engine.stateplaces import state_places
from witnessmark.errors import InputError
from witnessmark.predict.batch import Batch
from witnessmark.predict.marks import shaft_of
from witnessmark.predict.model import DriveModel, Values
from witnessmark.predict.rule import Nuisance, Rule, Tolerance
from witnessmark.vocabulary import Query

__all__ = ["RULES"]


def _where(model: DriveModel, query: Query) -> tuple[str, str] | str:
    """Variable and place of the gap, or why there is none."""
    plug, position = query.place.get("plug"), query.place.get("position")
    if plug is not None:
        known = state_places(model.engine, "plug")
        name = f"plug_{str(plug).removeprefix('plug_')}"
        return ("spark_gap", name) if name in known else f"this engine has no plug {plug}: 1 to {len(known)}"
    if position is None:
        return "nothing says which gap: plug=3, or position=crank"
    try:
        return "sensor_gap", shaft_of(model, str(position))
    except InputError as error:
        return error.message


def _gap(batch: Batch, query: Query) -> Values:
    found = _where(batch.model, query)
    assert not isinstance(found, str)
    return np.maximum(batch.column(*found), 0.0)


def _no_gap(model: DriveModel, query: Query) -> str | None:
    found = _where(model, query)
    return found if isinstance(found, str) else None


def _of_gap(model: DriveModel, query: Query) -> Iterator[Nuisance]:
    found = _where(model, query)
    if not isinstance(found, str):
        yield Nuisance(*found, *healthy_of(*found))


RULES: Mapping[str, Rule] = {"gap_seen": Rule(_gap, Tolerance(0.0), _no_gap, _of_gap)}
