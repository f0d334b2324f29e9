"""Saying no to numbers that no formula can use: one line with the field and the reason."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError
from witnessmark.physics.chain import Values

__all__ = ["above_zero", "within"]


def above_zero(**fields: Values) -> None:
    """Refuse what is not above 0, or not a number."""
    for name, values in fields.items():
        if type(values) is float and values > 0.0:
            continue  # by far the commonest, and the inner loops ask
        bad = np.asarray(~(np.asarray(values, dtype=np.float64) > 0.0))
        if bad.any():
            raise InputError(f"{_first(values, bad):g} given", expected="a number above 0", where=_words(name))


def within(low: float, high: float, **fields: Values) -> None:
    """Refuse what lies outside a closed interval, or is not a number."""
    for name, values in fields.items():
        if type(values) is float and low <= values <= high:
            continue
        array = np.asarray(values, dtype=np.float64)
        bad = np.asarray(~((array >= low) & (array <= high)))
        if bad.any():
            limits = f"at least {low:g}" if high == np.inf else f"{low:g} to {high:g}"
            raise InputError(f"{_first(values, bad):g} given", expected=limits, where=_words(name))


def _first(values: Values, bad: NDArray[np.bool_]) -> float:
    return float(np.asarray(values, dtype=np.float64)[bad].flat[0])


def _words(name: str) -> str:
    return name.replace("_", " ")
