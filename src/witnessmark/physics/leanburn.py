"""How well a charge works: torque of the same air over λ and over the spark, and cycles that do not fire."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import within
from witnessmark.physics.chain import Values

__all__ = ["burns_diluted", "unfired_share", "work_of_mixture", "work_of_spark"]

_LAMBDA = (0.45, 0.6, 0.7, 0.8, 0.88, 1.0, 1.1, 1.2, 1.3, 1.4, 1.6)
_WORK = (0.0, 0.70, 0.93, 1.03, 1.05, 1.0, 0.93, 0.85, 0.75, 0.5, 0.0)
_UNFIRED_AT = (0.45, 0.6, 0.68, 1.3, 1.45, 1.65)
_UNFIRED = (1.0, 0.3, 0.0, 0.0, 0.3, 1.0)


def work_of_mixture(air_ratio: Values) -> Values:
    """Indicated work of an amount of air over that at λ 1.

    Parameters
    ----------
    air_ratio : float or array, shape (n,) [-]
        λ of a cylinder; infinite where it gets no fuel.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If λ is negative or not a number (from the check).

    Notes
    -----
    A curve through points from memory of [heywood]_ §9.5 and §15.3: best some 5 % above λ 1 near 0.88, falling as fuel
    gets scarce, nothing beyond the limits of ignition. Those of one engine differ by 0.1 in λ.

    Examples
    --------
    >>> [float(work_of_mixture(x)) for x in (0.88, 1.0, 1.2, 2.0)]
    [1.05, 1.0, 0.85, 0.0]
    """
    within(0.0, np.inf, air_ratio=air_ratio)
    found: Values = np.interp(np.asarray(air_ratio), _LAMBDA, _WORK)
    return found


def work_of_spark(off_best_deg: Values) -> Values:
    """Work of a charge over that with the best spark.

    Parameters
    ----------
    off_best_deg : float or array, shape (n,) [deg]
        By how much the spark is earlier or later than best.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If the angle is not a number (from the check).

    Notes
    -----
    A parabola, 1 - (Δ/47°)²: 10° off cost some 4.5 %, from memory of [heywood]_ §15.3; nothing is left beyond 47°.

    Examples
    --------
    >>> [f"{work_of_spark(x):.3f}" for x in (0.0, -10.0, 20.0)]
    ['1.000', '0.955', '0.819']
    """
    within(-1e6, 1e6, spark_off_best=off_best_deg)
    found: Values = np.maximum(1.0 - np.square(np.asarray(off_best_deg) / 47.0), 0.0)
    return found


def burns_diluted(dilution: Values) -> Values:
    """Share of the cycles that burn in spite of exhaust in the charge.

    Parameters
    ----------
    dilution : float or array, shape (n,) [-]
        Share of exhaust in what is drawn, on top of what a sound engine keeps back.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If the share is outside 0 to 1 (from the check).

    Notes
    -----
    Engines bear a fifth to a third of recirculated exhaust before they miss, from memory; here all burns up to 0.25 and
    nothing from 0.5, our guess.

    Examples
    --------
    >>> [float(burns_diluted(x)) for x in (0.1, 0.3, 0.6)]
    [1.0, 0.8, 0.0]
    """
    within(0.0, 1.0, dilution=dilution)
    found: Values = np.clip((0.5 - np.asarray(dilution)) / 0.25, 0.0, 1.0)
    return found


def unfired_share(air_ratio: Values) -> Values:
    """Share of the cycles that do not fire because the mixture is too lean or too rich.

    Parameters
    ----------
    air_ratio : float or array, shape (n,) [-]
        λ of a cylinder.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If λ is negative or not a number (from the check).

    Notes
    -----
    Limits of ignition at warm idle from memory: none misses between 0.68 and 1.3, all do below 0.45 and above 1.65; the
    lines between are our guess.

    Examples
    --------
    >>> [float(unfired_share(x)) for x in (1.0, 1.45, 3.0)]
    [0.0, 0.3, 1.0]
    """
    within(0.0, np.inf, air_ratio=air_ratio)
    found: Values = np.interp(np.asarray(air_ratio), _UNFIRED_AT, _UNFIRED)
    return found
