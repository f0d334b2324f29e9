"""What the reference says of simulated vehicles, batch by batch; imports nothing of what it judges."""

from __future__ import annotations

import time
from collections.abc import Iterator

import numpy as np

from benchmarks.shards import Row
from benchmarks.vehicles.batch import Batch
from benchmarks.vehicles.generate import Vehicle
from benchmarks.vehicles.reference import Posterior, make_bank, posteriors
from benchmarks.vehicles.variant import Variant

__all__ = ["one_batch", "said_of"]

_SHOWN = 8  # repairs kept of each posterior


def one_batch(seed: int) -> Iterator[Row]:
    """The reference's posterior of a batch.

    Parameters
    ----------
    seed : int
    """
    yield from said_of(Batch.of(seed))


def said_of(batch: Batch) -> Iterator[Row]:
    """The reference's posterior, a row a vehicle; predictions of the engine are shared."""
    start = time.process_time()
    rng = np.random.default_rng(batch.seed)
    banks = [make_bank(variant, rng) for variant in batch.variants]
    found = posteriors(banks, batch.vehicles, batch.law)
    took = (time.process_time() - start) / len(batch.vehicles)
    for number, (vehicle, posterior) in enumerate(zip(batch.vehicles, found, strict=True)):
        apparent = _apparent(batch.variants[vehicle.variant], vehicle)
        yield {"number": number, **_said(posterior), "apparent": round(apparent, 2), "weighed_s": round(took, 3)}


def _said(posterior: Posterior) -> Row:
    held, needed = posterior.held, sorted(posterior.needed)
    first = max(held, key=lambda name: held[name])
    squares = sum((share - (name in posterior.needed)) ** 2 for name, share in held.items())
    return {
        "first": first, "first_p": round(held[first], 5), "right": first in posterior.needed, "needed": needed,
        "true_p": round(max(held.get(name, 0.0) for name in needed), 5),
        "held": {name: round(held[name], 5) for name in sorted(held, key=lambda n: -held[n])[:_SHOWN]},
        "brier": round(squares, 5), "honest": round(sum(p * (1.0 - p) for p in held.values()), 5),
        "moved": round(posterior.moved, 4), "again": round(posterior.again, 4),
    }  # fmt: skip


def _apparent(variant: Variant, vehicle: Vehicle) -> float:
    """How far what is broken and awake moves anything that was taken: in spreads, a code or an answer by its chance."""
    if not vehicle.way:
        return 0.0
    seen = variant.see([vehicle.way, ()], np.zeros((2, variant.count)))
    readings = variant.asked.readings
    moved = [0.0]
    for number in vehicle.taken:
        if number < len(readings):
            broken, sound = seen.mean[:, number]
            if np.isnan(broken) or np.isnan(sound):
                moved.append(0.0 if np.isnan(broken) and np.isnan(sound) else 99.0)
            else:
                moved.append(float(abs(broken - sound) / variant.gauges.some([number]).spread(np.array([sound]))[0]))
        else:
            moved.append(10.0 * float(np.abs(np.diff(seen.yes[:, number - len(readings)]))[0]))
    if vehicle.codes.size:
        moved.append(10.0 * float(np.abs(seen.code[0] - seen.code[1]).max()))
    return max(moved)
