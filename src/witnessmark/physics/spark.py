"""What a spark plug's gap demands, and whether the spark gets there: gap, gas, leaks, and other ways out.

(docs/physics.md, "ignition")
"""

from __future__ import annotations

import numpy as np

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values
from witnessmark.physics.normal import ndtr

__all__ = ["air_breakdown_kv", "breakdown_kv", "burn_volts", "misfire_share", "spark_way_kv"]

_STANDARD_PA, _STANDARD_K = 101325.0, 293.0


def air_breakdown_kv(gap_mm: Values, pressure: Values, kelvin: Values) -> Values:
    """Voltage that air between smooth, nearly flat electrodes holds.

    Parameters
    ----------
    gap_mm : float or array, shape (n,) [mm]
    pressure : float or array, shape (n,) [Pa]
        Absolute.
    kelvin : float or array, shape (n,) [K]

    Returns
    -------
    float or array, shape (n,) [kV]

    Raises
    ------
    EngineDefinitionError
        For a gap below zero, or a pressure or temperature that is not above it.

    Notes
    -----
    Paschen's law: only density times gap counts. 24.22 x + 6.08 √x kV with x = 293 p d/(760 T), d in cm, p in Torr
    (uniform field; from memory). Within 3 % of 30.4 kV at 1 cm [gap_1cm]_, and within 8 % of 30 p d + 1.35 kV (p in
    atmospheres) from 0.6 to 5 mm [paschen]_, both in docs/references.md. For x from 0.01 to 2, that is a plug's gap
    from 0.3 to some 40 bar; above about 10 bar real gaps hold up to a fifth less (from memory).

    Examples
    --------
    >>> f"{air_breakdown_kv(1.0, 101325.0, 293.0):.2f} kV"
    '4.34 kV'
    """
    if np.any(~(np.asarray(gap_mm) >= 0.0)):
        raise EngineDefinitionError("a spark gap below zero", expected="0 mm or more")
    if np.any(~(np.asarray(pressure) > 0.0)) or np.any(~(np.asarray(kelvin) > 0.0)):
        raise EngineDefinitionError("gas without pressure or temperature", expected="both above 0")
    x = np.multiply(gap_mm, 0.1) * np.divide(pressure, _STANDARD_PA) * np.divide(_STANDARD_K, kelvin)
    volts: Values = 24.22 * x + 6.08 * np.sqrt(x)
    return volts


def breakdown_kv(
    spark_gap: Values, pressure: Values, kelvin: Values, *, electrodes: Values = 0.85, mixture: Values = 1.0
) -> Values:
    """Voltage at which a plug fires.

    Parameters
    ----------
    spark_gap : float or array, shape (n,) [mm]
    pressure : float or array, shape (n,) [Pa]
        In the cylinder when it fires, absolute.
    kelvin : float or array, shape (n,) [K]
        Of the gas there.
    electrodes : float or array, shape (n,) [-]
        0.7 fine wire, 0.85 new edges, 1 rounded by wear.
    mixture : float or array, shape (n,) [-]
        A lean mixture demands somewhat more.

    Returns
    -------
    float or array, shape (n,) [kV]

    Notes
    -----
    :func:`air_breakdown_kv` times the factors, from memory; factors our guess. A hot centre electrode lowers it by some
    10 %, which is left out.

    Examples
    --------
    Idle, and full load:

    >>> f"{breakdown_kv(0.9, 5e5, 600.0):.1f} kV, {breakdown_kv(0.9, 14e5, 650.0):.1f} kV"
    '6.9 kV, 15.4 kV'
    """
    return np.multiply(air_breakdown_kv(spark_gap, pressure, kelvin), np.multiply(electrodes, mixture))


def burn_volts(spark_gap: Values, pressure: Values) -> Values:
    """Voltage across a burning gap.

    Parameters
    ----------
    spark_gap : float or array, shape (n,) [mm]
    pressure : float or array, shape (n,) [Pa]

    Returns
    -------
    float or array, shape (n,) [V]

    Notes
    -----
    400 V at the electrodes and 100 V for each millimetre and root of bar: a glow discharge's order, from memory, its
    growth with gap and pressure our guess. Flow that blows the spark out raises it severalfold, which is left out.

    Examples
    --------
    >>> f"{burn_volts(0.9, 6e5):.0f} V"
    '620 V'
    """
    return 400.0 + 100.0 * np.multiply(spark_gap, np.sqrt(np.divide(pressure, 1e5)))


def spark_way_kv(
    required: Values, boot_kv: Values, plug_kv: Values, *, boot_gap_kv: Values = 0.0
) -> tuple[Values, Values]:
    """Voltage at which the circuit breaks down, and whether it does so in the gap.

    Parameters
    ----------
    required : float or array, shape (n,) [kV]
        Of the gap (:func:`breakdown_kv`).
    boot_kv, plug_kv : float or array, shape (n,) [kV]
        What boot and plug insulator hold.
    boot_gap_kv : float or array, shape (n,) [kV]
        That an open boot adds: the spark has to leap there as well.

    Returns
    -------
    firing : float or array, shape (n,) [kV]
        As a pattern shows it.
    in_gap : float or array, shape (n,) [-]
        1 where the spark takes the gap, 0 where it takes the boot or the insulator.

    Notes
    -----
    Follows from breakdown at the weakest place. Hard edges here; chance belongs to :func:`misfire_share`.

    Examples
    --------
    >>> firing, in_gap = spark_way_kv(np.array([9.0, 16.0]), 12.0, 40.0)
    >>> firing.tolist(), in_gap.tolist()
    ([9.0, 12.0], [1.0, 0.0])
    """
    whole = np.add(required, boot_gap_kv)
    weakest = np.minimum(boot_kv, plug_kv)
    return np.minimum(whole, weakest), np.where(whole <= weakest, 1.0, 0.0)


def misfire_share(required: Values, available: Values, weakest: Values, *, scatter: Values = 0.08) -> Values:
    """Share of the firings that give no spark in the gap.

    Parameters
    ----------
    required : float or array, shape (n,) [kV]
        Mean demand of the gap.
    available : float or array, shape (n,) [kV]
        From :func:`witnessmark.physics.ignition.available_kv`.
    weakest : float or array, shape (n,) [kV]
        What boot and insulator hold, the lesser.
    scatter : float or array, shape (n,) [-]
        Spread of the demand from firing to firing, as a share of it.

    Returns
    -------
    float or array, shape (n,) [-]

    Raises
    ------
    EngineDefinitionError
        For a scatter that is not above 0.

    Notes
    -----
    Follows from a normal spread of the demand against the lesser of what is available and what holds; 8 % of spread is
    our guess. A spark that burns too short to light the mixture is not counted here.

    Examples
    --------
    >>> [f"{misfire_share(kv, 30.0, 16.0):.3f}" for kv in (10.0, 15.0, 20.0)]
    ['0.000', '0.202', '0.994']
    """
    if np.any(~(np.asarray(scatter) > 0.0)):
        raise EngineDefinitionError("a demand without scatter", expected="above 0")
    limit = np.minimum(available, weakest)
    spread = np.maximum(np.multiply(required, scatter), 1e-12)
    share: Values = ndtr((np.asarray(required, dtype=np.float64) - limit) / spread)
    return share
