"""A lead-acid battery of six cells: its voltage at rest, its resistance, and its sag.

(docs/physics.md, "battery and starter")
"""

from __future__ import annotations

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = ["battery_ohm", "open_circuit_volts", "terminal_volts"]

_CHARGES = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
_RESTING_VOLTS = np.array([11.89, 12.06, 12.24, 12.45, 12.65])
_TABLE_C = 26.7
_VOLTS_PER_KELVIN = 6 * 0.0002  # 0.2 mV for each cell, from memory
_WARM_C = 25.0


def open_circuit_volts(charge: Values, celsius: Values = _TABLE_C) -> Values:
    """Voltage of a battery that has rested for hours.

    Parameters
    ----------
    charge : float or array, shape (n,) [-]
        0 empty to 1 full.
    celsius : float or array, shape (n,) [C]
        Of the acid.

    Returns
    -------
    float or array, shape (n,) [V]

    Raises
    ------
    EngineDefinitionError
        For a charge outside 0 to 1.

    Notes
    -----
    Table of a battery makers' association for wet cells at 26.7 °C: 11.89, 12.06, 12.24, 12.45, 12.65 V
    [battery_table]_ in docs/references.md, straight between; 1.2 mV/K besides, from memory. Glass-mat cells stand
    0.1 to 0.2 V higher, and a surface charge adds as much for hours (common practice, no source). -20 to 50 °C.

    Examples
    --------
    >>> f"{open_circuit_volts(0.85):.2f} V, {open_circuit_volts(0.85, -10.0):.2f} V"
    '12.53 V, 12.49 V'
    """
    given = np.asarray(charge, dtype=np.float64)
    if np.any(~((given >= 0.0) & (given <= 1.0))):
        raise EngineDefinitionError("a charge that is no share", expected="0 empty to 1 full")
    warmth = _VOLTS_PER_KELVIN * (np.asarray(celsius, dtype=np.float64) - _TABLE_C)
    volts: Values = np.interp(given, _CHARGES, _RESTING_VOLTS) + warmth
    return volts


def battery_ohm(battery_resistance_mohm: Values, *, charge: Values = 1.0, celsius: Values = _WARM_C) -> Values:
    """Internal resistance of a battery as it is now.

    Parameters
    ----------
    battery_resistance_mohm : float or array, shape (n,) [mohm]
        Full and at 25 °C.
    charge : float or array, shape (n,) [-]
    celsius : float or array, shape (n,) [C]

    Returns
    -------
    float or array, shape (n,) [ohm]

    Raises
    ------
    EngineDefinitionError
        For a resistance that is not above 0, or a charge outside 0 to 1.

    Notes
    -----
    R = R₀ (1 + (1 - charge)) exp(-(T - 25 °C)/60 K): twice as much when empty, and twice as much at -17 °C. That both
    raise it is common practice, no source; how much is our guess. -30 to 50 °C.

    Examples
    --------
    >>> f"{1000 * battery_ohm(6.0):.1f}, {1000 * battery_ohm(6.0, charge=0.5, celsius=-10.0):.1f} mohm"
    '6.0, 16.1 mohm'
    """
    given, full = np.asarray(battery_resistance_mohm, dtype=np.float64), np.asarray(charge, dtype=np.float64)
    if np.any(~(given > 0.0)):
        raise EngineDefinitionError("a battery without resistance", expected="above 0 milliohm")
    if np.any(~((full >= 0.0) & (full <= 1.0))):
        raise EngineDefinitionError("a charge that is no share", expected="0 empty to 1 full")
    ohm: Values = 1e-3 * given * (2.0 - full) * np.exp((_WARM_C - np.asarray(celsius, dtype=np.float64)) / 60.0)
    return ohm


def terminal_volts(emf: Values, amps: Values, ohm: Values) -> Values:
    """Voltage behind a resistance.

    Parameters
    ----------
    emf : float or array, shape (n,) [V]
        At rest.
    amps : float or array, shape (n,) [A]
        Drawn; negative while charging.
    ohm : float or array, shape (n,) [ohm]
        Of the battery, and of the cables if the voltage is wanted at their end.

    Returns
    -------
    float or array, shape (n,) [V]

    Notes
    -----
    E - I R, Ohm's law, from memory. Within the first seconds; polarisation takes some tenths of a volt more, left out.

    Examples
    --------
    >>> f"{terminal_volts(12.6, 180.0, 0.006 + 0.002):.2f} V"
    '11.16 V'
    """
    return np.subtract(emf, np.multiply(amps, ohm))
