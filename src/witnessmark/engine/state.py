"""The engine's physical state: healthy is the zero edit; a fault is an edit of it.

The variables stand in ``data/state.toml``. A state holds only what differs from healthy, as
one number or as an array of shape (n,): n states looked at together.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from witnessmark.errors import InputError, one_of

__all__ = ["HEALTHY", "State", "StateVariable", "Values", "healthy_of", "state_variables"]

Values = float | NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StateVariable:
    """One line of the state vector.

    Parameters
    ----------
    name, unit, place, note : str
    healthy, sd : float, shape ()
        Mean and spread over healthy engines, in ``unit``.
    low, high : float, shape ()
        Bounds, in ``unit``.
    """

    name: str
    unit: str
    place: str
    healthy: float
    sd: float
    low: float
    high: float
    note: str = ""


@cache
def state_variables() -> Mapping[str, StateVariable]:
    """All state variables by name, from ``data/state.toml``.

    Returns
    -------
    mapping of str to StateVariable
    """
    text = files("witnessmark").joinpath("data/state.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)["variable"]
    return {
        row["name"]: StateVariable(
            name=row["name"],
            unit=row.get("unit", ""),
            place=row["place"],
            healthy=float(row["healthy"]),
            sd=float(row.get("sd", 0.0)),
            low=float(row["bounds"][0]),
            high=float(row["bounds"][1]),
            note=row.get("note", ""),
        )
        for row in rows
    }


# Healthy spread where it differs from place to place, by the name of the sensor or the learnt item: maf, map and the
# temperatures common practice, no source; the rest our guess.
_SPREAD_BY_PLACE = {
    ("sensor_offset", "maf"): 0.05,
    ("sensor_offset", "map"): 1.5,
    ("sensor_offset", "ect"): 2.0,
    ("sensor_offset", "iat"): 2.0,
    ("sensor_offset", "o2_front"): 0.004,
    ("sensor_offset", "o2_rear"): 0.004,
    ("leak_area", "plenum"): 0.2,
    ("leak_area", "servo"): 0.1,
    ("leak_area", "branch"): 0.2,
    ("leak_area", "runner"): 0.1,
    ("leak_area", "intake_duct"): 0.3,
    ("leak_area", "crankcase"): 0.3,
    ("leak_area", "exhaust_front"): 0.3,
    ("leak_area", "catalyst"): 0.5,
    ("leak_area", "tail"): 0.5,
    ("area_error", "purge"): 0.2,
    ("area_error", "pcv"): 0.5,
    ("area_error", "egr"): 0.3,
    ("learnt_error", "crank_variation"): 0.02,
    ("learnt_error", "throttle_zero"): 0.5,
    ("learnt_error", "fuel_trim"): 3.0,
}


def healthy_of(variable: str, place: str) -> tuple[float, float]:
    """Mean and spread of a variable over healthy engines, at one place.

    Parameters
    ----------
    variable : str
    place : str
        "o2_front_1", "fuel_trim:bank_2" …

    Returns
    -------
    tuple of (float, float), shape () each
        In the variable's unit.
    """
    row = state_variables()[variable]
    name = place.partition(":")[0]
    stem = name.rpartition("_")[0] if name[-1:].isdigit() else name
    return row.healthy, _SPREAD_BY_PLACE.get((variable, stem), row.sd)


@dataclass(frozen=True, slots=True)
class State:
    """Edits of a healthy engine, keyed by (variable, place id).

    Place ids: a mesh "primary.crank", a chain "primary", a cam or its wheel, sensor or learnt
    zero "b1.intake", the crank wheel or sensor "crank".

    Parameters
    ----------
    edits : mapping of (str, str) to float or ndarray, shape (n,)
        In each variable's unit.
    """

    edits: Mapping[tuple[str, str], Values]

    def get(self, variable: str, place: str) -> Values:
        """The variable's value at a place, healthy where nothing edits it.

        Parameters
        ----------
        variable, place : str

        Returns
        -------
        float or ndarray, shape (n,)
            In the variable's unit.

        Raises
        ------
        InputError
            For a name outside the state vector.
        """
        value = self.edits.get((variable, place))
        if value is not None:
            return value
        known = state_variables()
        if variable not in known:
            raise one_of("state variable", variable, known)
        return known[variable].healthy

    @property
    def rows(self) -> int:
        """How many states stand side by side (1 where all edits are plain numbers)."""
        sizes = {np.size(value) for value in self.edits.values() if np.ndim(value)}
        if len(sizes) > 1:
            raise InputError(f"states of different lengths side by side: {sorted(sizes)}")
        return sizes.pop() if sizes else 1

    def edited(self, changes: Iterable[tuple[str, str, str, Values]]) -> State:
        """This state with further edits (variable, place, op, amount).

        Parameters
        ----------
        changes : iterable of (str, str, str, float or ndarray of shape (n,))
            op is "add", "multiply" or "set".

        Returns
        -------
        State

        Raises
        ------
        InputError
            For an unknown variable or op.
        """
        edits = dict(self.edits)
        for variable, place, op, amount in changes:
            before = State(edits).get(variable, place)
            if op == "add":
                after = before + amount
            elif op == "multiply":
                after = before * amount
            elif op == "set":
                after = amount if np.ndim(amount) else amount + 0.0 * np.asarray(before)
                after = float(after) if np.ndim(after) == 0 else after
            else:
                raise one_of("edit", op, ("add", "multiply", "set"))
            edits[(variable, place)] = after
        return State(edits)


HEALTHY = State({})
