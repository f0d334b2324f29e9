"""Figures of merit with the error that chance alone gives them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Row = dict[str, Any]

Z90 = 1.6448536269514722


@dataclass(frozen=True)
class Coverage:
    """How measured values lie about the truth.

    ``held`` is the share of 90 % intervals that hold the truth, ``held_error`` the 95 % half width that chance gives
    a true 0.90 at this count; ``bias`` is the mean error, ``bias_error`` its 95 % half width; ``median`` the median
    error; ``width`` the mean width of the 90 % interval; ``spread`` the standard deviation of error / sd (1 is right).
    """

    count: int
    held: float
    held_error: float
    bias: float
    bias_error: float
    median: float
    width: float
    spread: float
    wildest: float


def coverage(errors: Sequence[float] | FloatArray, sds: Sequence[float] | FloatArray) -> Coverage:
    """Coverage of intervals of value ± 1.645 sd.

    Parameters
    ----------
    errors : array
        Measured less true.
    sds : array
        Standard deviations given with the values.
    """
    error, sd = np.asarray(errors, dtype=np.float64), np.asarray(sds, dtype=np.float64)
    count = error.size
    z = error / np.where(sd > 0.0, sd, np.nan)
    inside = np.abs(error) <= Z90 * sd
    return Coverage(
        count=count,
        held=float(inside.mean()),
        held_error=1.96 * float(np.sqrt(0.9 * 0.1 / count)),
        bias=float(error.mean()),
        bias_error=1.96 * float(error.std() / np.sqrt(count)),
        median=float(np.median(error)),
        width=float((2.0 * Z90 * sd).mean()),
        spread=float(np.nanstd(z)),
        wildest=float(np.abs(error).max()),
    )


@dataclass(frozen=True)
class Answers:
    """Brier and logarithmic score of chances given for answers, with what honest chances would have scored (floor)."""

    count: int
    right: float
    brier: float
    brier_floor: float
    brier_error: float
    log: float
    log_floor: float


def answers(right: Sequence[bool], chances: Sequence[float]) -> Answers:
    """Scores of answers.

    Parameters
    ----------
    right : sequence of bool
        Whether each answer given was right.
    chances : sequence of float
        Chance stated that it is right.

    Notes
    -----
    The floor is the score that the stated chances would get in the mean if they were true: p(1 - p), and the entropy.
    """
    truth = np.asarray(right, dtype=np.float64)
    p = np.clip(np.asarray(chances, dtype=np.float64), 1e-6, 1.0 - 1e-6)
    each = (truth - p) ** 2
    entropy = -(p * np.log(p) + (1.0 - p) * np.log(1.0 - p))
    log = -(truth * np.log(p) + (1.0 - truth) * np.log(1.0 - p))
    return Answers(
        count=truth.size,
        right=float(truth.mean()),
        brier=float(each.mean()),
        brier_floor=float((p * (1.0 - p)).mean()),
        brier_error=1.96 * float(each.std() / np.sqrt(truth.size)),
        log=float(log.mean()),
        log_floor=float(entropy.mean()),
    )


def groups(rows: Iterable[Row], key: Callable[[Row], str]) -> dict[str, list[Row]]:
    """Rows by what a key makes of them, in order of name."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(key(row), []).append(row)
    return dict(sorted(found.items()))
