"""What may be read of a vehicle: the procedures from which first readings and some tests come, query by query."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.catalogue.codes import codes
from witnessmark.catalogue.procedures import all_procedures
from witnessmark.engine.state import HEALTHY
from witnessmark.predict import DriveModel, why_not
from witnessmark.predict.codes import code_chance, is_predicted
from witnessmark.vocabulary import Query

__all__ = ["GROUPS", "Asked", "asked_of"]

GROUPS: Mapping[str, tuple[float, tuple[str, ...]]] = {
    # procedure: how often it is taken, and which of its quantities ("" stands for all that are predicted)
    "complaint_heard": (1.0, ("cranks", "starts", "stalls")),
    "trims_at_speeds": (0.9, ("fuel_trim", "lambda_reported")),
    "air_readings": (0.75, ("airflow_reported", "map_reported", "absolute_load", "idle_air_demand")),
    "misfires_read": (0.7, ("misfire_count",)),
    "modules_read": (0.4, ("supply_reported",)),
    "cam_readings": (0.45, ("cam_deviation", "cam_phase_reported")),
    "cold_to_hot": (0.2, ("temperature_reported", "warm_up_time")),
    "current_compression": (0.3, ("relative_compression", "cranking_volts", "cranking_speed", "starter_current")),
    "static_compression": (0.25, ("compression_peak",)),
    "vacuum_gauge": (0.3, ("manifold_vacuum",)),
    "fuel_gauge": (0.3, ("fuel_pressure", "fuel_drop_rate", "fuel_delivery")),
    "scope_charging": (0.35, ("charging_volts", "ripple")),
    "leak_down": (0.12, ("cylinder_leakage",)),
    "back_pressure": (0.12, ("exhaust_back_pressure",)),
    "scope_secondary": (0.2, ("firing_voltage", "spark_duration")),
    "injector_pulse_drop": (0.12, ("injector_balance",)),
    "oil_pressure_gauge": (0.12, ("oil_pressure",)),
    "crankcase_gauge": (0.15, ("crankcase_pressure",)),
    "battery_check": (0.3, ("battery_ohm",)),
    "drain_test": (0.05, ("drain_measured",)),
}
_STATES = ("off", "key_on", "cranking", "idle", "raised", "warm_up")  # nobody drives it for the first readings

_CODES = (
    "P0301", "P0302", "P0303", "P0304", "P0305", "P0306", "P0307", "P0308", "P0171", "P0172", "P0174",
    "P0175", "P0102", "P0103", "P0107", "P0108", "P0112", "P0113", "P0117", "P0118", "P0122", "P0123",
    "P0128", "P0133", "P0135", "P0141", "P0201", "P0202", "P0203", "P0204", "P0335", "P0340", "P0345",
    "P0351", "P0352", "P0353", "P0354", "P0401", "P0402", "P0420", "P0430", "P0441", "P0443", "P0506",
    "P0507", "P0560", "P0562", "P0563", "P0641", "P0651", "P0016", "P0017", "P0018", "P0019", "P0011",
    "P0012", "P0014", "P0015", "P0021", "P0022", "P0299", "P2096", "P2097", "P2187", "P2188", "P2195",
    "P2196", "P2135", "P2138", "U0100",
)  # fmt: skip


@dataclass(frozen=True)
class Asked:
    """Everything that may be read on one engine, in a fixed order.

    Parameters
    ----------
    readings : tuple of Query
        Numbers.
    answers : tuple of Query
        Yes or no.
    codes : tuple of str
    groups : mapping of str to tuple of int
        Which readings (by their numbers, answers counted on after them) each procedure yields.
    """

    readings: tuple[Query, ...]
    answers: tuple[Query, ...]
    codes: tuple[str, ...]
    groups: Mapping[str, tuple[int, ...]]


def asked_of(model: DriveModel) -> Asked:
    """What may be read of an engine."""
    found: dict[str, list[Query]] = {}
    for procedure in all_procedures().all:
        if procedure.id not in GROUPS:
            continue
        wanted = GROUPS[procedure.id][1]
        found[procedure.id] = [
            query
            for query in procedure.queries(model.engine)
            if query.quantity in wanted and query.condition.state in _STATES and why_not(model, query) is None
        ]
    every = list(dict.fromkeys(query for queries in found.values() for query in queries))
    answers = tuple(query for query in every if query.kind.kind in ("yes_no", "sign"))
    readings = tuple(query for query in every if query not in answers)
    order = {query: i for i, query in enumerate((*readings, *answers))}
    groups = {name: tuple(sorted({order[query] for query in queries})) for name, queries in found.items() if queries}
    known = codes()
    there = tuple(
        name for name in _CODES
        if name in known and is_predicted(known[name]) and code_chance(model, name, HEALTHY, {}, 1) is not None
    )  # fmt: skip
    return Asked(readings, answers, there, groups)
