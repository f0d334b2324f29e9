"""Numbers drawn: one stream of random numbers for each purpose, and one value of what a description leaves open."""

from __future__ import annotations

import numpy as np

from witnessmark.engine.number import Number

__all__ = ["settle", "stream"]


def stream(seed: int, *purpose: str) -> np.random.Generator:
    """Random numbers for one purpose: a new purpose elsewhere leaves these as they are.

    Parameters
    ----------
    seed : int
    purpose : str
        Any words.

    Returns
    -------
    numpy.random.Generator
    """
    words = "/".join(purpose).encode()
    return np.random.default_rng([seed, *words])


def settle(number: Number, rng: np.random.Generator) -> float | None:
    """One value of what is known of a number; None where nothing is.

    Parameters
    ----------
    number : Number
    rng : numpy.random.Generator

    Returns
    -------
    float or None
    """
    if number.values:
        return float(rng.choice(number.values, p=number.weights))
    if number.low is not None and number.high is not None:
        return float(rng.uniform(number.low, number.high))
    return None
