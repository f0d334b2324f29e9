"""How much heat a warming engine was given, as its air says, and how warm a sound one would be for it.

Everything is per litre of displacement: coolant and block grow with the engine as its fuel does, so nobody has to say
how large it is, where manifold pressure or absolute load is logged.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.types import Engine
from witnessmark.measure.log.series import Log, Series
from witnessmark.physics.filling import LOAD_DENSITY, filling_factor, speed_density_flow
from witnessmark.physics.warmup import CoolingSystem, Thermostat, warm_up

__all__ = ["Heating", "heating_of", "sound_course"]

FloatArray = NDArray[np.float64]

_LITRE = 1e-3
_LITRES = 2.0  # the size that physics.warmup's numbers belong to
_HEAT_J_PER_KG_AIR = 43.0e6 / 14.6  # of petrol burnt with just enough air
# Share of the fuel's heat that warms block and oil. Idling all work ends as friction: what is missing are 16 kg of
# exhaust for each kg of petrol at 450 K above the air (a fifth), what does not burn (a twentieth) and the alternator.
# At full load the shaft takes 0.30, exhaust 0.35. Our balance, temperatures from memory.
_SHARE_IDLE, _SHARE_FULL = 0.65, 0.33
_RATIO = 10.0
_FILLING = 0.88
_OLDEST_S = 20.0
_PIECE_S = 30.0
_FRESH_S = 5.0
_SPEED_DENSITY, _METER, _LOAD = 0.08, 0.06, 0.08  # how well each tells air per litre, as a share; our guess
_USUAL_LITRES, _USUAL_LITRES_SD = 1.9, 0.3  # of the logarithm, where neither size nor pressure is known; our guess


@dataclass(frozen=True, slots=True, eq=False)
class Heating:
    """Heat into block and oil over a stretch, for each litre of displacement.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        Ends of pieces of 30 s.
    watts : array, shape (n-1,) [W/L]
        Mean of each piece.
    share_sd : float [-]
        Doubt common to all of it, as a share: how well the air is known. That of heat's own share is the model's.
    how : str
        Where the air came from.
    """

    times_s: FloatArray
    watts: FloatArray
    share_sd: float
    how: str


def heating_of(log: Log, from_s: float, to_s: float, engine: Engine | None = None) -> Heating | None:
    """Heat of a stretch by what the engine breathed.

    Parameters
    ----------
    log : Log
    from_s, to_s : float [s]
    engine : Engine, optional
        Says the displacement, which only air flow needs.

    Returns
    -------
    Heating or None
        None without engine speed, or with nothing that tells the air.

    Notes
    -----
    Air times the heat of the petrol that burns with it, of which 0.65 stays in block and oil idling and 0.33 at full
    load. Mixture richer or leaner than that, and spark retarded to heat the catalyst, are left out.
    """
    speed = log.get("engine_speed")
    if speed is None or to_s - from_s < _FRESH_S:
        return None
    times = np.arange(from_s, to_s, 1.0)
    rpm = _held(speed, times)
    if rpm is None:
        return None
    air, share_sd, how = _air_per_litre(log, times, rpm, engine)
    if air is None:
        return None
    filled = np.clip(air / np.maximum(1.2 * rpm / 120.0 * 1e-3, 1e-6), 0.1, 1.0)
    share = _SHARE_IDLE + (_SHARE_FULL - _SHARE_IDLE) * np.clip((filled - 0.25) / 0.6, 0.0, 1.0)
    watts = np.where(rpm > 300.0, air * _HEAT_J_PER_KG_AIR * share, 0.0)
    ends = np.append(np.arange(from_s, to_s - 0.5 * _PIECE_S, _PIECE_S), to_s)
    parts = [watts[(times >= a) & (times < b)] for a, b in pairwise(ends)]
    return Heating(ends, np.array([float(part.mean()) if part.size else 0.0 for part in parts]), share_sd, how)


def _held(series: Series | None, times: FloatArray) -> FloatArray | None:
    """Straight between samples; None where a good part of the time nothing was read."""
    if series is None or len(series) < 3:
        return None
    found = series.between(times, apart_s=_OLDEST_S)
    known = np.isfinite(found)
    if known.mean() < 0.8:
        return None
    return np.asarray(np.interp(times, times[known], found[known]))


def _air_per_litre(
    log: Log, times: FloatArray, rpm: FloatArray, engine: Engine | None
) -> tuple[FloatArray | None, float, str]:
    """Air in kg/s for each litre, how well it is known, and from what."""
    pressure, flow, load = (_held(log.get(name), times) for name in ("map", "maf", "absolute_load"))
    litres = engine.breathing.cylinder.displacement_l.mean if engine is not None else None
    if flow is not None and litres is not None:
        return flow / 1000.0 / litres, _METER, "air flow and the described displacement"
    if pressure is not None:
        intake, ambient = _held(log.get("intake_air"), times), _held(log.get("barometer"), times)
        kelvin = 273.15 + (intake if intake is not None else np.full(times.shape, 25.0)) + 10.0
        around = ambient if ambient is not None else np.full(times.shape, max(float(pressure.max()), 90.0))
        whole = filling_factor(np.clip((around + 3.0) / np.maximum(pressure, 10.0), 1.0, 6.0), _RATIO)
        found = speed_density_flow(
            _FILLING * np.asarray(whole), 1000.0 * pressure, kelvin, displacement=_LITRE, speed_rpm=np.maximum(rpm, 1.0)
        )
        return np.asarray(found), _SPEED_DENSITY, "manifold pressure and speed"
    if load is not None:
        return load / 100.0 * LOAD_DENSITY * _LITRE * rpm / 120.0, _LOAD, "absolute load and speed"
    if flow is not None:
        return flow / 1000.0 / _USUAL_LITRES, _USUAL_LITRES_SD, "air flow, of an engine of unknown size"
    return None, 0.0, ""


def sound_course(heating: Heating, start_c: float, ambient_c: float, *, oil_start_c: float | None = None) -> FloatArray:
    """Coolant of a sound engine with its thermostat shut, for this heat.

    Parameters
    ----------
    heating : Heating
    start_c, ambient_c : float [C]
    oil_start_c : float, optional [C]
        As the coolant where left out.

    Returns
    -------
    array, shape (n,) [C]
        At ``heating.times_s``. The thermostat never opens: what is compared ends before it would.

    Notes
    -----
    :func:`witnessmark.physics.warmup.warm_up` from piece to piece.
    """
    found, now, oil = [start_c], start_c, start_c if oil_start_c is None else oil_start_c
    shut = Thermostat(opens_c=200.0)
    for watts, seconds in zip(heating.watts.tolist(), np.diff(heating.times_s).tolist(), strict=True):
        went = warm_up(
            _LITRES * watts, CoolingSystem(), shut, ambient_c=ambient_c, start_c=now, oil_start_c=oil, seconds=seconds
        )
        now, oil = float(went.coolant_c[-1, 0]), float(went.oil_c[-1, 0])
        found.append(now)
    return np.array(found)
