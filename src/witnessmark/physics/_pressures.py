"""The two inverses of the flow function, unchecked: what a solver calls many times."""

from __future__ import annotations

from functools import cache

import numpy as np

from witnessmark.physics.chain import Values

__all__ = ["ahead", "behind"]

_W = np.linspace(0.0, 1.0, 2001)


def ahead(flow: Values, area: Values, downstream: Values, temperature: Values, gamma: float, gas: float) -> Values:
    """Pressure ahead of a nozzle; the formula stands in ``nozzle.upstream_pressure``."""
    root = np.sqrt(gas * temperature) / area
    k = 2.0 * gamma / (gamma - 1.0)
    star = 2.0 / (gamma + 1.0)
    u = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * np.square(flow * root / downstream) / k))
    choked = flow * root / np.sqrt(gamma * star ** ((gamma + 1.0) / (gamma - 1.0)))
    found: Values = np.where(u < star, choked, downstream * u ** (-gamma / (gamma - 1.0)))[()]
    return found


def behind(flow: Values, area: Values, upstream: Values, temperature: Values, gamma: float, gas: float) -> Values:
    """Pressure behind a nozzle; the formula stands in ``nozzle.downstream_pressure``."""
    m = 2.0 / (gamma - 1.0)
    u_star = 2.0 / (gamma + 1.0)
    most = u_star**m * (1.0 - u_star)
    psi = flow * np.sqrt(gas * temperature) / (area * upstream)
    c = np.square(psi) * (gamma - 1.0) / (2.0 * gamma)
    share = np.minimum(c / most, 1.0)
    gap = np.interp(np.sqrt(1.0 - share), _W, _gap_table(gamma)) * share * most
    # Newton's step, held back where the slope vanishes at the choke.
    u = 1.0 - gap
    slope = u ** (m - 1.0) * (m - (m + 1.0) * u)
    step = (u**m * gap - share * most) / np.minimum(slope, -1e-3)
    u = np.clip(u - step, u_star, 1.0)
    over = np.sqrt(np.maximum(c / most, 1.0))
    found: Values = upstream * u ** (gamma / (gamma - 1.0)) / over
    return found


@cache
def _gap_table(gamma: float) -> Values:
    """(1-u)/(u^m (1-u)) over √(1 - Ψ²/Ψ*²), by bisection: u between the choke and rest."""
    m = 2.0 / (gamma - 1.0)
    low = np.full_like(_W, 2.0 / (gamma + 1.0))
    target = (1.0 - _W**2) * low**m * (1.0 - low)
    high = np.ones_like(_W)
    for _ in range(60):
        middle = 0.5 * (low + high)
        too_low = middle**m * (1.0 - middle) > target
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    table: Values = high**-m
    return table
