"""Engines that simulated vehicles have: those that ship, described in full, and generic ones by number of cylinders.

Of a generic engine no more is known than cylinders and drive; how its air is metered is told of half of them. Where it
is not told, both kinds are possible, and each is a variant with its odds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine
from witnessmark.engine.types import Engine

__all__ = ["DESCRIBED", "Known", "draw_engine"]

DESCRIBED = (
    "made-up four", "made-up four with turbo", "made-up five", "made-up flat four", "made-up four with belt",
    "made-up three with belt", "made-up V6 with second chains", "made-up V8 with pushrods", "made-up six with one cam",
)  # fmt: skip
_CYLINDERS, _ODDS = (3, 4, 6, 8), (0.15, 0.6, 0.15, 0.1)
_GENERIC = 0.5  # share of vehicles whose engine is not described


@dataclass(frozen=True)
class Known:
    """What is known of an engine, and what it may be.

    Parameters
    ----------
    label : str
    told : Engine
        As handed to whoever reasons.
    variants : tuple of (Engine, float)
        What it may really be, with odds; one of them it is.
    """

    label: str
    told: Engine
    variants: tuple[tuple[Engine, float], ...]


def draw_engine(rng: np.random.Generator) -> Known:
    """One engine, for a batch of vehicles."""
    if rng.random() >= _GENERIC:
        name = str(rng.choice(DESCRIBED))
        engine = find_engine(name)
        return Known(name, engine, ((engine, 1.0),))
    cylinders = int(rng.choice(_CYLINDERS, p=_ODDS))
    options = candidate_engines(Engine(f"{cylinders} cylinders", cylinders))
    one = options[int(rng.choice(len(options), p=[o.weight / sum(p.weight for p in options) for o in options]))].engine
    kinds = {kind: _metered(one, kind) for kind in ("air_meter", "speed_density")}
    if rng.random() < 0.5:
        kind = str(rng.choice(list(kinds)))
        return Known(f"{cylinders} cylinders, {kind}", kinds[kind], ((kinds[kind], 1.0),))
    return Known(f"{cylinders} cylinders", one, tuple((engine, 0.5) for engine in kinds.values()))


def _metered(engine: Engine, kind: str) -> Engine:
    breathing = engine.breathing
    return replace(engine, breathing=replace(breathing, air=replace(breathing.air, metering=kind)))
