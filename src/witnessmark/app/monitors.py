"""Codes that are not set though their monitors ran: what the readiness of a group of monitors tells, as evidence."""

from __future__ import annotations

from collections.abc import Iterable

from witnessmark.case.reported import MonitorState, Reported, ReportedCode
from witnessmark.catalogue.codes import Code, codes
from witnessmark.engine.types import Engine
from witnessmark.predict.codenames import bank_meant, meant
from witnessmark.predict.codeunpredicted import why_no_chance

__all__ = ["SILENT_GROUPS", "codes_of_monitor", "silent_codes"]

SILENT_GROUPS = ("catalyst", "oxygen_sensor", "oxygen_heater")
"""Groups from whose readiness something follows. Misfire, fuel system and components are not among them: these monitors
go on all the time, and with a spark-ignition engine their bits say complete whether or not anything ran (13 CCR 1968.2
and SAE J1979, from memory). Of the groups that are left no code is predicted."""

_USUAL_SHARE = 0.6  # codes that fewer makers give stay out: that they are silent tells too little; our guess


def codes_of_monitor(engine: Engine, group: str) -> tuple[str, ...]:
    """Codes whose monitors have run once a group of monitors is complete.

    Parameters
    ----------
    engine : Engine
    group : str
        A readiness group.

    Returns
    -------
    tuple of str
        Predicted codes of what this engine, as far as described, has; of signals' circuits none: they belong to the
        components' monitor by their nature.
    """
    if group not in SILENT_GROUPS:
        return ()
    return tuple(name for name, code in codes().items() if code.monitor == group and _follows(engine, code))


def _follows(engine: Engine, code: Code) -> bool:
    watched = code.quantity or code.circuit == "driver"
    if not watched or code.share < _USUAL_SHARE or why_no_chance(code) is not None:
        return False
    if code.bank is not None and bank_meant(engine, code.bank) is None:
        return False
    if code.cylinder is not None and code.cylinder > engine.cylinders:
        return False
    return not code.part or bool(meant(engine, code))


def silent_codes(reported: Reported, engine: Engine, *, mentioned: Iterable[str] = ()) -> tuple[ReportedCode, ...]:
    """Codes that nobody reported though their monitors have run since codes were cleared.

    Parameters
    ----------
    reported : Reported
    engine : Engine
    mentioned : iterable of str
        Codes that readings speak of; they are left alone.

    Returns
    -------
    tuple of ReportedCode
        Each not set, its monitor run, and marked as derived.
    """
    known = {one.code for one in reported.codes} | set(mentioned)
    found: dict[str, ReportedCode] = {}
    for group in _complete(reported.readiness):
        for name in codes_of_monitor(engine, group):
            if name not in known:
                found.setdefault(name, ReportedCode(name, is_set=False, monitor_ran=True, derived=True))
    return tuple(found.values())


def _complete(readiness: Iterable[MonitorState]) -> list[str]:
    """Groups that every computer which has them shows complete."""
    states: dict[str, set[str]] = {}
    for one in readiness:
        if one.state != "unsupported":
            states.setdefault(one.monitor, set()).add(one.state)
    return [group for group, said in states.items() if said == {"complete"}]
