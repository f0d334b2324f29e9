"""What is asked of an engine: a speed, a load, and what its computer may do about them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.physics._refuse import above_zero, within
from witnessmark.physics.airpath import AirPath
from witnessmark.physics.chain import Values
from witnessmark.physics.usual import USUAL

__all__ = ["Demand", "full_load", "idling", "running"]


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of an engine; :func:`idling`, :func:`running` and :func:`full_load` fill it in.

    Parameters
    ----------
    speed_rpm : float or array, shape (n,) [rpm]
        Held, or at idle wanted.
    load : float or array, shape (n,) [Pa]
        Brake mean effective pressure wanted.
    area_low, area_high : float or array, shape (n,) [m2]
        Between which the computer may set the throttle's effective area, errors apart.
    governed : bool
        At idle: where the area is at its limit, the speed gives way and not the load.
    closed_loop : bool
        Whether trims hold λ; else they stay at ``held_trim``.
    held_trim : float or array, shape (n,) [%]
    lambda_wanted : float or array, shape (n,) [-]
    boost_wanted : float or array, shape (n,) [Pa]
        Gauge, ahead of the throttle.
    purge_mm2, egr_mm2 : float or array, shape (n,) [mm2]
        Areas of the purge and the recirculation valve that are commanded; the computer's base fuelling ignores both.
    intake_early, exhaust_early : float or array, shape (n,) [deg]
        Commands to the cams against rest; the computer's own filling reckons with them.
    ambient_pressure : float or array, shape (n,) [Pa]
        Of dry air: less the vapour in it.
    ambient_temperature : float or array, shape (n,) [K]
    injector_volts : float or array, shape (n,) [V]
        At the injectors.
    computer_volts : float or array, shape (n,) [V]
        For which the computer corrects the injectors' dead time.
    work_share : float or array, shape (n,) [-]
        Of the work at best spark, what the spark asked for leaves.
    electric_watts : float or array, shape (n,) [W]
        Given by the alternator.
    compressor_watts : float or array, shape (n,) [W]
        Of air conditioning, and whatever else hangs on the crank, at the crank.
    """

    speed_rpm: Values
    load: Values
    area_low: Values
    area_high: Values
    governed: bool = False
    closed_loop: bool = True
    held_trim: Values = 0.0
    lambda_wanted: Values = 1.0
    boost_wanted: Values = 0.0
    purge_mm2: Values = 0.0
    egr_mm2: Values = 0.0
    intake_early: Values = 0.0
    exhaust_early: Values = 0.0
    ambient_pressure: Values = 101_325.0
    ambient_temperature: Values = 298.15
    injector_volts: Values = 14.0
    computer_volts: Values = 14.0
    work_share: Values = 1.0
    electric_watts: Values = USUAL["electric_bare"].value
    compressor_watts: Values = 0.0

    def __post_init__(self) -> None:
        above_zero(engine_speed=self.speed_rpm, ambient_pressure=self.ambient_pressure)
        above_zero(ambient_temperature=self.ambient_temperature, lambda_wanted=self.lambda_wanted)
        above_zero(injector_volts=self.injector_volts, computer_volts=self.computer_volts, work_share=self.work_share)
        within(-1e9, 1e9, load=self.load, held_trim=self.held_trim)
        within(
            0.0,
            np.inf,
            area_low=self.area_low,
            purge_area=self.purge_mm2,
            egr_area=self.egr_mm2,
            boost_wanted=self.boost_wanted,
            electric_load=self.electric_watts,
            compressor_power=self.compressor_watts,
        )
        within(0.0, np.inf, area_high_less_area_low=np.asarray(self.area_high) - self.area_low)


def idling(path: AirPath, speed_rpm: Values = 750.0) -> Demand:
    """Idle under control: no load, and the computer sets the area that holds the speed.

    Parameters
    ----------
    path : AirPath
    speed_rpm : float or array, shape (n,) [rpm]
        Wanted.

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        If the speed is not above 0.

    Notes
    -----
    By definition: brake mean effective pressure 0, area between 0 and ``idle_area``. The spark is late, to have torque
    in hand (``USUAL["idle_work_share"]``); consumers are off.

    Examples
    --------
    >>> idling(AirPath()).load
    0.0
    """
    late = USUAL["idle_work_share"].value
    return Demand(speed_rpm, 0.0, 0.0, path.idle_area, governed=True, work_share=late)


def running(path: AirPath, speed_rpm: Values, load: Values = 0.0) -> Demand:
    """A speed and a load that are held by the pedal, as on the road or raised with no load.

    Parameters
    ----------
    path : AirPath
    speed_rpm : float or array, shape (n,) [rpm]
    load : float or array, shape (n,) [Pa]
        Brake mean effective pressure.

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        If the speed is not above 0.

    Notes
    -----
    By definition: area between 0 and wide open; where that is not enough the load is not reached.

    Examples
    --------
    >>> running(AirPath(), 2500.0).area_high
    0.0017
    """
    return Demand(speed_rpm, load, 0.0, path.wide_open_area)


def full_load(path: AirPath, speed_rpm: Values, *, lambda_wanted: Values = 0.88, boost_wanted: Values = 0.0) -> Demand:
    """Throttle wide open, enriched, trims left as they were.

    Parameters
    ----------
    path : AirPath
    speed_rpm : float or array, shape (n,) [rpm]
    lambda_wanted : float or array, shape (n,) [-]
        Rich of 1; 0.88 from memory.
    boost_wanted : float or array, shape (n,) [Pa]
        Gauge.

    Returns
    -------
    Demand

    Raises
    ------
    InputError
        If speed or λ is not above 0.

    Notes
    -----
    By definition: area fixed at ``wide_open_area``.

    Examples
    --------
    >>> full_load(AirPath(), 5000.0).closed_loop
    False
    """
    wide = path.wide_open_area
    return Demand(speed_rpm, 0.0, wide, wide, closed_loop=False, lambda_wanted=lambda_wanted, boost_wanted=boost_wanted)
