"""Air meter and other sensors: gain, offset, lag."""

from __future__ import annotations

import numpy as np

from witnessmark.physics._refuse import within
from witnessmark.physics.chain import Values

__all__ = ["lagged", "meter_reading"]


def meter_reading(flow: Values, *, gain: Values = 1.0, offset: Values = 0.0) -> Values:
    """What a sensor shows for a steady value.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
        True value, or that of any other quantity.
    gain : float or array, shape (n,) [-]
        State variable sensor_gain.
    offset : float or array, shape (n,) [kg/s]
        State variable sensor_offset, in the unit of the value.

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        If the gain is negative (from the check).

    Notes
    -----
    gain × flow + offset, by definition of the state variables. Reversing flow at full load and low speed, which a hot
    film counts as forward flow, is left out.

    Examples
    --------
    >>> f"{1000 * meter_reading(0.010, gain=0.85):.1f} g/s"
    '8.5 g/s'
    """
    within(0.0, np.inf, sensor_gain=gain)
    return gain * flow + offset


def lagged(time: Values, value: Values, lag: Values) -> Values:
    """What a slow sensor shows of a value that changes.

    Parameters
    ----------
    time : array, shape (k,) [s]
        Rising.
    value : array, shape (k,) or (k, n) [-]
        Any unit; straight lines between the times. Before the first it stood still.
    lag : float or array, shape (n,) [s]
        Time constant, state variable sensor_lag; 0 shows the value itself.

    Returns
    -------
    array, shape (k,) or (k, n) [-]
        In the unit of the value.

    Raises
    ------
    InputError
        If the times do not rise or the lag is negative (from the checks).

    Notes
    -----
    First order, dy/dt = (x - y)/τ; exact for straight pieces, which follows from its solution
    y = x - s τ + (y₀ - x₀ + s τ) e^(-t/τ), s the slope.

    Examples
    --------
    >>> [f"{v:.3f}" for v in lagged([0.0, 1e-9, 0.5, 1.0], [0.0, 1.0, 1.0, 1.0], 0.5)]
    ['0.000', '0.000', '0.632', '0.865']
    """
    within(0.0, np.inf, sensor_lag=lag)
    times, x = np.asarray(time, dtype=np.float64), np.asarray(value, dtype=np.float64)
    within(np.nextafter(0.0, 1.0), np.inf, time_from_one_to_the_next=np.diff(times))
    tau = np.maximum(np.asarray(lag, dtype=np.float64), 1e-300)
    y = [np.broadcast_to(x[0], np.broadcast_shapes(x[0].shape, tau.shape))]
    for i, step in enumerate(np.diff(times)):
        slope = (x[i + 1] - x[i]) / step
        y.append(x[i + 1] - slope * tau + (y[-1] - x[i] + slope * tau) * np.exp(-step / tau))
    return np.stack(y)
