"""Between what sound engines read under the circumstances that a log tells: weather, warmth, speed, displacement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.estimate import NORMAL_90
from witnessmark.physics.usual import USUAL
from witnessmark.predict.batch import Batch
from witnessmark.predict.differing import sound_states
from witnessmark.predict.logistic import expit
from witnessmark.predict.model import DriveModel
from witnessmark.predict.rule import Nuisance
from witnessmark.predict.rules import rule_of
from witnessmark.predict.run import nuisances, why_not
from witnessmark.vocabulary import Query

__all__ = ["LoggedBand", "logged_bands", "told_by_log"]

Array = NDArray[np.float64]

_HELD_ROAD_KPA = (220.0, 130.0)  # mean pressure at a held road speed, from creeping in a town to a motorway; our guess
_COOLING_C, _COOLING_BLUR = 22.0, 4.0  # outside air at which every second driver has the compressor on; our guess


@dataclass(frozen=True, slots=True)
class LoggedBand:
    """What 90 of 100 sound engines read between.

    Parameters
    ----------
    mid, sd : float, shape ()
        In the quantity's unit: the usual engine, and what sound ones and the prediction itself spread by.
    """

    mid: float
    sd: float

    @property
    def low(self) -> float:
        """Lower end, shape (), in the quantity's unit."""
        return self.mid - NORMAL_90 * self.sd

    @property
    def high(self) -> float:
        """Upper end, shape (), in the quantity's unit."""
        return self.mid + NORMAL_90 * self.sd

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high


def told_by_log(
    *,
    ambient_kpa: tuple[float, float] | None = None,
    intake_c: tuple[float, float] | None = None,
    displacement_l: tuple[float, float] | None = None,
    outside_c: float | None = None,
) -> dict[str, tuple[float, float]]:
    """Numbers that a description leaves open and a log tells, each with its spread.

    Parameters
    ----------
    ambient_kpa : tuple of float, optional [kPa]
        The barometer's mean and spread.
    intake_c : tuple of float, optional [C]
        Of the air that comes in, which counts as that outside.
    displacement_l : tuple of float, optional [L]
        As air meter and manifold pressure tell it together; only of an engine whose description leaves it out.

    outside_c : float, optional [C]
        What an outside sensor reads: on a hot day more compressors run.

    Returns
    -------
    dict of str to tuple of float
        Value and spread, shape () each, by the open number's key. What a log calls cruise is any held road speed, so
        the load there is left wide open.
    """
    named = {
        "air:ambient_kpa": ambient_kpa,
        "heat:outside_c": intake_c,
        "air:displacement_l": displacement_l,
        "air:load_kpa:cruise": _HELD_ROAD_KPA,
        "air:compressor_w": _compressor(outside_c) if outside_c is not None else None,
    }
    return {key: value for key, value in named.items() if value is not None}


def _compressor(outside_c: float) -> tuple[float, float]:
    """Power at the crank, over cars in which it runs and in which it does not."""
    on, usual = float(expit((outside_c - _COOLING_C) / _COOLING_BLUR)), USUAL["compressor"]
    return on * usual.value, float(np.hypot(usual.value * np.sqrt(on * (1.0 - on)), np.sqrt(on) * usual.sd))


def logged_bands(
    model: DriveModel, queries: Sequence[Query], known: Mapping[str, tuple[float, float]] | None = None
) -> dict[Query, LoggedBand]:
    """What sound engines of this kind read, under each query's condition and what else is known.

    Parameters
    ----------
    model : DriveModel
    queries : sequence of Query
        Those that cannot be predicted here are left out of the answer.
    known : mapping of str to tuple of float, optional
        Of :func:`told_by_log`: value and spread, shape () each.

    Returns
    -------
    dict of Query to LoggedBand

    Notes
    -----
    As in ``abreast.foresee`` each healthy difference is moved by one standard deviation, and the squares of the changes
    are added up, the tolerance with them. Open numbers are moved either way, and the mean of the two counts: near a
    limit (a compressor that is off) a reading moves one way only. State variables are moved one way: most have an end.
    """
    asked = [query for query in dict.fromkeys(queries) if why_not(model, query) is None]
    if not asked:
        return {}
    told = dict(known or {})
    moved = tuple(_as_told(one, told) for one in nuisances(model, asked))
    batch = _laid_out(model, moved, told)
    return {query: found for query in asked if (found := _band(batch, query, moved)) is not None}


def _as_told(nuisance: Nuisance, told: Mapping[str, tuple[float, float]]) -> Nuisance:
    if not nuisance.is_number or nuisance.variable not in told:
        return nuisance
    mean, sd = told[nuisance.variable]
    return Nuisance(nuisance.variable, nuisance.place, mean, sd)


def _laid_out(model: DriveModel, moved: Sequence[Nuisance], told: Mapping[str, tuple[float, float]]) -> Batch:
    """The usual engine in the first row; below it each difference, first upward, then downward."""
    rows, m = 1 + 2 * len(moved), len(moved)  # downward rows of state variables stay as usual
    values = np.tile([one.mean for one in moved], (rows, 1))
    for k, one in enumerate(moved):
        values[1 + k, k] += one.sd
        values[1 + m + k, k] -= one.sd if one.is_number else 0.0
    state, numbers = sound_states(moved, values)
    return Batch(model, state, {key: np.full(rows, mean) for key, (mean, _) in told.items()} | numbers, rows)


def _band(batch: Batch, query: Query, moved: Sequence[Nuisance]) -> LoggedBand | None:
    rule = rule_of(query.quantity)
    assert rule is not None
    read = np.broadcast_to(np.asarray(rule.read(batch, query), dtype=np.float64), (batch.rows,))
    usual = float(read[0])
    if not np.isfinite(usual):
        return None
    up, down = np.nan_to_num(read[1:] - usual).reshape(2, len(moved))
    number = np.array([one.is_number for one in moved], dtype=bool)
    squares = np.where(number, 0.5 * (up**2 + down**2), up**2)
    middle = usual + float(np.sum(np.where(number, 0.5 * (up + down), 0.0)))
    tolerance = rule.tolerance_of(batch.model, query)
    beyond = tolerance.absolute**2 + (tolerance.share * usual) ** 2
    return LoggedBand(middle, float(np.sqrt(np.sum(squares) + beyond)))
