"""Air that a fuel needs: by its atoms, for blends by mass or by volume of ethanol."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from witnessmark.errors import InputError
from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.chain import Values

__all__ = ["DRY_AIR", "ETHANOL", "GASOLINE", "Air", "Fuel", "blend_stoichiometric", "ethanol_blend", "stoichiometric"]

_C, _H, _O, _N, _AR = 12.011, 1.008, 15.999, 14.007, 39.948


@dataclass(frozen=True, slots=True)
class Fuel:
    """A fuel by its atoms; any multiple of the formula will do.

    Parameters
    ----------
    carbon, hydrogen, oxygen : float [-]
        Atoms in the formula.
    density : float [kg/m3]
        At 15 °C; only blends by volume read it.
    """

    carbon: float
    hydrogen: float
    oxygen: float = 0.0
    density: float = 745.0

    @property
    def molar_mass(self) -> float:
        """Mass of one mole of the formula [kg/kmol]."""
        return _C * self.carbon + _H * self.hydrogen + _O * self.oxygen


@dataclass(frozen=True, slots=True)
class Air:
    """Dry air by its mole fractions.

    Parameters
    ----------
    nitrogen, oxygen, argon, carbon_dioxide : float [-]
        Any multiple of the fractions.
    """

    nitrogen: float = 0.78084
    oxygen: float = 0.20946
    argon: float = 0.00934
    carbon_dioxide: float = 0.00036

    @property
    def mass_per_oxygen(self) -> float:
        """Mass of the air that holds one mole of oxygen [kg/kmol]."""
        mass = 2 * _N * self.nitrogen + 2 * _O * self.oxygen + _AR * self.argon + (_C + 2 * _O) * self.carbon_dioxide
        return mass / self.oxygen


DRY_AIR = Air()
"""Dry air with its argon and carbon dioxide (composition from memory)."""
GASOLINE = Fuel(1.0, 1.87)
"""Petrol as it is usually written, CH1.87, 745 kg/m3 (from memory)."""
ETHANOL = Fuel(2.0, 6.0, 1.0, 789.0)
"""Ethanol, 789 kg/m3 (from memory)."""


def stoichiometric(fuel: Fuel, air: Air = DRY_AIR) -> float:
    """Mass of dry air that burns a mass of fuel with nothing left of either.

    Parameters
    ----------
    fuel : Fuel
    air : Air

    Returns
    -------
    float, shape () [kg/kg]

    Raises
    ------
    InputError
        If there is nothing in the fuel that burns.

    Notes
    -----
    Follows from the balance of atoms, C_x H_y O_z + (x + y/4 - z/2) O₂ → x CO₂ + y/2 H₂O. Air without its argon and
    carbon dioxide (O₂ + 3.76 N₂) gives 0.7 % less.

    Examples
    --------
    >>> f"{stoichiometric(GASOLINE):.1f} {stoichiometric(ETHANOL):.1f}"
    '14.6 9.0'
    """
    need = fuel.carbon + fuel.hydrogen / 4.0 - fuel.oxygen / 2.0
    if not need > 0.0 or min(fuel.carbon, fuel.hydrogen, fuel.oxygen) < 0.0:
        given = f"C {fuel.carbon:g}, H {fuel.hydrogen:g}, O {fuel.oxygen:g} given"
        raise InputError(given, expected="atoms that take up oxygen", where="fuel")
    return need * air.mass_per_oxygen / fuel.molar_mass


def blend_stoichiometric(fuels: Sequence[Fuel], mass_shares: Sequence[float], air: Air = DRY_AIR) -> float:
    """Stoichiometric ratio of a blend whose composition is known by mass.

    Parameters
    ----------
    fuels : sequence of Fuel, length n
    mass_shares : sequence of float, shape (n,) [-]
        Any multiple of the shares.
    air : Air

    Returns
    -------
    float, shape () [kg/kg]

    Raises
    ------
    InputError
        If the shares are negative, sum to nothing, or are not as many as the fuels.

    Notes
    -----
    Mean of the fuels' own ratios by mass: follows from oxygen adding up.

    Examples
    --------
    >>> f"{blend_stoichiometric([GASOLINE, ETHANOL], [9.0, 1.0]):.2f}"
    '14.04'
    """
    if len(fuels) != len(mass_shares):
        given = f"{len(mass_shares)} shares for {len(fuels)} fuels"
        raise InputError(given, expected="one for each", where="mass shares")
    within(0.0, np.inf, mass_share=np.asarray(mass_shares, dtype=np.float64))
    above_zero(sum_of_mass_shares=float(sum(mass_shares)))
    total = sum(share * stoichiometric(fuel, air) for fuel, share in zip(fuels, mass_shares, strict=True))
    return total / sum(mass_shares)


def ethanol_blend(volume_share: Values, *, petrol: Fuel = GASOLINE, air: Air = DRY_AIR) -> Values:
    """Stoichiometric ratio of petrol with ethanol in it, by volume as pumps and sensors count it.

    Parameters
    ----------
    volume_share : float or array, shape (n,) [-]
        Of ethanol, 0 to 1.
    petrol : Fuel
        What it is blended with.
    air : Air

    Returns
    -------
    float or array, shape (n,) [kg/kg]

    Raises
    ------
    InputError
        If a share is outside 0 to 1 (from the check).

    Notes
    -----
    Follows from :func:`blend_stoichiometric` with volume times density for mass. That the blend takes a little more
    room than its parts (under 0.5 %) does not enter.

    Examples
    --------
    >>> f"{ethanol_blend(0.10):.1f} {ethanol_blend(0.85):.1f}"
    '14.0 9.8'
    """
    within(0.0, 1.0, ethanol_share=volume_share)
    alcohol, other = volume_share * ETHANOL.density, (1.0 - volume_share) * petrol.density
    needed = alcohol * stoichiometric(ETHANOL, air) + other * stoichiometric(petrol, air)
    return needed / (alcohol + other)
