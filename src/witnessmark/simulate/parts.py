"""Where a state's edits sit on a whole engine, and a sound engine with its healthy spread."""

from __future__ import annotations

import itertools

import numpy as np

from witnessmark.engine.state import State, healthy_of, state_variables
from witnessmark.engine.stateplaces import bank_of_cylinder
from witnessmark.engine.types import Engine

__all__ = ["PLENUM_DUCTS", "banks_of", "edit_of", "healthy_engine", "neighbours", "place"]

PLENUM_DUCTS = ("plenum", "servo", "branch")
"""A leak in any of them lets air into the plenum."""
_SENSORS = ("maf", "map", "ect", "iat")
_DUCTS = ("plenum", "intake_duct")


def place(kind: str, number: int | None = None, *, valve: str | None = None, beside: int | None = None) -> str:
    """The id of a place of the whole engine.

    Parameters
    ----------
    kind : str
        "cylinder", "runner", "coil", "catalyst" …
    number : int, optional
        Of the cylinder, or of the bank.
    valve : str, optional
        "intake" or "exhaust", of a cylinder.
    beside : int, optional
        The neighbour, for what lies between two cylinders.

    Returns
    -------
    str
    """
    text = kind if number is None else f"{kind}_{number}"
    if beside is not None and number is not None:
        return f"{kind}_{min(number, beside)}-{max(number, beside)}"
    return f"{text}.{valve}" if valve else text


def edit_of(state: State, variable: str, where: str) -> float:
    """One number of a state of one row.

    Parameters
    ----------
    state : State
    variable, where : str

    Returns
    -------
    float
        In the variable's unit.
    """
    return float(np.asarray(state.get(variable, where)).ravel()[0])


def banks_of(engine: Engine) -> dict[int, int]:
    """The bank of every cylinder.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    dict of int to int
    """
    return {n: bank_of_cylinder(engine, n) for n in range(1, engine.cylinders + 1)}


def neighbours(engine: Engine) -> tuple[tuple[int, int], ...]:
    """Cylinders side by side under one head.

    Parameters
    ----------
    engine : Engine

    Returns
    -------
    tuple of (int, int)
    """
    banks = banks_of(engine)
    rows = [[n for n in banks if banks[n] == bank] for bank in sorted(set(banks.values()))]
    return tuple(pair for row in rows for pair in itertools.pairwise(row))


def healthy_engine(engine: Engine, state: State, rng: np.random.Generator) -> State:
    """A state with a sound engine's spread over all that is no drive.

    Parameters
    ----------
    engine : Engine
    state : State
        Of the drive; kept.
    rng : numpy.random.Generator

    Returns
    -------
    State
    """
    known = state_variables()
    edits = dict(state.edits)

    def draw(variable: str, where: str) -> None:
        one = known[variable]
        value = rng.normal(*healthy_of(variable, where))
        edits.setdefault((variable, where), float(np.clip(value, one.low, one.high)))

    for n in range(1, engine.cylinders + 1):
        for variable in ("ring_leak", "clearance_scale", "injector_flow", "injector_leak"):
            draw(variable, place("cylinder", n))
        for kind in ("intake", "exhaust"):
            for variable in ("lift_scale", "lash_error", "valve_leak", "stem_drag"):
                draw(variable, place("cylinder", n, valve=kind))
        for variable, part in (("coil_energy", "coil"), ("winding", "coil"), ("winding", "injector")):
            draw(variable, place(part, n))
        for variable in ("spark_gap", "plug_shunt", "breakdown_kv"):
            draw(variable, place("plug", n))
        draw("breakdown_kv", place("boot", n))
    for duct in _DUCTS:
        draw("leak_area", duct)
    for bank in sorted(set(banks_of(engine).values())):
        draw("restriction", place("catalyst", bank))
        draw("sensor_offset", place("o2_front", bank))
    for sensor in _SENSORS:
        draw("sensor_offset", sensor)
        draw("sensor_gain", sensor)
    for variable, where in _SINGLE:
        draw(variable, where)
    return State(edits)


_SINGLE = (
    ("battery_resistance", "battery"), ("battery_charge", "battery"), ("starter_drag", "starter"),
    ("alternator_output", "alternator"), ("thermostat_temp", "engine"), ("accessory_drag", "engine"),
    ("restriction", "air_filter"), ("restriction", "tail"), ("regulator_error", "regulator"),
    ("lift_pump_flow", "pump"), ("fuel_ethanol", "fuel"), ("area_error", "throttle"), ("area_error", "pcv"),
)  # fmt: skip
