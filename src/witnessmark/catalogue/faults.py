"""Faults as edits of the state, generated from an engine's own graphs.

One row (:mod:`witnessmark.catalogue.faultrows`) becomes one :class:`FaultInstance` for every place the engine has, and
where its parts go as a set one more for all of them; each instance splits into :class:`Kind` s: the discrete ways it
may happen (sign, whole steps, what it is shorted to), with the continuous severities left as axes.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from witnessmark.catalogue.faultrows import SYSTEMS, FaultRow, catalogue
from witnessmark.catalogue.placeof import PlaceOf, together
from witnessmark.catalogue.places import places_of
from witnessmark.engine.types import Engine

__all__ = ["Axis", "FaultInstance", "Kind", "Term", "catalogue", "fault_instances", "instances_of"]


@dataclass(frozen=True, slots=True)
class Axis:
    """A continuous severity: its range, log-uniform unless it starts at zero.

    Parameters
    ----------
    variable : str
    low, high : float, shape ()
        In the variable's unit.
    """

    variable: str
    low: float
    high: float

    @property
    def is_log(self) -> bool:
        """Log-uniform; uniform where the range starts at zero."""
        return self.low > 0.0

    def at(self, share: NDArray[np.float64]) -> NDArray[np.float64]:
        """The severity at a share 0..1 of the prior.

        Parameters
        ----------
        share : ndarray, shape (n,) [-]

        Returns
        -------
        ndarray, shape (n,)
            In the variable's unit.
        """
        if self.is_log:
            return np.asarray(self.low * (self.high / self.low) ** share)
        return np.asarray(self.low + (self.high - self.low) * share)

    def share(self, value: NDArray[np.float64]) -> NDArray[np.float64]:
        """The inverse of :meth:`at`.

        Parameters
        ----------
        value : ndarray, shape (n,)
            In the variable's unit.

        Returns
        -------
        ndarray, shape (n,) [-]
        """
        if self.is_log:
            return np.asarray(np.log(value / self.low) / np.log(self.high / self.low))
        return np.asarray((value - self.low) / (self.high - self.low))


@dataclass(frozen=True, slots=True)
class Term:
    """One edit: its variable and place, and a fixed amount or a factor on an axis.

    Parameters
    ----------
    variable, place : str
    op : str
        "add", "multiply" or "set".
    amount : float, shape ()
        In the variable's unit, or the factor on its axis.
    axis : int, optional
        Which of the kind's axes it goes with.
    """

    variable: str
    place: str
    op: str
    amount: float  # fixed amount, or the factor on its axis
    axis: int | None


@dataclass(frozen=True, slots=True)
class Kind:
    """One discrete way a fault may happen.

    Parameters
    ----------
    weight : float [-]
        Share of the instance's prior.
    terms : tuple
        Edits; those with an axis scale with its severity.
    axes : tuple of Axis
    way : str
        Its name, where the ways of a row have names: "ground", "supply", "neighbour".
    """

    weight: float
    terms: tuple[Term, ...]
    axes: tuple[Axis, ...]
    way: str = ""

    def changes(self, theta: NDArray[np.float64]) -> list[tuple[str, str, str, Any]]:
        """The edits at severities, for ``State.edited``.

        Parameters
        ----------
        theta : ndarray, shape (n, number of axes)

        Returns
        -------
        list of (variable, place, op, amount)
        """
        return [
            (t.variable, t.place, t.op, t.amount if t.axis is None else t.amount * theta[:, t.axis]) for t in self.terms
        ]


@dataclass(frozen=True, slots=True)
class FaultInstance:
    """One fault at one place of one engine.

    Parameters
    ----------
    row : FaultRow
    where : PlaceOf
    share : float [-]
        Of the row's prior that falls on this place.
    kinds : tuple of Kind
    """

    row: FaultRow
    where: PlaceOf
    share: float
    kinds: tuple[Kind, ...]

    @property
    def key(self) -> tuple[str, str]:
        """Fault id and place id: what makes two instances the same across candidate engines."""
        return self.row.id, self.where.id

    @property
    def words(self) -> str:
        """ "Crank wheel slipped on its shaft"."""
        text = self.row.words.replace("{place}", self.where.words)
        return text[0].upper() + text[1:]

    @property
    def repair_key(self) -> tuple[str, str]:
        """Job and the scope it covers: one repair, one key."""
        return self.row.repair.job, self.where.scope

    @property
    def cause_words(self) -> str:
        """What the repair cures, in a few words: "the crank wheel off its place"."""
        return self.row.repair.cause.replace("{place}", self.where.scope_words)

    @property
    def repair_words(self) -> str:
        """What the repair is, in words."""
        return self.row.repair.words.replace("{place}", self.where.scope_words)


def fault_instances(engine: Engine, systems: Sequence[str] = SYSTEMS) -> tuple[FaultInstance, ...]:
    """Every fault of the catalogue at every place this engine has.

    Parameters
    ----------
    engine : Engine
        With its drive described (a candidate, where the description left it open).
    systems : sequence of str
        Of :data:`~witnessmark.catalogue.faultrows.SYSTEMS`; all of them if left out.

    Returns
    -------
    tuple of FaultInstance
        Shares of one row's places sum to at most 1: less where the part may be absent.
    """
    there: dict[tuple[str, str | None], tuple[PlaceOf, ...]] = {}
    found: list[FaultInstance] = []
    for row in catalogue(tuple(systems)).rows:
        kind = row.place, row.needs
        if kind not in there:
            there[kind] = places_of(engine, *kind)
        found += _befalling(row, there[kind])
    return tuple(found)


def instances_of(engine: Engine, row: FaultRow) -> tuple[FaultInstance, ...]:
    """One row at every place of its kind that this engine has.

    Parameters
    ----------
    engine : Engine
    row : FaultRow

    Returns
    -------
    tuple of FaultInstance
    """
    return _befalling(row, places_of(engine, row.place, row.needs))


_BUILT: dict[tuple[int, tuple[PlaceOf, ...]], tuple[FaultRow, tuple[FaultInstance, ...]]] = {}
_MOST_BUILT = 20_000


def _befalling(row: FaultRow, places: tuple[PlaceOf, ...]) -> tuple[FaultInstance, ...]:
    """One row at some places; the same objects for every engine that has the same places."""
    key = id(row), places
    if key not in _BUILT:
        if len(_BUILT) >= _MOST_BUILT:
            _BUILT.clear()
        _BUILT[key] = row, _instances(row, places)  # with the row itself: its number is then nobody else's
    return _BUILT[key][1]


def _instances(row: FaultRow, places: tuple[PlaceOf, ...]) -> tuple[FaultInstance, ...]:
    found = []
    all_alike = row.together.share if row.together is not None and len(places) > 1 else 0.0
    if row.together is not None and all_alike > 0.0:
        where = together(places, row.together.words)
        whole = row.as_set()
        found.append(FaultInstance(whole, where, where.presence * all_alike, _kinds(whole.edits, where)))
    weights = [where.weight * row.shares.get(where.id.rpartition(".")[2], 1.0) for where in places]
    total = sum(weights)
    for where, weight in zip(places, weights, strict=True):
        share = (1.0 - all_alike) * where.presence * _held(row, where) * weight / total
        if share > 0.0:  # a part that is not there has no fault
            found.append(FaultInstance(row, where, share, _kinds(row.edits, where)))
    return tuple(found)


_SLIPS = {"wheel_slip", "sprocket_slip"}
_KEY_HOLDS = 0.2  # a keyed part slips this much more seldom; our guess


def _held(row: FaultRow, where: PlaceOf) -> float:
    """A key keeps most things from turning on their shaft."""
    edited = {edit["variable"] for edit in row.edits}
    slips = bool(edited & _SLIPS) and "fitted_part" not in edited  # a foreign part brings its own key
    return _KEY_HOLDS if slips and where.keyed else 1.0


def _kinds(edits: Sequence[Mapping[str, Any]], where: PlaceOf) -> tuple[Kind, ...]:
    axes: list[Axis] = []
    choices: list[list[_Way]] = []
    for edit in edits:
        axis = None
        if "low" in edit:
            axis = len(axes)
            axes.append(Axis(edit["variable"], float(edit["low"]), float(edit["high"])))
        still = float(edit.get("at_rest", 0.0))
        ways = [
            _Way(share * part * (1.0 - still), _terms(edit, targets, signs, size, axis), name)
            for name, part, targets in _targets(edit, where)
            for share, signs, size in _ways(edit, where, targets)
        ]
        choices.append([*ways, _Way(still, (), "")] if still else ways)
    kinds = []
    for combination in itertools.product(*choices):
        weight = float(np.prod([way.share for way in combination]))
        terms = tuple(term for way in combination for term in way.terms)
        kinds.append(Kind(weight, terms, tuple(axes), " ".join(way.name for way in combination if way.name)))
    return tuple(kinds)


@dataclass(frozen=True, slots=True)
class _Way:
    """One discrete way of one edit."""

    share: float
    terms: tuple[Term, ...]
    name: str


def _targets(edit: Mapping[str, Any], where: PlaceOf) -> list[tuple[str, float, tuple[str, ...]]]:
    """(name, share, place ids) of everything an edit may apply to; where it says no more than one, without a name."""
    if "to" not in edit:
        return [("", 1.0, where.targets(edit.get("at", "self")))]
    there = {name: float(share) for name, share in edit["to"].items() if where.has(name)}
    total = sum(there.values())
    return [(name, share / total, where.targets(name)) for name, share in there.items()]


def _ways(
    edit: Mapping[str, Any], where: PlaceOf, targets: tuple[str, ...]
) -> list[tuple[float, tuple[float, ...], float]]:
    """(share, sign at each target, fixed size) for every discrete way of one edit."""
    sizes = [(float(size), float(share)) for size, share in edit.get("whole", [(edit.get("value", 1.0), 1.0)])]
    n = len(targets)
    said = edit.get("signs", "+")
    if said in ("+", "-"):
        signs = [(1.0 if said == "+" else -1.0,) * n]
    elif said == "phaser":
        signs = [(float(np.sign(where.phaser_range_deg or 1.0)),) * n]
    elif said == "opposite":
        one = tuple(1.0 if i % 2 == 0 else -1.0 for i in range(n))
        signs = [one, tuple(-s for s in one)]
    else:
        signs = [(1.0,) * n, (-1.0,) * n]
    return [(share / len(signs), sign, size) for size, share in sizes for sign in signs]


def _terms(
    edit: Mapping[str, Any], targets: tuple[str, ...], signs: tuple[float, ...], size: float, axis: int | None
) -> tuple[Term, ...]:
    factor = 1.0 if axis is not None else size
    return tuple(
        Term(edit["variable"], place, edit["op"], sign * factor, axis)
        for place, sign in zip(targets, signs, strict=True)
    )
