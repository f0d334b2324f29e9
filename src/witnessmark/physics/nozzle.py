"""Compressible flow through a nozzle: throttles, valves, leaks, restrictions; either way, choked or not.

``mass_flow`` and ``flow_function`` are checked; ``signed_flow`` is the same formula for inner loops and compiled code.
"""

from __future__ import annotations

import numpy as np

from witnessmark.physics._pressures import ahead, behind
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = [
    "GAMMA_AIR",
    "GAMMA_EXHAUST",
    "HOLE",
    "ROUNDED_OFF",
    "R_AIR",
    "R_EXHAUST",
    "choked_flux",
    "critical_ratio",
    "downstream_pressure",
    "flow_function",
    "mass_flow",
    "signed_flow",
    "upstream_pressure",
]

R_AIR = 287.05
"""Gas constant of dry air, J/(kg K)."""
GAMMA_AIR = 1.4
"""Ratio of specific heats of cold air."""
R_EXHAUST = 286.0
"""Gas constant of burnt stoichiometric charge, J/(kg K): from memory, within 1 % for petrol and its ethanol blends."""
GAMMA_EXHAUST = 1.33
"""Ratio of specific heats of hot exhaust: from memory, 1.30 to 1.35 between 600 and 1,200 K."""
HOLE = 0.7
"""Discharge coefficient of a leak: the geometric area of the state times this flows (docs/catalogue.md)."""

ROUNDED_OFF = 1e-4
"""Share of the upstream pressure within which the flow's square root is rounded off, here and in the march by angle."""


def critical_ratio(gamma: Values = GAMMA_AIR) -> Values:
    """Downstream over upstream pressure at which the throat reaches the speed of sound.

    Parameters
    ----------
    gamma : float or array, shape (n,) [-]
        Ratio of specific heats, above 1.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If gamma is not above 1 (from the check).

    Notes
    -----
    π* = (2/(γ+1))^(γ/(γ-1)), [heywood]_ appendix C, from memory. Ideal gas of constant γ; for cold real air 0.05 %
    high.

    Examples
    --------
    >>> f"{critical_ratio():.6f}"
    '0.528282'
    """
    within(1.0 + 1e-9, 10.0, gamma=gamma)
    return _critical(gamma)


def _critical(gamma: Values) -> Values:
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


def flow_function(ratio: Values, gamma: Values = GAMMA_AIR) -> Values:
    """Mass flow as a share of p₀ A / √(R T₀), for flow one way, with nothing rounded off.

    Parameters
    ----------
    ratio : float or array, shape (n,) [-]
        Downstream static over upstream total pressure, 0 to 1. Below the critical ratio the flow is choked.
    gamma : float or array, shape (n,) [-]
        Ratio of specific heats, above 1.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If the ratio is outside 0 to 1 or gamma is not above 1 (from the checks).

    Notes
    -----
    Ψ = √(2γ/(γ-1) (π^(2/γ) - π^((γ+1)/γ))), π no lower than π*; [heywood]_ appendix C, from memory. Isentropic up to
    the throat, no pressure recovered behind it; an ideal gas of constant γ.

    Examples
    --------
    >>> f"{flow_function(0.9):.4f} {flow_function(0.3):.4f}"
    '0.4226 0.6847'
    """
    within(0.0, 1.0, pressure_ratio=ratio)
    within(1.0 + 1e-9, 10.0, gamma=gamma)
    pi = np.maximum(ratio, _critical(gamma))
    return np.sqrt(2.0 * gamma / (gamma - 1.0) * (pi ** (2.0 / gamma) - pi ** ((gamma + 1.0) / gamma)))


def choked_flux(pressure: Values, temperature: Values, *, gamma: Values = GAMMA_AIR, gas: Values = R_AIR) -> Values:
    """Most that flows through each square metre of effective area.

    Parameters
    ----------
    pressure : float or array, shape (n,) [Pa]
        Upstream, total, absolute.
    temperature : float or array, shape (n,) [K]
        Upstream, total.
    gamma : float or array, shape (n,) [-]
    gas : float or array, shape (n,) [J/(kg K)]
        Gas constant.

    Returns
    -------
    float or array, shape (n,) [kg/(m2 s)]

    Raises
    ------
    InputError
        If a pressure, temperature or gas constant is not above 0 (from the checks).

    Notes
    -----
    p₀/√(R T₀) · Ψ(π*), [heywood]_ appendix C, from memory. For air near ambient within 0.1 % of a real gas.

    Examples
    --------
    >>> f"{choked_flux(101325.0, 293.15):.1f}"
    '239.2'
    """
    above_zero(pressure=pressure, temperature=temperature, gas_constant=gas)
    return pressure / np.sqrt(gas * temperature) * flow_function(0.0, gamma)


def mass_flow(
    area: Values,
    pressure: Values,
    other_pressure: Values,
    temperature: Values,
    *,
    other_temperature: Values | None = None,
    gamma: Values = GAMMA_AIR,
    gas: Values = R_AIR,
) -> Values:
    """Mass flow through an effective area, either way.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
        Effective: discharge coefficient times geometric area; at least 0.
    pressure, other_pressure : float or array, shape (n,) [Pa]
        On this side and on the other, absolute.
    temperature : float or array, shape (n,) [K]
        Of the gas on this side.
    other_temperature : float or array, shape (n,) [K], optional
        Of the gas on the other side; the same if left out.
    gamma : float or array, shape (n,) [-]
    gas : float or array, shape (n,) [J/(kg K)]
        Gas constant.

    Returns
    -------
    float or array, shape (n,) [kg/s]
        Positive from this side to the other.

    Raises
    ------
    InputError
        If an area is negative, or a pressure or temperature not above 0 (from the checks).

    Notes
    -----
    A p₀/√(R T₀) · Ψ(π), [heywood]_ appendix C, from memory, with the upstream side taken from the pressures. Near equal
    pressure Ψ grows like a square root, with an infinite slope that no solver can use; its factor √x, x = 1 - π,
    becomes x/(x² + δ²)^¼ with δ = 10⁻⁴. The flow is then an odd, smooth function of the difference. Against the
    formula it is 25 ppm less at x = 0.01 and 0.25 % less at x = 0.001 (1 mbar), 16 % less at x = δ (10 Pa). With
    unlike temperatures the slope still changes where the flow turns.

    Examples
    --------
    >>> f"{1000 * mass_flow(40e-6, 101325.0, 35000.0, 298.15):.3f} g/s"
    '9.486 g/s'
    >>> f"{1000 * mass_flow(40e-6, 90000.0, 101325.0, 298.15):.3f} g/s"
    '-6.146 g/s'
    """
    within(0.0, np.inf, area=area)
    other = temperature if other_temperature is None else other_temperature
    above_zero(pressure=pressure, other_pressure=other_pressure, temperature=temperature, other_temperature=other)
    above_zero(gas_constant=gas)
    within(1.0 + 1e-9, 10.0, gamma=gamma)
    return signed_flow(area, pressure, other_pressure, temperature, other, gamma, gas)


def signed_flow(
    area: Values, p1: Values, p2: Values, t1: Values, t2: Values, gamma: Values = GAMMA_AIR, gas: Values = R_AIR
) -> Values:
    """The formula of :func:`mass_flow` with nothing checked, for inner loops.

    Parameters
    ----------
    area : float or array, shape (n,) [m2]
    p1, p2 : float or array, shape (n,) [Pa]
    t1, t2 : float or array, shape (n,) [K]
    gamma : float or array, shape (n,) [-]
    gas : float or array, shape (n,) [J/(kg K)]

    Returns
    -------
    float or array, shape (n,) [kg/s]
        Positive from side 1 to side 2.

    Notes
    -----
    As :func:`mass_flow`; [heywood]_ appendix C, from memory. Only arithmetic and elementwise NumPy, so that it takes
    plain floats and may be compiled.

    Examples
    --------
    >>> float(signed_flow(1e-6, 1e5, 1e5, 300.0, 300.0))
    0.0
    """
    high = np.maximum(p1, p2)
    x = 1.0 - np.minimum(p1, p2) / high
    forward = (p1 >= p2) * 1.0
    temperature = t1 * forward + t2 * (1.0 - forward)
    pi = np.maximum(1.0 - x, (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0)))
    # (π^(2/γ) - π^((γ+1)/γ))/(1 - π) tends to (γ-1)/γ; expm1 keeps it exact as π goes to 1.
    gap = np.maximum(1.0 - pi, 1e-12)
    log = np.log1p(-gap)
    inner = -np.expm1((gamma - 1.0) / gamma * log) / gap
    shape = np.sqrt(2.0 * gamma / (gamma - 1.0) * np.exp(2.0 / gamma * log) * inner)
    near = np.minimum(x, gap)
    root = near / np.sqrt(np.sqrt(near * near + ROUNDED_OFF**2))
    return (2.0 * forward - 1.0) * area * high / np.sqrt(gas * temperature) * shape * root


def upstream_pressure(
    flow: Values,
    area: Values,
    downstream: Values,
    temperature: Values,
    *,
    gamma: float = GAMMA_AIR,
    gas: float = R_AIR,
) -> Values:
    """Pressure that a flow needs ahead of a nozzle when the pressure behind it is known.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
        At least 0.
    area : float or array, shape (n,) [m2]
        Effective, above 0.
    downstream : float or array, shape (n,) [Pa]
    temperature : float or array, shape (n,) [K]
        Of the gas ahead of it.
    gamma, gas : float [-], [J/(kg K)]

    Returns
    -------
    float or array, shape (n,) [Pa]

    Raises
    ------
    InputError
        If a flow is negative or another number not above 0 (from the checks).

    Notes
    -----
    Follows from :func:`flow_function`: with u = π^((γ-1)/γ), (Ψ/π)² = 2γ/(γ-1) · (1-u)/u², a quadratic in u; choked, p₀
    is proportional to the flow. For small drops p₀ - p = ṁ²/(2 ρ A²). Nothing is rounded off here, so below a drop of
    0.1 % it differs from the inverse of :func:`mass_flow`.

    Examples
    --------
    >>> f"{upstream_pressure(0.0061456, 40e-6, 90000.0, 298.15) / 1000:.1f} kPa"
    '101.3 kPa'
    """
    within(0.0, np.inf, flow=flow)
    above_zero(area=area, downstream_pressure=downstream, temperature=temperature)
    return ahead(flow, area, downstream, temperature, gamma, gas)


def downstream_pressure(
    flow: Values, area: Values, upstream: Values, temperature: Values, *, gamma: float = GAMMA_AIR, gas: float = R_AIR
) -> Values:
    """Pressure left behind a nozzle that a flow has passed when the pressure ahead of it is known.

    Parameters
    ----------
    flow : float or array, shape (n,) [kg/s]
        At least 0.
    area : float or array, shape (n,) [m2]
        Effective, above 0.
    upstream : float or array, shape (n,) [Pa]
    temperature : float or array, shape (n,) [K]
        Of the gas ahead of it.
    gamma, gas : float [-], [J/(kg K)]

    Returns
    -------
    float or array, shape (n,) [Pa]
        Where the nozzle cannot pass the flow, a pressure below the critical one that falls as the flow asked for grows:
        it tells a solver which way to go, and is no pressure of any gas.

    Raises
    ------
    InputError
        If a flow is negative or another number not above 0 (from the checks).

    Notes
    -----
    Follows from :func:`flow_function`, Ψ² ∝ u^m (1-u) with u = π^((γ-1)/γ) and m = 2/(γ-1), solved for u by a table in
    √(1 - Ψ²/Ψ*²), in which (1-u)/Ψ² is smooth from rest to choking, and one step of Newton's. Good to 10⁻⁶ of the
    drop at the choke itself, to rounding away from it.

    Examples
    --------
    >>> f"{downstream_pressure(0.0061456, 40e-6, 101325.0, 298.15) / 1000:.2f} kPa"
    '90.00 kPa'
    """
    within(0.0, np.inf, flow=flow)
    above_zero(area=area, upstream_pressure=upstream, temperature=temperature)
    return behind(flow, area, upstream, temperature, gamma, gas)
