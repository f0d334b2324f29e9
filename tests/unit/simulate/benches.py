"""Vehicles on the bench for the tests beside this one: sound to the letter, or with named edits."""

from __future__ import annotations

from functools import cache

from witnessmark.engine.candidates import candidate_engines
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Engine
from witnessmark.simulate.bench import Bench, build_bench
from witnessmark.simulate.instruments import Scope

__all__ = ["QUIET", "bench", "edited", "four"]

QUIET = Scope(step_s=5e-5, bits=16, ranged=True, noise_v=0.0005)


@cache
def four() -> Engine:
    return max(candidate_engines(find_engine("made-up four")), key=lambda one: one.weight).engine


def edited(*changes: tuple[str, str, str, float]) -> State:
    return HEALTHY.edited(changes)


def bench(*changes: tuple[str, str, str, float], seed: int = 5) -> Bench:
    return build_bench(four(), edited(*changes), seed)
