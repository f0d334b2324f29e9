"""How well the numbers of a column fit a parameter."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from witnessmark.recording.columns.facts import Facts
from witnessmark.recording.parameters import Parameter

__all__ = ["Usual", "usual", "value_cost"]

_MOST = 10.0
_DECADES = 3.0
_DENIED = 4.5
_OFTEN, _SELDOM = -0.5, 0.7
# What a sensor in a running engine measures is never the same for a whole log.
_NEVER_STANDS = frozenset({"engine_speed", "lambda", "o2_voltage", "maf"})
# A column of zeros only is what many a computer answers for what it has not: it says nothing for or against a name.
_SILENT = 0.5


@dataclass(frozen=True, slots=True)
class Usual:
    """What a parameter's numbers usually look like (``data/columnvalues.toml``).

    Parameters
    ----------
    low, high : float
        Between these lie the medians of most logs, in the parameter's unit.
    rises, steady, slow, lively, calm : bool
    rare : float [nats]
        How much seldomer it is logged than the common ones.
    reach : float, optional
        The greatest values of a running engine lie above this.
    core, rest : (float, float), optional
        Where the median of a warm engine's log lies most often, and where its smallest values do.
    """

    low: float
    high: float
    rises: bool = False
    steady: bool = False
    slow: bool = False
    lively: bool = False
    calm: bool = False
    rare: float = 0.0
    reach: float | None = None
    core: tuple[float, float] | None = None
    rest: tuple[float, float] | None = None


@cache
def usual() -> Mapping[str, Usual]:
    """What numbers usually look like, by parameter."""
    rows = tomllib.loads(files("witnessmark").joinpath("data/columnvalues.toml").read_text(encoding="utf-8"))
    return {key: _usual(row) for key, row in rows.items()}


def _usual(row: dict[str, Any]) -> Usual:
    low, high = row.pop("usual")
    rest: dict[str, Any] = {name: tuple(each) if isinstance(each, list) else each for name, each in row.items()}
    return Usual(low, high, **rest)


def value_cost(parameter: Parameter, facts: Facts, scale: float, offset: float) -> float:
    """How badly the numbers fit a parameter once scaled.

    Parameters
    ----------
    parameter : Parameter
    facts : Facts
    scale, offset : float
        Value in the parameter's unit = number × scale + offset.

    Returns
    -------
    float [nats]
        0 for numbers as they usually are.
    """
    if facts.kind == "empty":
        return 0.0
    if facts.kind == "text":
        return _text_cost(parameter, facts)
    if facts.kind == "clock":
        return _clock_cost(parameter, facts)
    if parameter.id == "nothing":
        return 0.5
    if facts.low == facts.high == 0.0:
        return _SILENT
    if not parameter.is_number:
        return _numbered_text(parameter, facts)
    q05, median, q95 = (q * scale + offset for q in (facts.q05, facts.median, facts.q95))
    low, high = (
        parameter.low if parameter.low is not None else -np.inf,
        parameter.high if parameter.high is not None else np.inf,
    )
    slack = 0.02 * (high - low) if np.isfinite(high - low) else 0.0
    cost = 0.0
    for value, weight in ((min(q05, q95), 2.5), (median, 5.0), (max(q05, q95), 2.5)):
        if not low - slack <= value <= high + slack:
            cost += weight
    row = usual()[parameter.id]
    width = row.high - row.low
    beyond = max(row.low - median, median - row.high, 0.0) / width
    cost += min(5.0, 4.0 * beyond)
    if facts.count >= 5 and beyond == 0.0:
        cost -= _sharpness(row)
    ends = sorted((facts.low * scale + offset, facts.high * scale + offset))
    if not low - slack <= ends[0] <= ends[1] <= high + slack:
        cost += 3.0 if parameter.unit == "%" else 2.0
    if facts.count >= 5 and facts.levels > 1:
        cost += _beside(median, row.core) + _beside(min(q05, q95), row.rest)
    if row.reach is not None and facts.levels > 3 and ends[1] < row.reach:
        cost += _DENIED
    if parameter.whole and not facts.whole:
        cost += 3.0
    return min(cost + row.rare + _shape_cost(parameter, row, facts), _MOST)


def _beside(value: float, often: tuple[float, float] | None) -> float:
    """A little for a value where it often is, a little against one that is elsewhere."""
    return 0.0 if often is None else _OFTEN if often[0] <= value <= often[1] else _SELDOM


def _sharpness(row: Usual) -> float:
    """How much it says that a median falls among the usual ones: little where they span decades."""
    if row.low <= 0.0:
        return 0.0
    return float(np.clip(np.log(_DECADES / np.log10(row.high / row.low)), 0.0, 2.0))


def _shape_cost(parameter: Parameter, row: Usual, facts: Facts) -> float:
    if facts.count < 5:
        return 0.0
    cost = 0.0
    constant = facts.levels == 1
    if row.rises and facts.falls > 0.02:
        cost += 6.0 if facts.falls > 0.1 else 2.0
    if parameter.id in ("time", "run_time"):
        cost += 4.0 if constant or facts.rises < 0.03 else 2.0 if facts.rises < 0.1 else 0.0
        cost += 3.0 if facts.count >= 30 and facts.levels < 0.15 * facts.count else 0.0
    elif not row.rises and facts.rises > 0.95 and facts.count > 20 and not row.slow:
        cost += 4.0
    elif row.slow and facts.rises > 0.9 and facts.count > 20:
        cost += 3.0
    if row.steady and not row.rises and facts.levels > 8 and facts.jump > 0.2:
        cost += 1.5
    if row.slow and facts.levels > 8:
        cost += (1.0 if facts.jump > 0.6 else 0.0) + (2.0 if facts.wander > 15.0 else 0.0)
    if row.lively and facts.count > 20 and facts.levels >= 3 and facts.wander < 1.3:
        cost += 2.5
    if row.calm and facts.count > 20 and facts.moves > 0.6:
        cost += 1.5
    if parameter.id in _NEVER_STANDS and constant and facts.count > 20:
        cost += 2.5
    return cost


def _numbered_text(parameter: Parameter, facts: Facts) -> float:
    """Status and the like, written as numbers."""
    if parameter.id == "clock":
        return 0.5 if facts.median > 1e8 and facts.falls < 0.02 else 5.0
    return 0.5 if facts.whole and facts.levels <= 8 else 4.0


def _clock_cost(parameter: Parameter, facts: Facts) -> float:
    """Hours, minutes and seconds: a log that begins at nine in the morning is one that tells the time of day."""
    begins_late = facts.low > 1.5 * 3600.0
    if parameter.id == "clock":
        return 0.0 if begins_late else 1.5
    if parameter.id in ("time", "run_time"):
        return 5.0 if facts.low > 2.0 * 86_400.0 else 3.0 if begins_late else 0.0
    return {"nothing": 2.0, "time_lamp": 2.0, "time_cleared": 2.0}.get(parameter.id, _MOST)


def _text_cost(parameter: Parameter, facts: Facts) -> float:
    if parameter.id in facts.speaks:
        return -1.0
    if parameter.id == "nothing":
        return 0.5 if not facts.speaks else 2.0
    if parameter.id in ("gear", "marker"):
        return 2.0 if facts.levels <= 12 else 5.0
    return 7.0 if parameter.is_number else 3.0 if facts.speaks else 1.0
