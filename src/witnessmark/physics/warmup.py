"""Warming up: coolant and oil after a start, with a thermostat that opens where it should, too early, or not at all.

Two masses exchange heat: the block with its coolant, and the oil (docs/physics.md, "warming up").
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import EngineDefinitionError
from witnessmark.physics.chain import Values

__all__ = ["CoolingSystem", "Thermostat", "WarmUp", "time_to_reach", "warm_up"]

_STEP = 5.0  # seconds
_FIRMEST = 0.25  # most of the quickest time constant that one step may take
_WARMEST = 150.0  # kelvin above the air, for how hard an opening thermostat can pull


@dataclass(frozen=True, slots=True)
class Thermostat:
    """Where a thermostat opens.

    Parameters
    ----------
    opens_c : float or array, shape (n,) [C]
        State variable thermostat_temp.
    span : float [K]
        From starting to open to fully open.
    stuck_open : float or array, shape (n,) [-]
        Share of its opening that never shuts.
    """

    opens_c: Values = 90.0
    span: float = 12.0
    stuck_open: Values = 0.0


@dataclass(frozen=True, slots=True)
class CoolingSystem:
    """Heat capacities and conductances of an engine; sizes our guess, for two litres.

    Parameters
    ----------
    coolant_capacity : float [J/K]
        Of what is as warm as the coolant: 4 L of it (14 kJ/K), an aluminium head (12 kg, 11 kJ/K), the block's jackets
        and bores (25 kJ/K); sump, crankshaft and what hangs on the outside lag behind.
    oil_capacity : float [J/K]
        Of oil and what is as warm.
    exchange : float [W/K]
        Between the two.
    coolant_loss, oil_loss : float [W/K]
        To the air, thermostat shut.
    radiator : float [W/K]
        Thermostat fully open, at the air speed in question.
    oil_share : float [-]
        Of the heat, that friction and pistons put into the oil.
    """

    coolant_capacity: float = 50e3
    oil_capacity: float = 15e3
    exchange: float = 60.0
    coolant_loss: float = 25.0
    oil_loss: float = 12.0
    radiator: float = 350.0
    oil_share: float = 0.15


@dataclass(frozen=True, slots=True)
class WarmUp:
    """A warm-up as it went.

    Parameters
    ----------
    seconds : array, shape (steps,) [s]
    coolant_c : array, shape (steps, n) [C]
    oil_c : array, shape (steps, n) [C]
    """

    seconds: NDArray[np.float64]
    coolant_c: NDArray[np.float64]
    oil_c: NDArray[np.float64]


def warm_up(
    heat: Values,
    system: CoolingSystem,
    thermostat: Thermostat,
    *,
    ambient_c: Values = 20.0,
    start_c: Values | None = None,
    oil_start_c: Values | None = None,
    seconds: float = 1800.0,
) -> WarmUp:
    """Coolant and oil temperature after a start.

    Parameters
    ----------
    heat : float or array, shape (n,) [W]
        That the running engine gives to block and oil together: about as much as its mean shaft power, 3 to 5 kW at
        idle and 10 to 20 kW on the road (common practice, no source).
    system : CoolingSystem
    thermostat : Thermostat
    ambient_c : float or array, shape (n,) [C]
    start_c : float or array, shape (n,), optional [C]
        Both masses at the start; ambient if left out.
    oil_start_c : float or array, shape (n,), optional [C]
        The oil at the start, where it is not as warm as the coolant: to go on with another power.
    seconds : float [s]
        How long.

    Returns
    -------
    WarmUp

    Raises
    ------
    EngineDefinitionError
        For a time, capacity or span that is not above 0, a heat below 0, or a share outside 0 to 1.

    Notes
    -----
    C₁ T₁' = (1-a) P - h₁₂(T₁-T₂) - (h₁ + o(T₁) h_r)(T₁-T_a) and the like for the oil: heat balances, integrated by the
    fourth-order rule of Runge and Kutta (from memory). Opening o grows evenly over the span, hysteresis left out.
    Holds for one mean power and one air speed; the heater counts as loss, and a fan only by what it makes of the
    radiator.

    Examples
    --------
    >>> sound, stuck = (Thermostat(), Thermostat(stuck_open=1.0))
    >>> [round(float(warm_up(10000.0, CoolingSystem(), t).coolant_c[-1, 0]), 1) for t in (sound, stuck)]
    [93.4, 45.3]
    """
    start = ambient_c if start_c is None else start_c
    oil_start = start if oil_start_c is None else oil_start_c
    power, ambient, first, oil_first, opens, stuck = _rows(
        heat, ambient_c, start, oil_start, thermostat.opens_c, thermostat.stuck_open
    )
    _refuse_bad(power, system, thermostat, stuck, seconds)
    n_steps, step = _steps(system, thermostat, seconds)
    rows = np.stack([power, ambient, opens, stuck])
    course = _march(np.stack([first, oil_first]), rows, system, thermostat.span, n_steps, step)
    times = np.linspace(0.0, seconds, n_steps + 1)
    return WarmUp(times, course[:, 0], course[:, 1])


def _rate(
    warm: NDArray[np.float64], rows: NDArray[np.float64], system: CoolingSystem, span: float
) -> NDArray[np.float64]:
    """How fast both masses warm up, shape (2, n) [K/s]."""
    (coolant, oil), (power, ambient, opens, stuck) = warm, rows
    opening = np.maximum(np.minimum(np.maximum((coolant - opens) / span, 0.0), 1.0), stuck)
    passed = system.exchange * (coolant - oil)
    lost = (system.coolant_loss + opening * system.radiator) * (coolant - ambient)
    into_coolant = (1.0 - system.oil_share) * power - passed - lost
    into_oil = system.oil_share * power + passed - system.oil_loss * (oil - ambient)
    return np.stack([into_coolant / system.coolant_capacity, into_oil / system.oil_capacity])


def _march(
    first: NDArray[np.float64], rows: NDArray[np.float64], system: CoolingSystem, span: float, n_steps: int, step: float
) -> NDArray[np.float64]:
    """Coolant and oil over the steps, shape (n_steps + 1, 2, n): all rows take each step together."""
    course = np.empty((n_steps + 1, *first.shape))
    course[0] = now = first
    for k in range(n_steps):
        a = _rate(now, rows, system, span)
        b = _rate(now + 0.5 * step * a, rows, system, span)
        c = _rate(now + 0.5 * step * b, rows, system, span)
        d = _rate(now + step * c, rows, system, span)
        now = now + step / 6.0 * (a + 2.0 * b + 2.0 * c + d)
        course[k + 1] = now
    return course


def time_to_reach(course: WarmUp, celsius: float = 80.0) -> NDArray[np.float64]:
    """Time that the coolant takes to reach a temperature.

    Parameters
    ----------
    course : WarmUp
    celsius : float [C]

    Returns
    -------
    array, shape (n,) [s]
        Infinite where it does not get there in the time watched; 0 where it starts there.

    Notes
    -----
    Follows from the course, straight between two steps.

    Examples
    --------
    >>> course = warm_up(10000.0, CoolingSystem(), Thermostat())
    >>> f"{time_to_reach(course)[0] / 60:.1f} min"
    '6.9 min'
    """
    there = course.coolant_c >= celsius
    reached, k = there.any(axis=0), there.argmax(axis=0)
    column = np.arange(course.coolant_c.shape[1])
    before = np.maximum(k - 1, 0)
    low, high = course.coolant_c[before, column], course.coolant_c[k, column]
    part = np.divide(celsius - low, high - low, out=np.zeros_like(low), where=high > low)
    time = course.seconds[before] + np.clip(part, 0.0, 1.0) * (course.seconds[k] - course.seconds[before])
    return np.where(reached, np.where(k == 0, 0.0, time), np.inf)


def _rows(*given: Values) -> list[NDArray[np.float64]]:
    return list(np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in given)))


def _steps(system: CoolingSystem, thermostat: Thermostat, seconds: float) -> tuple[int, float]:
    """Steps of 5 s, or less where a small mass or a sharp thermostat answers quicker than that."""
    pull = system.radiator * (1.0 + _WARMEST / thermostat.span)
    quickest = min(
        system.coolant_capacity / max(system.exchange + system.coolant_loss + pull, 1e-9),
        system.oil_capacity / max(system.exchange + system.oil_loss, 1e-9),
    )
    n_steps = int(np.ceil(seconds / min(_STEP, _FIRMEST * quickest)))
    return n_steps, seconds / n_steps


def _refuse_bad(
    power: NDArray[np.float64],
    system: CoolingSystem,
    thermostat: Thermostat,
    stuck: NDArray[np.float64],
    seconds: float,
) -> None:
    if not (system.coolant_capacity > 0.0 and system.oil_capacity > 0.0 and thermostat.span > 0.0 and seconds > 0.0):
        raise EngineDefinitionError("a warm-up without time, capacity or span", expected="all above 0")
    if np.any(~(power >= 0.0)):
        raise EngineDefinitionError("an engine's heat below zero", expected="0 W or more")
    if np.any(~((stuck >= 0.0) & (stuck <= 1.0))):
        raise EngineDefinitionError("a thermostat stuck open by what is no share", expected="0 to 1")
