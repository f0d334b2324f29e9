"""Orifice plates between flanges, as ISO 5167-2 has them: the yardstick for flow through a known hole in a pipe."""

from __future__ import annotations

from typing import Literal

import numpy as np

from witnessmark.errors import InputError
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["TAPS", "Taps", "discharge_coefficient", "expansibility", "orifice_flow"]

Taps = Literal["corner", "flange", "D"]
TAPS: tuple[Taps, ...] = ("corner", "flange", "D")
"""Where the pressure is taken: in the corners, 25.4 mm from the plate, or one diameter ahead and half a one behind."""

_INCH = 0.0254


def discharge_coefficient(pipe: Values, hole: Values, reynolds: Values, taps: Taps = "flange") -> Values:
    """Discharge coefficient of an orifice plate.

    Parameters
    ----------
    pipe, hole : float or array, shape (n,) [m]
        Diameters of pipe and hole.
    reynolds : float or array, shape (n,) [-]
        Of the pipe: 4 ṁ/(π μ D).
    taps : {"corner", "flange", "D"}

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If the diameter ratio is outside 0.1 to 0.75, the Reynolds number not above 0, or the taps are not known.

    Notes
    -----
    ISO 5167-2:2003, Eq. 4 (Reader-Harris and Gallagher), from memory. Valid for holes of 12.5 mm or more, pipes of 50
    to 1,000 mm, diameter ratio 0.1 to 0.75, Reynolds 5,000 or more (flange: also 170 β² D/mm); outside that it
    extrapolates, except in the diameter ratio, which is refused.

    Examples
    --------
    >>> f"{discharge_coefficient(0.0739, 0.0222, 1.12e5):.4f}"
    '0.5990'
    """
    above_zero(pipe_diameter=pipe, hole_diameter=hole, reynolds_number=reynolds)
    beta = hole / pipe
    within(0.1, 0.75, diameter_ratio=beta)
    ahead, behind = _tap_distances(pipe, taps)
    m2 = 2.0 * behind / (1.0 - beta)
    a = (19000.0 * beta / reynolds) ** 0.8
    plate = 0.5961 + 0.0261 * beta**2 - 0.216 * beta**8 + 0.000521 * (1e6 * beta / reynolds) ** 0.7
    plate = plate + (0.0188 + 0.0063 * a) * beta**3.5 * (1e6 / reynolds) ** 0.3
    tap = (0.043 + 0.080 * np.exp(-10.0 * ahead) - 0.123 * np.exp(-7.0 * ahead)) * (1.0 - 0.11 * a)
    tap = tap * beta**4 / (1.0 - beta**4) - 0.031 * (m2 - 0.8 * m2**1.1) * beta**1.3
    small = 0.011 * (0.75 - beta) * np.maximum(2.8 - pipe / _INCH, 0.0)
    return plate + tap + small


def _tap_distances(pipe: Values, taps: Taps) -> tuple[Values, Values]:
    """Distance of the taps from the plate, over the pipe's diameter."""
    if taps == "corner":
        return 0.0, 0.0
    if taps == "flange":
        return _INCH / pipe, _INCH / pipe
    if taps == "D":
        return 1.0, 0.47
    raise InputError(f"no pressure taps are called “{taps}”", expected=", ".join(TAPS), where="taps")


def expansibility(beta: Values, upstream: Values, downstream: Values, kappa: Values = 1.4) -> Values:
    """By how much a gas that expands through an orifice plate flows less than a liquid.

    Parameters
    ----------
    beta : float or array, shape (n,) [-]
        Diameter ratio, hole over pipe.
    upstream, downstream : float or array, shape (n,) [Pa]
        Absolute.
    kappa : float or array, shape (n,) [-]
        Isentropic exponent.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If the ratios are outside 0.1 to 0.75 (diameters) or 0.75 to 1 (pressures).

    Notes
    -----
    ε = 1 - (0.351 + 0.256 β⁴ + 0.93 β⁸)(1 - (p₂/p₁)^(1/κ)), ISO 5167-2:2003, Eq. 5, from memory. Down to p₂/p₁ = 0.75.

    Examples
    --------
    >>> f"{expansibility(22.2 / 73.9, 100e3, 99e3):.6f}"
    '0.997474'
    """
    above_zero(upstream_pressure=upstream, downstream_pressure=downstream, isentropic_exponent=kappa)
    within(0.1, 0.75, diameter_ratio=beta)
    within(0.75, 1.0, pressure_ratio=downstream / upstream)
    return 1.0 - (0.351 + 0.256 * beta**4 + 0.93 * beta**8) * (1.0 - (downstream / upstream) ** (1.0 / kappa))


def orifice_flow(
    pipe: Values,
    hole: Values,
    *,
    upstream: Values,
    downstream: Values,
    density: Values,
    viscosity: Values,
    kappa: Values | None = None,
    taps: Taps = "flange",
) -> Values:
    """Mass flow through an orifice plate from the pressures at its taps.

    Parameters
    ----------
    pipe, hole : float or array, shape (n,) [m]
    upstream, downstream : float or array, shape (n,) [Pa]
        Absolute.
    density : float or array, shape (n,) [kg/m3]
        Upstream.
    viscosity : float or array, shape (n,) [Pa s]
    kappa : float or array, shape (n,) [-], optional
        Isentropic exponent; left out for a liquid.
    taps : {"corner", "flange", "D"}

    Returns
    -------
    float or array, shape (n,) [kg/s]

    Raises
    ------
    InputError
        As :func:`discharge_coefficient` and :func:`expansibility`; or if the pressure rises through the plate.

    Notes
    -----
    ṁ = C/√(1-β⁴) ε π d²/4 √(2 Δp ρ), ISO 5167-1:2003, Eq. 1, from memory. The Reynolds number within C needs the flow:
    C changes so slowly with it that twenty rounds settle it to rounding.

    Examples
    --------
    >>> water = orifice_flow(
    ...     0.07366, 0.05, upstream=2e5, downstream=1.83e5, density=999.1, viscosity=1.1e-3, taps="D"
    ... )
    >>> f"{water:.3f} kg/s"
    '7.930 kg/s'
    """
    above_zero(density=density, viscosity=viscosity, pressure_drop=np.asarray(upstream) - downstream)
    beta = hole / pipe
    gas = 1.0 if kappa is None else expansibility(beta, upstream, downstream, kappa)
    plain = np.pi / 4.0 * hole**2 * np.sqrt(2.0 * (upstream - downstream) * density) / np.sqrt(1.0 - beta**4) * gas
    flow = 0.6 * plain
    for _ in range(20):
        flow = discharge_coefficient(pipe, hole, 4.0 * flow / (np.pi * viscosity * pipe), taps) * plain
    return flow
