"""Gases in cold, dry exhaust from λ: what burnt, what did not, what a catalyst and leaks made of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["DryGas", "dry_gas"]

_OXYGEN = 0.2095  # of dry air
_NITROGEN_PER_OXYGEN = (1.0 - _OXYGEN) / _OXYGEN
_WATER_GAS = 3.5
_SLIP_CO, _SLIP_HC = 0.006, 0.014  # of the fuel's carbon, unburnt out of every sound engine; from memory


@dataclass(frozen=True, slots=True)
class DryGas:
    """Shares by volume of cold, dry exhaust.

    Parameters
    ----------
    oxygen, carbon_monoxide, carbon_dioxide : float or array, shape (n,) [%]
    hydrocarbons : float or array, shape (n,) [%]
        As hexane; 1 % is 10,000 ppm.
    """

    oxygen: Values
    carbon_monoxide: Values
    carbon_dioxide: Values
    hydrocarbons: Values


def dry_gas(
    air_ratio: Values, *, unburnt: Values = 0.0, converted: Values = 0.0, hydrogen_to_carbon: float = 1.87
) -> DryGas:
    """Gases out of an engine, behind its catalyst.

    Parameters
    ----------
    air_ratio : float or array, shape (n,) [-]
        λ of all that arrives, air let into the exhaust included.
    unburnt : float or array, shape (n,) [-]
        Share of the cycles that did not fire.
    converted : float or array, shape (n,) [-]
        Share of what could still react that a catalyst makes react: 0 ahead of it or without one.
    hydrogen_to_carbon : float [-]
        Atoms in the fuel.

    Returns
    -------
    DryGas

    Raises
    ------
    InputError
        If λ is not above 0 or a share outside 0 to 1 (from the checks).

    Notes
    -----
    Balance of atoms over one carbon, follows from CH_y + λ (1 + y/4) O₂. Fuel of cycles that did not fire stays as
    hydrocarbon (six carbons to a hexane) with its air; some carbon slips through always (0.6 % as monoxide, 1.4 % as
    hydrocarbon, from memory). What is short of oxygen stays behind as carbon monoxide and hydrogen by the water-gas
    equilibrium, constant 3.5 ([brettschneider1979]_). The catalyst brings oxygen and what burns together as far as the
    scarcer goes, times ``converted``.

    Examples
    --------
    >>> gas = dry_gas(1.0, converted=0.97)
    >>> f"O2 {gas.oxygen:.2f} CO {gas.carbon_monoxide:.2f} CO2 {gas.carbon_dioxide:.1f} HC {1e4 * gas.hydrocarbons:.0f}"
    'O2 0.01 CO 0.00 CO2 15.3 HC 11'
    """
    above_zero(air_ratio=air_ratio)
    within(0.0, 1.0, unburnt=unburnt, converted=converted)
    each = 1.0 + hydrogen_to_carbon / 4.0
    oxygen = np.asarray(air_ratio) * each
    slip = np.asarray(unburnt) + (1.0 - np.asarray(unburnt)) * _SLIP_HC
    carbon, late = 1.0 - slip, slip
    # Air of cycles that did not fire helps nobody before the catalyst.
    missing = np.clip(carbon * each - oxygen * (1.0 - np.asarray(unburnt)), 0.0, 0.9 * carbon * each)
    monoxide, hydrogen = _short_of_oxygen(carbon, missing, hydrogen_to_carbon)
    monoxide = np.maximum(monoxide, _SLIP_CO * carbon)
    used = carbon * each - (monoxide + hydrogen) / 2.0
    left = np.maximum(oxygen - used, 0.0)
    reacting = np.asarray(converted) * np.minimum(left, (monoxide + hydrogen) / 2.0 + late * each)
    wanted = np.maximum((monoxide + hydrogen) / 2.0 + late * each, 1e-12)
    still = 1.0 - reacting / wanted
    monoxide, hydrogen, late, left = monoxide * still, hydrogen * still, late * still, left - reacting
    dioxide = 1.0 - late - monoxide
    dry = dioxide + monoxide + hydrogen + late / 6.0 + left + oxygen * _NITROGEN_PER_OXYGEN
    return DryGas(100.0 * left / dry, 100.0 * monoxide / dry, 100.0 * dioxide / dry, 100.0 * late / 6.0 / dry)


def _short_of_oxygen(carbon: Values, missing: Values, ratio: float) -> tuple[Values, Values]:
    """Carbon monoxide and hydrogen that a lack of oxygen leaves: CO + H₂ = 2 · missing, CO H₂O = 3.5 CO₂ H₂."""
    total, water = 2.0 * np.asarray(missing), ratio / 2.0 * np.asarray(carbon)
    # x = CO: x (water - total + x) = K (carbon - x)(total - x)
    a = 1.0 - _WATER_GAS
    b = water - total + _WATER_GAS * (carbon + total)
    c = -_WATER_GAS * carbon * total
    root = np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0))
    monoxide = 2.0 * -c / np.maximum(b + root, 1e-12)
    return monoxide, np.maximum(total - monoxide, 0.0)
