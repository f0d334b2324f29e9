"""A batch of simulated vehicles by its seed: the same whoever asks for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchmarks.vehicles.engines import Known, draw_engine
from benchmarks.vehicles.generate import Vehicle, draw_vehicles
from benchmarks.vehicles.law import FIRST, SECOND, Law
from benchmarks.vehicles.variant import Variant

__all__ = ["BATCH", "FIRST_SEED", "SECOND_SEED", "Batch"]

BATCH = 25
FIRST_SEED, SECOND_SEED = 50_002, 60_000  # seeds below FIRST_SEED have set constants or been looked into


@dataclass(frozen=True)
class Batch:
    """Vehicles of one engine.

    Parameters
    ----------
    seed : int
        From ``SECOND_SEED`` on of the second set.
    law : Law
    known : Known
    variants : list of Variant
    vehicles : list of Vehicle
    """

    seed: int
    law: Law
    known: Known
    variants: list[Variant]
    vehicles: list[Vehicle]

    @classmethod
    def of(cls, seed: int, count: int = BATCH) -> Batch:
        """Draw it."""
        law = SECOND if seed >= SECOND_SEED else FIRST
        rng = np.random.default_rng(seed)
        known = draw_engine(rng)
        variants = [Variant(engine, odds) for engine, odds in known.variants]
        return cls(seed, law, known, variants, draw_vehicles(variants, law, count, rng))
