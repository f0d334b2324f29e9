"""A fault as a person writes it: ``wheel_slipped wheel=crank wheel_slip=11``, ``wire_shorted node=coil_3 to=supply``.

Every fault of every system can be written, those too that nothing reasons about yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.catalogue.faultrows import SYSTEMS, catalogue
from witnessmark.catalogue.faults import FaultInstance, Kind, instances_of
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.types import Engine, cam_id
from witnessmark.errors import InputError, nearest, one_of
from witnessmark.vocabulary import CAMS

__all__ = ["SpeltFault", "spelt_fault"]

_TO = "to"  # which way a short leads
_MOST_PLACES = 12


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
        The fault's id, then its place as ``key=value`` (left out where the engine has one only; "all" where parts go
        as a set), for a short where it leads (``to=``), then sizes as ``variable=amount``: signed, in the variable's
        unit, or the factor.
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
    rows = [row for row in catalogue(SYSTEMS).rows if row.id == name]
    if not rows:
        raise one_of("fault", name, dict.fromkeys(row.id for row in catalogue(SYSTEMS).rows))
    said = dict(_pair(pair, text) for pair in pairs)
    mine = [one for row in rows for one in instances_of(engine, row)]
    if not mine:
        raise InputError(f"This engine has no place for {name}", given=text, todo="Its description names no such part")
    instance = _placed(mine, said, text)
    variables = [key for key in said if key in state_variables()]
    strange = [key for key in said if key not in (*variables, instance.where.key, _TO)]
    if strange:
        takes = sorted({edit["variable"] for edit in instance.row.edits})
        raise one_of(f"key of {name}", strange[0], [instance.where.key, *_to_key(instance), *takes])
    return _sized(_the_way(instance, said.get(_TO), text), {key: said[key] for key in variables}, text)


def _to_key(instance: FaultInstance) -> list[str]:
    return [_TO] if any(kind.way for kind in instance.kinds) else []


def _the_way(instance: FaultInstance, to: str | None, text: str) -> FaultInstance:
    """The instance with those ways only that lead where it was said."""
    if to is None:
        return instance
    ways = sorted({kind.way for kind in instance.kinds if kind.way})
    if not ways:
        raise InputError(f"{instance.row.id} leads nowhere", given=text, todo=f"Leave {_TO}={to} out")
    if to not in ways:
        raise one_of(f"way of {instance.row.id}", to, ways)
    return replace(instance, kinds=tuple(kind for kind in instance.kinds if kind.way == to))


def _pair(pair: str, text: str) -> tuple[str, str]:
    key, equals, value = pair.partition("=")
    if not equals or not value:
        raise InputError(f"“{pair}” is not key=value", given=text, expected="wheel=crank or wheel_slip=11")
    return key, value


def _amount(key: str, value: str, op: str, text: str) -> float:
    """A size as it was typed; what it makes of a sound engine must be possible."""
    try:
        number = float(value.replace("−", "-"))
    except ValueError:
        raise InputError(f"{key}={value} is no number", given=text, expected=f"{key}=5") from None
    variable = state_variables()[key]
    sound, unit = variable.healthy, "" if op == "multiply" else variable.unit
    low, high = variable.low, variable.high
    if op == "add":
        low, high = low - sound, high - sound
    elif op == "multiply" and sound > 0.0:
        low, high = low / sound, high / sound
    if not low <= number <= high:
        bounds = f"{low:g} to {high:g} {unit}".replace("1e+09", "any").strip()
        raise InputError(f"{key}={value} cannot be", given=text, expected=bounds)
    return number


def _placed(mine: list[FaultInstance], said: dict[str, str], text: str) -> FaultInstance:
    """The one place that was meant: by its id as findings have it, or by its id in the state."""
    keys = list(dict.fromkeys(one.where.key for one in mine))
    key = next((key for key in keys if key in said), keys[0])
    given = said.get(key)
    places = [one.where.id for one in mine if one.where.key == key]
    if given is None:
        if len(mine) == 1:
            return mine[0]
        raise InputError(
            f"{mine[0].row.id} may sit at {len(mine)} places", given=text,
            expected=" or ".join(f"{one}={_some([m.where.id for m in mine if m.where.key == one])}" for one in keys),
        )  # fmt: skip
    meant = cam_id(1, given) if given in CAMS and given not in places else given
    for one in mine:
        if one.where.key == key and (one.where.id == meant or one.where.targets("self") == (meant,)):
            return one
    near = nearest(meant, places)
    raise InputError(
        f"This engine has no {key} {given} for {mine[0].row.id}", given=text,
        expected=f"{key}={near[0] if near else _some(places)}",
    )  # fmt: skip


def _some(places: Sequence[str]) -> str:
    """A few of them: a supply graph has dozens of nodes."""
    shown = " or ".join(places[:_MOST_PLACES])
    return shown if len(places) <= _MOST_PLACES else f"{shown} … ({len(places)} in all)"


def _sized(instance: FaultInstance, said: dict[str, str], text: str) -> SpeltFault:
    ops = {edit["variable"]: str(edit["op"]) for edit in instance.row.edits}
    for key in said:
        if key not in ops:
            raise InputError(
                f"{instance.row.id} does not change {key}", given=text, expected=" or ".join(sorted(ops)) or "no size"
            )
    sizes = {key: _amount(key, value, ops[key], text) for key, value in said.items()}
    for kind in sorted(instance.kinds, key=lambda kind: -kind.weight):
        theta = _theta(kind, sizes)
        if theta is not None:
            taken = tuple(axis.variable for axis in kind.axes if axis.variable not in sizes)
            return SpeltFault(instance, kind, theta, taken)
    ways = "; ".join(sorted({_way(kind, key) for kind in instance.kinds for key in sizes}))
    quoted = ", ".join(f"{key}={value:g}" for key, value in sizes.items())
    raise InputError(f"{instance.row.id} does not come with {quoted}", given=text, expected=ways)


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
