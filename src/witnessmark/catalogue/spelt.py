"""A fault as a person writes it: ``wheel_slipped wheel=crank wheel_slip=11``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from witnessmark.catalogue.faults import FaultInstance, Kind, catalogue, fault_instances
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.types import Engine, cam_id
from witnessmark.errors import InputError, nearest, one_of
from witnessmark.vocabulary import CAMS

__all__ = ["SpeltFault", "spelt_fault"]


@dataclass(frozen=True, slots=True)
class SpeltFault:
    """One fault of one engine, with its sizes.

    Parameters
    ----------
    instance : FaultInstance
    kind : Kind
    theta : tuple of float
        One for each axis of the kind, in its variable's unit.
    taken : tuple of str
        Variables whose size was not said and stands in the middle of its range.
    """

    instance: FaultInstance
    kind: Kind
    theta: tuple[float, ...]
    taken: tuple[str, ...]

    def on(self, state: State) -> State:
        """The state with this fault on top.

        Parameters
        ----------
        state : State

        Returns
        -------
        State
        """
        changes = self.kind.changes(np.array([self.theta]))
        return state.edited([(v, place, op, float(np.ravel(amount)[0])) for v, place, op, amount in changes])

    @property
    def sizes(self) -> tuple[tuple[str, str, str, float], ...]:
        """Variable, place, "add", "multiply" or "set", and amount of every edit, signed."""
        changes = self.kind.changes(np.array([self.theta]))
        return tuple((v, place, op, float(np.ravel(amount)[0])) for v, place, op, amount in changes)


def spelt_fault(text: str, engine: Engine) -> SpeltFault:
    """The fault that a line names.

    Parameters
    ----------
    text : str
        The fault's id, then its place as ``key=value`` (left out where the engine has one only), then sizes as
        ``variable=amount``, signed, in the variable's unit.
    engine : Engine
        With its drive described.

    Returns
    -------
    SpeltFault

    Raises
    ------
    InputError
        For a fault, a place or a size that cannot be: one line, with the nearest.
    """
    name, *pairs = text.split() or [""]
    rows = [row.id for row in catalogue().rows]
    if name not in rows:
        raise one_of("fault", name, rows)
    said = dict(_pair(pair, text) for pair in pairs)
    mine = [one for one in fault_instances(engine) if one.row.id == name]
    if not mine:
        raise InputError(f"This engine has no place for {name}", given=text, todo="Its description names no such part")
    instance = _placed(mine, said, engine, text)
    sizes = {key: _amount(key, value, text) for key, value in said.items() if key in state_variables()}
    strange = [key for key in said if key not in sizes and key != instance.where.key]
    if strange:
        variables = sorted({edit["variable"] for edit in instance.row.edits})
        raise one_of(f"key of {name}", strange[0], [instance.where.key, *variables])
    return _sized(instance, sizes, text)


def _pair(pair: str, text: str) -> tuple[str, str]:
    key, equals, value = pair.partition("=")
    if not equals or not value:
        raise InputError(f"“{pair}” is not key=value", given=text, expected="wheel=crank or wheel_slip=11")
    return key, value


def _amount(key: str, value: str, text: str) -> float:
    try:
        number = float(value.replace("−", "-"))
    except ValueError:
        raise InputError(f"{key}={value} is no number", given=text, expected=f"{key}=5") from None
    variable = state_variables()[key]
    if not variable.low <= number <= variable.high:
        bounds = f"{variable.low:g} to {variable.high:g} {variable.unit}".strip()
        raise InputError(f"{key}={value} cannot be", given=text, expected=bounds)
    return number


def _placed(mine: list[FaultInstance], said: dict[str, str], engine: Engine, text: str) -> FaultInstance:
    key = mine[0].where.key
    given = said.get(key)
    places = [one.where.id for one in mine]
    if given is None:
        if len(mine) == 1:
            return mine[0]
        raise InputError(
            f"{mine[0].row.id} may sit at {len(mine)} places", given=text, expected=f"{key}={' or '.join(places)}"
        )
    meant = cam_id(1, given) if given in CAMS and given not in places else given
    for one in mine:
        if one.where.id == meant:
            return one
    near = nearest(meant, places)
    raise InputError(
        f"This engine has no {key} {given} for {mine[0].row.id}", given=text,
        expected=f"{key}={near[0] if near else ' or '.join(places)}",
    )  # fmt: skip


def _sized(instance: FaultInstance, sizes: dict[str, float], text: str) -> SpeltFault:
    for key in sizes:
        if all(edit["variable"] != key for edit in instance.row.edits):
            variables = sorted({edit["variable"] for edit in instance.row.edits})
            raise InputError(
                f"{instance.row.id} does not change {key}", given=text, expected=" or ".join(variables) or "no size"
            )
    for kind in sorted(instance.kinds, key=lambda kind: -kind.weight):
        theta = _theta(kind, sizes)
        if theta is not None:
            taken = tuple(axis.variable for axis in kind.axes if axis.variable not in sizes)
            return SpeltFault(instance, kind, theta, taken)
    ways = "; ".join(sorted({_way(kind, key) for kind in instance.kinds for key in sizes}))
    said = ", ".join(f"{key}={value:g}" for key, value in sizes.items())
    raise InputError(f"{instance.row.id} does not come with {said}", given=text, expected=ways)


def _theta(kind: Kind, sizes: dict[str, float]) -> tuple[float, ...] | None:
    """Severities of a kind that give these sizes, or None where it cannot."""
    theta = [float(axis.at(np.array([0.5]))[0]) for axis in kind.axes]
    for key, value in sizes.items():
        terms = [term for term in kind.terms if term.variable == key]
        if not terms:
            return None
        first = terms[0]
        if first.axis is None:
            if abs(first.amount - value) > 1e-9:
                return None
            continue
        along = value / first.amount
        if along < 0.0:
            return None
        theta[first.axis] = along
    return tuple(theta)


def _way(kind: Kind, key: str) -> str:
    for term in kind.terms:
        if term.variable == key:
            if term.axis is None:
                return f"{key}={term.amount:g}"
            axis = kind.axes[term.axis]
            ends = sorted((term.amount * axis.low, term.amount * axis.high))
            return f"{key}={ends[0]:g} to {ends[1]:g}"
    return f"no {key}"
