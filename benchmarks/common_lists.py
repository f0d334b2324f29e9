"""Long lists of faults drawn at random, for what grows with them: each fault moves a few of many readings.

Readings, their tolerances, spreads and what a sound engine shows are those of one invented engine; its faults are
repeated at further places until there are enough. What each fault does to which reading is drawn, not predicted: this
is about the weighing and the planning, and not about the physics.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from benchmarks.predict_table import findings as queries_of
from witnessmark.catalogue.faults import FaultInstance, Kind, fault_instances
from witnessmark.engine.library import find_engine
from witnessmark.engine.state import HEALTHY
from witnessmark.finding import Finding, Provenance
from witnessmark.infer.foretold import Column, Foretold, is_cheap, nodes_of
from witnessmark.predict import DriveModel, expect, nuisances
from witnessmark.predict.graded import is_graded
from witnessmark.vocabulary import Query

__all__ = ["LongList", "draw_list"]

Array = NDArray[np.float64]
ENGINE = "made-up V6 with second chains"
_MOVED = 15  # readings that a fault moves at most
_LEAST, _MOST = 2.0, 40.0  # spreads by which it moves them at its full size
_DIFFERENCES, _EACH = 20, 3  # what sound engines differ in; how many of these bear on one reading
_DIFFER = (0.2, 0.8)  # spreads


@dataclass(frozen=True, slots=True)
class LongList:
    """A list of faults with all that is foretold of it, and findings on an engine that has one of them.

    Parameters
    ----------
    foretold : Foretold
    findings : tuple of Finding
    truth : tuple of (str, str)
        Key of the fault there is.
    """

    foretold: Foretold
    findings: tuple[Finding, ...]
    truth: tuple[str, str]


def draw_list(faults: int, findings: int, seed: int) -> LongList:
    """A list, and findings on an engine that has one fault of it.

    Parameters
    ----------
    faults, findings : int
    seed : int
    """
    rng = np.random.default_rng([31, seed])
    model = DriveModel.of(find_engine(ENGINE))
    queries = _readings(model, findings)
    instances = _instances(model, faults)
    healthy = np.nan_to_num(expect(model, queries, HEALTHY).mean[0])
    own = np.array([query.kind.default_sd(float(value)) for query, value in zip(queries, healthy, strict=True)])
    bare = Foretold(model, cast(Foretold, SimpleNamespace(instances=instances, _columns={}, _kept=None)))
    nodes = np.tile(healthy, (bare.count, 1))
    for instance in instances:
        moved = rng.choice(findings, min(_MOVED, findings), replace=False)
        full = np.exp(rng.uniform(np.log(_LEAST), np.log(_MOST), len(moved))) * rng.choice((-1.0, 1.0), len(moved))
        for kind in instance.kinds:
            share = nodes_of(kind).share
            start = bare.first[bare.direction(kind)]
            bend = rng.uniform(0.5, 2.0, len(moved))
            turned = rng.uniform(0.3, 1.0, (2, len(moved)))
            grown = sum((turned[k] * share[:, k : k + 1] ** bend for k in range(min(share.shape[1], 2))), np.zeros(1))
            grown = grown if share.shape[1] else np.ones((1, 1))
            nodes[start : start + len(share), moved] += grown * full * own[moved]
    columns = _columns(model, queries, healthy, own, nodes, rng)
    foretold = Foretold(model, cast(Foretold, SimpleNamespace(instances=instances, _columns=columns, _kept=None)))
    truth = instances[int(rng.integers(len(instances)))]
    return LongList(foretold, _found(foretold, queries, own, truth.kinds[0], rng), truth.key)


def _readings(model: DriveModel, count: int) -> tuple[Query, ...]:
    """So many measured readings that are laid out beforehand."""
    every = [q for q in queries_of(model, 5_000) if _is_measured(q)]
    if len(every) < count:
        raise ValueError(f"only {len(every)} readings, not {count}")
    return tuple(every[i] for i in np.linspace(0, len(every) - 1, count).astype(int))


def _is_measured(query: Query) -> bool:
    return query.kind.kind in ("number", "count") and not is_graded(query) and not is_cheap(query)


def _instances(model: DriveModel, count: int) -> tuple[FaultInstance, ...]:
    """The engine's faults, again at further places until there are enough."""
    real = fault_instances(model.engine)
    real = real if count > len(real) else tuple(real[i] for i in np.linspace(0, len(real) - 1, count).astype(int))
    found = []
    for k in range(count):
        one, turn = real[k % len(real)], k // len(real)
        where = replace(one.where, id=f"{one.where.id}.{turn}") if turn else one.where
        found.append(replace(one, where=where, kinds=tuple(replace(kind) for kind in one.kinds)))
    return tuple(found)


def _columns(
    model: DriveModel, queries: Sequence[Query], healthy: Array, own: Array, nodes: Array, rng: np.random.Generator
) -> dict[Query, Column]:
    differences = nuisances(model, queries)[:_DIFFERENCES]
    found = {}
    for j, query in enumerate(queries):
        some = rng.choice(len(differences), min(_EACH, len(differences)), replace=False)
        slope = own[j] * rng.uniform(*_DIFFER, len(some)) * rng.choice((-1.0, 1.0), len(some))
        moved = tuple(differences[k] for k in some)
        found[query] = Column(float(healthy[j]), moved, slope, np.zeros_like(slope), np.ascontiguousarray(nodes[:, j]))
    return found


def _found(
    foretold: Foretold, queries: Sequence[Query], own: Array, kind: Kind, rng: np.random.Generator
) -> tuple[Finding, ...]:
    """What is read on an engine with one way of a fault at one of its nodes."""
    columns = foretold.columns(queries)
    start, count = foretold.first[foretold.direction(kind)], len(nodes_of(kind).share)
    at = start + int(rng.integers(count))
    sound = foretold.sound(queries)
    differ = rng.standard_normal(len(sound.moved)) @ sound.slope
    off = np.hypot(sound.absolute, sound.share * np.abs(sound.mean)) * rng.standard_normal(len(queries))
    read = np.array([column.nodes[at] for column in columns]) + differ + off + own * rng.standard_normal(len(queries))
    source = Provenance("recording")
    return tuple(
        Finding(q.quantity, q.place, float(value), float(sd), q.condition, source, id=f"f{j}")
        for j, (q, value, sd) in enumerate(zip(queries, read, own, strict=True), start=1)
    )
