"""Power and pressure of turbine and compressor, unchecked, for a solver; the formulas stand in ``boost``."""

from __future__ import annotations

from functools import cache

import numpy as np

from witnessmark.physics._pressures import ahead
from witnessmark.physics.chain import Values
from witnessmark.physics.nozzle import GAMMA_AIR, GAMMA_EXHAUST, R_AIR, R_EXHAUST

__all__ = ["compressed", "compressing", "driving", "expansion", "warmed"]

_CP_AIR = R_AIR * GAMMA_AIR / (GAMMA_AIR - 1.0)
_CP_EXHAUST = R_EXHAUST * GAMMA_EXHAUST / (GAMMA_EXHAUST - 1.0)
_K_AIR = (GAMMA_AIR - 1.0) / GAMMA_AIR
_K_EXHAUST = (GAMMA_EXHAUST - 1.0) / GAMMA_EXHAUST
_U_STAR = 2.0 / (GAMMA_EXHAUST + 1.0)
# Expansion as u = π^((γ-1)/γ), finest near 1 where little power is asked for.
_U = 1.0 - np.geomspace(1e-7, 0.6, 4000)


def driving(ratio: Values, area: Values, behind: Values, temperature: Values) -> Values:
    """Power of an ideal turbine: ``boost.turbine_power``."""
    return area * behind * np.sqrt(temperature) * _power_shape(np.asarray(ratio) ** _K_EXHAUST)


def expansion(
    areas: tuple[float, float], flow: Values, behind: Values, temperature: Values, power: Values, error: Values
) -> Values:
    """Ratio over a turbine with its wastegate, both areas given, the gate's error in m2: ``boost.turbine_ratio``."""
    turbine, gate = areas
    more, less = np.maximum(error, 0.0), np.minimum(error, 0.0)
    shut, open_ = turbine + more, turbine + np.maximum(gate + less, 0.0) + more
    most = behind / ahead(flow, shut, behind, temperature, GAMMA_EXHAUST, R_EXHAUST)
    least = behind / ahead(flow, open_, behind, temperature, GAMMA_EXHAUST, R_EXHAUST)
    wanted = power / (turbine * behind * np.sqrt(temperature))
    u = np.interp(np.maximum(wanted, 0.0), *_power_table())
    found: Values = np.clip(u ** (1.0 / _K_EXHAUST), most, least)
    return found


def compressing(flow: Values, ratio: Values, temperature: Values) -> Values:
    """Power that an ideal compressor takes: ``boost.compressor_power``."""
    return flow * _CP_AIR * temperature * np.expm1(_K_AIR * np.log(np.maximum(ratio, 1.0)))


def compressed(power: Values, flow: Values, temperature: Values) -> Values:
    """Pressure ratio that a power makes: ``boost.compressor_ratio``."""
    return (1.0 + power / (flow * _CP_AIR * temperature)) ** (1.0 / _K_AIR)


def warmed(efficiency: float, cooling: float, ratio: Values, temperature: Values) -> Values:
    """Temperature behind compressor and cooler: ``boost.charge_temperature``."""
    hotter = np.expm1(_K_AIR * np.log(np.maximum(ratio, 1.0))) / efficiency
    return temperature * (1.0 + (1.0 - cooling) * hotter)


def _power_shape(u: Values) -> Values:
    """Power over area, pressure behind and √temperature."""
    k = 2.0 / _K_EXHAUST
    choked = np.sqrt(GAMMA_EXHAUST * _U_STAR ** ((GAMMA_EXHAUST + 1.0) / (GAMMA_EXHAUST - 1.0)))
    flow = np.where(u < _U_STAR, choked * u ** (-1.0 / _K_EXHAUST), np.sqrt(k * np.maximum(1.0 - u, 0.0)) / u)
    shape: Values = flow / np.sqrt(R_EXHAUST) * _CP_EXHAUST * (1.0 - u)
    return shape


@cache
def _power_table() -> tuple[Values, Values]:
    """Power, rising from none, and the expansion that makes it."""
    return np.append(0.0, _power_shape(_U)), np.append(1.0, _U)
