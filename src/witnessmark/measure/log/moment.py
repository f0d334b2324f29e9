"""Values of one moment: a page of numbers that was typed in, or what a computer froze beside a code.

Nothing can be averaged, so each value has the usual spread of its quantity, as a typed reading has.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from witnessmark.finding import Finding, Provenance
from witnessmark.measure.log.series import Log
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Condition, Place, quantity

__all__ = ["is_moment", "moment_condition", "moment_findings", "moment_values"]

_FEW = 3  # samples; from there on a mean can be told from its scatter

_PLAIN: Mapping[str, tuple[str, Place]] = {
    "engine_speed": ("engine_speed", Place()),
    "map": ("map_reported", Place()),
    "maf": ("airflow_reported", Place()),
    "load": ("load_reported", Place()),
    "absolute_load": ("absolute_load", Place()),
    "idle_air": ("idle_air_demand", Place()),
    "coolant": ("temperature_reported", Place.of(sensor="ect")),
    "intake_air": ("temperature_reported", Place.of(sensor="iat")),
    "rail_pressure": ("rail_reported", Place.of(rail="rail")),
    "fuel_pressure": ("fuel_pressure", Place.of(rail="rail")),
    "oil_pressure": ("oil_pressure", Place()),
    "volts": ("supply_reported", Place.of(module="ecu")),
}

_IDLE_RPM, _TURNS_RPM, _RUNS_RPM = (500.0, 1100.0), 30.0, 450.0  # common practice, no source
_WARM_C = 70.0  # common practice, no source
_LEAST = 0.5  # a share of nearly nothing is no spread: half a unit, about what a computer rounds to; our guess


def is_moment(log: Log) -> bool:
    """Whether no series of a log has enough samples for a mean.

    Parameters
    ----------
    log : Log

    Returns
    -------
    bool
        False for a log without samples.
    """
    counts = [len(series) for series in log]
    return bool(counts) and 0 < max(counts) < _FEW


def moment_values(log: Log) -> dict[Signal, float]:
    """The last value of each series.

    Parameters
    ----------
    log : Log

    Returns
    -------
    dict of Signal to float
        [unit of the parameter]
    """
    return {series.signal: float(series.values[-1]) for series in log if len(series)}


def moment_condition(values: Mapping[Signal, float], said: Condition | None = None) -> Condition:
    """Under which circumstances values of one moment were taken, as far as they tell themselves.

    Parameters
    ----------
    values : mapping of Signal to float [unit of the parameter]
    said : Condition, optional
        What somebody said; it stands before what the values tell.

    Returns
    -------
    Condition
        Without a state where a single row cannot tell it: a moving vehicle may accelerate, cruise or coast.
    """
    said = said or Condition()
    speed, road = values.get(Signal("engine_speed")), values.get(Signal("vehicle_speed"))
    coolant = values.get(Signal("coolant"))
    turning = speed is not None and speed >= _RUNS_RPM
    return Condition(
        state=said.state or _state(speed, road, coolant),
        speed_rpm=said.speed_rpm if said.speed_rpm is not None else speed if turning else None,
        coolant_c=said.coolant_c if said.coolant_c is not None else coolant,
        phaser=said.phaser,
        complaint=said.complaint,
        during=said.during,
        freeze=said.freeze,
    )


def _state(speed: float | None, road: float | None, coolant: float | None) -> str | None:
    if speed is None:
        return None
    if speed < _TURNS_RPM:
        return "key_on"
    if speed < _RUNS_RPM:
        return "cranking"
    low, high = _IDLE_RPM
    if road is not None and road < 1.0 and low <= speed <= high:
        return "warm_up" if coolant is not None and coolant < _WARM_C else "idle"
    return None


def moment_findings(values: Mapping[Signal, float], condition: Condition, source: Provenance) -> tuple[Finding, ...]:
    """What values of one moment are evidence of.

    Parameters
    ----------
    values : mapping of Signal to float [unit of the parameter]
    condition : Condition
    source : Provenance

    Returns
    -------
    tuple of Finding
        Short and long trim of a bank together as ``fuel_trim``; a long one alone says what was learnt, not what is.
    """
    return tuple(_findings(values, condition, source))


def _findings(values: Mapping[Signal, float], condition: Condition, source: Provenance) -> Iterator[Finding]:
    for signal, value in values.items():
        if signal.id in _PLAIN and not signal.where:
            name, place = _PLAIN[signal.id]
            yield _finding(name, place, value, condition, source)
        elif signal.id == "short_trim":
            long = values.get(Signal("long_trim", bank=signal.bank))
            if long is not None:
                yield _finding("fuel_trim", Place.of(bank=signal.bank), value + long, condition, source)
        elif signal.id == "long_trim" and Signal("short_trim", bank=signal.bank) not in values:
            place = Place.of(learnt_item="fuel_trim", bank=signal.bank)
            yield _finding("learnt_reported", place, value, condition, source)


def _finding(name: str, place: Place, value: float, condition: Condition, source: Provenance) -> Finding:
    if name == "temperature_reported" and place.get("sensor") == "ect":
        condition = replace(condition, coolant_c=None)  # a reading is no circumstance of itself
    kind = quantity(name)
    sd = kind.default_sd(value) if not kind.relative else max(kind.default_sd(value), _LEAST)
    return Finding(name, place, value, sd, condition, source, "one value; its quantity's usual spread")
