"""What air and fuel make together: λ by masses, by φ, out of the exhaust gas; and what trim brings it to 1."""

from __future__ import annotations

import numpy as np

from witnessmark.errors import InputError
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = [
    "implied_stoichiometric",
    "lambda_from_gas",
    "lambda_from_masses",
    "lambda_from_phi",
    "trim_needed",
    "trim_within",
]


def lambda_from_phi(phi: Values) -> Values:
    """Air ratio λ of an equivalence ratio φ.

    Parameters
    ----------
    phi : float or array, shape (n,) [-]
        Fuel over the fuel that would take up all oxygen; above 0.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If φ is not above 0 (from the check).

    Notes
    -----
    1/φ, by definition.

    Examples
    --------
    >>> lambda_from_phi(1.25)
    0.8
    """
    above_zero(equivalence_ratio=phi)
    return 1.0 / phi


def lambda_from_masses(air: Values, fuel: Values, stoichiometric: Values) -> Values:
    """Air ratio λ of masses or flows of air and fuel.

    Parameters
    ----------
    air, fuel : float or array, shape (n,) [kg/s]
        Or any other unit that both share.
    stoichiometric : float or array, shape (n,) [kg/kg]

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If fuel or the stoichiometric ratio is not above 0 (from the check).

    Notes
    -----
    λ = (air/fuel)/L, by definition.

    Examples
    --------
    >>> lambda_from_masses(29.2, 2.0, 14.6)
    1.0
    """
    above_zero(fuel=fuel, stoichiometric_ratio=stoichiometric)
    return air / (fuel * stoichiometric)


def implied_stoichiometric(air_fuel_ratio: Values, air_ratio: Values) -> Values:
    """Stoichiometric ratio that a display has assumed which shows both the air-fuel ratio and λ.

    Parameters
    ----------
    air_fuel_ratio : float or array, shape (n,) [kg/kg]
    air_ratio : float or array, shape (n,) [-]
        λ.

    Returns
    -------
    float or array, shape (n,) [kg/kg]

    Raises
    ------
    InputError
        If either is not above 0 (from the check).

    Notes
    -----
    AFR/λ, by definition. A sensor measures λ; the ratio shown beside it is λ times somebody's guess of the fuel.

    Examples
    --------
    >>> f"{implied_stoichiometric(14.1694, 0.9639):.2f}"
    '14.70'
    """
    above_zero(air_fuel_ratio=air_fuel_ratio, air_ratio=air_ratio)
    return air_fuel_ratio / air_ratio


def lambda_from_gas(
    *,
    carbon_monoxide: Values,
    carbon_dioxide: Values,
    oxygen: Values,
    hydrocarbons_ppm: Values,
    nitric_oxide: Values = 0.0,
    hydrogen_to_carbon: Values = 1.7261,
    oxygen_to_carbon: Values = 0.0176,
) -> Values:
    """Air ratio λ out of the shares of gases in cold, dry exhaust.

    Parameters
    ----------
    carbon_monoxide, carbon_dioxide, oxygen : float or array, shape (n,) [%]
        By volume.
    hydrocarbons_ppm : float or array, shape (n,) [ppm]
        As hexane.
    nitric_oxide : float or array, shape (n,) [%]
    hydrogen_to_carbon, oxygen_to_carbon : float or array, shape (n,) [-]
        Atoms in the fuel.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    InputError
        If a share is negative, or there is no carbon dioxide at all (from the checks).

    Notes
    -----
    Brettschneider 1979, from memory: the balance of oxygen over that of carbon, hydrogen by the water-gas equilibrium
    with constant 3.5, six carbons to a hexane. Holds for whole combustion and no air let into the exhaust: a
    misfire's fuel and air cancel, a leak's air reads as lean. Between λ 0.8 and 1.2.

    Examples
    --------
    >>> gas = lambda_from_gas(carbon_monoxide=0.1, carbon_dioxide=15.2, oxygen=0.1, hydrocarbons_ppm=10.0)
    >>> f"{gas:.4f}"
    '1.0013'
    """
    within(0.0, 100.0, carbon_monoxide=carbon_monoxide, oxygen=oxygen, nitric_oxide=nitric_oxide)
    within(0.0, 1e6, hydrocarbons=hydrocarbons_ppm)
    above_zero(carbon_dioxide=carbon_dioxide)
    carbon = carbon_dioxide + carbon_monoxide
    water = hydrogen_to_carbon / 4.0 * 3.5 / (3.5 + carbon_monoxide / carbon_dioxide) - oxygen_to_carbon / 2.0
    present = carbon_dioxide + carbon_monoxide / 2.0 + oxygen + nitric_oxide / 2.0 + water * carbon
    fuel = carbon + 6.0 * hydrocarbons_ppm / 1e4
    return present / ((1.0 + hydrogen_to_carbon / 4.0 - oxygen_to_carbon / 2.0) * fuel)


def trim_needed(air: Values, air_seen: Values, *, delivery: Values = 1.0, other_fuel: Values = 0.0) -> Values:
    """Fuel trim, short and long term together, that brings λ to its target.

    Parameters
    ----------
    air : float or array, shape (n,) [kg/s]
        What the sensor's cylinders burn.
    air_seen : float or array, shape (n,) [kg/s]
        What the computer takes it to be.
    delivery : float or array, shape (n,) [-]
        Fuel that the injectors give over what is asked of them; of all causes the product (pressure, clogging, a fuel
        that needs another ratio of air, a target or sensor off 1).
    other_fuel : float or array, shape (n,) [-]
        Fuel that comes by other ways (purge, a leaking injector), over the fuel that ``air`` needs.

    Returns
    -------
    float or array, shape (n,) [%]

    Raises
    ------
    InputError
        If the air seen or the delivery is not above 0 (from the check).

    Notes
    -----
    Follows from air (1 - other) = air_seen · delivery · (1 + trim), the balance of a closed loop that has settled. A
    loop that only divides (λ-sensor gains, wall films) settles at the same.

    Examples
    --------
    >>> f"{trim_needed(2.5 + 1.1735, 2.5):.2f} % {trim_needed(1.0, 0.85):.2f} %"
    '46.94 % 17.65 %'
    """
    above_zero(air_seen=air_seen, delivery=delivery)
    return 100.0 * (air * (1.0 - other_fuel) / (air_seen * delivery) - 1.0)


def trim_within(trim: Values, limit: Values = 25.0) -> Values:
    """A trim held at the computer's stops.

    Parameters
    ----------
    trim : float or array, shape (n,) [%]
        What would be needed.
    limit : float or array, shape (n,) [%]
        At which it stops, either way; above 0.

    Returns
    -------
    float or array, shape (n,) [%]

    Raises
    ------
    InputError
        If a limit is not above 0 (from the check).

    Notes
    -----
    25 % is common practice, no source; makers differ from 20 to 35 %. At the stop λ is no longer held.

    Examples
    --------
    >>> float(trim_within(46.9))
    25.0
    """
    above_zero(trim_limit=limit)
    if np.any(np.isnan(trim)):
        raise InputError("not a number", expected="percent", where="fuel trim")
    return np.clip(trim, -np.asarray(limit), limit)
