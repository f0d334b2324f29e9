"""What columns say about each other: load follows manifold pressure, fuel follows air, a pedal moves the throttle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["RELATIONS", "Relation", "rank_correlation", "relation_cost"]

FloatArray = NDArray[np.float64]
_LEAST_ROWS = 25


@dataclass(frozen=True, slots=True)
class Relation:
    """Two parameters that move together in a sound engine.

    Parameters
    ----------
    first, second : str
        Ids; "air/turn" is air flow over engine speed.
    usual : float
        A low rank correlation of the two, as seen in most logs that hold driving.
    weight : float
        How much a miss counts.
    """

    first: str
    second: str
    usual: float
    weight: float = 1.0


RELATIONS = (
    Relation("load", "map", 0.6, 1.5),
    Relation("load", "air/turn", 0.6, 1.5),
    Relation("absolute_load", "air/turn", 0.8, 1.5),
    Relation("absolute_load", "map", 0.7, 1.5),
    Relation("absolute_load", "load", 0.6),
    Relation("map", "air/turn", 0.6, 1.5),
    Relation("maf", "fuel_rate", 0.8),
    Relation("injection_time", "load", 0.5),
    Relation("throttle", "pedal", 0.6),
    Relation("throttle", "throttle_relative", 0.9, 1.5),
    Relation("throttle", "throttle_command", 0.7),
    Relation("pedal", "throttle_command", 0.6),
    Relation("throttle", "map", 0.3),
    Relation("torque_actual", "load", 0.5),
    Relation("torque_actual", "torque_demand", 0.7),
    Relation("maf", "engine_speed", 0.3),
    Relation("time", "run_time", 0.95, 1.5),
    Relation("cam_actual", "cam_target", 0.6),
    Relation("rail_pressure", "rail_target", 0.6),
    Relation("coolant", "oil_temperature", 0.5, 0.5),
)


def relation_cost(parameter: str, values: FloatArray, sure: Mapping[str, FloatArray]) -> float:
    """How badly a column fits beside the columns that are sure, were it this parameter.

    Parameters
    ----------
    parameter : str
    values : array, shape (n,)
        Thinned rows of the column.
    sure : mapping of str to array, shape (n,)
        Columns by parameter, "air/turn" among them.

    Returns
    -------
    float [nats]
        Below 0 where it fits better than chance.
    """
    cost = 0.0
    for relation in RELATIONS:
        other = {relation.first: relation.second, relation.second: relation.first}.get(parameter)
        if other is None or other not in sure:
            continue
        found = rank_correlation(values, sure[other])
        if found is not None:
            miss = np.arctanh(np.clip(relation.usual, 0, 0.97)) - np.arctanh(np.clip(found, -0.97, 0.97))
            cost += relation.weight * float(np.clip(miss, -0.5, 2.0))
    return float(np.clip(cost, -2.0, 4.0))


def rank_correlation(a: FloatArray, b: FloatArray) -> float | None:
    """Spearman's correlation of two columns over the rows that both have; None where they do not move.

    Parameters
    ----------
    a, b : array, shape (n,)

    Returns
    -------
    float or None
    """
    both = np.isfinite(a) & np.isfinite(b)
    if both.sum() < _LEAST_ROWS:
        return None
    a, b = _ranks(a[both]), _ranks(b[both])
    spread = float(a.std() * b.std())
    return float(((a - a.mean()) * (b - b.mean())).mean() / spread) if spread > 0 else None


def _ranks(values: FloatArray) -> FloatArray:
    _, at, counts = np.unique(values, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    return (ends - (counts - 1) / 2.0)[at]
