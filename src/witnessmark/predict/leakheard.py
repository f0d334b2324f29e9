"""Where the air of a leak-down test is heard: at intake, tail pipe, oil filler, coolant, a neighbour's or its own plug.

Each way out of the cylinder is loud by its own area. Who listens may hear none of them, or several.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import pairs_of
from witnessmark.predict.batch import Batch
from witnessmark.predict.compression import cylinder_of, no_such_cylinder
from witnessmark.predict.grading import Scale
from witnessmark.predict.model import DriveModel
from witnessmark.predict.observed import Observed, Sign
from witnessmark.predict.rule import Nuisance, Rule
from witnessmark.predict.sealing import PATHS, ways_out
from witnessmark.predict.soundcylinders import varying
from witnessmark.vocabulary import Condition, Query

__all__ = ["OBSERVED", "RULES"]

_Array = NDArray[np.float64]

# mm2 heard slightly, plainly, grossly; our guess. A sound seat lets nothing by, so a hiss there is a leak, and with a
# fifth of the air lost it is heard at once (common practice, no source); rings always let half a mm2 by.
_AT = (0.3, 1.0, 3.0)
_AT_THE_FILLER = (1.0, 2.4, 6.0)
# Bubbles in the coolant are seen sooner than a hiss is heard; our guess.
_BUBBLES_AT = (0.05, 0.4, 2.0)
_DEAF = "no variable of the state lets air past a plug’s seat"


def _area(path: str) -> Callable[[Batch, str, Condition], _Array]:
    k = PATHS.index(path)

    def amount(batch: Batch, place: str, condition: Condition) -> _Array:
        return np.asarray(ways_out(batch)[:, int(place.rpartition("_")[2]) - 1, k])

    return amount


def _of_seats(path: str) -> Callable[[DriveModel, str, Condition], Iterator[Nuisance]]:
    def told(model: DriveModel, place: str, condition: Condition) -> Iterator[Nuisance]:
        if path in ("intake", "exhaust"):
            yield from varying("valve_leak", f"{place}.{path}")
        elif path == "crankcase":
            yield from varying("ring_leak", place)
        elif path == "coolant":
            yield from varying("gasket_leak", place)
        else:
            for pair in pairs_of(model.engine, int(place.rpartition("_")[2])):
                yield from varying("gasket_leak", pair)

    return told


SIGNS: Mapping[tuple[str, str], Sign] = {
    ("cylinder", path): Sign(
        _area(path), Scale({"coolant": _BUBBLES_AT, "crankcase": _AT_THE_FILLER}.get(path, _AT)), _of_seats(path)
    )
    for path in PATHS
    if path != "plug_hole"
}


def _cylinder(model: DriveModel, query: Query) -> tuple[str, str] | str:
    refused = no_such_cylinder(model, query)
    return refused if refused is not None else ("cylinder", f"cylinder_{cylinder_of(query) + 1}")


OBSERVED = Observed("leak_path", _cylinder, SIGNS, {("cylinder", "plug_hole"): _DEAF})
"""Every way out of a cylinder."""

RULES: Mapping[str, Rule] = {"leak_path": OBSERVED.rule()}
