"""Findings from a freeze frame: the values that a computer kept at the moment when it set a code."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from witnessmark.finding import Finding, Provenance
from witnessmark.recording.parameters import Signal
from witnessmark.vocabulary import Condition, Place, quantity

__all__ = ["frozen_findings"]

# Parameter -> the quantity that it is, and where.
_QUANTITY: Mapping[str, tuple[str, Mapping[str, str]]] = {
    "engine_speed": ("engine_speed", {}),
    "coolant": ("temperature_reported", {"sensor": "ect"}),
    "intake_air": ("temperature_reported", {"sensor": "iat"}),
    "map": ("map_reported", {}),
    "maf": ("airflow_reported", {}),
    "absolute_load": ("absolute_load", {}),
    "volts": ("supply_reported", {"module": "ecu"}),
    "rail_pressure": ("rail_reported", {"rail": "rail"}),
}
_TRIMS = ("short_trim", "long_trim")


def frozen_findings(code: str, values: Iterable[tuple[Signal, float]], *, text: str = "") -> tuple[Finding, ...]:
    """What a freeze frame shows, in the quantities of the closed list.

    Parameters
    ----------
    code : str
        The code that stored it.
    values : iterable of (Signal, float)
        In the parameters' own units; float [own unit].
    text : str
        As it came, for the findings' source.

    Returns
    -------
    tuple of Finding
        Speed and coolant belong to the condition of all of them. Trims of a bank are added up where both stand there.
        What has no quantity is left out: it stays in the frame.
    """
    told = dict(values)
    speed, coolant = told.get(Signal("engine_speed")), told.get(Signal("coolant"))
    condition = Condition(speed_rpm=speed, coolant_c=coolant, freeze=code)
    source = Provenance(kind="code", text=text)
    found = []
    for signal, value in told.items():
        if signal.id in _QUANTITY:
            name, place = _QUANTITY[signal.id]
            found.append(_finding(name, Place.of(**place), value, condition, source, f"freeze frame of {code}"))
    banks = dict.fromkeys(signal.bank for signal in told if signal.id in _TRIMS)
    for bank in banks:
        short, long = (told.get(Signal(name, bank=bank)) for name in _TRIMS)
        if short is not None and long is not None:
            how = f"freeze frame of {code}, short and long trim together"
            found.append(_finding("fuel_trim", Place.of(bank=bank), short + long, condition, source, how))
    return tuple(found)


def _finding(name: str, place: Place, value: float, condition: Condition, source: Provenance, how: str) -> Finding:
    return Finding(name, place, value, quantity(name).default_sd(value), condition, source, how)
